//! Rides as files.

use actix_web::{HttpResponse, post, web};
use serde::{Deserialize, Serialize};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use wear_core::exposure::track::{AscentBand, RoadSettings, TrackEnergy, TrackSummary, TrackWarning, Wind};
use wear_core::units::{Bearing, DragArea, RollingCoefficient, TotalMass, WindSpeed};

use crate::domain::{BikeId, Field, Form, Invalid, Surface};
use crate::input::parse::date;
use crate::ride_file::Note;
use crate::service::Services;
use crate::service::ride_files::{self, FileReport, RideFile, Unknown};
use crate::web::api::rides::{self, RideDocument, RideWarningDocument};
use crate::web::auth::App;
use crate::web::body::File;
use crate::web::change::Change;
use crate::web::problem::Problem;
use crate::web::query::{Parameters, Query};
use crate::web::schema;

pub(super) fn operations(config: &mut ServiceConfig<'_>) {
    config.service(create_ride_from_file);
}

/// What a file was made into, and what was read in it.
#[derive(Serialize, ToSchema)]
struct RideFileAnswer {
    /// The ride.
    ride: RideDocument,
    /// What is odd about the ride among the bike's others, and why it counts for nothing where it does.
    warnings: Vec<RideWarningDocument>,
    /// What was read.
    file: FileDocument,
}

/// What was read in a ride file.
#[derive(Serialize, ToSchema)]
#[schema(as = RideFile)]
struct FileDocument {
    /// What it was: `gpx` or `fit`, whatever the content type said.
    #[schema(example = "gpx")]
    format: &'static str,
    /// Points in it.
    #[schema(example = 1801, minimum = 0)]
    points: usize,
    /// Points that counted.
    #[schema(example = 1800, minimum = 0)]
    points_used: usize,
    /// How far.
    #[schema(example = 18.4)]
    distance_km: f64,
    /// Where the distance comes from: `counted` by the device, `positions` or `speed`.
    #[schema(example = "positions")]
    distance_source: &'static str,
    /// The part of it whose points have no times: it counts, without a speed.
    #[schema(example = 0.0, minimum = 0)]
    untimed_km: f64,
    /// From the first time to the last; null where the file has none.
    #[schema(example = 3900.0)]
    elapsed_seconds: Option<f64>,
    /// Time in motion, of what has times; null where nothing has.
    #[schema(example = 3540.0)]
    moving_seconds: Option<f64>,
    /// How far uphill; null where heights are unknown, and indoors.
    climb_m: Option<ClimbDocument>,
    /// Work at the pedals; null where neither power nor the road tells it.
    energy: Option<EnergyDocument>,
    /// Share of the distance that was pedalled; null without a cadence.
    pedalling_share: Option<f64>,
    /// What looked odd, and what was made of it.
    warnings: Vec<FileWarning>,
    /// What the file doesn't tell, and what stands in for it: `time`, `elevation`, `power`.
    unknown: Vec<FileWarning>,
}

/// How far uphill, as a band: heights are noisy, and what counts as a rise is a choice.
#[derive(Serialize, ToSchema)]
#[schema(as = ClimbBand)]
struct ClimbDocument {
    /// Rises of 10 m and more.
    #[schema(example = 95.0)]
    low: f64,
    /// Rises of 5 m and more: what the ride is counted with.
    #[schema(example = 120.0)]
    likely: f64,
    /// Rises of 2 m and more.
    #[schema(example = 160.0)]
    high: f64,
}

/// Work at the pedals, and how sure it is.
#[derive(Serialize, ToSchema)]
#[schema(as = TrackEnergy)]
struct EnergyDocument {
    /// Work.
    #[schema(example = 350.0)]
    kj: f64,
    /// `measured` by a power meter, `road_power`: worked out from the road, or
    /// `distance_and_climb` where no point has a time. Only what was measured becomes the
    /// ride's `energy_kj`; otherwise the ride counts with its distance and climb.
    #[schema(example = "measured")]
    source: &'static str,
    /// One chance in ten that it is less.
    #[schema(example = 337.0)]
    low_kj: f64,
    /// One chance in ten that it is more.
    #[schema(example = 363.0)]
    high_kj: f64,
    /// Share of the moving time that was measured.
    #[schema(example = 0.998, minimum = 0, maximum = 1)]
    measured_share: f64,
}

