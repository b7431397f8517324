//! What hooks were told of bikes and of the fleet, while it stands.

use std::collections::{BTreeSet, HashMap};
use std::sync::LazyLock;

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::instant::instant;
use super::many::Many;
use super::{Tx, execute, rows, statements};
use crate::domain::{Alert, Announced, BikeId, PartId, Timestamp, Topic};

const TABLE: &str = "announced";

statements! {
    SAVE = "
        insert into announced (workshop_id, bike_id, part_id, topic, level, evidence, announced_at)
        values ($1, $2, $3, $4, $5, $6, $7)
        on conflict (workshop_id, bike_id, part_id, topic) do update set
            level = excluded.level, evidence = excluded.evidence, announced_at = excluded.announced_at";
    REMOVE = "
        delete from announced where workshop_id = $1 and bike_id = $2 and part_id = $3 and topic = $4";
    OF_FLEET = "select subject from fleet_announced where workshop_id = $1 and topic = $2";
    SAVE_OF_FLEET = "
        insert into fleet_announced (workshop_id, topic, subject, announced_at) values ($1, $2, $3, $4)
        on conflict (workshop_id, topic, subject) do nothing";
    REMOVE_OF_FLEET = "
        delete from fleet_announced where workshop_id = $1 and topic = $2 and subject = $3";
}

static OF_THESE_BIKES: LazyLock<Many> = LazyLock::new(|| {
    Many::look_up(
        "select bike_id, part_id, topic, level, evidence, announced_at from announced
         where workshop_id = $1 and bike_id = ?",
    )
});

pub(super) fn of_these_bikes() -> &'static [&'static str] {
    OF_THESE_BIKES.texts()
}

/// What hooks can be told of the workshop as a whole.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FleetTopic {
    /// A part is to be ordered; its model or shape.
    Order,
    /// The track record drifts; of which group.
    Record,
}

impl FleetTopic {
    const fn as_str(self) -> &'static str {
        match self {
            Self::Order => "order",
            Self::Record => "record",
        }
    }
}

#[derive(sqlx::FromRow)]
struct Row {
    bike_id: Uuid,
    part_id: Uuid,
    topic: String,
    level: i64,
    evidence: String,
    announced_at: i64,
}

struct OfBike(BikeId, Announced);

impl TryFrom<Row> for OfBike {
    type Error = StoreError;

    fn try_from(row: Row) -> Result<Self, StoreError> {
        let Row { bike_id, part_id, topic, level, evidence, announced_at } = row;
        let at = instant(announced_at, TABLE, "announced_at")?;
        let topic = topic.parse().sound(TABLE, "topic")?;
        let alert = Alert { level, evidence, at };
        Ok(Self(BikeId::from_uuid(bike_id), Announced { part_id: PartId::from_uuid(part_id), topic, alert }))
    }
}

impl Tx {
    /// What hooks were told of these bikes and still stands, a bike's in order of its parts.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn announced(
        &mut self,
        bikes: &[BikeId],
    ) -> Result<HashMap<BikeId, Vec<Announced>>, StoreError> {
        let ids = bikes.iter().map(|bike| bike.uuid());
        let mut found: Vec<OfBike> = self.rows_of::<Row, _>(&OF_THESE_BIKES, ids).await?;
        found.sort_by_key(|OfBike(_, it)| (it.part_id, it.topic));
        let mut of_bikes: HashMap<BikeId, Vec<Announced>> = HashMap::new();
        for OfBike(bike, announced) in found {
            of_bikes.entry(bike).or_default().push(announced);
        }
        Ok(of_bikes)
    }

    /// Writes down what was told of a part of a bike, in place of what was known.
    ///
    /// # Errors
    /// [`StoreError::NotFound`] when there is no such bike or part.
    pub async fn save_announced(&mut self, bike: BikeId, it: &Announced) -> Result<(), StoreError> {
        let Announced { part_id, topic, alert: Alert { level, evidence, at } } = it;
        execute!(self, SAVE, bike.uuid(), part_id.uuid(), topic.as_str(), *level, evidence, at.micros())?;
        Ok(())
    }

    /// Forgets what was told of a part of a bike.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn remove_announced(
        &mut self,
        bike: BikeId,
        part: PartId,
        topic: Topic,
    ) -> Result<(), StoreError> {
        execute!(self, REMOVE, bike.uuid(), part.uuid(), topic.as_str())?;
        Ok(())
    }

    /// Takes `now` for what stands of the fleet; those that hooks weren't told of yet.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn replace_fleet_announced(
        &mut self,
        topic: FleetTopic,
        now: &BTreeSet<String>,
        at: Timestamp,
    ) -> Result<BTreeSet<String>, StoreError> {
        let before: Vec<(String,)> = rows!(self, OF_FLEET, topic.as_str())?;
        let before: BTreeSet<String> = before.into_iter().map(|(subject,)| subject).collect();
        for gone in before.difference(now) {
            execute!(self, REMOVE_OF_FLEET, topic.as_str(), gone)?;
        }
        let fresh: BTreeSet<String> = now.difference(&before).cloned().collect();
        for subject in &fresh {
            execute!(self, SAVE_OF_FLEET, topic.as_str(), subject, at.micros())?;
        }
        Ok(fresh)
    }
}
