//! Digests.

use sqlx::types::Json;
use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::{date, day_number, instant, maybe_instant};
use super::{SystemTx, Tx, execute, on, row, statements, value, value_if_any};
use crate::domain::{
    Digest, DigestDays, DigestDone, DigestDue, DigestFacts, DigestHour, DigestId, DigestOutcome,
    DigestSecret, EmailAddress, GroupName, Page, PageRequest, Timestamp, Weekday, WorkshopId,
};

const TABLE: &str = "digests";

statements! {
    INSERT = "
        insert into digests (workshop_id, digest_id, address, period, weekday, hour, language, bike_groups,
            when_nothing_due, secret, next_at, next_on, tries, created_at, revision)
        values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, 0, $13, 1)";
    GET = "
        select digest_id, address, period, weekday, hour, language, bike_groups, when_nothing_due, secret, next_at,
            next_on, tries, last_on, last_at, last_outcome, last_error, unsubscribed_at, created_at, revision
        from digests where workshop_id = $1 and digest_id = $2";
    LIST = "
        select digest_id, address, period, weekday, hour, language, bike_groups, when_nothing_due, secret, next_at,
            next_on, tries, last_on, last_at, last_outcome, last_error, unsubscribed_at, created_at, revision
        from digests where workshop_id = $1 and digest_id > $2
        order by digest_id limit $3";
    COUNT = "select cast(count(*) as bigint) from digests where workshop_id = $1";
    CHANGE = "
        update digests set address = $4, period = $5, weekday = $6, hour = $7, language = $8, bike_groups = $9,
            when_nothing_due = $10, next_at = $11, next_on = $12, tries = 0, revision = revision + 1
        where workshop_id = $1 and digest_id = $2 and revision = $3
        returning digest_id";
    PLAN = "
        update digests set next_at = $3, next_on = $4, tries = $5, last_error = $6
        where workshop_id = $1 and digest_id = $2 and unsubscribed_at is null
        returning digest_id";
    NOTE_ERROR = "
        update digests set last_error = $3 where workshop_id = $1 and digest_id = $2";
    DONE = "
        update digests set last_on = $3, last_at = $4, last_outcome = $5
        where workshop_id = $1 and digest_id = $2 and (last_on is null or last_on < $3 or last_at > $4)";
    UNSUBSCRIBE = "
        update digests set unsubscribed_at = $3, next_at = null, next_on = null, revision = revision + 1
        where workshop_id = $1 and digest_id = $2 and unsubscribed_at is null
        returning digest_id";
    DELETE = "
        delete from digests where workshop_id = $1 and digest_id = $2 and revision = $3
        returning digest_id";
    FIND = "select workshop_id, digest_id from digests where secret = $1";
    LATER = "select workshop_id, digest_id from digests where next_at > $1";
}

#[derive(sqlx::FromRow)]
struct Row {
    digest_id: Uuid,
    address: String,
    period: String,
    weekday: Option<String>,
    hour: i64,
    language: String,
    bike_groups: Json<Vec<String>>,
    when_nothing_due: bool,
    secret: Vec<u8>,
    next_at: Option<i64>,
    next_on: Option<i64>,
    tries: i64,
    last_on: Option<i64>,
    last_at: Option<i64>,
    last_outcome: Option<String>,
    last_error: Option<String>,
    unsubscribed_at: Option<i64>,
    created_at: i64,
    revision: i64,
}

impl TryFrom<Row> for Digest {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row {
            digest_id,
            address,
            period,
            weekday,
            hour,
            language,
            bike_groups: Json(groups),
            when_nothing_due,
            secret,
            next_at,
            next_on,
            tries,
            last_on,
            last_at,
            last_outcome,
            last_error,
            unsubscribed_at,
            created_at,
            revision,
        } = row;
        let weekday = weekday.map(|word| word.parse::<Weekday>()).transpose().sound(TABLE, "weekday")?;
        let days =
            DigestDays::new(period.parse().sound(TABLE, "period")?, weekday).sound(TABLE, "weekday")?;
        let day = |number: Option<i64>, column| number.map(|day| date(day, TABLE, column)).transpose();
        let next = day(next_on, "next_on")?.zip(maybe_instant(next_at, TABLE, "next_at")?);
        let outcome = last_outcome
            .map(|word| word.parse::<DigestOutcome>())
            .transpose()
            .sound(TABLE, "last_outcome")?;
        let last = day(last_on, "last_on")?.zip(maybe_instant(last_at, TABLE, "last_at")?).zip(outcome);
        let groups = groups.iter().map(|name| GroupName::new(name)).collect::<Result<_, _>>();
        Ok(Self {
            id: DigestId::from_uuid(digest_id),
            facts: DigestFacts {
                address: EmailAddress::new(&address).sound(TABLE, "address")?,
                days,
                hour: DigestHour::new(hour).sound(TABLE, "hour")?,
                language: language.parse().sound(TABLE, "language")?,
                groups: groups.sound(TABLE, "bike_groups")?,
                when_nothing_due,
            },
            secret: DigestSecret::from_bytes(&secret).ok_or("not 32 bytes").sound(TABLE, "secret")?,
            next: next.map(|(on, at)| DigestDue { on, at }),
            tries,
            last: last.map(|((on, at), outcome)| DigestDone { on, at, outcome }),
            last_error,
            unsubscribed_at: maybe_instant(unsubscribed_at, TABLE, "unsubscribed_at")?,
            created_at: instant(created_at, TABLE, "created_at")?,
            revision,
        })
    }
}

