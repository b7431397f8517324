//! Bikes by what another program calls them.

use super::bikes::{self, EnterBike, EnterStart};
use super::{Actor, Conflict, ServiceError, Services, UnitOfWork, bike_kinds, starts};
use crate::domain::{
    Bike, BikePatch, BikeStart, Drivetrain, DrivetrainChoice, ExternalId, KindChoice, OwnersPatch,
    StartPatch, Use,
};
use crate::store::Tx;

/// What putting a bike did.
#[derive(Debug)]
pub enum PutBike {
    /// It is new.
    Made(Bike, Option<BikeStart>),
    /// It was there, and is as was said.
    Kept(Bike, Option<BikeStart>),
}

/// The bike that is called so.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn get(
    services: &Services,
    actor: &Actor,
    external_id: &ExternalId,
) -> Result<(Bike, Option<BikeStart>), ServiceError> {
    let mut tx = services.store.begin_read(actor).await?;
    found(&mut tx, external_id).await?.ok_or(ServiceError::NotFound { what: "bike" })
}

async fn found(
    tx: &mut Tx,
    external_id: &ExternalId,
) -> Result<Option<(Bike, Option<BikeStart>)>, ServiceError> {
    let mut ids = tx.bikes_by_external_id(std::slice::from_ref(external_id)).await?;
    let Some(id) = ids.remove(external_id) else { return Ok(None) };
    let bike = tx.bike(id).await?;
    let workshop = tx.workshop().await?;
    let start = starts::of_bikes(tx, &workshop, &[id]).await?.remove(&id);
    Ok(Some((bike, start)))
}

/// Enters the bike that is called so, or changes it to what is said of it; what is left out stays. Saying the same again
/// changes nothing.
///
/// # Errors
/// As [`bikes::create`] and [`bikes::patch`].
pub async fn put(
    services: &Services,
    work: &mut UnitOfWork,
    external_id: ExternalId,
    enter: EnterBike,
) -> Result<PutBike, ServiceError> {
    let (tx, _) = work.begin().await?;
    let Some((bike, start)) = found(tx, &external_id).await? else {
        let enter = EnterBike { external_id: Some(external_id), ..enter };
        return match bikes::create(services, work, enter).await {
            Ok((bike, start)) => Ok(PutBike::Made(bike, start)),
            // Perhaps it was put at the same time: the next attempt finds it.
            Err(ServiceError::Conflict(Conflict::BikeLabelledNow)) => Err(ServiceError::Interrupted),
            Err(other) => Err(other),
        };
    };
    let patch = patch_of(tx, enter, &bike, start).await?;
    if patch.start.is_empty() && patch.clone().apply(bike.facts.clone()) == bike.facts {
        return Ok(PutBike::Kept(bike, start));
    }
    match bikes::patch(services, work, bike.id, bike.revision, patch).await {
        Ok(changed) => Ok(PutBike::Kept(changed.bike, changed.start)),
        Err(ServiceError::Stale) => Err(ServiceError::Interrupted),
        Err(other) => Err(other),
    }
}

/// What has to change of a bike so that it is as was said.
async fn patch_of(
    tx: &mut Tx,
    enter: EnterBike,
    bike: &Bike,
    start: Option<BikeStart>,
) -> Result<BikePatch, ServiceError> {
    let EnterBike {
        label,
        group,
        usage,
        drivetrain,
        limit,
        care,
        kind,
        external_id: _,
        start: said,
        mismatch,
    } = enter;
    let kind = match kind {
        Some(choice) => Some(Some(kind_of(tx, &choice).await?)),
        None => None,
    };
    let drivetrain = match drivetrain {
        Some(choice) => drivetrain_of(tx, choice, usage.unwrap_or(bike.facts.usage), bike).await?,
        None => None,
    };
    Ok(BikePatch {
        label: Some(label),
        group,
        usage,
        drivetrain,
        limit: limit.map(Some),
        care: care.map(Some),
        kind,
        external_id: None,
        start: start_of(said, start),
        retired: None,
        owners: OwnersPatch::default(),
        accept_mismatch: Some(mismatch == super::Mismatch::Accepted),
    })
}

async fn kind_of(tx: &mut Tx, choice: &KindChoice) -> Result<crate::domain::BikeKindId, ServiceError> {
    Ok(bike_kinds::chosen(tx, choice).await?.id)
}

/// The drivetrain that is said, where the bike's is another. A number of speeds says no more than that: a bike that has as
/// many keeps its own.
async fn drivetrain_of(
    tx: &mut Tx,
    choice: DrivetrainChoice,
    usage: Use,
    bike: &Bike,
) -> Result<Option<Drivetrain>, ServiceError> {
    let cogs = bike.facts.drivetrain.cogs().len();
    match choice {
        DrivetrainChoice::Usual(None) => Ok(None),
        DrivetrainChoice::Usual(Some(speeds)) if speeds as usize == cogs => Ok(None),
        DrivetrainChoice::LikeBike(_) | DrivetrainChoice::Usual(_) => {
            let (drivetrain, _) = bike_kinds::drivetrain_of(tx, choice, usage).await?;
            Ok(Some(drivetrain).filter(|drivetrain| *drivetrain != bike.facts.drivetrain))
        }
        DrivetrainChoice::Whole(drivetrain) => Ok(Some(drivetrain)),
    }
}

fn start_of(said: EnterStart, is: Option<BikeStart>) -> StartPatch {
    match said {
        EnterStart::New(day) if is != Some(BikeStart::New { fitted_on: day }) => {
            StartPatch { fitted_on: Some(Some(day)), ridden: None }
        }
        EnterStart::AsFound { ridden: Some(ridden) } if start_km(is) != Some(ridden) => {
            StartPatch { fitted_on: None, ridden: Some(Some(ridden)) }
        }
        EnterStart::New(_) | EnterStart::AsFound { .. } => StartPatch::default(),
    }
}

fn start_km(start: Option<BikeStart>) -> Option<crate::domain::KmBefore> {
    match start? {
        BikeStart::New { .. } => None,
        BikeStart::AsFound { ridden, .. } => ridden,
    }
}
