//! One-time codes that sign people in: the hash of each, until it is used.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::{SystemTx, Tx, execute, on, statements};
use crate::domain::{Invited, Label, NewSignIn, Timestamp, TokenHash, TokenId, WorkshopId, WorkshopName};

const TABLE: &str = "sign_ins";

statements! {
    INSERT = "
        insert into sign_ins (workshop_id, hash, token_id, created_at, expires_at)
        values ($1, $2, $3, $4, $5)";
    FIND = "
        select s.workshop_id, s.token_id, t.role, t.label, w.name
        from sign_ins s
            join tokens t on t.workshop_id = s.workshop_id and t.token_id = s.token_id
            join workshops w on w.workshop_id = s.workshop_id
        where s.hash = $1 and s.expires_at > $2 and t.revoked_at is null";
    TAKE = "delete from sign_ins where hash = $1 returning token_id";
    SWEEP = "delete from sign_ins where workshop_id = $1 and expires_at <= $2";
    DELETE_OF_TOKEN = "delete from sign_ins where workshop_id = $1 and token_id = $2";
}

#[derive(sqlx::FromRow)]
struct Row {
    workshop_id: Uuid,
    token_id: Uuid,
    role: String,
    label: String,
    name: String,
}

impl TryFrom<Row> for Invited {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { workshop_id, token_id, role, label, name } = row;
        Ok(Self {
            workshop_id: WorkshopId::from_uuid(workshop_id),
            workshop: WorkshopName::new(&name).sound("workshops", "name")?,
            token_id: TokenId::from_uuid(token_id),
            role: role.parse().sound("tokens", "role")?,
            label: Label::new(&label).sound(TABLE, "label")?,
        })
    }
}

impl SystemTx {
    /// Whom a code with this hash signs in, of whatever workshop; nobody when it is unknown, used or past its time, or the token
    /// was revoked.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn find_sign_in(
        &mut self,
        hash: &TokenHash,
        now: Timestamp,
    ) -> Result<Option<Invited>, StoreError> {
        let row: Option<Row> = on!(self.connection, |conn| sqlx::query_as(FIND)
            .bind(hash.as_bytes().as_slice())
            .bind(now.micros())
            .fetch_optional(conn)
            .await)?;
        row.map(Invited::try_from).transpose()
    }

    /// Takes the code with this hash away; false when another transaction did.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn take_sign_in(&mut self, hash: &TokenHash) -> Result<bool, StoreError> {
        let taken: Option<Uuid> = on!(self.connection, |conn| sqlx::query_scalar(TAKE)
            .bind(hash.as_bytes().as_slice())
            .fetch_optional(conn)
            .await)?;
        Ok(taken.is_some())
    }
}

impl Tx {
    /// Stores a new code.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such token.
    pub async fn insert_sign_in(&mut self, new: &NewSignIn) -> Result<(), StoreError> {
        let NewSignIn { hash, token_id, created_at, expires_at } = new;
        execute!(
            self,
            INSERT,
            hash.as_bytes().as_slice(),
            token_id.uuid(),
            created_at.micros(),
            expires_at.micros()
        )?;
        Ok(())
    }

    /// Removes codes whose time is over.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn sweep_sign_ins(&mut self, now: Timestamp) -> Result<(), StoreError> {
        execute!(self, SWEEP, now.micros())?;
        Ok(())
    }

    /// Takes back the codes that would sign a token's holder in.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn delete_sign_ins_of(&mut self, token_id: TokenId) -> Result<(), StoreError> {
        execute!(self, DELETE_OF_TOKEN, token_id.uuid())?;
        Ok(())
    }
}
