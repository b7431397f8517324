//! Lines of bikes.

use wear_core::units::Limit;

use super::super::{Mismatch, fit_check, hooks, parts_of_bike, rides};
use super::{Did, Importer, ServiceError};
use crate::domain::{
    Bike, BikeFacts, BikeId, BikeKind, CareSetting, Drivetrain, DrivetrainFacts, ExternalId, Field,
    FittingStart, Form, Gearing, GroupName, Invalid, KmBefore, Label, NewBike, Timestamp, Use,
};
use crate::input::moment;
use crate::transfer::Row;

impl Importer<'_> {
    pub(super) async fn bike(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let id: Option<BikeId> = row.word("bike_id");
        let created_at = self.maybe_past(row, "created_at").unwrap_or(self.now);
        let retired_at = self.maybe_past(row, "retired_at");
        let fitted_on = row.optional("fitted_on", moment::day);
        let hint = row.number("chain_km").and_then(|km| row.keep("chain_km", KmBefore::new(km)));
        if fitted_on.is_some() && hint.is_some() {
            let allowed = Form::ChainKmAsFound;
            row.refuse("chain_km", Invalid::Together { what: Field::ChainKmAndNew, allowed });
        }
        let fitted_at = fitted_on
            .and_then(|day| day.and_hms_opt(0, 0, 0))
            .and_then(|midnight| row.keep("fitted_on", Timestamp::new(midnight.and_utc())))
            .and_then(|at| row.keep("fitted_on", at.not_after(self.now)));
        // A line of an export says all of the bike, and its parts come with the table of parts. Its kind is only a
        // name there: the workshop that reads it need not have it.
        let is_exported = id.is_some() && row.raw("created_at").is_some();
        let start = match fitted_at {
            Some(at) => Some((at, FittingStart::New)),
            None if id.is_none() || hint.is_some() || (row.raw("kind").is_some() && !is_exported) => {
                Some((created_at, FittingStart::AsFound { ridden: hint }))
            }
            None => None,
        };
        let named = self.kind_of(row, is_exported).await?;
        let membership = named.as_ref().map(|kind| kind.id);
        let kind = named.filter(|_| !is_exported);
        let label: Option<Label> = row.required_word("label");
        let labelled = label.as_ref().map_or(&[][..], |label| self.known.bikes.labelled(&label.folded()));
        if id.is_none() && row.raw("external_id").is_none() && labelled.len() > 1 {
            let given = label.as_ref().map(Label::as_str).unwrap_or_default();
            row.refuse("label", Invalid::unparsed(Field::Label, given, Form::LabelOfOneBike));
            return Ok(None);
        }
        let external_id: Option<ExternalId> = row.word("external_id");
        let called =
            external_id.as_ref().and_then(|called| self.known.bikes.by_external_id.get(called)).copied();
        let named = id.or(called).or_else(|| labelled.first().copied());
        let known = named.and_then(|id| self.known.bikes.by_id.get(&id)).cloned();
        if called.is_some() && called != known.as_ref().map(|bike| bike.id) {
            let what = Field::LineAndStored;
            row.refuse("external_id", Invalid::Together { what, allowed: Form::ExternalIdNotInUse });
            return Ok(None);
        }
        let mismatch = Mismatch::of(row.flag("accept_mismatch"));
        let facts = facts(row, label, external_id, kind.as_ref(), known.as_ref());
        let Some(facts) = facts.filter(|_| !row.is_wrong()) else { return Ok(None) };
        let facts = BikeFacts { kind: membership, ..facts };
        // What another workshop had is taken as it was.
        let is_said = row.raw("links").is_some() && !is_exported;
        let is_other = known.as_ref().is_none_or(|bike| bike.facts.drivetrain != facts.drivetrain);
        if is_said
            && is_other
            && let Err(errors) = fit_check::links_go(&facts.drivetrain, mismatch)
        {
            errors.into_vec().into_iter().for_each(|error| row.refuse("links", error.cause));
            return Ok(None);
        }
        // A label that stays as it is may be there twice in a store from earlier.
        let own = known.as_ref().map(|bike| bike.id);
        let is_new = known.as_ref().is_none_or(|bike| bike.facts.label.folded() != facts.label.folded());
        let others = self.known.bikes.labelled(&facts.label.folded()).iter().any(|other| Some(*other) != own);
        if is_new && others && retired_at.is_none() {
            let (given, allowed) = (facts.label.as_str(), Form::LabelNotInUse);
            row.refuse("label", Invalid::unparsed(Field::Label, given, allowed));
            return Ok(None);
        }
        match known {
            None => {
                let new = NewBike { id: id.unwrap_or_else(BikeId::generate), facts, created_at };
                self.new_bike(new, kind.as_ref(), start, retired_at).await?;
                Ok(Some(Did::New))
            }
            Some(known) => self.known_bike(row, known, facts, retired_at).await,
        }
    }

    /// The kind that a line names; an export's line may name one that isn't there.
    async fn kind_of(
        &mut self,
        row: &mut Row<'_>,
        is_exported: bool,
    ) -> Result<Option<BikeKind>, ServiceError> {
        let Some(name) = row.word::<Label>("kind") else { return Ok(None) };
        let folded = name.folded();
        if self.known.kinds.is_none() {
            self.known.kinds = Some(self.tx.all_bike_kinds().await?);
        }
        let kinds = self.known.kinds.iter().flatten();
        let found = kinds.into_iter().find(|kind| kind.facts.name.folded() == folded).cloned();
        if found.is_none() && !is_exported {
            row.refuse("kind", Invalid::unparsed(Field::BikeKind, name.as_str(), Form::NameOfKind));
        }
        Ok(found)
    }

    async fn new_bike(
        &mut self,
        new: NewBike,
        kind: Option<&BikeKind>,
        start: Option<(Timestamp, FittingStart)>,
        retired_at: Option<Timestamp>,
    ) -> Result<(), ServiceError> {
        let days_zone = self.tx.insert_bike_retired(&new, retired_at).await?;
        if let Some(start) = start {
            parts_of_bike::fit_all(
                self.tx,
                new.id,
                &new.facts.drivetrain,
                kind.map(|kind| &kind.facts),
                start,
                self.now,
            )
            .await?;
        }
        if retired_at.is_none() {
            self.known.new_bikes.push(new.id);
        }
        let NewBike { id, facts, created_at } = new;
        self.known.bikes.put(Bike {
            id,
            facts,
            app: None,
            rider: None,
            created_at,
            retired_at,
            revision: 1,
            days_zone,
            rides_compared: true,
        });
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
        // Tables enter bikes with a kind; they don't move a bike from one to another.
        let facts = BikeFacts { kind: known.facts.kind, ..facts };
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
            hooks::bike_left(self.tx, &bike, self.now).await?;
        }
        self.known.bikes.put(bike);
        Ok(Some(did))
    }
}

