//! What a policy reads of a group.

use uuid::Uuid;

use super::error::{Sound, StoreError};
use super::{Tx, rows, statements};
use crate::domain::{GroupName, LubricantId, PartModelId, PartsOfGroup};

statements! {
    PARTS = "
        select p.model_id, f.place, cast(count(*) as bigint) as parts
        from bikes b
        join fittings f on f.workshop_id = b.workshop_id and f.bike_id = b.bike_id and f.removed_at is null
        join parts p on p.workshop_id = f.workshop_id and p.part_id = f.part_id
        where b.workshop_id = $1 and b.bike_group = $2 and b.retired_at is null and p.model_id is not null
        group by p.model_id, f.place
        order by parts desc, p.model_id";
    LUBRICANTS = "
        select lubricant_id, cast(count(*) as bigint) as bikes
        from (
            select c.lubricant_id,
                row_number() over (partition by c.bike_id order by c.done_at desc, c.care_id desc) as place
            from bikes b
            join care_events c on c.workshop_id = b.workshop_id and c.bike_id = b.bike_id
            where b.workshop_id = $1 and b.bike_group = $2 and b.retired_at is null and c.lubricant_id is not null
        ) named
        where place = 1
        group by lubricant_id
        order by bikes desc, lubricant_id";
}

impl Tx {
    /// The models of the parts that are on a group's bikes, the most common first.
    ///
    /// # Errors
    /// [`StoreError::Corrupt`], [`StoreError::Unavailable`].
    pub async fn parts_of_group(&mut self, group: &GroupName) -> Result<Vec<PartsOfGroup>, StoreError> {
        let rows: Vec<(Uuid, String, i64)> = rows!(self, PARTS, group.as_str())?;
        rows.into_iter()
            .map(|(model_id, place, count)| {
                let place = place.parse().sound("fittings", "place")?;
                Ok(PartsOfGroup { model_id: PartModelId::from_uuid(model_id), place, count })
            })
            .collect()
    }
    /// The lubricants that a group's bikes are ridden under, each with how many bikes: what the last care that names one named.
    ///
    /// # Errors
    /// [`StoreError::Unavailable`].
    pub async fn lubricants_of_group(
        &mut self,
        group: &GroupName,
    ) -> Result<Vec<(LubricantId, i64)>, StoreError> {
        let rows: Vec<(Uuid, i64)> = rows!(self, LUBRICANTS, group.as_str())?;
        Ok(rows.into_iter().map(|(id, bikes)| (LubricantId::from_uuid(id), bikes)).collect())
    }
}
