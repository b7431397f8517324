//! The parts of a request, parsed.

use serde::Deserialize;
use utoipa::ToSchema;
use wear_core::bounds;
use wear_core::drivetrain::compatibility::{
    CassettePart, ChainPart, ConnectingLinkPart, FrontDerailleurPart, HubPart, Parts, RearDerailleurPart,
    RingPart, SingleWidth, SprocketCount,
};
use wear_core::units::{Chainstay, Links, Teeth};

use crate::domain::{Field, FieldErrors, Gearing, Invalid, Label};
use crate::input::parse;
use crate::web::schema;

/// Most interfaces that a hub is said to take.
const MOST_INTERFACES: usize = 20;

/// Parts that are to go together; what is left out isn't compared.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = PartsToCompare)]
pub(super) struct PartsBody {
    /// The chain.
    chain: Option<ChainBody>,
    /// The cassette, or the one cog.
    cassette: Option<CassetteBody>,
    /// The rear hub.
    hub: Option<HubBody>,
    /// The rings.
    #[schema(max_items = 3)]
    rings: Option<Vec<RingBody>>,
    /// The rear derailleur, by its maker's numbers.
    rear_derailleur: Option<RearDerailleurBody>,
    /// The front derailleur, by its maker's numbers.
    front_derailleur: Option<FrontDerailleurBody>,
    /// The connecting link.
    connecting_link: Option<ConnectingLinkBody>,
    /// Positions of the rear shifter.
    #[schema(minimum = 1, maximum = 14)]
    shifter_sprockets: Option<i64>,
    /// Length of the chainstay.
    #[schema(minimum = 250, maximum = 800)]
    chainstay_mm: Option<f64>,
    /// Largest ring that the frame clears.
    #[schema(minimum = 9, maximum = 80)]
    frame_largest_ring_teeth: Option<i64>,
    /// How the rear wheel is driven; by the parts when left out.
    #[schema(value_type = Option<schema::Gearing>)]
    gearing: Option<String>,
}

/// A chain.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ChainToCompare)]
struct ChainBody {
    /// Sprockets that it is made for.
    #[schema(minimum = 1, maximum = 14)]
    sprockets: Option<i64>,
    /// Inner width of a chain for one sprocket.
    #[schema(value_type = Option<schema::SingleWidth>)]
    width: Option<String>,
    /// Its length as it is.
    #[schema(schema_with = schema::optional::links, required = false)]
    links: Option<i64>,
}

/// A cassette, or the one cog of a hub.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = CassetteToCompare)]
struct CassetteBody {
    /// Teeth of its cogs, in any order.
    #[schema(schema_with = schema::cogs)]
    cogs: Vec<i64>,
    /// Width of the teeth, where there is one cog.
    #[schema(value_type = Option<schema::SingleWidth>)]
    width: Option<String>,
    /// Interface to the hub, by a name of your own or of an open standard; the same name is the same interface.
    #[schema(min_length = 1, max_length = 64)]
    interface: Option<String>,
}

/// A rear hub.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = HubToCompare)]
struct HubBody {
    /// Interfaces that it takes.
    #[schema(max_items = 20)]
    interfaces: Vec<String>,
    /// Interfaces that it takes with a spacer.
    #[schema(max_items = 20)]
    interfaces_with_spacer: Option<Vec<String>>,
}

/// A ring.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = RingToCompare)]
struct RingBody {
    /// Its teeth.
    #[schema(schema_with = schema::teeth)]
    teeth: i64,
    /// Whether wide and narrow teeth take turns; no when left out.
    narrow_wide: Option<bool>,
    /// Sprockets of the chain that it is made for.
    #[schema(minimum = 1, maximum = 14)]
    sprockets: Option<i64>,
}

/// A rear derailleur.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = RearDerailleurToCompare)]
struct RearDerailleurBody {
    /// Teeth that its cage takes up.
    #[schema(minimum = 0, maximum = 100)]
    capacity_teeth: Option<i64>,
    /// Largest cog that it clears.
    #[schema(minimum = 9, maximum = 80)]
    largest_cog_teeth: Option<i64>,
    /// Smallest cog that it reaches.
    #[schema(minimum = 9, maximum = 80)]
    smallest_cog_teeth: Option<i64>,
}

