use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wear_core::bounds;
use wear_core::units::Limit;

use crate::domain::{
    BikeId, Drivetrain, DrivetrainChoice, DrivetrainFacts, Field, FieldError, FieldErrors, Form, Gearing,
    Invalid,
};
use crate::input::parse;
use crate::web::schema;

/// Rings, cogs and chain length of a bike to be entered.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = NewDrivetrain)]
pub(super) struct DrivetrainBody {
    /// Teeth of each ring, in any order.
    #[schema(schema_with = schema::rings)]
    rings: Vec<i64>,
    /// Teeth of each cog, in any order.
    #[schema(schema_with = schema::cogs)]
    cogs: Vec<i64>,
    /// Chain length: number of pitches, as makers count links.
    #[schema(schema_with = schema::links)]
    links: i64,
    /// Elongation at which the chain comes off; the part model's, the workshop's or the trade's when left out.
    #[schema(schema_with = schema::optional::limit_percent, required = false)]
    limit_percent: Option<f64>,
    /// How the rear wheel is driven; taken from the number of rings and cogs when left out.
    #[schema(value_type = Option<schema::Gearing>)]
    gearing: Option<String>,
    /// Rolling circumference of the rear wheel; 2,105 mm when left out.
    #[schema(schema_with = schema::optional::wheel_circumference_mm, required = false)]
    wheel_circumference_mm: Option<i64>,
    /// Teeth of each jockey wheel; 11 when left out.
    #[schema(schema_with = schema::optional::jockey_teeth, required = false)]
    jockey_teeth: Option<i64>,
    /// Whether any cog is of aluminium or titanium; no when left out.
    light_metal_cogs: Option<bool>,
}

impl DrivetrainBody {
    /// The drivetrain and the bike's own limit.
    ///
    /// # Errors
    /// Everything that is wrong, by pointers relative to the drivetrain.
    pub(super) fn parse(self) -> Result<(Drivetrain, Option<Limit>), FieldErrors> {
        let Self {
            rings,
            cogs,
            links,
            limit_percent,
            gearing,
            wheel_circumference_mm,
            jockey_teeth,
            light_metal_cogs,
        } = self;
        let mut errors = FieldErrors::new();
        let teeth = |errors: &mut FieldErrors, field: &str, counts: Vec<i64>| -> Vec<u32> {
            let counts = counts.into_iter().enumerate();
            counts
                .filter_map(|(i, count)| {
                    errors.keep(format!("/{field}/{i}"), parse::whole(count, &bounds::TEETH))
                })
                .collect()
        };
        let rings = teeth(&mut errors, "rings", rings);
        let cogs = teeth(&mut errors, "cogs", cogs);
        let links = errors.keep("/links", parse::whole::<u32>(links, &bounds::LINKS));
        let gearing = gearing.and_then(|word| errors.keep("/gearing", parse::text::<Gearing>(&word)));
        let limit = limit_percent.and_then(|limit| errors.keep("/limit_percent", Limit::new(limit)));
        let wheel = wheel_circumference_mm.and_then(|mm| {
            errors.keep("/wheel_circumference_mm", parse::whole::<u32>(mm, &bounds::WHEEL_CIRCUMFERENCE))
        });
        let jockey = jockey_teeth.and_then(|count| {
            errors.keep("/jockey_teeth", parse::whole::<u32>(count, &bounds::JOCKEY_TEETH))
        });
        let Some(links) = links.filter(|_| errors.is_empty()) else { return Err(errors) };
        let facts = DrivetrainFacts {
            rings,
            cogs,
            links,
            gearing,
            wheel_circumference_mm: wheel,
            jockey_teeth: jockey,
            light_metal_cogs: light_metal_cogs.unwrap_or(false),
        };
        let drivetrain =
            Drivetrain::new(&facts).map_err(|error| FieldErrors::from(FieldError::from(error)))?;
        Ok((drivetrain, limit))
    }
}

/// Rings, cogs and chain length; or `speeds` alone, for the usual drivetrain of the use with so many cogs; or
/// `like_bike_id` alone, for that of another bike. `limit_percent` goes with each.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = DrivetrainChoice)]
pub(in crate::web::api) struct ChoiceBody {
    /// Number of cogs of the usual drivetrain of the bike's use, which is assumed until all of it is said.
    #[schema(minimum = 1, maximum = 14)]
    speeds: Option<i64>,
    /// The bike whose drivetrain it has too.
    like_bike_id: Option<uuid::Uuid>,
    /// Teeth of each ring, in any order.
    #[schema(schema_with = schema::rings, required = false)]
    rings: Option<Vec<i64>>,
    /// Teeth of each cog, in any order.
    #[schema(schema_with = schema::cogs, required = false)]
    cogs: Option<Vec<i64>>,
    /// Chain length: number of pitches, as makers count links.
    #[schema(schema_with = schema::optional::links, required = false)]
    links: Option<i64>,
    /// Elongation at which the chain comes off; the part model's, the workshop's or the trade's when left out.
    #[schema(schema_with = schema::optional::limit_percent, required = false)]
    limit_percent: Option<f64>,
    /// How the rear wheel is driven; taken from the number of rings and cogs when left out.
    #[schema(value_type = Option<schema::Gearing>)]
    gearing: Option<String>,
    /// Rolling circumference of the rear wheel; 2,105 mm when left out.
    #[schema(schema_with = schema::optional::wheel_circumference_mm, required = false)]
    wheel_circumference_mm: Option<i64>,
    /// Teeth of each jockey wheel; 11 when left out.
    #[schema(schema_with = schema::optional::jockey_teeth, required = false)]
    jockey_teeth: Option<i64>,
    /// Whether any cog is of aluminium or titanium; no when left out.
    light_metal_cogs: Option<bool>,
}