fn names(groups: &[GroupName]) -> Json<Vec<&str>> {
    Json(groups.iter().map(GroupName::as_str).collect())
}

impl Tx {
    /// Stores a new digest, which has its first revision.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn insert_digest(&mut self, digest: &Digest) -> Result<(), StoreError> {
        let DigestFacts { address, days, hour, language, groups, when_nothing_due } = &digest.facts;
        execute!(
            self,
            INSERT,
            digest.id.uuid(),
            address.as_str(),
            days.period().as_str(),
            days.weekday().map(Weekday::as_str),
            i64::from(hour.get()),
            language.as_str(),
            names(groups),
            *when_nothing_due,
            digest.secret.as_bytes(),
            digest.next.map(|due| due.at.micros()),
            digest.next.map(|due| day_number(due.on)),
            digest.created_at.micros()
        )?;
        Ok(())
    }

    /// One digest.
    ///
    /// # Errors
    /// [`StoreError::NotFound`], [`StoreError::Corrupt`].
    pub async fn digest(&mut self, id: DigestId) -> Result<Digest, StoreError> {
        let row: Row = row!(self, GET, id.uuid())?;
        row.try_into()
    }

    /// The workshop's digests in the order in which they were made.
    ///
    /// # Errors
    /// [`StoreError::Cursor`], [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn digests(&mut self, page: &PageRequest) -> Result<Page<Digest>, StoreError> {
        self.page_by_id::<Row, _>(LIST, Uuid::nil(), page, |digest: &Digest| digest.id.uuid()).await
    }

    /// How many digests the workshop has.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn count_digests(&mut self) -> Result<i64, StoreError> {
        let count = value!(self, COUNT)?;
        Ok(count)
    }

    /// Changes what a manager says of a digest, and when it comes next; its revision counts one up.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its revision is another.
    pub async fn change_digest(&mut self, digest: &Digest) -> Result<(), StoreError> {
        let DigestFacts { address, days, hour, language, groups, when_nothing_due } = &digest.facts;
        let changed: Option<Uuid> = value_if_any!(
            self,
            CHANGE,
            digest.id.uuid(),
            digest.revision,
            address.as_str(),
            days.period().as_str(),
            days.weekday().map(Weekday::as_str),
            i64::from(hour.get()),
            language.as_str(),
            names(groups),
            *when_nothing_due,
            digest.next.map(|due| due.at.micros()),
            digest.next.map(|due| day_number(due.on))
        )?;
        changed.map(|_| ()).ok_or(StoreError::Conflict)
    }

    /// Plans the next message, or the next attempt at one; whether its recipient still wants any.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn plan_digest(
        &mut self,
        id: DigestId,
        next: Option<DigestDue>,
        tries: i64,
        error: Option<&str>,
    ) -> Result<bool, StoreError> {
        let planned: Option<Uuid> = value_if_any!(
            self,
            PLAN,
            id.uuid(),
            next.map(|due| due.at.micros()),
            next.map(|due| day_number(due.on)),
            tries,
            error
        )?;
        Ok(planned.is_some())
    }

    /// Notes why an attempt beside the usual messages failed, or that it didn't.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn note_digest_error(&mut self, id: DigestId, error: Option<&str>) -> Result<(), StoreError> {
        execute!(self, NOTE_ERROR, id.uuid(), error)?;
        Ok(())
    }

    /// Notes that a date's message is done with.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn digest_done(&mut self, id: DigestId, done: &DigestDone) -> Result<(), StoreError> {
        let DigestDone { on, at, outcome } = done;
        execute!(self, DONE, id.uuid(), day_number(*on), at.micros(), outcome.as_str())?;
        Ok(())
    }

    /// Stops a digest for its recipient; whether it went on until then.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn unsubscribe(&mut self, id: DigestId, at: Timestamp) -> Result<bool, StoreError> {
        let stopped: Option<Uuid> = value_if_any!(self, UNSUBSCRIBE, id.uuid(), at.micros())?;
        Ok(stopped.is_some())
    }

    /// Removes a digest.
    ///
    /// # Errors
    /// [`StoreError::Conflict`] when its revision is another.
    pub async fn delete_digest(&mut self, id: DigestId, revision: i64) -> Result<(), StoreError> {
        let deleted: Option<Uuid> = value_if_any!(self, DELETE, id.uuid(), revision)?;
        deleted.map(|_| ()).ok_or(StoreError::Conflict)
    }
}

impl SystemTx {
    /// Digests of any workshop whose next message is planned later than an instant.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn digests_after(&mut self, at: Timestamp) -> Result<Vec<(WorkshopId, DigestId)>, StoreError> {
        let found: Vec<(Uuid, Uuid)> =
            on!(self.connection, |conn| sqlx::query_as(LATER).bind(at.micros()).fetch_all(conn).await)?;
        let known = |(workshop, digest)| (WorkshopId::from_uuid(workshop), DigestId::from_uuid(digest));
        Ok(found.into_iter().map(known).collect())
    }

    /// The digest that a link stops; none when it opens nothing.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn find_digest(
        &mut self,
        secret: &DigestSecret,
    ) -> Result<Option<(WorkshopId, DigestId)>, StoreError> {
        let found: Option<(Uuid, Uuid)> = on!(self.connection, |conn| sqlx::query_as(FIND)
            .bind(secret.as_bytes())
            .fetch_optional(conn)
            .await)?;
        Ok(found.map(|(workshop, digest)| (WorkshopId::from_uuid(workshop), DigestId::from_uuid(digest))))
    }
}