/// What looked odd, or isn't known.
#[derive(Serialize, ToSchema)]
struct FileWarning {
    /// One word for its kind.
    #[schema(example = "recording_gaps")]
    code: &'static str,
    /// In words.
    #[schema(example = "2 gaps of 9 minutes in all were counted straight")]
    message: String,
}

/// Quantile of the normal at 0.9.
const NINE_IN_TEN: f64 = 1.281_551_565_5;

impl From<FileReport> for FileDocument {
    fn from(FileReport { format, summary, notes, unknown }: FileReport) -> Self {
        let TrackSummary {
            points,
            points_used,
            elapsed_seconds,
            moving_seconds,
            distance_km,
            untimed_km,
            distance_source,
            climb,
            energy,
            pedalling_share,
            warnings,
            ..
        } = summary;
        Self {
            format: format.as_str(),
            points,
            points_used,
            distance_km,
            distance_source: distance_source.as_str(),
            untimed_km,
            elapsed_seconds,
            moving_seconds: elapsed_seconds.map(|_| moving_seconds),
            climb_m: climb.map(ClimbDocument::from),
            energy: energy.map(EnergyDocument::from),
            pedalling_share,
            warnings: notes
                .into_iter()
                .map(FileWarning::from)
                .chain(warnings.into_iter().map(FileWarning::from))
                .collect(),
            unknown: unknown.into_iter().map(FileWarning::from).collect(),
        }
    }
}

impl From<AscentBand> for ClimbDocument {
    fn from(AscentBand { low_m, likely_m, high_m }: AscentBand) -> Self {
        Self { low: low_m, likely: likely_m, high: high_m }
    }
}

impl From<TrackEnergy> for EnergyDocument {
    fn from(TrackEnergy { kj, source, own_ln_sd, shared_ln_sd, measured_share, .. }: TrackEnergy) -> Self {
        let factor = (NINE_IN_TEN * f64::hypot(own_ln_sd, shared_ln_sd)).exp();
        Self { kj, source: source.as_str(), low_kj: kj / factor, high_kj: kj * factor, measured_share }
    }
}

impl From<Note> for FileWarning {
    fn from(note: Note) -> Self {
        Self { code: note.code(), message: note.to_string() }
    }
}

impl From<Unknown> for FileWarning {
    fn from(unknown: Unknown) -> Self {
        Self { code: unknown.code(), message: unknown.to_string() }
    }
}

impl From<TrackWarning> for FileWarning {
    fn from(warning: TrackWarning) -> Self {
        Self { code: warning.code(), message: warning.to_string() }
    }
}

/// Largest file as sent, bytes: a day at a point a second, in the wordier of the formats, gzipped or not.
const LIMIT: usize = 32 << 20;

/// A file's bytes.
#[derive(ToSchema)]
#[schema(value_type = String, format = Binary)]
#[allow(dead_code)]
struct FileBytes(Vec<u8>);

/// Which bike, and what the file doesn't know.
#[derive(Deserialize, IntoParams)]
#[serde(deny_unknown_fields)]
#[into_params(parameter_in = Query)]
struct RideFileQuery {
    /// The bike.
    #[param(value_type = Uuid)]
    bike_id: String,
    /// The day on which it was ridden, where the workshop is; needed for a file that has no times, and otherwise the
    /// day of the file's own.
    #[param(value_type = Option<chrono::NaiveDate>)]
    ridden_on: Option<String>,
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
            ridden_on,
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
        let ridden_on = parameters.optional("ridden_on", ridden_on.as_deref(), date);
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
        let file = |bike_id| RideFile { bike_id, bytes, ridden_on, surface, wet, road };
        parameters.finish_with(bike_id.map(file))
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
/// GPX 1.1 or a FIT activity, plain or gzipped, told apart by content. Points without a time count with their distance;
/// a file without any is taken for the day that `ridden_on` names. The file becomes one ride, with source `file`
/// and the content's hash as its id: the same file again is the same ride, on another bike it is another one. Energy is the
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
async fn create_ride_from_file(
    services: web::Data<Services>,
    mut change: Change<App>,
    query: Query<RideFileQuery>,
    body: File<LIMIT>,
) -> Result<HttpResponse, Problem> {
    let (outcome, read) = ride_files::post(&services, &mut change, query.0.parse(body.0)?).await?;
    let warnings = crate::service::rides::warnings(&mut change, outcome.ride()).await?;
    let warnings = warnings.into_iter().map(RideWarningDocument::from).collect();
    Ok(rides::stored(outcome, |ride| RideFileAnswer { ride: ride.into(), warnings, file: read.into() }))
}
