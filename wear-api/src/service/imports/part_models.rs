//! Lines of part models.

use wear_core::bounds;
use wear_core::units::{JockeyTeeth, Limit, Teeth};

use super::{Did, Importer, ServiceError};
use crate::domain::{
    Currency, Field, Form, Geometry, Invalid, Label, Money, PartModel, PartModelFacts, PartModelId, Place,
};
use crate::input::parse;
use crate::transfer::Row;

impl Importer<'_> {
    pub(super) async fn part_model(&mut self, row: &mut Row<'_>) -> Result<Option<Did>, ServiceError> {
        let id: Option<PartModelId> = row.word("part_model_id");
        let created_at = self.maybe_past(row, "created_at").unwrap_or(self.now);
        let Some(facts) = facts(row) else { return Ok(None) };
        let place = facts.geometry.place();
        let named = self.known.models.named(place, &facts.name.folded());
        let known = match id {
            Some(id) => self.known.models.0.iter().find(|model| model.id == id).cloned(),
            None => named.first().map(|model| (*model).clone()),
        };
        if id.is_none() && named.len() > 1 {
            let allowed = Form::NameOfOneModelOfPlace;
            row.refuse("name", Invalid::unparsed(Field::Name, facts.name.as_str(), allowed));
        }
        if known.as_ref().is_some_and(|known| known.facts.geometry.place() != place) {
            let what = Field::PlaceAndModelSoFar;
            row.refuse("place", Invalid::Together { what, allowed: Form::SamePlace });
        }
        if row.is_wrong() {
            return Ok(None);
        }
        let Some(known) = known else {
            let id = id.unwrap_or_else(PartModelId::generate);
            let model = PartModel { id, facts, created_at, revision: 1 };
            self.tx.insert_part_model(&model).await?;
            self.known.models.0.push(model);
            return Ok(Some(Did::New));
        };
        if known.facts == facts {
            return Ok(Some(Did::Nothing));
        }
        let revision = self.tx.update_part_model(known.id, known.revision, &facts).await?;
        let changed = PartModel { facts, revision, ..known };
        self.known.models.0.retain(|model| model.id != changed.id);
        self.known.models.0.push(changed);
        Ok(Some(Did::Changed))
    }
}

fn facts(row: &mut Row<'_>) -> Option<PartModelFacts> {
    let name: Option<Label> = row.required_word("name");
    let place: Option<Place> = row.required_word("place");
    let minor = row.whole("price_minor");
    let currency: Option<Currency> = row.word("currency");
    let price = match (minor, currency) {
        (Some(minor), Some(currency)) => row.keep("price_minor", Money::new(minor, currency)),
        (None, None) => None,
        (minor, _) if !row.is_wrong() => {
            let column = if minor.is_some() { "currency" } else { "price_minor" };
            let allowed = Form::PriceAndCurrency;
            row.refuse(column, Invalid::Missing { what: Field::HalfOfPrice, allowed });
            None
        }
        _ => None,
    };
    let limit = row.number("limit_percent").and_then(|limit| row.keep("limit_percent", Limit::new(limit)));
    let place = place?;
    if limit.is_some() && place != Place::Chain {
        let what = Field::LimitAndPlace;
        row.refuse("limit_percent", Invalid::Together { what, allowed: Form::LimitWithChain });
    }
    let geometry = geometry(row, place);
    Some(PartModelFacts { name: name?, geometry: geometry?, price, limit }).filter(|_| !row.is_wrong())
}

fn geometry(row: &mut Row<'_>, place: Place) -> Option<Geometry> {
    for (column, places) in [
        ("sprockets", &[Place::Chain][..]),
        ("cogs", &[Place::Cassette]),
        ("one_piece", &[Place::Cassette]),
        ("teeth", &[Place::Cog, Place::Ring, Place::JockeyWheels]),
        ("narrow_wide", &[Place::Ring]),
    ] {
        if row.raw(column).is_some() && !places.contains(&place) {
            let what = Field::PlaceAndShape;
            let allowed = Form::ShapeOfPlace;
            row.refuse(column, Invalid::Together { what, allowed });
        }
    }
    let teeth = |row: &mut Row<'_>| {
        if row.raw("teeth").is_none() {
            row.refuse("teeth", Invalid::Missing { what: Field::Teeth, allowed: Form::Teeth });
        }
        row.whole("teeth")
    };
    Some(match place {
        Place::Chain => Geometry::Chain {
            sprockets: row
                .whole("sprockets")
                .and_then(|count| row.keep("sprockets", parse::whole::<u32>(count, &bounds::COG_COUNT))),
        },
        Place::Cassette => {
            Geometry::Cassette { cogs: cogs(row)?, one_piece: row.flag("one_piece").unwrap_or(false) }
        }
        Place::Cog => {
            let count = teeth(row)?;
            Geometry::Cog { teeth: sprocket_teeth(row, count)? }
        }
        Place::Ring => {
            let count = teeth(row)?;
            Geometry::Ring {
                teeth: sprocket_teeth(row, count)?,
                narrow_wide: row.flag("narrow_wide").unwrap_or(false),
            }
        }
        Place::JockeyWheels => {
            let count = teeth(row)?;
            let count = row.keep("teeth", parse::whole::<u32>(count, &bounds::JOCKEY_TEETH))?;
            Geometry::JockeyWheels { teeth: row.keep("teeth", JockeyTeeth::new(count))? }
        }
    })
}

fn sprocket_teeth(row: &mut Row<'_>, count: i64) -> Option<Teeth> {
    let count = row.keep("teeth", parse::whole::<u32>(count, &bounds::TEETH))?;
    row.keep("teeth", Teeth::new(count))
}

fn cogs(row: &mut Row<'_>) -> Option<Vec<Teeth>> {
    if row.raw("cogs").is_none() {
        row.refuse("cogs", Invalid::Missing { what: Field::Cogs, allowed: Form::TeethOfEachCogAs });
    }
    let counts = row.wholes("cogs")?;
    let (minimum, maximum) = (bounds::COG_COUNT.minimum as usize, bounds::COG_COUNT.maximum as usize);
    if !(minimum..=maximum).contains(&counts.len()) {
        row.refuse("cogs", Invalid::Count { what: Field::Cogs, found: counts.len(), minimum, maximum });
        return None;
    }
    let mut teeth = Vec::with_capacity(counts.len());
    for count in counts {
        teeth.push(row.keep("cogs", Teeth::new(count))?);
    }
    teeth.sort_unstable();
    Some(teeth)
}
