use actix_web::http::{StatusCode, header};
use actix_web::{HttpResponse, post, web};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use wear_core::exposure::track::{RoadSettings, Wind};
use wear_core::units::{Bearing, DragArea, RollingCoefficient, TotalMass, WindSpeed};

use super::document::RideFileAnswer;
use crate::domain::{BikeId, Field, Form, Invalid, RideOutcome, Surface};
use crate::service::Services;
use crate::service::ride_files::{self, RideFile};
use crate::web::auth::{App, As};
use crate::web::body::File;
use crate::web::etag::etag;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::schema;

/// Largest file as sent, bytes: a day at a point a second, in the wordier of the formats, gzipped or not.
const LIMIT: usize = 32 << 20;

/// A file's bytes.
#[derive(ToSchema)]
#[schema(value_type = String, format = Binary)]
#[allow(dead_code)]
pub(super) struct FileBytes(Vec<u8>);

/// Which bike, and what the file doesn't know.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
pub(super) struct RideFileQuery {
    /// The bike.
    #[param(value_type = Uuid)]
    bike_id: String,
    /// What the ride was on; when left out, `indoor` where the file says so and `paved` otherwise.
    #[param(value_type = Option<schema::Surface>)]
    surface: Option<String>,
    /// Whether it was wet; no when left out.
    #[param(value_type = Option<bool>)]
    wet: Option<String>,
    /// Mass of rider, bike and load; by the bike's use when left out.
    #[param(schema_with = schema::mass_kg, required = false)]
    mass_kg: Option<String>,
    /// Drag area of rider and bike; by the bike's use when left out.
    #[param(schema_with = schema::drag_area_m2, required = false)]
    drag_area_m2: Option<String>,
    /// Rolling force over weight; by use and surface when left out.
    #[param(schema_with = schema::rolling_coefficient, required = false)]
    rolling_coefficient: Option<String>,
    /// Wind at the rider's height, over the whole ride; unknown when left out.
    #[param(schema_with = schema::wind_m_s, required = false)]
    wind_m_s: Option<String>,
    /// Where the wind comes from, from north; goes with `wind_m_s`.
    #[param(schema_with = schema::bearing_degrees, required = false)]
    wind_from_degrees: Option<String>,
}

impl RideFileQuery {
    fn parse(self, bytes: Vec<u8>) -> Result<RideFile, Problem> {
        let Self {
            bike_id,
            surface,
            wet,
            mass_kg,
            drag_area_m2,
            rolling_coefficient,
            wind_m_s,
            wind_from_degrees,
        } = self;
        let mut parameters = Parameters::new();
        let bike_id = parameters.optional("bike_id", Some(&bike_id), |given| {
            let id = given.parse().map_err(|_| Invalid::unparsed(Field::BikeId, given, Form::Uuid))?;
            Ok(BikeId::from_uuid(id))
        });
        let surface = parameters.word::<Surface>("surface", surface.as_deref());
        let wet = parameters.flag("wet", wet.as_deref());
        let mass = number(&mut parameters, "mass_kg", mass_kg, TotalMass::new);
        let drag_area = number(&mut parameters, "drag_area_m2", drag_area_m2, DragArea::new);
        let rolling =
            number(&mut parameters, "rolling_coefficient", rolling_coefficient, RollingCoefficient::new);
        let together = wind_m_s.is_some() == wind_from_degrees.is_some();
        let speed = number(&mut parameters, "wind_m_s", wind_m_s, WindSpeed::new);
        let from = number(&mut parameters, "wind_from_degrees", wind_from_degrees, Bearing::new);
        if !together {
            let apart = Invalid::Together { what: Field::HalfOfWind, allowed: Form::BothOrNeither };
            let _none: Option<()> = parameters.optional("wind_m_s", Some(""), |_| Err(apart));
        }
        let wind = speed.zip(from).map(|(speed, from)| Wind { speed, from });
        let road = RoadSettings { mass, drag_area, rolling, wind, ..RoadSettings::default() };
        parameters.finish_with(bike_id.map(|bike_id| RideFile { bike_id, bytes, surface, wet, road }))
    }
}

fn number<T, E: Into<Invalid>>(
    parameters: &mut Parameters,
    name: &'static str,
    given: Option<String>,
    new: impl FnOnce(f64) -> Result<T, E>,
) -> Option<T> {
    parameters.optional(name, given.as_deref(), |given| {
        let number = given
            .parse()
            .map_err(|_| Invalid::unparsed(Field::Named { name }, given, Form::DecimalNumber))?;
        new(number).map_err(Into::into)
    })
}

/// Enter a ride as a file
///
/// GPX 1.1 or a FIT activity, plain or gzipped, told apart by content. The file becomes one ride, with source `file`
/// and the content's hash as its id: the same file again is the same ride, on another bike it moves. Energy is the
/// ride's where a power meter measured it; what the road-power model makes of the track is told beside it.
#[utoipa::path(
    operation_id = "create_ride_from_file",
    tag = "rides",
    security(("bearer" = ["app", "mechanic", "manager"])),
    params(RideFileQuery),
    request_body(description = "The file, at most 32 MiB as sent, 64 MiB unpacked and 300,000 points", content(
        (String = "application/gpx+xml", example = "<gpx version=\"1.1\" creator=\"me\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><trkseg><trkpt lat=\"47.0000\" lon=\"8.0000\"><ele>412.0</ele><time>2026-03-01T08:00:00Z</time></trkpt><trkpt lat=\"47.0005\" lon=\"8.0000\"><ele>412.4</ele><time>2026-03-01T08:00:10Z</time></trkpt><trkpt lat=\"47.0010\" lon=\"8.0000\"><ele>412.9</ele><time>2026-03-01T08:00:20Z</time></trkpt></trkseg></trk></gpx>"),
        (FileBytes = "application/vnd.ant.fit"),
        (FileBytes = "application/octet-stream"),
        (FileBytes = "application/gzip"),
    )),
    responses(
        (status = 201, description = "The ride is new", body = RideFileAnswer,
            headers(("Location" = String, description = "Address of the ride"),
                ("ETag" = String, description = "For `If-Match`"))),
        (status = 200, description = "The file was there: it said the same, or its ride is replaced", body = RideFileAnswer,
            headers(("ETag" = String, description = "For `If-Match`")))
    )
)]
#[post("/v1/ride-files")]
pub(super) async fn create_ride_from_file(
    services: web::Data<Services>,
    actor: As<App>,
    query: Query<RideFileQuery>,
    body: File<LIMIT>,
) -> Result<HttpResponse, Problem> {
    let (outcome, read) = ride_files::post(&services, &actor, query.0.parse(body.0)?).await?;
    let ride = outcome.ride().clone();
    let mut response = match outcome {
        RideOutcome::Inserted(_) => HttpResponse::build(StatusCode::CREATED),
        RideOutcome::Unchanged(_) | RideOutcome::Replaced { .. } => HttpResponse::build(StatusCode::OK),
    };
    if matches!(outcome, RideOutcome::Inserted(_)) {
        response.insert_header((header::LOCATION, format!("/v1/bikes/{}/rides/{}", ride.bike_id, ride.id)));
    }
    let answer = RideFileAnswer { ride: ride.clone().into(), file: read.into() };
    Ok(response.insert_header(etag(ride.revision)).json(answer))
}
