//! Hooks.

use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{instant, maybe_instant};
use super::{Tx, execute, row, rows, statements, value, value_if_any};
use crate::domain::{
    DisabledReason, Hook, HookEvent, HookFacts, HookId, HookSecret, HookSecrets, HookUrl, Label, Page,
    PageRequest, Timestamp,
};

const TABLE: &str = "hooks";

statements! {
    INSERT = "
        insert into hooks (workshop_id, hook_id, label, url, events, secret, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, 1)";
    GET = "
        select hook_id, label, url, events, secret, previous_secret, previous_until, failing_since,
            disabled_at, disabled_reason, created_at, revision
        from hooks where workshop_id = $1 and hook_id = $2";
    LIST = "
        select hook_id, label, url, events, secret, previous_secret, previous_until, failing_since,
            disabled_at, disabled_reason, created_at, revision
        from hooks where workshop_id = $1 and hook_id > $2
        order by hook_id limit $3";
    IN_FORCE = "
        select hook_id, label, url, events, secret, previous_secret, previous_until, failing_since,
            disabled_at, disabled_reason, created_at, revision
        from hooks where workshop_id = $1 and disabled_at is null
        order by hook_id";
    COUNT = "select cast(count(*) as bigint) from hooks where workshop_id = $1";
    CHANGE = "
        update hooks set label = $4, url = $5, events = $6, disabled_at = $7, disabled_reason = $8,
            failing_since = $9, revision = revision + 1
        where workshop_id = $1 and hook_id = $2 and revision = $3
        returning hook_id";
    REPLACE_SECRET = "
        update hooks set secret = $3, previous_secret = $4, previous_until = $5, revision = revision + 1
        where workshop_id = $1 and hook_id = $2
        returning hook_id";
    NOTE_SUCCESS = "
        update hooks set failing_since = null
        where workshop_id = $1 and hook_id = $2 and failing_since is not null";
    NOTE_FAILURE = "
        update hooks set failing_since = $3
        where workshop_id = $1 and hook_id = $2 and failing_since is null";
    DISABLE = "
        update hooks set disabled_at = $3, disabled_reason = $4, revision = revision + 1
        where workshop_id = $1 and hook_id = $2 and disabled_at is null
            and (cast($5 as bigint) = 0 or failing_since <= $6)
        returning hook_id";
    DELETE = "
        delete from hooks where workshop_id = $1 and hook_id = $2 and revision = $3
        returning hook_id";
}

#[derive(sqlx::FromRow)]
struct Row {
    hook_id: Uuid,
    label: String,
    url: String,
    events: Json<Vec<String>>,
    secret: Vec<u8>,
    previous_secret: Option<Vec<u8>>,
    previous_until: Option<i64>,
    failing_since: Option<i64>,
    disabled_at: Option<i64>,
    disabled_reason: Option<String>,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for Hook {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            hook_id,
            label,
            url,
            events: Json(events),
            secret,
            previous_secret,
            previous_until,
            failing_since,
            disabled_at,
            disabled_reason,
            created_at,
            revision,
        } = row;
        let events = events.iter().map(|word| word.parse::<HookEvent>()).collect::<Result<_, _>>();
        let previous_until = maybe_instant(previous_until, TABLE, "previous_until")?;
        let previous_secret =
            previous_secret.map(HookSecret::from_bytes).transpose().sound(TABLE, "previous_secret")?;
        let reason = disabled_reason
            .map(|word| word.parse::<DisabledReason>())
            .transpose()
            .sound(TABLE, "disabled_reason")?;
        Ok(Self {
            id: HookId::from_uuid(hook_id),
            facts: HookFacts {
                label: Label::new(&label).sound(TABLE, "label")?,
                url: HookUrl::new(&url).sound(TABLE, "url")?,
                events: events.sound(TABLE, "events")?,
            },
            secrets: HookSecrets {
                current: HookSecret::from_bytes(secret).sound(TABLE, "secret")?,
                previous: previous_secret.zip(previous_until),
            },
            failing_since: maybe_instant(failing_since, TABLE, "failing_since")?,
            disabled: maybe_instant(disabled_at, TABLE, "disabled_at")?.zip(reason),
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

fn words(events: &[HookEvent]) -> Json<Vec<&'static str>> {
    Json(events.iter().map(|event| event.as_str()).collect())
}

impl Tx {
    /// Stores a new hook, which is in force and has its first revision.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn insert_hook(&mut self, hook: &Hook) -> Result<(), StoreError> {
        let HookFacts { label, url, events } = &hook.facts;
        execute!(
            self,
            INSERT,
            hook.id.uuid(),
            label.as_str(),
            url.as_str(),
            words(events),
            hook.secrets.current.as_bytes(),
            hook.created_at.micros()
        )?;
        Ok(())
    }

    /// One hook.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Corrupt`].
    pub async fn hook(&mut self, id: HookId) -> Result<Hook, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// The workshop's hooks in the order they were made.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn hooks(&mut self, page: &PageRequest) -> Result<Page<Hook>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |hook: &Hook| hook.id.uuid()).await
    }

