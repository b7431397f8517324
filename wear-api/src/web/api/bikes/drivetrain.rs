use serde::{Deserialize, Serialize};
use utoipa::ToSchema;
use wear_core::bounds;
use wear_core::units::Limit;

use crate::domain::{Drivetrain, DrivetrainFacts, FieldError, FieldErrors, Gearing};
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

/// Rings, cogs and chain length.
#[derive(Serialize, ToSchema)]
#[schema(as = Drivetrain)]
pub(super) struct DrivetrainDocument {
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
}

impl DrivetrainDocument {
    pub(super) fn new(drivetrain: &Drivetrain, limit: Option<Limit>) -> Self {
        Self {
            rings: drivetrain.rings().iter().map(|teeth| teeth.get()).collect(),
            cogs: drivetrain.cogs().iter().map(|teeth| teeth.get()).collect(),
            links: drivetrain.links().get(),
            limit_percent: limit.map(Limit::get),
            gearing: drivetrain.gearing().as_str(),
            wheel_circumference_mm: drivetrain.wheel().get(),
            jockey_teeth: drivetrain.jockey().map(|teeth| teeth.get()),
            light_metal_cogs: drivetrain.has_light_metal_cogs(),
        }
    }
}
