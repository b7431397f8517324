//! Which bikes the holder of a token sees.

use super::{AppId, Field, Form, Invalid, RiderId, Role};

/// Which bikes the holder of a token sees. What lies beyond isn't there for them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Reach {
    /// Every bike of the workshop.
    #[default]
    Workshop,
    /// The bikes that an app entered, or that were given to it.
    App(AppId),
    /// A rider's bikes.
    Rider(RiderId),
    /// A rider's bikes, through an app.
    AppForRider(AppId, RiderId),
}

impl Reach {
    /// The reach of a token that is bound to these, or to neither.
    #[must_use]
    pub const fn of(app: Option<AppId>, rider: Option<RiderId>) -> Self {
        match (app, rider) {
            (None, None) => Self::Workshop,
            (Some(app), None) => Self::App(app),
            (None, Some(rider)) => Self::Rider(rider),
            (Some(app), Some(rider)) => Self::AppForRider(app, rider),
        }
    }

    /// The app that it is bound to.
    #[must_use]
    pub const fn app(self) -> Option<AppId> {
        match self {
            Self::App(app) | Self::AppForRider(app, _) => Some(app),
            Self::Workshop | Self::Rider(_) => None,
        }
    }

    /// The rider that it is bound to.
    #[must_use]
    pub const fn rider(self) -> Option<RiderId> {
        match self {
            Self::Rider(rider) | Self::AppForRider(_, rider) => Some(rider),
            Self::Workshop | Self::App(_) => None,
        }
    }

    /// Whether it is less than the whole workshop.
    #[must_use]
    pub const fn is_bound(self) -> bool {
        !matches!(self, Self::Workshop)
    }

    /// Whether a bike that an app entered and a rider rides is within reach. Whoever acts for a rider sees the rider's
    /// bikes, whichever app entered them.
    #[must_use]
    pub fn covers(self, app: Option<AppId>, rider: Option<RiderId>) -> bool {
        match self {
            Self::Workshop => true,
            Self::App(own) => app == Some(own),
            Self::Rider(own) | Self::AppForRider(_, own) => rider == Some(own),
        }
    }
}

/// What the holder of a token may do, and with which bikes: managers and mechanics are of the whole workshop.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Grant {
    role: Role,
    reach: Reach,
}

impl Grant {
    /// A role with a reach.
    ///
    /// # Errors
    /// [`Invalid::Together`] for a bound manager or mechanic.
    pub fn new(role: Role, reach: Reach) -> Result<Self, Invalid> {
        if reach.is_bound() && role != Role::App {
            return Err(Invalid::Together { what: Field::RoleAndReach, allowed: Form::BoundApp });
        }
        Ok(Self { role, reach })
    }

    /// An app with a reach.
    #[must_use]
    pub const fn app(reach: Reach) -> Self {
        Self { role: Role::App, reach }
    }

    /// What its holder may do.
    #[must_use]
    pub const fn role(self) -> Role {
        self.role
    }

    /// With which bikes.
    #[must_use]
    pub const fn reach(self) -> Reach {
        self.reach
    }
}

impl From<Role> for Grant {
    fn from(role: Role) -> Self {
        Self { role, reach: Reach::Workshop }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_reach_covers_its_own_bikes() {
        let (app, other_app) = (AppId::generate(), AppId::generate());
        let (rider, other_rider) = (RiderId::generate(), RiderId::generate());
        let bikes = [
            (None, None),
            (Some(app), None),
            (Some(other_app), None),
            (None, Some(rider)),
            (Some(app), Some(rider)),
            (Some(other_app), Some(rider)),
            (Some(app), Some(other_rider)),
        ];
        let covered = |reach: Reach| bikes.map(|(app, rider)| reach.covers(app, rider));
        assert_eq!(covered(Reach::Workshop), [true; 7]);
        assert_eq!(covered(Reach::App(app)), [false, true, false, false, true, false, true]);
        let of_rider = [false, false, false, true, true, true, false];
        assert_eq!(covered(Reach::Rider(rider)), of_rider);
        assert_eq!(covered(Reach::AppForRider(app, rider)), of_rider);
    }

    #[test]
    fn a_reach_is_what_it_is_made_of() {
        let (app, rider) = (AppId::generate(), RiderId::generate());
        for (app, rider) in [(None, None), (Some(app), None), (None, Some(rider)), (Some(app), Some(rider))] {
            let reach = Reach::of(app, rider);
            assert_eq!((reach.app(), reach.rider()), (app, rider));
            assert_eq!(reach.is_bound(), app.is_some() || rider.is_some());
        }
    }

    #[test]
    fn only_apps_are_bound() {
        let bound = Reach::App(AppId::generate());
        for role in [Role::Manager, Role::Mechanic] {
            assert!(Grant::new(role, bound).is_err());
            assert_eq!(Grant::new(role, Reach::Workshop), Ok(role.into()));
        }
        assert_eq!(Grant::new(Role::App, bound), Ok(Grant::app(bound)));
    }
}
