//! A ride's exposure in reference kilometres, before care.

use super::drivers::{DriverParts, split_by_logarithm};
use super::energy::{ChainEnergy, EnergySd, Motor, chain_energy};
use super::{Context, ContextMultipliers, GearShare, Surface, Use};
use crate::bounds::{self, OutOfRange};
use crate::drivetrain::{Drivetrain, PITCH_MM};
use crate::units::{PedallingShare, RideAscent, RideDistance, RideEnergy, TotalMass};

/// Work at the chain per reference kilometre, kJ.
pub const REFERENCE_KJ: f64 = 20.0;

const REFERENCE_RING: f64 = 42.0;
const REFERENCE_COG: f64 = 17.0;
const REFERENCE_JOCKEY: f64 = 11.0;
const REFERENCE_LINKS: f64 = 114.0;
const REFERENCE_WHEEL_MM: f64 = 2_105.0;

/// Tension of the slack strand, N (A: the spring of a derailleur's cage).
pub const DEFAULT_SLACK_TENSION_N: f64 = 12.0;

/// Largest mean tension that a ride is taken to hold, N (A). It bounds the chain travel from below where a trainer
/// reports work and no distance.
const LARGEST_MEAN_TENSION_N: f64 = 2_000.0;

/// Standard deviation of ln exposure from gears and chain line (A): with measured gears, and with the usual ones.
/// Published work finds that chain line hardly touches efficiency; it says nothing of wear, hence a median of 1.
const GEARS_MEASURED_LN_SD: f64 = 0.05;
pub(super) const USUAL_GEARS_LN_SD: f64 = 0.10;

/// What is known of one ride. Start from [`RideFacts::new`] and set what was recorded.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct RideFacts {
    /// Distance.
    pub distance: RideDistance,
    /// What the bike is used for: it fills in for what was not recorded.
    pub usage: Use,
    /// Surface.
    pub surface: Surface,
    /// Whether it was wet; says nothing indoors.
    pub wet: bool,
    /// Climb.
    pub climb: Option<RideAscent>,
    /// The rider's measured work at the pedals.
    pub rider_energy: Option<RideEnergy>,
    /// The motor's measured work.
    pub motor_energy: Option<RideEnergy>,
    /// Work that the road-power model found along the track.
    pub road_power_energy: Option<RideEnergy>,
    /// Error of the measured or modelled work; [`super::EnergySource::ln_sd`] when `None`.
    pub energy_sd: Option<EnergySd>,
    /// Mass of rider, bike and load.
    pub mass: Option<TotalMass>,
    /// The bike's motor; [`Use::usual_motor`] when `None`.
    pub motor: Option<Motor>,
    /// Share of the distance that was pedalled; all of it when `None`.
    pub pedalling_share: Option<PedallingShare>,
    /// Gears; [`GearShare::usual`] when `None`.
    pub gears: Option<GearShare>,
}

impl RideFacts {
    /// A dry ride of which only distance and surface are known.
    #[must_use]
    pub fn new(distance: RideDistance, usage: Use, surface: Surface) -> Self {
        Self {
            distance,
            usage,
            surface,
            wet: false,
            climb: None,
            rider_energy: None,
            motor_energy: None,
            road_power_energy: None,
            energy_sd: None,
            mass: None,
            motor: None,
            pedalling_share: None,
            gears: None,
        }
    }
}

/// Settings of the exposure model.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ExposureModel {
    slack_tension_n: f64,
    load_exponent: f64,
    multipliers: ContextMultipliers,
}

impl Default for ExposureModel {
    fn default() -> Self {
        Self {
            slack_tension_n: DEFAULT_SLACK_TENSION_N,
            load_exponent: 1.0,
            multipliers: ContextMultipliers::default(),
        }
    }
}

/// The sprockets, links and wheel that one strand of work runs over.
#[derive(Clone, Copy)]
struct Path {
    ring: f64,
    cog: f64,
    jockey: Option<f64>,
    links: f64,
    wheel_mm: f64,
}