impl ChoiceBody {
    /// What is said of the drivetrain, and the bike's own limit.
    ///
    /// # Errors
    /// Everything that is wrong, by pointers relative to the drivetrain.
    pub(in crate::web::api) fn parse(self) -> Result<(DrivetrainChoice, Option<Limit>), FieldErrors> {
        let Self {
            speeds,
            like_bike_id,
            rings,
            cogs,
            links,
            limit_percent,
            gearing,
            wheel_circumference_mm,
            jockey_teeth,
            light_metal_cogs,
        } = self;
        let is_whole = rings.is_some()
            || cogs.is_some()
            || links.is_some()
            || gearing.is_some()
            || wheel_circumference_mm.is_some()
            || jockey_teeth.is_some()
            || light_metal_cogs.is_some();
        let mut errors = FieldErrors::new();
        if [is_whole, speeds.is_some(), like_bike_id.is_some()].into_iter().filter(|said| *said).count() > 1 {
            let pointer = if speeds.is_some() { "/speeds" } else { "/like_bike_id" };
            let cause = Invalid::Together { what: Field::DrivetrainTwice, allowed: Form::OneOfThem };
            return Err(cause.at(pointer).into());
        }
        if is_whole {
            let mut missing = |pointer: &str, there: bool| {
                if !there {
                    let cause =
                        Invalid::Missing { what: Field::PartOfDrivetrain, allowed: Form::WholeDrivetrain };
                    errors.push(cause.at(pointer));
                }
            };
            missing("/rings", rings.is_some());
            missing("/cogs", cogs.is_some());
            missing("/links", links.is_some());
            let (Some(rings), Some(cogs), Some(links)) = (rings, cogs, links) else { return Err(errors) };
            let whole = DrivetrainBody {
                rings,
                cogs,
                links,
                limit_percent,
                gearing,
                wheel_circumference_mm,
                jockey_teeth,
                light_metal_cogs,
            };
            return whole.parse().map(|(drivetrain, limit)| (DrivetrainChoice::Whole(drivetrain), limit));
        }
        let limit = limit_percent.and_then(|limit| errors.keep("/limit_percent", Limit::new(limit)));
        let speeds =
            speeds.and_then(|count| errors.keep("/speeds", parse::whole::<u32>(count, &bounds::COG_COUNT)));
        let choice = match like_bike_id {
            Some(id) => DrivetrainChoice::LikeBike(BikeId::from_uuid(id)),
            None => DrivetrainChoice::Usual(speeds),
        };
        if errors.is_empty() { Ok((choice, limit)) } else { Err(errors) }
    }
}

/// Rings, cogs and chain length.
#[derive(Serialize, ToSchema)]
#[schema(as = Drivetrain)]
pub(in crate::web::api) struct DrivetrainDocument {
    /// Teeth of each ring, fewest first.
    #[schema(schema_with = schema::rings)]
    rings: Vec<u16>,
    /// Teeth of each cog, fewest first.
    #[schema(schema_with = schema::cogs)]
    cogs: Vec<u16>,
    /// Chain length: number of pitches.
    #[schema(schema_with = schema::links)]
    links: u16,
    /// The bike's own limit; null where the part model's, the workshop's or the trade's holds.
    limit_percent: Option<f64>,
    /// How the rear wheel is driven.
    #[schema(value_type = schema::Gearing)]
    gearing: &'static str,
    /// Rolling circumference of the rear wheel.
    wheel_circumference_mm: f64,
    /// Teeth of each jockey wheel; null where there is none.
    jockey_teeth: Option<u16>,
    /// Whether any cog is of aluminium or titanium.
    light_metal_cogs: bool,
    /// Whether it is the usual one of the bike's use, as nobody said what it is.
    assumed: bool,
}

impl DrivetrainDocument {
    pub(in crate::web::api) fn new(drivetrain: &Drivetrain, limit: Option<Limit>, assumed: bool) -> Self {
        Self {
            rings: drivetrain.rings().iter().map(|teeth| teeth.get()).collect(),
            cogs: drivetrain.cogs().iter().map(|teeth| teeth.get()).collect(),
            links: drivetrain.links().get(),
            limit_percent: limit.map(Limit::get),
            gearing: drivetrain.gearing().as_str(),
            wheel_circumference_mm: drivetrain.wheel().get(),
            jockey_teeth: drivetrain.jockey().map(|teeth| teeth.get()),
            light_metal_cogs: drivetrain.has_light_metal_cogs(),
            assumed,
        }
    }
}
