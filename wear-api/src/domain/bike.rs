//! A bike.

use chrono_tz::Tz;
use wear_core::units::Limit;

use super::{
    AppId, BikeId, BikeKindId, CareSetting, Drivetrain, ExternalId, GroupName, Label, RiderId, StartPatch,
    Timestamp, Use,
};

/// What can be set of a bike.
#[derive(Debug, Clone, PartialEq)]
pub struct BikeFacts {
    /// What people call it: the number on its frame.
    pub label: Label,
    /// The bikes it wears like; what is learned is learned by group.
    pub group: GroupName,
    /// What it is used for.
    pub usage: Use,
    /// Its rings, cogs and chain length.
    pub drivetrain: Drivetrain,
    /// Whether the drivetrain is the usual one of its use, as nobody said what it is.
    pub is_assumed: bool,
    /// Its own swap limit, where it isn't the model's, the workshop's or the trade's.
    pub limit: Option<Limit>,
    /// How far its care is told, where it isn't as the workshop says.
    pub care: Option<CareSetting>,
    /// Its kind.
    pub kind: Option<BikeKindId>,
    /// What another program calls it; no other bike of the workshop is called so, in the fleet or not.
    pub external_id: Option<ExternalId>,
}

/// A bike.
#[derive(Debug, Clone, PartialEq)]
pub struct Bike {
    /// Its id.
    pub id: BikeId,
    /// What can be set.
    pub facts: BikeFacts,
    /// The app that entered it, or that it was given to.
    pub app: Option<AppId>,
    /// Who rides it.
    pub rider: Option<RiderId>,
    /// When it was entered.
    pub created_at: Timestamp,
    /// When it left the fleet.
    pub retired_at: Option<Timestamp>,
    /// Counts its changes, from 1.
    pub revision: i64,
    /// The zone whose days its rides are summed over; the workshop's, but for a while after that has changed.
    pub days_zone: Tz,
    /// Whether its rides were compared, so that what two sources told of counts once: not yet where a store from earlier
    /// has rides of several sources.
    pub rides_compared: bool,
}

impl Bike {
    /// How far what happens to it counts: up to its retirement, else up to `now`.
    #[must_use]
    pub fn counts_until(&self, now: Timestamp) -> Timestamp {
        self.retired_at.map_or(now, |retired_at| retired_at.min(now))
    }
}

/// A bike to be stored.
#[derive(Debug, Clone, PartialEq)]
pub struct NewBike {
    /// Its id.
    pub id: BikeId,
    /// What can be set.
    pub facts: BikeFacts,
    /// When it is entered.
    pub created_at: Timestamp,
}

/// A change of a bike: what is `None` stays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BikePatch {
    /// New label.
    pub label: Option<Label>,
    /// New group.
    pub group: Option<GroupName>,
    /// New use.
    pub usage: Option<Use>,
    /// New drivetrain; it is no longer assumed.
    pub drivetrain: Option<Drivetrain>,
    /// New own limit; `Some(None)` takes it away.
    pub limit: Option<Option<Limit>>,
    /// How far its care is told; `Some(None)` leaves it to the workshop.
    pub care: Option<Option<CareSetting>>,
    /// Its kind, which changes nothing else of it; `Some(None)` takes it away.
    pub kind: Option<Option<BikeKindId>>,
    /// What another program calls it; `Some(None)` takes that away.
    pub external_id: Option<Option<ExternalId>>,
    /// How its record begins.
    pub start: StartPatch,
    /// `true` takes it out of the fleet, `false` brings it back.
    pub retired: Option<bool>,
    /// Whether a chain that is shorter or longer than geometry allows is meant so.
    pub accept_mismatch: Option<bool>,
    /// Whose it is: an app's, a rider's.
    pub owners: OwnersPatch,
}

/// Whose a bike is from now on; what is `None` stays, `Some(None)` takes it away.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct OwnersPatch {
    /// The app that it is given to.
    pub app: Option<Option<AppId>>,
    /// Who rides it.
    pub rider: Option<Option<RiderId>>,
}

impl BikePatch {
    /// The facts after the change; how its record begins and whether it is in the fleet are none of them.
    #[must_use]
    pub fn apply(self, facts: BikeFacts) -> BikeFacts {
        let Self {
            label,
            group,
            usage,
            drivetrain,
            limit,
            care,
            kind,
            external_id,
            start: _,
            retired: _,
            accept_mismatch: _,
            owners: _,
        } = self;
        BikeFacts {
            label: label.unwrap_or(facts.label),
            group: group.unwrap_or(facts.group),
            usage: usage.unwrap_or(facts.usage),
            is_assumed: facts.is_assumed && drivetrain.is_none(),
            drivetrain: drivetrain.unwrap_or(facts.drivetrain),
            limit: limit.unwrap_or(facts.limit),
            care: care.unwrap_or(facts.care),
            kind: kind.unwrap_or(facts.kind),
            external_id: external_id.unwrap_or(facts.external_id),
        }
    }
}

wear_core::vocabulary! {
    /// In which order a list of bikes comes.
    BikeSort, "sort" {
        /// In the order they were entered.
        Created = "created",
        /// By label, letters of either case together.
        Label = "label",
    }
}

/// Which bikes a list holds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct BikeFilter {
    /// Part of the label or of the group, in any case.
    pub search: Option<String>,
    /// The whole group.
    pub group: Option<GroupName>,
    /// The one that another program calls so.
    pub external_id: Option<ExternalId>,
    /// Also those that left the fleet.
    pub with_retired: bool,
}