const REFERENCE_PATH: Path = Path {
    ring: REFERENCE_RING,
    cog: REFERENCE_COG,
    jockey: Some(REFERENCE_JOCKEY),
    links: REFERENCE_LINKS,
    wheel_mm: REFERENCE_WHEEL_MM,
};

/// Wear of one joint in units that cancel, tight strand and slack strand apart.
#[derive(Clone, Copy, Default)]
struct Wear {
    tight: f64,
    slack: f64,
}

impl Wear {
    fn sum(self) -> f64 {
        self.tight + self.slack
    }
}

impl ExposureModel {
    /// The same with another load exponent: 1 is Archard's law, about 0.65 one published set of lubricated contacts.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`bounds::LOAD_EXPONENT`].
    pub fn with_load_exponent(mut self, exponent: f64) -> Result<Self, OutOfRange> {
        self.load_exponent = bounds::LOAD_EXPONENT.check(exponent)?;
        Ok(self)
    }

    /// The same with another slack tension, N.
    ///
    /// # Errors
    /// [`OutOfRange`] outside [`bounds::SLACK_TENSION`].
    pub fn with_slack_tension(mut self, newtons: f64) -> Result<Self, OutOfRange> {
        self.slack_tension_n = bounds::SLACK_TENSION.check(newtons)?;
        Ok(self)
    }

    /// The same with other context multipliers.
    #[must_use]
    pub fn with_multipliers(mut self, multipliers: ContextMultipliers) -> Self {
        self.multipliers = multipliers;
        self
    }

    /// The context multipliers.
    #[must_use]
    pub fn multipliers(&self) -> &ContextMultipliers {
        &self.multipliers
    }

    /// Wear of one joint over `km` pedalled with `kj` through the tight strand.
    ///
    /// kJ/km is N, so tension is work over chain travel, and tension times travel is kJ again.
    fn wear(&self, path: Path, km: f64, kj: f64) -> Wear {
        // rate ∝ x·[f(W/x)·(1/N_ring + 1/N_cog) + f(T_s)·(1/N_ring + 1/N_cog + 4/N_jockey)]/L,
        // f(T) = T_ref·(T/T_ref)^q
        let x = (km * path.cog * PITCH_MM / path.wheel_mm).max(kj / LARGEST_MEAN_TENSION_N);
        if x == 0.0 {
            return Wear::default();
        }
        let sprockets = 1.0 / path.ring + 1.0 / path.cog;
        let all = sprockets + path.jockey.map_or(0.0, |teeth| 4.0 / teeth);
        Wear {
            tight: x * self.load(kj / x) * sprockets / path.links,
            slack: x * self.load(self.slack_tension_n) * all / path.links,
        }
    }

    fn load(&self, tension_n: f64) -> f64 {
        const REFERENCE_TENSION_N: f64 = REFERENCE_KJ * REFERENCE_WHEEL_MM / (REFERENCE_COG * PITCH_MM);
        if self.load_exponent == 1.0 {
            tension_n
        } else {
            REFERENCE_TENSION_N * (tension_n / REFERENCE_TENSION_N).powf(self.load_exponent)
        }
    }

    /// What a sum of rides in one context is made of.
    ///
    /// `reference_km_before_context` is the sum of [`RideExposure::reference_km_before_context`]. The parts sum to it
    /// times the context's multiplier; each is what a single ride with the summed distance and work would have, pedalled
    /// throughout.
    #[must_use]
    pub fn drivers_of_sum(
        &self,
        distance_km: f64,
        energy_kj: f64,
        reference_km_before_context: f64,
        context: Context,
    ) -> DriverParts {
        let unit = self.reference_wear(1.0, REFERENCE_KJ);
        let (surface, wet) = self.multipliers.factors(context);
        let on_reference_gear = self.reference_wear(distance_km, energy_kj) / unit;
        let dry = reference_km_before_context * surface;
        split_by_logarithm([distance_km, on_reference_gear, reference_km_before_context, dry, dry * wet])
    }

