//! Tokens.

use chrono::Duration;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{instant, maybe_instant};
use super::{SystemTx, Tx, execute, on, row_if_any, rows, statements, value, value_if_any};
use crate::domain::{
    AppId, Grant, Label, NewToken, Page, PageRequest, Reach, RiderId, Timestamp, Token, TokenHash, TokenId,
    WorkshopId,
};

const TABLE: &str = "tokens";

/// How stale `last_used_at` may be: a token in steady use costs one write in so long.
const USE_NOTED_EVERY: Duration = Duration::minutes(1);

statements! {
    INSERT = "
        insert into tokens (workshop_id, token_id, hash, role, label, created_at, app_id, rider_id)
        values ($1, $2, $3, $4, $5, $6, $7, $8)";
    FIND = "
        select workshop_id, token_id, role, app_id, rider_id, label, created_at, last_used_at, revoked_at
        from tokens where hash = $1 and revoked_at is null";
    FIND_REVOKED = "select workshop_id, token_id from tokens where hash = $1 and revoked_at is not null";
    GET = "
        select workshop_id, token_id, role, app_id, rider_id, label, created_at, last_used_at, revoked_at
        from tokens where workshop_id = $1 and token_id = $2";
    LIST = "
        select workshop_id, token_id, role, app_id, rider_id, label, created_at, last_used_at, revoked_at
        from tokens where workshop_id = $1 and token_id > $2
        order by token_id limit $3";
    REVOKE = "
        update tokens set revoked_at = coalesce(revoked_at, $3)
        where workshop_id = $1 and token_id = $2 returning token_id";
    // The workshop's row is the lock: two managers that revoke each other's token come one after the other.
    LOCK = "update workshops set revision = revision where workshop_id = $1";
    MANAGERS = "
        select token_id from tokens
        where workshop_id = $1 and role = 'manager' and revoked_at is null order by token_id";
    ARE_OF_APP = "
        select exists (select 1 from tokens where workshop_id = $1 and app_id = $2 and revoked_at is null)";
    ARE_OF_RIDER = "
        select exists (select 1 from tokens where workshop_id = $1 and rider_id = $2 and revoked_at is null)";
    TOUCH = "
        update tokens set last_used_at = $3
        where workshop_id = $1 and token_id = $2 and (last_used_at is null or last_used_at < $4)";
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    token_id: Uuid,
    role: String,
    app_id: Option<Uuid>,
    rider_id: Option<Uuid>,
    label: String,
    created_at: i64,
    last_used_at: Option<i64>,
    revoked_at: Option<i64>,
}

impl TryFrom<Row> for Token {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            workshop_id,
            token_id,
            role,
            app_id,
            rider_id,
            label,
            created_at,
            last_used_at,
            revoked_at,
        } = row;
        let reach = Reach::of(app_id.map(AppId::from_uuid), rider_id.map(RiderId::from_uuid));
        Ok(Self {
            id: TokenId::from_uuid(token_id),
            workshop_id: WorkshopId::from_uuid(workshop_id),
            grant: Grant::new(role.parse().sound(TABLE, "role")?, reach).sound(TABLE, "role")?,
            label: Label::new(&label).sound(TABLE, "label")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            last_used_at: maybe_instant(last_used_at, TABLE, "last_used_at")?,
            revoked_at: maybe_instant(revoked_at, TABLE, "revoked_at")?,
        })
    }
}

impl SystemTx {
    /// The token with this hash, of whatever workshop, when it was revoked.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn find_revoked_token(
        &mut self,
        hash: &TokenHash,
    ) -> Result<Option<(WorkshopId, TokenId)>, StoreError> {
        let found: Option<(Uuid, Uuid)> = on!(self.connection, |conn| sqlx::query_as(FIND_REVOKED)
            .bind(hash.as_bytes().as_slice())
            .fetch_optional(conn)
            .await)?;
        Ok(found.map(|(workshop, token)| (WorkshopId::from_uuid(workshop), TokenId::from_uuid(token))))
    }

    /// The token with this hash, of whatever workshop; none when it was revoked.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_token(&mut self, hash: &TokenHash) -> Result<Option<Token>, StoreError> {
        let row: Option<Row> = on!(self.connection, |conn| {
            sqlx::query_as(FIND).bind(hash.as_bytes().as_slice()).fetch_optional(conn).await
        })?;
        row.map(Token::try_from).transpose()
    }
}

impl Tx {
    /// Stores a new token.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its secret is known already; [`StoreError::NotFound`] when there is
    /// no such workshop.
    pub async fn insert_token(&mut self, token: &NewToken) -> Result<(), StoreError> {
        let NewToken { id, hash, grant, label, created_at } = token;
        execute!(
            self,
            INSERT,
            id.uuid(),
            hash.as_bytes().as_slice(),
            grant.role().as_str(),
            label.as_str(),
            created_at.micros(),
            grant.reach().app().map(AppId::uuid),
            grant.reach().rider().map(RiderId::uuid)
        )?;
        Ok(())
    }

    /// One token, revoked or not.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn token(&mut self, id: TokenId) -> Result<Token, StoreError> {
        let row: Option<Row> = row_if_any!(self, GET, id.uuid())?;
        row.ok_or(StoreError::NotFound)?.try_into()
    }

    /// The workshop's tokens, revoked ones too, in the order they were made.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn tokens(&mut self, page: &PageRequest) -> Result<Page<Token>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |token: &Token| token.id.uuid()).await
    }

    /// Revokes a token; doing it again changes nothing.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn revoke_token(&mut self, id: TokenId, at: Timestamp) -> Result<(), StoreError> {
        let revoked: Option<Uuid> = value_if_any!(self, REVOKE, id.uuid(), at.micros())?;
        revoked.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// The managers' tokens in force. No other transaction that asks goes on until this one ends.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn managers_locked(&mut self) -> Result<Vec<TokenId>, StoreError> {
        execute!(self, LOCK)?;
        let ids: Vec<(Uuid,)> = rows!(self, MANAGERS)?;
        Ok(ids.into_iter().map(|(id,)| TokenId::from_uuid(id)).collect())
    }

    /// Whether any token in force is an app's.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn has_tokens_of_app(&mut self, app: AppId) -> Result<bool, StoreError> {
        Ok(value!(self, ARE_OF_APP, app.uuid())?)
    }

    /// Whether any token in force is a rider's.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn has_tokens_of_rider(&mut self, rider: RiderId) -> Result<bool, StoreError> {
        Ok(value!(self, ARE_OF_RIDER, rider.uuid())?)
    }

    /// Notes that a token was used, at most once a minute.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn touch_token(&mut self, id: TokenId, now: Timestamp) -> Result<(), StoreError> {
        execute!(self, TOUCH, id.uuid(), now.micros(), now.plus(-USE_NOTED_EVERY).micros())?;
        Ok(())
    }
}
