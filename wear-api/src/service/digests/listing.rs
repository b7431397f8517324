//! What a digest lists.

use chrono::Days;
use wear_core::units::Probability;

use crate::domain::{
    Advice, DigestFacts, FleetEntry, OutlookFilter, OutlookSummary, PageRequest, PageSize, Timestamp,
    Workshop,
};
use crate::mail::digest::{ListedBike, Listing, Section};
use crate::store::{StoreError, Tx};

/// Most bikes that one message lists; of the rest it says how many there are (A).
const MOST: usize = 50;

/// The most urgent first; bikes that need checking come after those that have to come in.
const ORDER: [Advice; 5] = [Advice::SwapNow, Advice::SwapBy, Advice::MeasureBy, Advice::Hold, Advice::RideOn];

/// Bikes that need someone by the time of the next message, or within the workshop's lead where that is longer.
pub(super) async fn list(
    tx: &mut Tx,
    facts: &DigestFacts,
    workshop: &Workshop,
    now: Timestamp,
) -> Result<Listing, StoreError> {
    let today = now.date_in(workshop.settings.time_zone);
    let ahead = workshop.settings.soon_days.get().max(facts.days.apart() - 1);
    let until = today.checked_add_days(Days::new(u64::from(ahead))).unwrap_or(today);
    let groups =
        if facts.groups.is_empty() { vec![None] } else { facts.groups.iter().cloned().map(Some).collect() };
    let of_group = |group| OutlookFilter { group, due_before: until.succ_opt(), ..OutlookFilter::default() };
    let mut due = 0;
    for group in &groups {
        due += tx
            .advice_counts(&of_group(group.clone()))
            .await?
            .into_iter()
            .map(|(_, count)| count)
            .sum::<i64>();
    }
    let page = PageRequest::first(PageSize::LARGEST);
    let mut sections = Vec::new();
    let mut room = MOST;
    for advice in ORDER {
        if room == 0 {
            break;
        }
        let mut entries = Vec::new();
        for group in &groups {
            let filter = OutlookFilter { advice: Some(advice), ..of_group(group.clone()) };
            entries.extend(tx.fleet(&filter, &page).await?.items);
        }
        entries.sort_by(|a: &FleetEntry, b| {
            (a.outlook.attention_on, &a.label).cmp(&(b.outlook.attention_on, &b.label))
        });
        entries.truncate(room);
        room -= entries.len();
        if !entries.is_empty() {
            sections.push(Section { advice, bikes: entries.into_iter().map(listed).collect() });
        }
    }
    Ok(Listing { today, until, sections, due })
}

fn listed(entry: FleetEntry) -> ListedBike {
    let FleetEntry { label, group, usage: _, outlook, reason, with_chain: _ } = entry;
    let OutlookSummary { bike_id, swap_by, measure_by, remaining, probability_over, .. } = outlook;
    ListedBike {
        bike_id,
        label: label.to_string(),
        group: group.to_string(),
        swap_by,
        measure_by,
        reason,
        remaining,
        over: probability_over.map(Probability::get),
    }
}
