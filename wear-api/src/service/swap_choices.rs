//! What can be swapped on a bike, what says that it should be, and which models go there.

use std::collections::HashMap;

use wear_core::drivetrain::compatibility::Finding;

use super::{Actor, ServiceError, Services, fit_check, outlook};
use crate::domain::{
    Bike, BikeId, Fitting, GOES_WITH_CHAIN, Geometry, Label, Outlook, PartModel, PartModelId, Place,
    Position, Teeth,
};

/// What can be swapped on one bike.
#[derive(Debug, Clone)]
pub struct SwapChoices {
    /// The bike.
    pub bike: Bike,
    /// Its outlook.
    pub outlook: Outlook,
    /// The places with a part on them: the chain first, then cassette or cogs, then rings.
    pub places: Vec<SwapPlace>,
}

/// A place on a bike whose part can be swapped.
#[derive(Debug, Clone)]
pub struct SwapPlace {
    /// Where on the bike.
    pub place: Place,
    /// Which of several equal places.
    pub position: Position,
    /// Teeth of what is there, of a cog or a ring.
    pub teeth: Option<Teeth>,
    /// Model of what is there, where it is known.
    pub on: Option<(PartModelId, Label)>,
    /// Probability that what is there is worn out; none of chains, and where nothing is known.
    pub worn_out: Option<f64>,
    /// Models for the place, those that go with the bike first.
    pub models: Vec<SwapModel>,
}

impl SwapPlace {
    /// Whether it is replaced together with the chain.
    #[must_use]
    pub fn goes_with_chain(&self) -> bool {
        self.worn_out.is_some_and(|worn| worn >= GOES_WITH_CHAIN)
    }
}

/// A model that could go on.
#[derive(Debug, Clone)]
pub struct SwapModel {
    /// The model.
    pub model: PartModel,
    /// How many lie on the shelf, where somebody keeps count.
    pub on_shelf: Option<u32>,
    /// Whether it has the teeth that are on record for the place.
    pub same_teeth: bool,
    /// Why it doesn't go with the bike.
    pub doesnt_go: Option<Finding>,
}

/// What can be swapped on a bike.
///
/// # Errors
/// [`ServiceError::NotFound`].
pub async fn of_bike(
    services: &Services,
    actor: &Actor,
    bike_id: BikeId,
) -> Result<SwapChoices, ServiceError> {
    let outlook = outlook::of_bike(services, actor, bike_id).await?;
    let mut tx = services.store.begin_read(actor).await?;
    let bike = tx.bike(bike_id).await.map_err(ServiceError::or_not_found("bike"))?;
    let fittings = tx.open_fittings(bike_id).await?;
    let mut on = HashMap::new();
    for fitting in &fittings {
        if let Some(id) = tx.part(fitting.part_id).await?.facts.model_id {
            on.insert(fitting.id, (id, tx.part_model(id).await?.facts.name));
        }
    }
    let models = tx.all_part_models().await?;
    let shelf: HashMap<PartModelId, u32> = tx.stock_counts().await?.into_iter().collect();
    let mut places: Vec<SwapPlace> = fittings
        .iter()
        .map(|fitting| {
            let Fitting { place, position, .. } = *fitting;
            SwapPlace {
                place,
                position,
                teeth: teeth_at(&bike, place, position),
                on: on.get(&fitting.id).cloned(),
                worn_out: outlook.worn_out(place, position),
                models: models_for(&bike, (place, position), &models, &shelf),
            }
        })
        .collect();
    places.sort_by_key(|it| (order(it.place), it.position));
    Ok(SwapChoices { bike, outlook, places })
}

const fn order(place: Place) -> u8 {
    match place {
        Place::Chain => 0,
        Place::Cassette => 1,
        Place::Cog => 2,
        Place::Ring => 3,
        Place::JockeyWheels => 4,
    }
}

/// Teeth at a place: rings are counted from the largest and listed from the smallest, cogs are counted as they are listed.
#[must_use]
pub fn teeth_at(bike: &Bike, place: Place, position: Position) -> Option<Teeth> {
    let position = usize::from(position.get());
    let drivetrain = &bike.facts.drivetrain;
    match place {
        Place::Ring => drivetrain.rings().iter().rev().nth(position).copied(),
        Place::Cog => drivetrain.cogs().get(position).copied(),
        Place::Chain | Place::Cassette | Place::JockeyWheels => None,
    }
}

fn has_teeth_of(bike: &Bike, (place, position): (Place, Position), model: &Geometry) -> bool {
    match model {
        Geometry::Cassette { cogs, .. } => cogs == bike.facts.drivetrain.cogs(),
        Geometry::Cog { teeth } | Geometry::Ring { teeth, .. } => {
            teeth_at(bike, place, position) == Some(*teeth)
        }
        Geometry::Chain { .. } | Geometry::JockeyWheels { .. } => true,
    }
}

fn models_for(
    bike: &Bike,
    (place, position): (Place, Position),
    models: &[PartModel],
    shelf: &HashMap<PartModelId, u32>,
) -> Vec<SwapModel> {
    let of_place = models.iter().filter(|model| model.facts.geometry.place() == place);
    let mut found: Vec<SwapModel> = of_place
        .map(|model| SwapModel {
            model: model.clone(),
            on_shelf: shelf.get(&model.id).copied(),
            same_teeth: has_teeth_of(bike, (place, position), &model.facts.geometry),
            doesnt_go: fit_check::what_doesnt_go(&bike.facts.drivetrain, &model.facts.geometry, position),
        })
        .collect();
    found.sort_by(|a, b| {
        let key = |it: &SwapModel| {
            (it.doesnt_go.is_some(), !it.same_teeth, it.model.facts.name.as_str().to_lowercase())
        };
        key(a).cmp(&key(b))
    });
    found
}
