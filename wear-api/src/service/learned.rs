//! What the last night taught of tools, people and bikes, as outlooks and scores use it.

use std::collections::HashMap;

use wear_core::bike::Rate;
use wear_core::exposure::Conditions;
use wear_core::fleet::{self, LearnedTools};
use wear_core::reading::Calibration;

use super::by;
use crate::domain::{
    BikeId, ChainLevel, FleetRate, PartId, PartModelId, Reading, WearEffects, WorkshopSettings,
};
use crate::store::{StoreError, Tx};

/// How tools and people err, and whether bikes have a share in how chains differ.
pub(super) struct Learned {
    tools: LearnedTools,
    has_levels: bool,
    effects: WearEffects,
    conditions: Conditions,
}

impl Learned {
    /// Beside these rates; nothing where there are none.
    ///
    /// # Errors
    /// [`StoreError`].
    pub async fn load<'a>(
        tx: &mut Tx,
        settings: &WorkshopSettings,
        rates: impl IntoIterator<Item = &'a FleetRate>,
    ) -> Result<Self, StoreError> {
        let Some(rate) = rates.into_iter().next() else {
            return Ok(Self {
                tools: LearnedTools::default(),
                has_levels: false,
                effects: WearEffects::default(),
                conditions: Conditions::default(),
            });
        };
        let tools = tx.reading_errors(&settings.instruments(), rate.gauges_judged).await?;
        Ok(Self::of(tools, rate.of_bikes.share > 0.0, tx.wear_effects().await?))
    }

    /// What models of chain and lubricants are worth, and how wear drifts.
    pub const fn effects(&self) -> &WearEffects {
        &self.effects
    }

    /// What surface, water, a trainer and neglect do.
    pub const fn conditions(&self) -> &Conditions {
        &self.conditions
    }

    /// How fast the chains of a model wear on a bike of which other chains have `told`.
    pub fn rate(
        &self,
        of_group: &FleetRate,
        model: Option<PartModelId>,
        told: impl Iterator<Item = fleet::ChainLevel>,
    ) -> Rate {
        let of_model = self.effects.over_usual(model, of_group.group.as_ref());
        let lubricants = self.effects.lubricants_over_usual(of_group.group.as_ref());
        of_group.rate_on_bike(told, of_model).with_drift(self.effects.drift).with_lubricants(lubricants)
    }

    /// What a fit says; `has_levels` where bikes have a share in how chains differ.
    pub fn of(tools: LearnedTools, has_levels: bool, effects: WearEffects) -> Self {
        let conditions = effects.conditions();
        Self { tools, has_levels, effects, conditions }
    }

    /// Whether anything was learned of tools.
    pub fn is_any(&self) -> bool {
        self.tools.tools().next().is_some()
    }

    /// How a reading errs by its tool and its person; `None` while nothing has been learned of such instruments.
    pub fn calibration(&self, reading: &Reading) -> Option<Calibration> {
        self.tools.calibration(reading.measured.measurement().instrument(), &reading.with.known())
    }

    /// What the chains of these bikes say.
    ///
    /// # Errors
    /// [`StoreError`].
    pub async fn levels(&self, tx: &mut Tx, bikes: &[BikeId]) -> Result<Levels, StoreError> {
        let levels = if self.has_levels { tx.chain_levels_of_bikes(bikes).await? } else { Vec::new() };
        Ok(Levels(by(levels, |level| level.bike_id)))
    }
}

/// What chains say of their bikes.
pub(super) struct Levels(HashMap<BikeId, Vec<ChainLevel>>);

impl Levels {
    /// What a fit says.
    pub fn of_fit(levels: Vec<ChainLevel>) -> Self {
        Self(by(levels, |level| level.bike_id))
    }

    /// What all chains of a bike say: for the next one.
    pub fn of(&self, bike: BikeId) -> impl Iterator<Item = fleet::ChainLevel> {
        self.0.get(&bike).into_iter().flatten().map(|it| it.level)
    }

    /// Whether a chain is one of those that say something of a bike.
    pub fn are_of(&self, bike: BikeId, chain: PartId) -> bool {
        self.0.get(&bike).is_some_and(|levels| levels.iter().any(|it| it.part_id == chain))
    }

    /// What the chains of a bike say but one, whose own readings have their say in what is known of it.
    pub fn of_others(&self, bike: BikeId, chain: PartId) -> impl Iterator<Item = fleet::ChainLevel> {
        self.0.get(&bike).into_iter().flatten().filter(move |it| it.part_id != chain).map(|it| it.level)
    }
}
