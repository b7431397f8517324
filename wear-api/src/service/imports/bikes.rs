//! Lines of bikes.

use wear_core::units::Limit;

use super::super::{parts_of_bike, rides};
use super::{Did, Importer, ServiceError};
use crate::domain::{
    Bike, BikeFacts, BikeId, CareSetting, Drivetrain, DrivetrainFacts, Field, FittingStart, Form, Gearing,
    GroupName, Invalid, KmBefore, Label, NewBike, Timestamp, Use,
};
use crate::input::parse;
use crate::transfer::Row;

impl Importer<'_> {
    pub(super) async fn bike(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let id: Option<BikeId> = row.word("bike_id");
        let created_at = self.maybe_past(row, "created_at").unwrap_or(self.now);
        let retired_at = self.maybe_past(row, "retired_at");
        let fitted_on = row.optional("fitted_on", parse::date);
        let hint = row.number("chain_km").and_then(|km| row.keep("chain_km", KmBefore::new(km)));
        if fitted_on.is_some() && hint.is_some() {
            let allowed = Form::ChainKmAsFound;
            row.refuse("chain_km", Invalid::Together { what: Field::ChainKmAndNew, allowed });
        }
        let fitted_at = fitted_on
            .and_then(|day| day.and_hms_opt(0, 0, 0))
            .and_then(|midnight| row.keep("fitted_on", Timestamp::new(midnight.and_utc())))
            .and_then(|at| row.keep("fitted_on", at.not_after(self.now)));
        // A line with an id comes from an export: its parts come with the table of parts.
        let start = match fitted_at {
            Some(at) => Some((at, FittingStart::New)),
            None if id.is_none() || hint.is_some() => {
                Some((created_at, FittingStart::AsFound { ridden: hint }))
            }
            None => None,
        };
        let facts = facts(row);
        let Some(facts) = facts.filter(|_| !row.is_wrong()) else { return Ok(None) };
        let labelled = self.bikes.labelled(&facts.label.folded());
        if id.is_none() && labelled.len() > 1 {
            let allowed = Form::LabelOfOneBike;
            row.refuse("label", Invalid::unparsed(Field::Label, facts.label.as_str(), allowed));
            return Ok(None);
        }
        let known =
            id.or_else(|| labelled.first().copied()).and_then(|id| self.bikes.by_id.get(&id)).cloned();
        match known {
            None => {
                let new = NewBike { id: id.unwrap_or_else(BikeId::generate), facts, created_at };
                self.new_bike(new, start, retired_at).await?;
                Ok(Some(Did::New))
            }
            Some(known) => self.known_bike(row, known, facts, retired_at).await,
        }
    }

    async fn new_bike(
        &mut self,
        new: NewBike,
        start: Option<(Timestamp, FittingStart)>,
        retired_at: Option<Timestamp>,
    ) -> Result<(), ServiceError> {
        self.tx.insert_bike(&new).await?;
        if let Some(start) = start {
            parts_of_bike::fit_all(self.tx, new.id, &new.facts.drivetrain, start, self.now).await?;
        }
        match retired_at {
            Some(at) => {
                self.tx.retire_bike(new.id, 1, at).await?;
            }
            None => self.new_bikes.push(new.id),
        }
        let NewBike { id, facts, created_at } = new;
        let revision = if retired_at.is_some() { 2 } else { 1 };
        self.bikes.put(Bike { id, facts, created_at, retired_at, revision });
        Ok(())
    }

    async fn known_bike(
        &mut self,
        row: &mut Row<'_>,
        known: Bike,
        facts: BikeFacts,
        retired_at: Option<Timestamp>,
    ) -> Result<Option<Did>, ServiceError> {
        if known.retired_at.is_some() && retired_at != known.retired_at {
            let what = Field::RetirementAndBike;
            row.refuse("retired_at", Invalid::Together { what, allowed: Form::RetirementTime });
            return Ok(None);
        }
        let mut did = Did::Nothing;
        let mut bike = known.clone();
        if facts != known.facts {
            did = Did::Changed;
            bike.revision = self.tx.update_bike(known.id, known.revision, &facts).await?;
            bike.facts = facts;
            if bike.facts.drivetrain != known.facts.drivetrain || bike.facts.usage != known.facts.usage {
                rides::recount(self.tx, &bike).await?;
            }
        }
        if let (None, Some(at)) = (known.retired_at, retired_at) {
            did = Did::Changed;
            bike.revision = self.tx.retire_bike(bike.id, bike.revision, at).await?;
            bike.retired_at = Some(at);
        }
        self.bikes.put(bike);
        Ok(Some(did))
    }
}

fn facts(row: &mut Row<'_>) -> Option<BikeFacts> {
    let label: Option<Label> = row.required_word("label");
    let group: Option<GroupName> = row.required_word("group");
    let usage: Option<Use> = row.required_word("use");
    let care: Option<CareSetting> = row.word("care");
    let gearing: Option<Gearing> = row.word("gearing");
    let limit = row.number("limit_percent").and_then(|limit| row.keep("limit_percent", Limit::new(limit)));
    for column in ["rings", "cogs", "links"] {
        if row.raw(column).is_none() {
            row.refuse(
                column,
                Invalid::Missing { what: Field::PartOfDrivetrain, allowed: Form::TeethAndLinks },
            );
        }
    }
    let (rings, cogs, links) = (row.wholes("rings"), row.wholes("cogs"), small(row, "links"));
    let wheel_circumference_mm = small(row, "wheel_circumference_mm");
    let jockey_teeth = small(row, "jockey_teeth");
    let light_metal_cogs = row.flag("light_metal_cogs").unwrap_or(false);
    let drivetrain = DrivetrainFacts {
        rings: rings?,
        cogs: cogs?,
        links: links?,
        gearing,
        wheel_circumference_mm,
        jockey_teeth,
        light_metal_cogs,
    };
    let drivetrain = match Drivetrain::new(&drivetrain) {
        Ok(drivetrain) => Some(drivetrain),
        Err(error) => {
            row.refuse_all(crate::domain::FieldError::from(error).into());
            None
        }
    };
    Some(BikeFacts { label: label?, group: group?, usage: usage?, drivetrain: drivetrain?, limit, care })
}

fn small(row: &mut Row<'_>, column: &str) -> Option<u32> {
    let wrong = |cell: &str| Invalid::unparsed(Field::Number, cell, Form::WholeNumber);
    row.optional(column, |cell| cell.parse().map_err(|_| wrong(cell)))
}