    fn reference_wear(&self, km: f64, kj: f64) -> f64 {
        self.wear(REFERENCE_PATH, km, kj).sum()
    }
}

/// Standard deviations of ln exposure by where the error comes from.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
#[non_exhaustive]
pub struct LnSd {
    /// This ride's own error, independent of other rides.
    pub own: f64,
    /// Error of the energy source, shared by all rides that use it.
    pub energy: f64,
    /// Error of the context multiplier, shared by all rides in the context.
    pub context: f64,
    /// Error of gears and chain line, shared by all of the bike's rides.
    pub gears: f64,
}

impl LnSd {
    /// Variance of ln exposure of one ride taken alone.
    #[must_use]
    pub fn variance(self) -> f64 {
        self.own.powi(2) + self.energy.powi(2) + self.context.powi(2) + self.gears.powi(2)
    }
}

/// What one ride is worth in wear, before the state of lubrication.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct RideExposure {
    /// Distance, km.
    pub distance_km: f64,
    /// Exposure in reference kilometres from distance, work and gears alone. The multiplier of the context is not in it,
    /// so a sum of it stays good when a fleet learns other multipliers.
    pub reference_km_before_context: f64,
    /// Exposure in reference kilometres before care: what [`super::care`] takes.
    pub reference_km_before_care: f64,
    /// Surface and weather.
    pub context: Context,
    /// Work at the chain and its source.
    pub energy: ChainEnergy,
    /// What the exposure is made of; sums to `reference_km_before_care`.
    pub parts: DriverParts,
    /// How uncertain the exposure is.
    pub ln_sd: LnSd,
    /// Work by cog, kJ, in the order of [`Drivetrain::cogs`].
    pub work_by_cog_kj: Vec<f64>,
    /// Work by ring, kJ, in the order of [`Drivetrain::rings`].
    pub work_by_ring_kj: Vec<f64>,
}

impl RideExposure {
    /// The exposure of one ride on a drivetrain. Every number is finite.
    #[must_use]
    pub fn of(ride: &RideFacts, drivetrain: &Drivetrain, model: &ExposureModel) -> Self {
        let context = Context::of(ride.surface, ride.wet);
        let energy = chain_energy(ride);
        let distance_km = ride.distance.get();
        let pedalled_km = distance_km * ride.pedalling_share.map_or(1.0, PedallingShare::get);
        let usual;
        let gears = match &ride.gears {
            Some(gears) => gears,
            None => {
                usual = GearShare::usual(drivetrain, ride.usage);
                &usual
            }
        };

        let mut wear = Wear::default();
        for gear in gears.gears() {
            let path = Path {
                ring: gear.ring.as_f64(),
                cog: gear.cog.as_f64(),
                jockey: drivetrain.jockey().map(|teeth| teeth.as_f64()),
                links: drivetrain.links().as_f64(),
                wheel_mm: drivetrain.wheel().get(),
            };
            let part = model.wear(path, pedalled_km * gear.share, energy.kj * gear.share);
            wear.tight += part.tight;
            wear.slack += part.slack;
        }

        let unit = model.reference_wear(1.0, REFERENCE_KJ);
        let on_reference_gear = model.reference_wear(pedalled_km, energy.kj) / unit;
        let on_own_gear = wear.sum() / unit;
        let (surface, wet) = model.multipliers.factors(context);
        let dry = on_own_gear * surface;
        let reference_km = dry * wet;

        let load_sensitivity =
            if wear.sum() > 0.0 { model.load_exponent * wear.tight / wear.sum() } else { 0.0 };
        let gears_ln_sd = if gears.is_measured() { GEARS_MEASURED_LN_SD } else { USUAL_GEARS_LN_SD };
        let work = |shares: Vec<f64>| shares.into_iter().map(|share| share * energy.kj).collect();
        Self {
            distance_km,
            reference_km_before_context: on_own_gear,
            reference_km_before_care: reference_km,
            context,
            energy,
            parts: split_by_logarithm([distance_km, on_reference_gear, on_own_gear, dry, reference_km]),
            ln_sd: LnSd {
                own: load_sensitivity * energy.own_ln_sd,
                energy: load_sensitivity * energy.shared_ln_sd,
                context: model.multipliers.get(context).ln_sd,
                gears: gears_ln_sd,
            },
            work_by_cog_kj: work(gears.by_cog(drivetrain.cogs())),
            work_by_ring_kj: work(gears.by_ring(drivetrain.rings())),
        }
    }

