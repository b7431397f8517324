//! Ids: UUIDs of version 7 (RFC 9562), so that they sort by the time they were made.

use super::Form;
use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};
use uuid::Uuid;

use super::Invalid;

macro_rules! ids {
    ($($(#[$doc:meta])* $type:ident, $what:literal;)+) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $type(Uuid);

        impl $type {
            /// A new id, later than all that this process made before.
            #[must_use]
            pub fn generate() -> Self {
                Self(Uuid::now_v7())
            }

            /// Wraps an id that was made before.
            #[must_use]
            pub const fn from_uuid(uuid: Uuid) -> Self {
                Self(uuid)
            }

            /// The bare UUID.
            #[must_use]
            pub const fn uuid(self) -> Uuid {
                self.0
            }
        }

        impl fmt::Display for $type {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }

        impl FromStr for $type {
            type Err = Invalid;

            fn from_str(given: &str) -> Result<Self, Invalid> {
                Uuid::parse_str(given)
                    .map(Self)
                    .map_err(|_| Invalid::Malformed { what: $crate::domain::Field::Named { name: $what }, allowed: Form::Uuid })
            }
        }
    )+};
}

ids! {
    /// A workshop: the tenant.
    WorkshopId, "workshop id";
    /// A bearer token's record (never the secret).
    TokenId, "token id";
    /// An app that works with the workshop.
    AppId, "app id";
    /// A rider.
    RiderId, "rider id";
    /// A code that links an app.
    LinkId, "link id";
    /// A lubricant.
    LubricantId, "lubricant id";
    /// A tool that chains are measured with.
    ToolId, "tool id";
    /// A part model.
    PartModelId, "part model id";
    /// One physical part.
    PartId, "part id";
    /// A bike.
    BikeId, "bike id";
    /// A kind of bike.
    BikeKindId, "bike kind id";
    /// A part's stay on a bike.
    FittingId, "fitting id";
    /// A ride.
    RideId, "ride id";
    /// A reading.
    ReadingId, "reading id";
    /// A care event.
    CareId, "care id";
    /// What a bike's counter showed.
    StatementId, "statement id";
    /// How far a bike or a group is said to go.
    DeclaredUseId, "declared use id";
    /// A swap.
    SwapId, "swap id";
    /// What a rider reported.
    SymptomId, "symptom id";
    /// A delivery of parts.
    DeliveryId, "delivery id";
    /// A job of the worker.
    JobId, "job id";
    /// Someone's session on the pages.
    SessionId, "session id";
    /// A forecast that was kept.
    ForecastId, "forecast id";
    /// A hook.
    HookId, "hook id";
    /// A digest.
    DigestId, "digest id";
    /// A message to a hook.
    MessageId, "message id";
    /// An entry of the audit list.
    AuditId, "audit id";
    /// A day on which the bench works.
    BenchDayId, "bench day id";
    /// A time at which a bike is away.
    BookingId, "booking id";
    /// A bench plan.
    BenchPlanId, "bench plan id";
}
