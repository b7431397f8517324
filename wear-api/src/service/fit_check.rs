//! Whether a place is one that a bike has, and whether a part goes with the bike.
//!
//! A place that isn't there is refused; what is said of the drivetrain decides. A part that doesn't go with the bike is
//! refused until somebody says that it is meant so: makers and mechanics know of pairs that the rules don't.

use wear_core::drivetrain::chain_length::links_that_go;
use wear_core::drivetrain::compatibility::{
    CassettePart, ChainPart, Finding, Parts, RingPart, SprocketCount, Verdict, compare,
};

use super::ServiceError;
use crate::domain::{
    BikeKindFacts, Drivetrain, FieldErrors, Fitting, Geometry, Invalid, PartModelId, Place, Position, Teeth,
    Timestamp,
};
use crate::store::{StoreError, Tx};

/// Whether somebody said that a part that doesn't go with the bike is meant so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mismatch {
    /// It is refused.
    #[default]
    Refused,
    /// It is meant so.
    Accepted,
}

impl Mismatch {
    /// What the audit keeps of it.
    pub(super) fn detail(self) -> serde_json::Value {
        match self {
            Self::Refused => serde_json::Value::Null,
            Self::Accepted => serde_json::json!({"accept_mismatch": true}),
        }
    }

    /// As a field says it.
    #[must_use]
    pub fn of(accepted: Option<bool>) -> Self {
        if accepted == Some(true) { Self::Accepted } else { Self::Refused }
    }
}

/// Refuses a place that the drivetrain lacks. A cog is a place of its own where the wheel has one, or where the cassette that
/// was on then comes apart, or nobody said whether it does.
///
/// # Errors
/// [`ServiceError::Invalid`] at `/place` or `/position`; [`ServiceError::Unavailable`].
pub(super) async fn place_is_there(
    tx: &mut Tx,
    drivetrain: &Drivetrain,
    fittings: &[Fitting],
    (place, position): (Place, Position),
    at: Timestamp,
) -> Result<(), ServiceError> {
    let several_cogs = drivetrain.cogs().len() > 1;
    let mut places = match place {
        Place::Chain => 1,
        Place::Cassette => usize::from(several_cogs),
        Place::Cog => drivetrain.cogs().len(),
        Place::Ring => drivetrain.rings().len(),
        Place::JockeyWheels => usize::from(drivetrain.jockey().is_some()),
    };
    if place == Place::Cog && several_cogs && is_one_piece(tx, fittings, at).await? {
        places = 0;
    }
    if usize::from(position.get()) < places {
        return Ok(());
    }
    let pointer = if places == 0 { "/place" } else { "/position" };
    Err(ServiceError::field(pointer, Invalid::NoPlace { place, position: position.get(), places }))
}

async fn is_one_piece(tx: &mut Tx, fittings: &[Fitting], at: Timestamp) -> Result<bool, StoreError> {
    let cassette = fittings.iter().find(|stay| stay.place == Place::Cassette && stay.covers(at));
    let Some(cassette) = cassette else { return Ok(false) };
    let Some(model) = tx.part(cassette.part_id).await?.facts.model_id else { return Ok(false) };
    let geometry = tx.part_model(model).await?.facts.geometry;
    Ok(matches!(geometry, Geometry::Cassette { one_piece: true, .. }))
}

/// Refuses a model that doesn't go with the drivetrain, unless that is accepted.
///
/// # Errors
/// [`ServiceError::Invalid`] at `pointer`; [`ServiceError::Unavailable`].
pub(super) async fn model_goes(
    tx: &mut Tx,
    drivetrain: &Drivetrain,
    (model, position): (PartModelId, Position),
    mismatch: Mismatch,
    pointer: &str,
) -> Result<(), ServiceError> {
    if mismatch == Mismatch::Accepted {
        return Ok(());
    }
    let geometry = tx.part_model(model).await?.facts.geometry;
    match what_doesnt_go(drivetrain, &geometry, position) {
        Some(finding) => Err(ServiceError::field(pointer, Invalid::mismatch(finding))),
        None => Ok(()),
    }
}

