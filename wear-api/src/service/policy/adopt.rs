//! Taking over a limit for a group of bikes.

use serde_json::json;
use wear_core::units::Limit;

use crate::domain::{Bike, BikeFilter, BikeId, BikeSort, GroupName, PageRequest, PageSize};
use crate::service::{ServiceError, Services, UnitOfWork, WorkshopChange};

/// Makes this the limit of every bike of the group, and returns how many there are. Their outlooks are computed anew.
///
/// # Errors
/// [`ServiceError::NotFound`] when the fleet has no bike of the group.
pub async fn adopt(
    services: &Services,
    work: &mut UnitOfWork,
    group: GroupName,
    limit: Limit,
) -> Result<usize, ServiceError> {
    let mut change = WorkshopChange::begin(services, work).await?;
    let filter = BikeFilter { group: Some(group.clone()), ..BikeFilter::default() };
    let mut ids: Vec<BikeId> = Vec::new();
    let mut page = PageRequest::first(PageSize::LARGEST);
    loop {
        let listed = change.tx.bikes(&filter, BikeSort::Created, &page).await?;
        ids.extend(listed.items.iter().map(|bike| bike.id));
        match listed.next {
            Some(next) => page.after = Some(next),
            None => break,
        }
    }
    if ids.is_empty() {
        return Err(ServiceError::NotFound { what: "group" });
    }
    // The marks are the bikes' locks; what was read before them may have changed since.
    change.tx.mark_bikes(&ids, change.now).await?;
    let mut count = 0;
    let bikes = change.tx.bikes_by_id(&ids).await?;
    for mut bike in bikes.into_values().filter(|bike: &Bike| bike.facts.group == group) {
        count += 1;
        if bike.facts.limit != Some(limit) {
            bike.facts.limit = Some(limit);
            change.tx.update_bike(bike.id, bike.revision, &bike.facts).await?;
        }
    }
    let detail = json!({"group": group.as_str(), "limit_percent": limit.get(), "bikes": count});
    change.record_with("limit.adopt", "workshop".to_owned(), detail).await?;
    Ok(count)
}
