//! What the plots of one bike are drawn from: the posterior now, what was expected on earlier days, what lies ahead.

use chrono::NaiveDate;
use wear_core::bike::PathPoint;

use super::load;
use crate::domain::{Bike, BikeId, Measurement, Outlook, Reading, Timestamp};
use crate::service::learned::Learned;
use crate::service::{Actor, ServiceError, Services};

/// A reading as plots show it.
#[derive(Debug, Clone, PartialEq)]
pub struct PlottedReading {
    /// When it was taken.
    pub taken_at: Timestamp,
    /// What was read.
    pub measurement: Measurement,
    /// Standard deviation of one reading with its instrument, percent elongation.
    pub sd: f64,
    /// Bias of the instrument, percent elongation: read minus true.
    pub bias: f64,
    /// Whether it was taken for a blunder and set aside.
    pub set_aside: bool,
}

/// What a bike's plots are drawn from.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// The bike.
    pub bike: Bike,
    /// Its outlook.
    pub outlook: Outlook,
    /// The present date where the workshop is.
    pub today: NaiveDate,
    /// Elongations, percent, with their density now, per percent.
    pub density: Vec<(f64, f64)>,
    /// The expected elongation, earliest day first.
    pub path: Vec<PathPoint>,
    /// Readings of the chain that is on, earliest first.
    pub readings: Vec<PlottedReading>,
}

/// What a bike's plots are drawn from, as of now.
///
/// # Errors
/// [`ServiceError::NotFound`] when the bike isn't this workshop's.
pub async fn picture(services: &Services, actor: &Actor, bike_id: BikeId) -> Result<Picture, ServiceError> {
    let now = services.now();
    let mut tx = services.store.begin_read(actor).await?;
    let workshop = tx.workshop().await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let loaded = load::bike(&mut tx, &workshop, &bike, now).await?;
    let readings = match loaded.present {
        Some(chain) => tx.readings_of_parts(&[chain]).await?,
        None => Vec::new(),
    };
    let rate = tx.fleet_rate(&bike.facts.group).await?;
    let learned = Learned::load(&mut tx, &workshop.settings, rate.as_ref()).await?;
    drop(tx);
    let assessment = loaded.assess();
    let wear_core::bike::Picture { density, path, set_aside } = assessment.picture();
    let calibrations = workshop.settings.instruments();
    let plotted = |(reading, set_aside): (Reading, bool)| {
        let own = learned.calibration(&reading);
        let Reading { taken_at, measured, .. } = reading;
        let calibration = own.unwrap_or_else(|| calibrations.of(measured.measurement().instrument()));
        PlottedReading {
            taken_at,
            measurement: *measured.measurement(),
            sd: calibration.sd(),
            bias: calibration.bias(),
            set_aside,
        }
    };
    let mut readings: Vec<PlottedReading> = readings.into_iter().zip(set_aside).map(plotted).collect();
    readings.sort_by_key(|reading| reading.taken_at);
    let today = loaded.today;
    Ok(Picture { outlook: loaded.outlook(assessment), bike, today, density, path, readings })
}
