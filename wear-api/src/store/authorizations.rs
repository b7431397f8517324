//! What somebody allowed an app: the hash of each code, and the token that it was exchanged for.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::{SystemTx, Tx, execute, on, statements};
use crate::domain::{
    AppId, Authorization, CodeChallenge, Label, LinkedReach, RedirectUri, RiderId, Timestamp, TokenHash,
    TokenId, WorkshopId,
};

const TABLE: &str = "authorizations";

statements! {
    INSERT = "
        insert into authorizations (workshop_id, hash, app_id, rider_id, label, redirect_uri, challenge, created_at)
        values ($1, $2, $3, $4, $5, $6, $7, $8)";
    IS_KNOWN = "select exists (select 1 from authorizations where hash = $1)";
    USE = "
        update authorizations set used_at = $2 where hash = $1 and used_at is null
        returning workshop_id, app_id, rider_id, label, redirect_uri, challenge, created_at";
    GIVEN = "
        select workshop_id, token_id from authorizations where hash = $1 and token_id is not null";
    SET_TOKEN = "update authorizations set token_id = $3 where workshop_id = $1 and hash = $2";
    SWEEP = "delete from authorizations where workshop_id = $1 and created_at < $2";
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    app_id: Uuid,
    rider_id: Option<Uuid>,
    label: String,
    redirect_uri: String,
    challenge: Vec<u8>,
    created_at: i64,
}

impl TryFrom<Row> for Authorization {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { workshop_id: _, app_id, rider_id, label, redirect_uri, challenge, created_at } = row;
        let app_id = AppId::from_uuid(app_id);
        let challenge: Result<[u8; 32], _> = challenge.as_slice().try_into();
        Ok(Self {
            app_id,
            reach: LinkedReach::new(Some(app_id), rider_id.map(RiderId::from_uuid)).sound(TABLE, "app_id")?,
            label: Label::new(&label).sound(TABLE, "label")?,
            redirect_uri: RedirectUri::new(&redirect_uri).sound(TABLE, "redirect_uri")?,
            challenge: CodeChallenge::from_bytes(challenge.sound(TABLE, "challenge")?),
            created_at: instant(created_at, TABLE, "created_at")?,
        })
    }
}

impl SystemTx {
    /// Whether there is a code of this hash, used or not.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn knows_authorization(&mut self, hash: &TokenHash) -> Result<bool, StoreError> {
        Ok(on!(self.connection, |conn| {
            sqlx::query_scalar(IS_KNOWN).bind(hash.as_bytes().as_slice()).fetch_one(conn).await
        })?)
    }

    /// Uses the code of this hash up, of whatever workshop, so that no other transaction gets it; what it was for.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn use_authorization(
        &mut self,
        hash: &TokenHash,
        now: Timestamp,
    ) -> Result<Option<(WorkshopId, Authorization)>, StoreError> {
        let row: Option<Row> = on!(self.connection, |conn| {
            sqlx::query_as(USE).bind(hash.as_bytes().as_slice()).bind(now.micros()).fetch_optional(conn).await
        })?;
        row.map(|row| Ok((WorkshopId::from_uuid(row.workshop_id), row.try_into()?))).transpose()
    }

    /// The token that a code was exchanged for before.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn token_given_for(
        &mut self,
        hash: &TokenHash,
    ) -> Result<Option<(WorkshopId, TokenId)>, StoreError> {
        let found: Option<(Uuid, Uuid)> = on!(self.connection, |conn| {
            sqlx::query_as(GIVEN).bind(hash.as_bytes().as_slice()).fetch_optional(conn).await
        })?;
        Ok(found.map(|(workshop, token)| (WorkshopId::from_uuid(workshop), TokenId::from_uuid(token))))
    }
}

impl Tx {
    /// Stores what was allowed.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such app or rider.
    pub async fn insert_authorization(
        &mut self,
        authorization: &Authorization,
        hash: &TokenHash,
    ) -> Result<(), StoreError> {
        let Authorization { app_id, reach, label, redirect_uri, challenge, created_at } = authorization;
        execute!(
            self,
            INSERT,
            hash.as_bytes().as_slice(),
            app_id.uuid(),
            reach.get().rider().map(RiderId::uuid),
            label.as_str(),
            redirect_uri.as_str(),
            challenge.as_bytes().as_slice(),
            created_at.micros()
        )?;
        Ok(())
    }

    /// Notes which token a code was exchanged for.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn note_token_given(&mut self, hash: &TokenHash, token: TokenId) -> Result<(), StoreError> {
        execute!(self, SET_TOKEN, hash.as_bytes().as_slice(), token.uuid())?;
        Ok(())
    }

    /// Forgets what was allowed before `before`.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn sweep_authorizations(&mut self, before: Timestamp) -> Result<(), StoreError> {
        execute!(self, SWEEP, before.micros())?;
        Ok(())
    }
}