/// Refuses models of a kind that don't go with its drivetrain.
///
/// # Errors
/// As [`model_goes`].
pub(super) async fn models_of_kind_go(tx: &mut Tx, kind: &BikeKindFacts) -> Result<(), ServiceError> {
    let models = &kind.models;
    for (model, pointer) in [
        (models.chain, "/chain_model_id"),
        (models.cassette, "/cassette_model_id"),
        (models.ring, "/ring_model_id"),
    ] {
        let Some(model) = model else { continue };
        let at = (model, Position::default());
        model_goes(tx, &kind.drivetrain, at, Mismatch::Refused, pointer).await?;
    }
    Ok(())
}

/// Refuses a chain that is shorter or longer than geometry allows.
///
/// # Errors
/// [`FieldErrors`] at `/drivetrain/links`.
pub(super) fn links_go(drivetrain: &Drivetrain, mismatch: Mismatch) -> Result<(), FieldErrors> {
    match links_that_go(drivetrain) {
        Err(finding) if mismatch == Mismatch::Refused => {
            Err(Invalid::mismatch(finding).at("/drivetrain/links").into())
        }
        _ => Ok(()),
    }
}

/// Why a model doesn't go with a drivetrain; none where nothing speaks against it.
pub(super) fn what_doesnt_go(
    drivetrain: &Drivetrain,
    model: &Geometry,
    position: Position,
) -> Option<Finding> {
    let count = |number: usize| SprocketCount::new(u32::try_from(number).ok()?).ok();
    let cogs = drivetrain.cogs();
    let cassette = |cogs: &[Teeth]| CassettePart { cogs: cogs.to_vec(), width: None, interface: None };
    let ring = |&teeth: &Teeth, narrow_wide: bool| RingPart { teeth, narrow_wide, sprockets: None };
    let parts = match model {
        Geometry::Chain { sprockets } => Parts {
            chain: Some(ChainPart {
                sprockets: sprockets.and_then(|number| SprocketCount::new(number).ok()),
                width: None,
                links: None,
            }),
            cassette: Some(cassette(cogs)),
            ..Parts::default()
        },
        // What shifter and derailleur are made for is as many cogs as the bike has.
        Geometry::Cassette { cogs: of_model, .. } => Parts {
            cassette: Some(cassette(of_model)),
            shifter_sprockets: count(cogs.len()).filter(|_| cogs.len() > 1),
            ..Parts::default()
        },
        Geometry::Ring { teeth, narrow_wide } => {
            let others = drivetrain.rings().iter().rev().enumerate();
            let others = others.filter(|(place, _)| *place != usize::from(position.get()));
            let mut rings: Vec<RingPart> = others.map(|(_, teeth)| ring(teeth, false)).collect();
            rings.push(ring(teeth, *narrow_wide));
            Parts { rings, ..Parts::default() }
        }
        Geometry::Cog { .. } | Geometry::JockeyWheels { .. } => return None,
    };
    compare(&parts).into_iter().find(|finding| finding.verdict == Verdict::Doesnt)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::DrivetrainFacts;

    fn bike(cogs: usize) -> Drivetrain {
        let cogs = (11..).step_by(2).take(cogs).collect();
        let facts = DrivetrainFacts { rings: vec![42], cogs, links: 114, ..DrivetrainFacts::default() };
        Drivetrain::new(&facts).expect("a drivetrain")
    }

    fn goes(drivetrain: &Drivetrain, model: &Geometry) -> Option<&'static str> {
        what_doesnt_go(drivetrain, model, Position::default()).map(|finding| finding.reason.code())
    }

    #[test]
    fn what_doesnt_go_is_named() {
        let chain = |sprockets| Geometry::Chain { sprockets };
        let cassette = |count: u32| Geometry::Cassette {
            cogs: (0..count).map(|i| Teeth::new(11 + 2 * i).expect("teeth")).collect(),
            one_piece: true,
        };
        let ring =
            |teeth, narrow_wide| Geometry::Ring { teeth: Teeth::new(teeth).expect("teeth"), narrow_wide };
        let table = [
            (8, chain(Some(8)), None),
            (8, chain(Some(9)), None),
            (8, chain(None), None),
            (12, chain(Some(8)), Some("wider")),
            (8, chain(Some(12)), Some("much_narrower")),
            (8, cassette(8), None),
            (8, cassette(10), Some("shifter_differs")),
            (8, ring(40, true), None),
            (8, ring(41, true), Some("odd_teeth")),
            (8, ring(53, false), None),
        ];
        for (cogs, model, expected) in table {
            assert_eq!(goes(&bike(cogs), &model), expected, "{cogs} cogs, {model:?}");
        }
    }
}
