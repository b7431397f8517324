use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use uuid::Uuid;

use crate::domain::{Role, Token};

/// What is known of a token; never its secret.
#[derive(Serialize, ToSchema)]
#[schema(as = Token)]
pub(super) struct TokenDocument {
    /// Its id.
    id: Uuid,
    /// What its holder may do.
    #[schema(value_type = Role)]
    role: &'static str,
    /// What people call it.
    label: String,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// When it was last used, to within minutes; null when never.
    last_used_at: Option<DateTime<Utc>>,
    /// When it was revoked; null while it is in force.
    revoked_at: Option<DateTime<Utc>>,
}

impl From<Token> for TokenDocument {
    fn from(token: Token) -> Self {
        let Token { id, workshop_id: _, role, label, created_at, last_used_at, revoked_at } = token;
        Self {
            id: id.uuid(),
            role: role.as_str(),
            label: label.to_string(),
            created_at: created_at.datetime(),
            last_used_at: last_used_at.map(|at| at.datetime()),
            revoked_at: revoked_at.map(|at| at.datetime()),
        }
    }
}