    /// How many hooks the workshop has.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn count_hooks(&mut self) -> Result<i64, StoreError> {
        let count = value!(self, COUNT)?;
        Ok(count)
    }

    /// Every hook that is not disabled.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn hooks_in_force(&mut self) -> Result<Vec<Hook>, StoreError> {
        let rows: Vec<Row> = rows!(self, IN_FORCE)?;
        rows.into_iter().map(Hook::try_from).collect()
    }

    /// Changes what a manager says of a hook, and whether it is disabled; its revision counts one up.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its revision is another.
    pub async fn change_hook(&mut self, hook: &Hook) -> Result<(), StoreError> {
        let HookFacts { label, url, events } = &hook.facts;
        let changed: Option<Uuid> = value_if_any!(
            self,
            CHANGE,
            hook.id.uuid(),
            hook.revision,
            label.as_str(),
            url.as_str(),
            words(events),
            hook.disabled.map(|(at, _)| at.micros()),
            hook.disabled.map(|(_, reason)| reason.as_str()),
            hook.failing_since.map(Timestamp::micros)
        )?;
        changed.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// Puts other secrets in place of a hook's.
    ///
    /// # Errors
    /// [`StoreError::NotFound`].
    pub async fn replace_hook_secrets(
        &mut self,
        id: HookId,
        secrets: &HookSecrets,
    ) -> Result<(), StoreError> {
        let HookSecrets { current, previous } = secrets;
        let changed: Option<Uuid> = value_if_any!(
            self,
            REPLACE_SECRET,
            id.uuid(),
            current.as_bytes(),
            previous.as_ref().map(|(secret, _)| secret.as_bytes()),
            previous.as_ref().map(|(_, until)| until.micros())
        )?;
        changed.map(|_| ()).ok_or(StoreError::NotFound)
    }

    /// Notes that a message got through, or that none did.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn note_hook_health(
        &mut self,
        id: HookId,
        well: bool,
        at: Timestamp,
    ) -> Result<(), StoreError> {
        if well {
            execute!(self, NOTE_SUCCESS, id.uuid())?;
        } else {
            execute!(self, NOTE_FAILURE, id.uuid(), at.micros())?;
        }
        Ok(())
    }

    /// Disables a hook that is in force; with `failing_since`, only when nothing has got through since then.
    /// Whether it did.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn disable_hook(
        &mut self,
        id: HookId,
        reason: DisabledReason,
        at: Timestamp,
        failing_since: Option<Timestamp>,
    ) -> Result<bool, StoreError> {
        let disabled: Option<Uuid> = value_if_any!(
            self,
            DISABLE,
            id.uuid(),
            at.micros(),
            reason.as_str(),
            i64::from(failing_since.is_some()),
            failing_since.map_or(0, Timestamp::micros)
        )?;
        Ok(disabled.is_some())
    }

    /// Removes a hook with its messages.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its revision is another.
    pub async fn delete_hook(&mut self, id: HookId, revision: i64) -> Result<(), StoreError> {
        let deleted: Option<Uuid> = value_if_any!(self, DELETE, id.uuid(), revision)?;
        deleted.map(|_| ()).ok_or(StoreError::Conflict)
    }
}
