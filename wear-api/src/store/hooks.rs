//! Hooks.

use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::guarded::page_of;
use super::instant::{instant, maybe_instant};
use super::{Tx, execute, row, rows, statements, value, value_if_any};
use crate::domain::{
    AppId, Bike, Cursor, DisabledReason, Hook, HookEvent, HookFacts, HookId, HookOwner, HookSecret,
    HookSecrets, HookUrl, Label, Page, PageRequest, Reach, RiderId, Timestamp, TokenId,
};

const TABLE: &str = "hooks";

/// Hooks with whose they are.
macro_rules! hooks {
    ($which:literal) => {
        concat!(
            "
        select h.hook_id, h.label, h.url, h.events, h.secret, h.previous_secret, h.previous_until,
            h.failing_since, h.disabled_at, h.disabled_reason, h.created_at, h.revision,
            t.token_id, t.app_id, t.rider_id, t.revoked_at
        from hooks h left join tokens t on t.workshop_id = h.workshop_id and t.token_id = h.token_id
        ",
            $which
        )
    };
}

statements! {
    INSERT = "
        insert into hooks (workshop_id, hook_id, label, url, events, secret, created_at, token_id, revision)
        values ($1, $2, $3, $4, $5, $6, $7, $8, 1)";
    GET = hooks!("where h.workshop_id = $1 and h.hook_id = $2");
    LIST = hooks!("where h.workshop_id = $1 and h.hook_id > $2 order by h.hook_id limit $3");
    LIST_OF_TOKEN = hooks!(
        "where h.workshop_id = $1 and h.hook_id > $2 and h.token_id = $4 order by h.hook_id limit $3"
    );
    // Those of the workshop, and those whose token is in force and reaches the bike of app $2 and rider $3.
    FOR_BIKE = hooks!(
        "where h.workshop_id = $1 and h.disabled_at is null and (h.token_id is null or (t.revoked_at is null
            and (t.rider_id = $3 or (t.rider_id is null and (t.app_id = $2 or t.app_id is null)))))
        order by h.hook_id"
    );
    FOR_SENDER = hooks!(
        "where h.workshop_id = $1 and h.disabled_at is null
            and (h.token_id is null or (h.token_id = $2 and t.revoked_at is null))
        order by h.hook_id"
    );
    COUNT = "select cast(count(*) as bigint) from hooks where workshop_id = $1 and token_id is null";
    COUNT_OF_TOKEN = "select cast(count(*) as bigint) from hooks where workshop_id = $1 and token_id = $2";
    DISABLE_OF_TOKEN = "
        update hooks set disabled_at = $3, disabled_reason = 'by_hand', revision = revision + 1
        where workshop_id = $1 and token_id = $2 and disabled_at is null";
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
    token_id: Option<Uuid>,
    app_id: Option<Uuid>,
    rider_id: Option<Uuid>,
    revoked_at: Option<i64>,
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
            token_id,
            app_id,
            rider_id,
            revoked_at,
        } = row;
        let reach = Reach::of(app_id.map(AppId::from_uuid), rider_id.map(RiderId::from_uuid));
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
            owner: token_id.map(|token| HookOwner {
                token_id: TokenId::from_uuid(token),
                reach,
                is_revoked: revoked_at.is_some(),
            }),
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
            hook.created_at.micros(),
            hook.owner.map(|owner| owner.token_id.uuid())
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

    /// Hooks in the order they were made: all that the workshop has, or those of one token.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn hooks(&mut self, of: Option<TokenId>, page: &PageRequest) -> Result<Page<Hook>, StoreError> {
        let after = page.after_id(Uuid::nil())?;
        let rows: Vec<Row> = match of {
            None => rows!(self, LIST, after, page.rows())?,
            Some(token) => rows!(self, LIST_OF_TOKEN, after, page.rows(), token.uuid())?,
        };
        page_of(rows, page, |hook: &Hook| Cursor::Id(hook.id.uuid()))
    }

    /// How many hooks a token has; without one, how many are the workshop's own.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn count_hooks(&mut self, of: Option<TokenId>) -> Result<i64, StoreError> {
        Ok(match of {
            None => value!(self, COUNT)?,
            Some(token) => value!(self, COUNT_OF_TOKEN, token.uuid())?,
        })
    }

    /// The hooks in force that may be told of a bike: the workshop's, and those of tokens that reach it.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn hooks_for_bike(&mut self, bike: &Bike) -> Result<Vec<Hook>, StoreError> {
        let (app, rider) = (bike.app.map(AppId::uuid), bike.rider.map(RiderId::uuid));
        let rows: Vec<Row> = rows!(self, FOR_BIKE, app, rider)?;
        rows.into_iter().map(Hook::try_from).collect()
    }

    /// The hooks in force that may be told of what a token sent: the workshop's, and the token's own.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn hooks_for_sender(&mut self, sender: Option<TokenId>) -> Result<Vec<Hook>, StoreError> {
        let rows: Vec<Row> = rows!(self, FOR_SENDER, sender.map(TokenId::uuid))?;
        rows.into_iter().map(Hook::try_from).collect()
    }

    /// Disables the hooks of a token that is revoked.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn disable_hooks_of(&mut self, token: TokenId, at: Timestamp) -> Result<(), StoreError> {
        execute!(self, DISABLE_OF_TOKEN, token.uuid(), at.micros())?;
        Ok(())
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
