//! Tables as CSV, both ways.

use std::io::BufReader;

use actix_web::http::header;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;

use wear_core::bike::Warning;

use super::rides::RideWarningDocument;
use crate::domain::{Label, RideWarning};
use crate::service::Services;
use crate::service::imports::{self, Ended, Imported};
use crate::transfer::{Separator, TableKind};
use crate::web::auth::{As, Manager};
use crate::web::body::encoding;
use crate::web::change::Change;
use crate::web::download::{self, ExportPlaces};
use crate::web::problem::{Kind as ProblemKind, Problem};
use crate::web::query::{Parameters, Query};
use crate::web::upload::UploadLimits;
use crate::web::words;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(export_table).service(import_table);
}

/// In which notation.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ExportQuery {
    /// `comma`, with decimal points, when left out; `semicolon` comes with decimal commas and a byte order mark.
    #[param(value_type = Option<Separator>)]
    separator: Option<String>,
}

/// Whether to change anything.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct ImportQuery {
    /// Whether only to say what the import would do; no when left out.
    #[param(value_type = Option<bool>)]
    dry_run: Option<String>,
}

/// What a person should know of a bike.
#[derive(Serialize, ToSchema)]
#[schema(as = ImportWarning)]
struct NoticeDocument {
    /// The bike's label.
    bike: String,
    /// A stable word for programs.
    code: &'static str,
    /// A sentence for people.
    message: String,
}

/// What an import did, or would do.
#[derive(Serialize, ToSchema)]
struct ImportReport {
    /// Which table.
    #[schema(value_type = TableKind)]
    kind: &'static str,
    /// Whether nothing was changed.
    dry_run: bool,
    /// Lines read, the header left out.
    lines: u64,
    /// Lines that were new.
    accepted: u64,
    /// Lines that changed what was there.
    replaced: u64,
    /// Lines that said what was there.
    unchanged: u64,
    /// Lines that were taken and count for nothing, as things stand.
    odd: u64,
    /// What was taken and counts for nothing, the first hundred.
    warnings: Vec<OddLine>,
    /// What doesn't fit about odometers of which the table told: `new_counter` and `rides_exceed_counter`.
    notices: Vec<NoticeDocument>,
}

/// A line that was taken and counts for nothing, as things stand.
#[derive(Serialize, ToSchema)]
struct OddLine {
    /// Line of the file.
    #[schema(minimum = 2)]
    line: u64,
    #[serde(flatten)]
    warning: RideWarningDocument,
}

/// Export a table
///
/// CSV in UTF-8, all as of one instant. Texts that a spreadsheet would take for a formula have an apostrophe in front,
/// which an import takes off again. What is exported from one workshop can be imported into another one, in this order:
/// part-models, bikes, parts, readings, swaps, care, rides, odometer.
#[utoipa::path(
    operation_id = "export_table",
    tag = "tables",
    security(("bearer" = ["manager"])),
    params(("kind" = inline(TableKind), Path, description = "Which table"), ExportQuery),
    responses((status = 200, description = "The table", content_type = "text/csv", body = String))
)]
#[get("/v1/exports/{kind}")]
async fn export_table(
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

/// Import a table
///
/// CSV in UTF-8, with comma or semicolon; decimal commas go with semicolons. The columns are those of the export, in any
/// order; those that may be empty may be left out, and so may the column of times where all of a table happens now. `accept_mismatch` of bikes, parts and swaps is `true` where what
/// doesn't go together is meant so. Of a bike a label is enough, and `speeds` stands for `rings`, `cogs`
/// and `links`. Where a line names a bike, `bike` takes its label or its id. All of the file is taken or nothing of it: mistakes are named by line
/// and column, the first hundred of them. The same file twice is the same as once. Ids are kept; without ids bikes go by
/// their label and part models by place and name, and a bike's rides by the time at which they began. The size that the
/// service is set to take is the limit; `413` names it. Outlooks follow within minutes.
#[utoipa::path(
    operation_id = "import_table",
    tag = "tables",
    security(("bearer" = ["manager"])),
    params(("kind" = inline(TableKind), Path, description = "Which table"), ImportQuery),
    request_body(content = String, content_type = "text/csv",
        example = "bike,started_at,distance_km,surface,wet\r\nhire 7,2026-03-01T08:00:00Z,18.4,paved,false\r\n"),
    responses((status = 200, description = "What it did, or would do", body = ImportReport))
)]
#[post("/v1/imports/{kind}")]
async fn import_table(
    request: HttpRequest,
    services: web::Data<Services>,
    mut change: Change<Manager>,
    kind: web::Path<String>,
    query: Query<ImportQuery>,
    limits: web::Data<UploadLimits>,
    payload: web::Payload,
) -> Result<HttpResponse, Problem> {
    let kind: TableKind = kind.parse().map_err(|_| Problem::not_found("table"))?;
    let mut parameters = Parameters::new();
    let dry_run = parameters.flag("dry_run", query.0.dry_run.as_deref());
    parameters.finish()?;
    require_csv(&request)?;
    encoding(&request, &[])?;
    limits.check(&request)?;
    let file = limits.spooled(payload).await?;
    let source = Box::new(BufReader::with_capacity(64 * 1024, file));
    match imports::import(&services, &mut change, kind, source, dry_run).await? {
        Ended::Done(Imported { lines, accepted, replaced, unchanged, odd, warnings, notices }) => {
            let kind = kind.as_str();
            let odd_line = |(line, warning): (u64, RideWarning)| OddLine { line, warning: warning.into() };
            let warnings = warnings.into_iter().map(odd_line).collect();
            let notices = notices.iter().map(NoticeDocument::from).collect();
            let report =
                ImportReport { kind, dry_run, lines, accepted, replaced, unchanged, odd, warnings, notices };
            Ok(HttpResponse::Ok().json(report))
        }
        Ended::Refused(findings) => Err(Problem::table(findings.found(), findings.into_listed())),
    }
}

impl From<&(Label, Warning)> for NoticeDocument {
    fn from((bike, warning): &(Label, Warning)) -> Self {
        Self { bike: bike.to_string(), code: warning.code(), message: words::warning(warning) }
    }
}

fn require_csv(request: &HttpRequest) -> Result<(), Problem> {
    let given = request.headers().get(header::CONTENT_TYPE).map(|it| it.to_str().unwrap_or("unreadable"));
    let essence = given.map(|it| it.split(';').next().unwrap_or_default().trim().to_ascii_lowercase());
    if essence.as_deref() == Some("text/csv") {
        return Ok(());
    }
    Err(Problem::new(
        ProblemKind::UnsupportedMediaType,
        format!("the content type is {}; allowed: text/csv", given.unwrap_or("not given")),
    ))
}