/// A front derailleur.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = FrontDerailleurToCompare)]
struct FrontDerailleurBody {
    /// Largest ring that it is shaped for.
    #[schema(minimum = 9, maximum = 80)]
    largest_ring_teeth: Option<i64>,
    /// Largest difference of teeth between rings.
    #[schema(minimum = 0, maximum = 100)]
    difference_teeth: Option<i64>,
}

/// A connecting link.
#[derive(Deserialize, ToSchema)]
#[serde(deny_unknown_fields)]
#[schema(as = ConnectingLinkToCompare)]
struct ConnectingLinkBody {
    /// Sprockets of the chain that it is made for.
    #[schema(minimum = 1, maximum = 14)]
    sprockets: i64,
    /// Whether its maker allows it to be used again; no when left out.
    reusable: Option<bool>,
    /// Whether it was closed before; no when left out.
    used: Option<bool>,
}

fn count(errors: &mut FieldErrors, pointer: &str, given: i64) -> Option<SprocketCount> {
    let number = errors.keep(pointer, parse::whole::<u32>(given, &bounds::COG_COUNT))?;
    errors.keep(pointer, SprocketCount::new(number))
}

fn teeth(errors: &mut FieldErrors, pointer: &str, given: i64) -> Option<Teeth> {
    let number = errors.keep(pointer, parse::whole::<u32>(given, &bounds::TEETH))?;
    errors.keep(pointer, Teeth::new(number))
}

fn difference(errors: &mut FieldErrors, pointer: &str, given: i64) -> Option<u16> {
    let wrong = Invalid::WholeNumber { what: Field::Teeth, given, minimum: 0, maximum: 100 };
    errors.keep(pointer, u16::try_from(given).ok().filter(|teeth| *teeth <= 100).ok_or(wrong))
}

fn width(errors: &mut FieldErrors, pointer: &str, given: Option<String>) -> Option<SingleWidth> {
    given.and_then(|word| errors.keep(pointer, parse::text::<SingleWidth>(&word)))
}

fn interfaces(errors: &mut FieldErrors, pointer: &str, given: Vec<String>) -> Vec<String> {
    if given.len() > MOST_INTERFACES {
        let found = given.len();
        let what = Field::Interfaces;
        errors.push(Invalid::Count { what, found, minimum: 0, maximum: MOST_INTERFACES }.at(pointer));
        return Vec::new();
    }
    let names = given.iter().enumerate();
    names
        .filter_map(|(index, name)| errors.keep(format!("{pointer}/{index}"), Label::new(name)))
        .map(|name| name.to_string())
        .collect()
}

