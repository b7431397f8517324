//! Messages to hooks, and every attempt to deliver them.

use std::collections::BTreeMap;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{instant, maybe_instant};
use super::{SystemTx, Tx, execute, on, row, rows, statements, value_if_any};
use crate::domain::{
    Attempt, Cursor, HookId, HookMessage, MessageId, MessageState, NewAttempt, NewHookMessage, Page,
    PageRequest, Timestamp,
};

const TABLE: &str = "hook_messages";
const ATTEMPTS: &str = "hook_attempts";

statements! {
    INSERT = "
        insert into hook_messages (workshop_id, message_id, hook_id, event, body, state, tries, next_at, created_at)
        values ($1, $2, $3, $4, $5, 'waiting', 0, $6, $6)";
    GET = "
        select message_id, hook_id, event, body, state, tries, next_at, created_at
        from hook_messages where workshop_id = $1 and message_id = $2";
    LIST = "
        select message_id, hook_id, event, body, state, tries, next_at, created_at
        from hook_messages where workshop_id = $1 and hook_id = $2 and message_id < $3
        order by message_id desc limit $4";
    ATTEMPTS_OF = "
        select message_id, attempt, tried_at, milliseconds, outcome, status
        from hook_attempts where workshop_id = $1 and message_id = $2
        order by attempt";
    ATTEMPTS_OF_PAGE = "
        select a.message_id, a.attempt, a.tried_at, a.milliseconds, a.outcome, a.status
        from hook_messages d
        join hook_attempts a on a.workshop_id = d.workshop_id and a.message_id = d.message_id
        where d.workshop_id = $1 and d.hook_id = $2 and d.message_id between $3 and $4
        order by a.message_id, a.attempt";
    SET = "
        update hook_messages set state = $3, tries = $4, next_at = $5
        where workshop_id = $1 and message_id = $2
        returning message_id";
    ADD_ATTEMPT = "
        insert into hook_attempts (workshop_id, message_id, attempt, tried_at, milliseconds, outcome, status)
        select d.workshop_id, d.message_id,
            (select coalesce(max(a.attempt), 0) + 1 from hook_attempts a
                where a.workshop_id = d.workshop_id and a.message_id = d.message_id),
            cast($3 as bigint), cast($4 as bigint), cast($5 as text), cast($6 as bigint)
        from hook_messages d where d.workshop_id = $1 and d.message_id = $2";
    PRUNE = "delete from hook_messages where created_at < $1 and state <> 'waiting'";
}

#[derive(sqlx::FromRow)]
struct Row {
    message_id: Uuid,
    hook_id: Uuid,
    event: String,
    body: String,
    state: String,
    tries: i64,
    next_at: Option<i64>,
    created_at: i64,
}

#[derive(sqlx::FromRow)]
struct AttemptRow {
    message_id: Uuid,
    attempt: i64,
    tried_at: i64,
    milliseconds: i64,
    outcome: String,
    status: Option<i64>,
}

impl TryFrom<Row> for HookMessage {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { message_id, hook_id, event, body, state, tries, next_at, created_at } = row;
        Ok(Self {
            message: NewHookMessage {
                id: MessageId::from_uuid(message_id),
                hook_id: HookId::from_uuid(hook_id),
                event,
                body,
                created_at: instant(created_at, TABLE, "created_at")?,
            },
            state: state.parse().sound(TABLE, "state")?,
            tries,
            next_at: maybe_instant(next_at, TABLE, "next_at")?,
            attempts: Vec::new(),
        })
    }
}

impl TryFrom<AttemptRow> for Attempt {
    type Error = StoreError;

    fn try_from(row: AttemptRow) -> Result<Self, StoreError> {
        let AttemptRow { message_id: _, attempt, tried_at, milliseconds, outcome, status } = row;
        Ok(Self {
            number: attempt,
            facts: NewAttempt {
                at: instant(tried_at, ATTEMPTS, "tried_at")?,
                milliseconds,
                outcome: outcome.parse().sound(ATTEMPTS, "outcome")?,
                status: status.map(u16::try_from).transpose().sound(ATTEMPTS, "status")?,
            },
        })
    }
}

impl Tx {
    /// Stores a message to a hook, to be delivered at once.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such hook.
    pub async fn insert_hook_message(&mut self, message: &NewHookMessage) -> Result<(), StoreError> {
        let NewHookMessage { id, hook_id, event, body, created_at } = message;
        execute!(self, INSERT, id.uuid(), hook_id.uuid(), event, body, created_at.micros())?;
        Ok(())
    }

    /// One message with its attempts.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Corrupt`].
    pub async fn hook_message(&mut self, id: MessageId) -> Result<HookMessage, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        let attempts: Vec<AttemptRow> = rows!(self, ATTEMPTS_OF, id.uuid())?;
        let mut delivery = HookMessage::try_from(row)?;
        delivery.attempts = attempts.into_iter().map(Attempt::try_from).collect::<Result<_, _>>()?;
        Ok(delivery)
    }

    /// A hook's messages with their attempts, the latest first.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn hook_messages(
        &mut self,
        hook: HookId,
        page: &PageRequest,
    ) -> Result<Page<HookMessage>, StoreError> {
        let after = page.after_id(Uuid::max())?;
        let rows: Vec<Row> = rows!(self, LIST, hook.uuid(), after, page.rows())?;
        let ends = rows.first().zip(rows.last()).map(|(last, first)| (first.message_id, last.message_id));
        let mut attempts: BTreeMap<Uuid, Vec<Attempt>> = BTreeMap::new();
        if let Some((first, last)) = ends {
            let found: Vec<AttemptRow> = rows!(self, ATTEMPTS_OF_PAGE, hook.uuid(), first, last)?;
            for row in found {
                attempts.entry(row.message_id).or_default().push(row.try_into()?);
            }
        }
        let mut messages = Vec::with_capacity(rows.len());
        for row in rows {
            let mut delivery = HookMessage::try_from(row)?;
            delivery.attempts = attempts.remove(&delivery.message.id.uuid()).unwrap_or_default();
            messages.push(delivery);
        }
        Ok(page.cut(messages, |delivery: &HookMessage| Cursor::Id(delivery.message.id.uuid())))
    }

    /// Says where a message stands.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn set_hook_message(
        &mut self,
        id: MessageId,
        state: MessageState,
        tries: i64,
        next_at: Option<Timestamp>,
    ) -> Result<(), StoreError> {
        let found: Option<Uuid> =
            value_if_any!(self, SET, id.uuid(), state.as_str(), tries, next_at.map(Timestamp::micros))?;
        found.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// Writes down an attempt, which takes the next number: the caller has changed the message in this transaction,
    /// so that no other attempt of it is written down meanwhile.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn add_attempt(&mut self, id: MessageId, attempt: &NewAttempt) -> Result<(), StoreError> {
        let NewAttempt { at, milliseconds, outcome, status } = attempt;
        execute!(
            self,
            ADD_ATTEMPT,
            id.uuid(),
            at.micros(),
            *milliseconds,
            outcome.as_str(),
            status.map(i64::from)
        )?;
        Ok(())
    }
}

impl SystemTx {
    /// Forgets messages of before `before` that don't wait any more, of every workshop.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn prune_hook_messages(&mut self, before: Timestamp) -> Result<(), StoreError> {
        on!(self.connection, |conn| sqlx::query(PRUNE)
            .bind(before.micros())
            .execute(conn)
            .await
            .map(|_| ()))?;
        Ok(())
    }
}
