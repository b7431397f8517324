//! Everything that is on record of one bike, for people to read.

use std::collections::{BTreeSet, HashMap};

use chrono::NaiveDate;

use super::{Actor, ServiceError, Services};
use crate::domain::{
    Bike, BikeDay, BikeId, Care, DeclaredUse, Fitting, Label, LubricantId, OdometerStatement, PageRequest,
    PageSize, PartId, Reading, Report, Swap, Timestamp, UseOf,
};

/// What is on record of one bike. Of readings, odometer statements, care and swaps the newest hundred of each.
#[derive(Debug, Clone)]
pub struct BikeHistory {
    /// The bike.
    pub bike: Bike,
    /// Days on which it was ridden, oldest first.
    pub days: Vec<BikeDay>,
    /// Readings, newest first, void ones too.
    pub readings: Vec<Reading>,
    /// Care, newest first.
    pub care: Vec<Care>,
    /// Swaps, newest first, void ones too.
    pub swaps: Vec<Swap>,
    /// What was noticed, newest first, void reports too.
    pub symptoms: Vec<Report>,
    /// What the odometer showed, newest first, void statements too.
    pub odometer: Vec<OdometerStatement>,
    /// How far it is said to go: what is declared of it, then what is declared of its group, in the order of entry.
    pub declared: Vec<DeclaredUse>,
    /// Fittings, oldest first.
    pub fittings: Vec<Fitting>,
    /// Models' names of the parts that have one.
    pub models: HashMap<PartId, Label>,
    /// Names of the lubricants that its care names.
    pub lubricants: HashMap<LubricantId, Label>,
}

/// What is on record of a bike.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn of_bike(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
) -> Result<BikeHistory, ServiceError> {
    let now = services.now();
    let most = PageRequest::first(PageSize::LARGEST);
    let mut tx = services.store.begin_read(actor).await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let first: NaiveDate = Timestamp::EPOCH.utc_date();
    let days = tx.bike_days(bike_id, first, now.date_in(bike.days_zone)).await?;
    let readings = tx.readings(bike_id, &most).await?.items;
    let care = tx.care(bike_id, &most).await?.items;
    let lubricants = match care.iter().any(|care| care.lubricant_id.is_some()) {
        true => tx.all_lubricants().await?,
        false => Vec::new(),
    };
    let swaps = tx.swaps(bike_id, &most).await?.items;
    let symptoms = tx.reports(bike_id, &most).await?.items;
    let odometer = tx.statements(bike_id, &most).await?.items;
    let group = BTreeSet::from([&bike.facts.group]);
    let mut declared = tx.declared_use_of(&[bike_id], group).await?;
    declared.sort_by_key(|one| (matches!(one.of, UseOf::Group(_)), one.id));
    let fittings = tx.fittings_of_bike(bike_id).await?;
    let mut models = HashMap::new();
    for fitting in fittings.iter().filter(|fitting| fitting.removed_at.is_none()) {
        if let Some(model_id) = tx.part(fitting.part_id).await?.facts.model_id {
            models.insert(fitting.part_id, tx.part_model(model_id).await?.facts.name);
        }
    }
    Ok(BikeHistory {
        bike,
        days,
        readings,
        care,
        swaps,
        symptoms,
        odometer,
        declared,
        fittings,
        models,
        lubricants: lubricants.into_iter().map(|it| (it.id, it.facts.name)).collect(),
    })
}

/// One reading, void or not.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn reading(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
    id: crate::domain::ReadingId,
) -> Result<Reading, ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    tx.reading(bike_id, id).await.map_err(ServiceError::or_not_found("reading"))
}