/// What a line says; what it leaves out is as the bike has it already, else as its kind says, else as is usual: for town,
/// a group of its use, and a typical drivetrain of it. A limit and care are taken from a bike without a kind where the
/// table has their column and the line leaves them empty.
fn facts(
    row: &mut Row<'_>,
    label: Option<Label>,
    external_id: Option<ExternalId>,
    kind: Option<&BikeKind>,
    known: Option<&Bike>,
) -> Option<BikeFacts> {
    let of_kind = kind.map(|kind| &kind.facts);
    let known = known.map(|bike| &bike.facts);
    let group: Option<GroupName> = row.word("group");
    let usage: Option<Use> = row.word("use");
    let care: Option<CareSetting> = row.word("care");
    let limit = row.number("limit_percent").and_then(|limit| row.keep("limit_percent", Limit::new(limit)));
    let kept = |column| known.filter(|_| kind.is_some() || !row.has(column));
    let (kept_limit, kept_care) = (kept("limit_percent"), kept("care"));
    let usage =
        usage.or(known.map(|known| known.usage)).or(of_kind.map(|kind| kind.usage)).unwrap_or(Use::Town);
    let (drivetrain, is_assumed) = said_drivetrain(row, usage, |row| match (known, of_kind) {
        (Some(known), _) => Some((known.drivetrain.clone(), known.is_assumed)),
        (None, Some(kind)) => Some((kind.drivetrain.clone(), kind.is_assumed)),
        (None, None) => Some((row.keep("use", Drivetrain::typical(usage, None))?, true)),
    })?;
    let group =
        group.or_else(|| known.map(|known| known.group.clone())).or_else(|| of_kind?.group_of_bikes());
    let group = match group {
        Some(group) => group,
        None => row.keep("group", GroupName::new(usage.as_str()))?,
    };
    let limit_of_kind = of_kind.filter(|_| known.is_none()).and_then(|kind| kind.limit);
    Some(BikeFacts {
        label: label?,
        group,
        usage,
        drivetrain,
        is_assumed,
        limit: limit.or(kept_limit.and_then(|known| known.limit)).or(limit_of_kind),
        care: care.or(kept_care.and_then(|known| known.care)),
        kind: None,
        external_id: external_id.or_else(|| known?.external_id.clone()),
    })
}

/// The drivetrain that a line says, whole or by its number of speeds, and whether it is assumed; another where it says
/// nothing of it.
fn said_drivetrain(
    row: &mut Row<'_>,
    usage: Use,
    unsaid: impl FnOnce(&mut Row<'_>) -> Option<(Drivetrain, bool)>,
) -> Option<(Drivetrain, bool)> {
    let columns = ["rings", "cogs", "links", "gearing", "wheel_circumference_mm", "jockey_teeth"];
    let is_whole = columns.iter().any(|column| row.raw(column).is_some());
    if row.raw("speeds").is_none() {
        if !is_whole {
            return unsaid(row);
        }
        return Some((drivetrain(row)?, row.flag("drivetrain_assumed").unwrap_or(false)));
    }
    if is_whole {
        row.refuse("speeds", Invalid::Together { what: Field::DrivetrainTwice, allowed: Form::OneOfThem });
        return None;
    }
    let speeds = small(row, "speeds")?;
    Some((row.keep("speeds", Drivetrain::typical(usage, Some(speeds)))?, true))
}

fn drivetrain(row: &mut Row<'_>) -> Option<Drivetrain> {
    let gearing: Option<Gearing> = row.word("gearing");
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
    match Drivetrain::new(&drivetrain) {
        Ok(drivetrain) => Some(drivetrain),
        Err(error) => {
            row.refuse_all(crate::domain::FieldError::from(error).into());
            None
        }
    }
}

fn small(row: &mut Row<'_>, column: &str) -> Option<u32> {
    let wrong = |cell: &str| Invalid::unparsed(Field::Number, cell, Form::WholeNumber);
    row.optional(column, |cell| cell.parse().map_err(|_| wrong(cell)))
}
