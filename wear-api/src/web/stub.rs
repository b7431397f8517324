//! Stands where `service` will be: no token is known, nothing is stored.

use crate::clock::Clock;
use crate::domain::{Role, TokenId, WorkshopId};

/// What use cases need.
#[derive(Debug, Clone)]
pub struct Services {
    /// The time.
    pub clock: Clock,
}

/// Who is asking.
#[derive(Debug, Clone, Copy)]
pub struct Actor {
    /// Whose data.
    pub workshop_id: WorkshopId,
    /// By which token.
    pub token_id: Option<TokenId>,
    /// With which role.
    pub role: Role,
}

/// Why a use case gave no result.
#[derive(Debug, thiserror::Error)]
#[error("stub")]
pub struct ServiceError;

impl From<ServiceError> for super::problem::Problem {
    fn from(error: ServiceError) -> Self {
        Self::internal(&error)
    }
}

/// Tokens.
pub mod tokens {
    use super::{Actor, ServiceError, Services};
    use crate::domain::TokenHash;

    /// The holder of a token.
    ///
    /// # Errors
    /// None.
    pub async fn authenticate(_: &Services, _: &TokenHash) -> Result<Option<Actor>, ServiceError> {
        Ok(None)
    }
}

/// Health.
pub mod health {
    use super::{ServiceError, Services};

    /// Whether the store answers.
    ///
    /// # Errors
    /// None.
    pub async fn ready(_: &Services) -> Result<(), ServiceError> {
        Ok(())
    }
}