    /// Exposure ridden dry, reference kilometres before care.
    #[must_use]
    pub fn dry_reference_km(&self) -> f64 {
        if self.context.is_wet() { 0.0 } else { self.reference_km_before_care }
    }

    /// Exposure ridden wet, reference kilometres before care.
    #[must_use]
    pub fn wet_reference_km(&self) -> f64 {
        if self.context.is_wet() { self.reference_km_before_care } else { 0.0 }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::drivetrain::{DrivetrainFacts, Gearing};

    fn reference_drivetrain() -> Drivetrain {
        let facts = DrivetrainFacts {
            rings: vec![42],
            cogs: vec![17],
            links: 114,
            gearing: Some(Gearing::Derailleur),
            ..DrivetrainFacts::default()
        };
        Drivetrain::new(&facts).unwrap()
    }

    fn reference_ride(km: f64) -> RideFacts {
        let mut ride = RideFacts::new(RideDistance::new(km).unwrap(), Use::Town, Surface::Paved);
        ride.rider_energy = Some(RideEnergy::new(20.0 * km).unwrap());
        ride
    }

    #[test]
    fn a_reference_kilometre_is_one_under_every_setting() {
        for exponent in [0.3, 0.65, 1.0] {
            for slack in [0.0, 12.0, 60.0] {
                let model = ExposureModel::default()
                    .with_load_exponent(exponent)
                    .and_then(|model| model.with_slack_tension(slack))
                    .unwrap();
                let exposure = RideExposure::of(&reference_ride(37.0), &reference_drivetrain(), &model);
                assert!((exposure.reference_km_before_care - 37.0).abs() < 1e-9);
                assert!((exposure.parts.get(crate::exposure::Driver::Distance) - 37.0).abs() < 1e-9);
            }
        }
    }

    #[test]
    fn slack_strand_is_a_fifth_at_250_newtons_and_a_quarter_at_the_reference() {
        let model = ExposureModel::default();
        let km_per_km = REFERENCE_COG * PITCH_MM / REFERENCE_WHEEL_MM;
        for (tension, expected) in [(250.0, 0.2059), (REFERENCE_KJ / km_per_km, 0.2495)] {
            let wear = model.wear(REFERENCE_PATH, 1.0, tension * km_per_km);
            assert!((wear.slack / wear.sum() - expected).abs() < 1e-4, "{}", wear.slack / wear.sum());
        }
    }

    #[test]
    fn a_hub_motor_spares_the_chain_and_a_mid_drive_does_not() {
        let exposure = |motor| {
            let mut ride = RideFacts::new(RideDistance::new(10.0).unwrap(), Use::EBike, Surface::Paved);
            ride.motor = Some(motor);
            RideExposure::of(&ride, &reference_drivetrain(), &ExposureModel::default()).energy.kj
        };
        assert!((exposure(Motor::MidDrive) - 2.0 * exposure(Motor::Hub)).abs() < 1e-9);
        let mut measured = reference_ride(10.0);
        measured.motor = Some(Motor::MidDrive);
        measured.motor_energy = Some(RideEnergy::new(150.0).unwrap());
        let of = |ride: &RideFacts| {
            RideExposure::of(ride, &reference_drivetrain(), &ExposureModel::default()).energy.kj
        };
        assert!((of(&measured) - 350.0).abs() < 1e-9);
        measured.motor = Some(Motor::Hub);
        assert!((of(&measured) - 200.0).abs() < 1e-9);
    }
}
