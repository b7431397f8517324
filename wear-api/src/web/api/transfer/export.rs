use actix_web::{HttpResponse, get, web};
use serde::Deserialize;
use utoipa::IntoParams;

use crate::service::Services;
use crate::transfer::{Separator, TableKind};
use crate::web::auth::{As, Manager};
use crate::web::download::{self, ExportPlaces};
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};

/// In which notation.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct ExportQuery {
    /// `comma`, with decimal points, when left out; `semicolon` comes with decimal commas and a byte order mark.
    #[param(value_type = Option<Separator>)]
    separator: Option<String>,
}

/// Export a table
///
/// CSV in UTF-8, all as of one instant. Texts that a spreadsheet would take for a formula have an apostrophe in front,
/// which an import takes off again. What is exported from one workshop can be imported into another one, in this order:
/// part-models, bikes, parts, readings, swaps, care, rides.
#[utoipa::path(
    operation_id = "export_table",
    tag = "tables",
    security(("bearer" = ["manager"])),
    params(("kind" = inline(TableKind), Path, description = "Which table"), ExportQuery),
    responses((status = 200, description = "The table", content_type = "text/csv", body = String))
)]
#[get("/v1/exports/{kind}")]
pub(super) async fn export_table(
    services: web::Data<Services>,
    actor: As<Manager>,
    kind: web::Path<String>,
    query: Query<ExportQuery>,
    places: web::Data<ExportPlaces>,
) -> Result<HttpResponse, Problem> {
    let kind: TableKind = kind.parse().map_err(|_| Problem::not_found("table"))?;
    let mut parameters = Parameters::new();
    let separator = parameters.word("separator", query.0.separator.as_deref());
    parameters.finish()?;
    download::table(&services, &actor, &places, kind, separator.unwrap_or(Separator::Comma)).await
}
