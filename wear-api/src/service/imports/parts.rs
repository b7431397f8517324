//! Lines of parts: each a part, and one of its stays on a bike where it had any.

use super::super::{Mismatch, fit_check};
use super::{Did, Importer, ServiceError, found};
use crate::domain::{
    BikeId, Field, Fitting, FittingId, FittingStart, Form, Invalid, KmBefore, Label, NewPart, PartFacts,
    PartId, PartModelId, Place, Position, Timestamp,
};
use crate::transfer::Row;

/// A line.
struct PartLine {
    id: PartId,
    facts: PartFacts,
    created_at: Timestamp,
    retired_at: Option<Timestamp>,
    stay: Option<Fitting>,
}

impl Importer<'_> {
    pub(super) async fn part(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let Some(line) = self.part_line(row) else { return Ok(None) };
        let PartLine { id, facts, created_at, retired_at, stay } = line;
        if let Some(stay) = &stay {
            self.goes(row, stay, facts.model_id).await?;
        }
        let mut did = match found(self.tx.part(id).await)? {
            None => {
                self.tx.insert_part(&NewPart { id, facts: facts.clone(), created_at }).await?;
                if retired_at.is_some() {
                    self.tx.update_part(id, 1, facts.model_id, facts.label.as_ref(), retired_at).await?;
                }
                Did::New
            }
            Some(known) if known.facts.place != facts.place => {
                let what = Field::PlaceAndPartSoFar;
                row.refuse("place", Invalid::Together { what, allowed: Form::SamePlace });
                return Ok(None);
            }
            Some(known) if known.facts == facts && known.retired_at == retired_at => Did::Nothing,
            Some(known) => {
                let label = facts.label.as_ref();
                self.tx.update_part(id, known.revision, facts.model_id, label, retired_at).await?;
                Did::Changed
            }
        };
        if let Some(stay) = stay {
            match self.stay(row, stay).await? {
                None => return Ok(None),
                Some(Did::New) if did == Did::Nothing => did = Did::New,
                Some(_) => {}
            }
        }
        Ok(Some(did))
    }

    fn part_line(&self, row: &mut Row<'_>) -> Option<PartLine> {
        let id: Option<PartId> = row.word("part_id");
        let place = self.place_of_part(row)?;
        let model_id = self.model_of(row, place);
        let label: Option<Label> = row.word("label");
        let created_at = self.maybe_past(row, "created_at").unwrap_or(self.now);
        let retired_at = self.maybe_past(row, "retired_at");
        let id = id.unwrap_or_else(PartId::generate);
        let stay = self.stay_line(row, id, place);
        (!row.is_wrong()).then_some(PartLine {
            id,
            facts: PartFacts { model_id, place, label },
            created_at,
            retired_at,
            stay,
        })
    }

    /// The place that a line says, else that of the model that it names by id.
    fn place_of_part(&self, row: &mut Row<'_>) -> Option<Place> {
        if row.raw("place").is_none() && row.raw("part_model_id").is_some() {
            let id: PartModelId = row.word("part_model_id")?;
            let model = self.known.models.0.iter().find(|model| model.id == id);
            let place = model.map(|model| model.facts.geometry.place());
            return row.keep("part_model_id", place.ok_or(Invalid::NoSuch { what: Field::PartModel }));
        }
        row.required_word("place")
    }

    fn stay_line(&self, row: &mut Row<'_>, part_id: PartId, place: Place) -> Option<Fitting> {
        let columns =
            ["fitting_id", "bike_id", "bike", "position", "fitted_at", "removed_at", "start", "chain_km"];
        columns.iter().find(|column| row.raw(column).is_some())?;
        let bike_id: Option<BikeId> = self.bike_of(row);
        let id: Option<FittingId> = row.word("fitting_id");
        let position = match row.whole("position") {
            Some(position) => row.keep("position", Position::new(position)),
            None => Some(Position::default()),
        };
        let fitted_at = self.past(row, "fitted_at")?;
        let removed_at = self.maybe_past(row, "removed_at");
        if removed_at.is_some_and(|removed_at| removed_at < fitted_at) {
            let given = removed_at?;
            row.refuse("removed_at", Invalid::BeforeFitting { given, fitted_at });
        }
        let ridden = row.number("chain_km").and_then(|km| row.keep("chain_km", KmBefore::new(km)));
        let as_found = match row.raw("start") {
            None | Some("new") => false,
            Some("as_found") => true,
            Some(given) => {
                row.refuse("start", Invalid::unknown_word("start", given, &["new", "as_found"]));
                return None;
            }
        };
        if ridden.is_some() && !(as_found && place == Place::Chain) {
            let allowed = Form::ChainKmAsFound;
            row.refuse("chain_km", Invalid::Together { what: Field::ChainKmAndNew, allowed });
        }
        let start = if as_found { FittingStart::AsFound { ridden } } else { FittingStart::New };
        let id = id.unwrap_or_else(FittingId::generate);
        Some(Fitting {
            start,
            id,
            part_id,
            bike_id: bike_id?,
            place,
            position: position?,
            fitted_at,
            removed_at,
        })
    }

    /// Whether the bike has the place, and the model goes with it. What another workshop had is taken as it was.
    async fn goes(
        &mut self,
        row: &mut Row<'_>,
        stay: &Fitting,
        model: Option<PartModelId>,
    ) -> Result<(), ServiceError> {
        let Some(bike) =
            self.known.bikes.by_id.get(&stay.bike_id).filter(|_| row.raw("fitting_id").is_none())
        else {
            return Ok(());
        };
        let drivetrain = bike.facts.drivetrain.clone();
        let fittings = self.tx.fittings_of_bike(stay.bike_id).await?;
        let at = (stay.place, stay.position);
        fit_check::place_is_there(self.tx, &drivetrain, &fittings, at, stay.fitted_at).await?;
        let Some(model) = model else { return Ok(()) };
        let mismatch = Mismatch::of(row.flag("accept_mismatch"));
        fit_check::model_goes(self.tx, &drivetrain, (model, stay.position), mismatch, "/part_model").await
    }

    async fn stay(&mut self, row: &mut Row<'_>, stay: Fitting) -> Result<Option<Did>, ServiceError> {
        let end = |stay: &Fitting| stay.removed_at.unwrap_or(Timestamp::LAST);
        let overlaps = |other: &Fitting| stay.fitted_at < end(other) && other.fitted_at < end(&stay);
        let of_bike = self.tx.fittings_of_bike(stay.bike_id).await?;
        let same = |other: &&Fitting| {
            other.id == stay.id || (other.part_id, other.fitted_at) == (stay.part_id, stay.fitted_at)
        };
        if let Some(known) = of_bike.iter().find(same) {
            let known = Fitting { id: stay.id, ..known.clone() };
            if known == stay {
                return Ok(Some(Did::Nothing));
            }
            let what = Field::StayAndStored;
            row.refuse("fitted_at", Invalid::Together { what, allowed: Form::SameStay });
            return Ok(None);
        }
        let taken = of_bike
            .iter()
            .find(|other| (other.place, other.position) == (stay.place, stay.position) && overlaps(other));
        if taken.is_some() {
            let what = Field::StayAndPlace;
            row.refuse("fitted_at", Invalid::Together { what, allowed: Form::StaysApart });
            return Ok(None);
        }
        if self.tx.fittings_of_part(stay.part_id).await?.iter().any(overlaps) {
            let what = Field::StayAndPart;
            row.refuse("fitted_at", Invalid::Together { what, allowed: Form::StaysApart });
            return Ok(None);
        }
        self.tx.insert_fitting(&stay).await?;
        Ok(Some(Did::New))
    }
}