impl PartsBody {
    pub(super) fn parse(self) -> Result<Parts, FieldErrors> {
        let Self {
            chain,
            cassette,
            hub,
            rings,
            rear_derailleur,
            front_derailleur,
            connecting_link,
            shifter_sprockets,
            chainstay_mm,
            frame_largest_ring_teeth,
            gearing,
        } = self;
        let mut errors = FieldErrors::new();
        let e = &mut errors;
        let parts = Parts {
            chain: chain.map(|ChainBody { sprockets, width: inner, links }| ChainPart {
                sprockets: sprockets.and_then(|given| count(e, "/chain/sprockets", given)),
                width: width(e, "/chain/width", inner),
                links: links.and_then(|given| {
                    let links = e.keep("/chain/links", parse::whole::<u32>(given, &bounds::LINKS))?;
                    e.keep("/chain/links", Links::new(links))
                }),
            }),
            cassette: cassette.map(|body| body.parse(e)),
            hub: hub.map(|HubBody { interfaces: taken, interfaces_with_spacer }| HubPart {
                interfaces: interfaces(e, "/hub/interfaces", taken),
                interfaces_with_spacer: interfaces(
                    e,
                    "/hub/interfaces_with_spacer",
                    interfaces_with_spacer.unwrap_or_default(),
                ),
            }),
            rings: parse_rings(e, rings.unwrap_or_default()),
            rear_derailleur: rear_derailleur.map(|body| {
                let RearDerailleurBody { capacity_teeth, largest_cog_teeth, smallest_cog_teeth } = body;
                let at = "/rear_derailleur";
                let mut cog = |name: &str, given: Option<i64>| {
                    given.and_then(|given| teeth(e, &format!("{at}/{name}"), given))
                };
                let (largest_cog, smallest_cog) = (
                    cog("largest_cog_teeth", largest_cog_teeth),
                    cog("smallest_cog_teeth", smallest_cog_teeth),
                );
                let capacity_teeth =
                    capacity_teeth.and_then(|given| difference(e, &format!("{at}/capacity_teeth"), given));
                RearDerailleurPart { capacity_teeth, largest_cog, smallest_cog }
            }),
            front_derailleur: front_derailleur.map(|body| {
                let FrontDerailleurBody { largest_ring_teeth, difference_teeth } = body;
                FrontDerailleurPart {
                    largest_ring: largest_ring_teeth
                        .and_then(|given| teeth(e, "/front_derailleur/largest_ring_teeth", given)),
                    difference_teeth: difference_teeth
                        .and_then(|given| difference(e, "/front_derailleur/difference_teeth", given)),
                }
            }),
            connecting_link: connecting_link.and_then(|body| {
                let ConnectingLinkBody { sprockets, reusable, used } = body;
                Some(ConnectingLinkPart {
                    sprockets: count(e, "/connecting_link/sprockets", sprockets)?,
                    reusable: reusable.unwrap_or(false),
                    used: used.unwrap_or(false),
                })
            }),
            shifter_sprockets: shifter_sprockets.and_then(|given| count(e, "/shifter_sprockets", given)),
            chainstay: chainstay_mm.and_then(|mm| e.keep("/chainstay_mm", Chainstay::new(mm))),
            frame_largest_ring: frame_largest_ring_teeth
                .and_then(|given| teeth(e, "/frame_largest_ring_teeth", given)),
            gearing: gearing.and_then(|word| e.keep("/gearing", parse::text::<Gearing>(&word))),
        };
        if errors.is_empty() { Ok(parts) } else { Err(errors) }
    }
}

impl CassetteBody {
    fn parse(self, errors: &mut FieldErrors) -> CassettePart {
        let Self { cogs, width: inner, interface } = self;
        if bounds::COG_COUNT.check(cogs.len() as f64).is_err() {
            let (minimum, maximum) = (bounds::COG_COUNT.minimum as usize, bounds::COG_COUNT.maximum as usize);
            let cause = Invalid::Count { what: Field::Cogs, found: cogs.len(), minimum, maximum };
            errors.push(cause.at("/cassette/cogs"));
        }
        let counts = cogs.into_iter().enumerate();
        let mut cogs: Vec<Teeth> = counts
            .filter_map(|(index, given)| teeth(errors, &format!("/cassette/cogs/{index}"), given))
            .collect();
        cogs.sort_unstable();
        CassettePart {
            cogs,
            width: width(errors, "/cassette/width", inner),
            interface: interface
                .and_then(|name| errors.keep("/cassette/interface", Label::new(&name)))
                .map(|name| name.to_string()),
        }
    }
}

fn parse_rings(errors: &mut FieldErrors, rings: Vec<RingBody>) -> Vec<RingPart> {
    let maximum = bounds::RING_COUNT.maximum as usize;
    if rings.len() > maximum {
        let found = rings.len();
        errors.push(Invalid::Count { what: Field::Rings, found, minimum: 0, maximum }.at("/rings"));
        return Vec::new();
    }
    let bodies = rings.into_iter().enumerate();
    bodies
        .filter_map(|(index, RingBody { teeth: given, narrow_wide, sprockets })| {
            let made_for =
                sprockets.and_then(|given| count(errors, &format!("/rings/{index}/sprockets"), given));
            Some(RingPart {
                teeth: teeth(errors, &format!("/rings/{index}/teeth"), given)?,
                narrow_wide: narrow_wide.unwrap_or(false),
                sprockets: made_for,
            })
        })
        .collect()
}
