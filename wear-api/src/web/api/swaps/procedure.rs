use actix_web::{HttpResponse, get, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use wear_core::drivetrain::procedure::{BikeAtHand, Deference, Shifting, Step, SwapOf};

use crate::domain::BikeId;
use crate::service::{Services, procedure};
use crate::web::auth::{As, Mechanic};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::schema;
use crate::web::speech;

/// Which swap.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct ProcedureQuery {
    /// What is swapped.
    #[param(value_type = schema::SwapOf)]
    place: String,
    /// What shifts the bike; steps for both when left out.
    #[param(value_type = Option<schema::Shifting>)]
    shifting: Option<String>,
}

/// How a part is swapped safely.
#[derive(Serialize, ToSchema)]
#[schema(as = SwapProcedure)]
struct ProcedureDocument {
    /// What is swapped.
    #[schema(value_type = schema::SwapOf)]
    place: &'static str,
    /// What the bike was taken for.
    bike: BikeDocument,
    /// What goes before these steps.
    defers_to: String,
    /// What the steps rest on.
    source: &'static str,
    /// Tools of all steps.
    tools: Vec<String>,
    /// The steps, in order.
    steps: Vec<StepDocument>,
}

/// What a bike was taken for.
#[derive(Serialize, ToSchema)]
#[schema(as = BikeAtHand)]
struct BikeDocument {
    /// How the wheel is driven.
    #[schema(value_type = schema::Gearing)]
    gearing: &'static str,
    /// How the cogs come off.
    #[schema(value_type = schema::CogBuild)]
    cogs: &'static str,
    /// What shifts it; null when nobody said.
    #[schema(value_type = Option<schema::Shifting>)]
    shifting: Option<&'static str>,
    /// Whether a motor helps.
    motor: bool,
}

/// One step.
#[derive(Serialize, ToSchema)]
#[schema(as = SwapStep)]
struct StepDocument {
    /// A stable word, for the checklist of a swap.
    id: &'static str,
    /// What to do.
    what: String,
    /// What can hurt someone; null where nothing much can.
    caution: Option<String>,
    /// Tools.
    tools: Vec<String>,
    /// Where the torque comes from; null where there is none.
    torque: Option<String>,
    /// Whether it is a check after the work, to be ticked before the bike goes out.
    check: bool,
}

impl From<Step> for StepDocument {
    fn from(Step { id, what, caution, tools, torque, check }: Step) -> Self {
        Self {
            id,
            what: what.to_string(),
            caution: caution.map(|caution| speech::said(&caution)),
            tools: tools.iter().map(speech::said).collect(),
            torque: torque.map(|torque| speech::said(&torque)),
            check,
        }
    }
}

fn document(place: SwapOf, bike: BikeAtHand, steps: Vec<Step>) -> ProcedureDocument {
    let mut tools: Vec<String> = Vec::new();
    for tool in steps.iter().flat_map(|step| step.tools).map(speech::said) {
        if !tools.contains(&tool) {
            tools.push(tool);
        }
    }
    let BikeAtHand { gearing, cogs, shifting, motor } = bike;
    ProcedureDocument {
        place: place.as_str(),
        bike: BikeDocument {
            gearing: gearing.as_str(),
            cogs: cogs.as_str(),
            shifting: shifting.map(Shifting::as_str),
            motor,
        },
        defers_to: speech::said(&Deference::MakersAndRules),
        source: "common practice",
        tools,
        steps: steps.into_iter().map(StepDocument::from).collect(),
    }
}

/// Get the steps of a swap
///
/// For the bike as it is: derailleur or hub gear, cogs that come off one by one or not, a motor or none. Tick the steps
/// in the `checklist` of the swap.
#[utoipa::path(
    operation_id = "get_swap_procedure",
    tag = "work",
    security(("bearer" = ["mechanic", "manager"])),
    params(("bike_id" = Uuid, Path, description = "The bike"), ProcedureQuery),
    responses((status = 200, description = "The steps", body = ProcedureDocument))
)]
#[get("/v1/bikes/{bike_id}/swap-procedure")]
pub(super) async fn get_swap_procedure(
    services: web::Data<Services>,
    actor: As<Mechanic>,
    bike_id: web::Path<BikeId>,
    query: Query<ProcedureQuery>,
) -> Result<HttpResponse, Problem> {
    let ProcedureQuery { place, shifting } = query.0;
    let mut parameters = Parameters::new();
    let place = parameters.word::<SwapOf>("place", Some(&place));
    let shifting = parameters.word::<Shifting>("shifting", shifting.as_deref());
    let place = parameters.finish_with(place)?;
    let (bike, steps) = procedure::of_bike(&services, &actor, *bike_id, place, shifting).await?;
    Ok(HttpResponse::Ok().json(document(place, bike, steps)))
}
