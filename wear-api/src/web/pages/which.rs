//! Which bikes of the fleet somebody means: all that a filter lets through, in an order, or those chosen one by one.

use chrono::{Days, NaiveDate};

use super::encoded;
use super::failure::Failure;
use crate::domain::{Advice, BikeId, FleetEntry, FleetSort, GroupName, OutlookFilter};
use crate::service::{Actor, Services, outlook};

/// Choices of the filter by time, days.
pub(super) const WITHIN: [u64; 5] = [0, 7, 14, 28, 61];

/// Most bikes that are chosen one by one (A): what an address holds.
const MOST_CHOSEN: usize = 200;

/// Most bikes of a list that is made at once, such as one to print (A).
pub(super) const MOST_LISTED: u32 = 1_000;

/// What an address says of it. A word, group or number that nobody knows is passed over.
#[derive(Debug, Clone, Default)]
pub(super) struct Which {
    pub(super) search: Option<String>,
    pub(super) advice: Option<Advice>,
    pub(super) group: Option<GroupName>,
    pub(super) within: Option<u64>,
    pub(super) sort: Option<FleetSort>,
    /// The page, from 0 on.
    pub(super) page: u32,
    /// Bikes chosen one by one.
    pub(super) chosen: Vec<BikeId>,
}

impl Which {
    pub(super) fn of(pairs: &[(String, String)]) -> Self {
        let mut which = Self::default();
        for (name, value) in pairs {
            let value = value.trim();
            match name.as_str() {
                "search" => which.search = Some(value.to_owned()).filter(|text| !text.is_empty()),
                "advice" => which.advice = value.parse().ok(),
                "group" => which.group = GroupName::new(value).ok(),
                "within" => which.within = value.parse().ok().filter(|days| WITHIN.contains(days)),
                "sort" => which.sort = value.parse().ok().filter(|sort| *sort != FleetSort::Due),
                "page" => which.page = value.parse::<u32>().map_or(0, |page| page.saturating_sub(1)),
                "bike" if which.chosen.len() < MOST_CHOSEN => which.chosen.extend(value.parse::<BikeId>()),
                _ => {}
            }
        }
        which
    }

    pub(super) fn filter(&self, today: NaiveDate) -> OutlookFilter {
        OutlookFilter {
            advice: self.advice,
            group: self.group.clone(),
            search: self.search.clone(),
            due_before: self.within.and_then(|days| today.checked_add_days(Days::new(days + 1))),
        }
    }

    /// Whether the filter keeps any bike out.
    pub(super) fn is_narrowed(&self) -> bool {
        self.search.is_some() || self.advice.is_some() || self.group.is_some() || self.within.is_some()
    }

    pub(super) fn order(&self) -> FleetSort {
        self.sort.unwrap_or(FleetSort::Due)
    }

    /// What the address says, as names and values; without the page and the bikes.
    pub(super) fn pairs(&self) -> Vec<(&'static str, String)> {
        let mut pairs = Vec::new();
        pairs.extend(self.search.clone().map(|it| ("search", it)));
        pairs.extend(self.advice.map(|it| ("advice", it.as_str().to_owned())));
        pairs.extend(self.group.as_ref().map(|it| ("group", it.as_str().to_owned())));
        pairs.extend(self.within.map(|it| ("within", it.to_string())));
        pairs.extend(self.sort.map(|it| ("sort", it.as_str().to_owned())));
        pairs
    }

    /// The address of the list below a path.
    pub(super) fn address(&self, path: &str) -> String {
        let mut parts: Vec<String> =
            self.pairs().iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
        if self.page > 0 {
            parts.push(format!("page={}", self.page + 1));
        }
        parts.extend(self.chosen.iter().map(|bike| format!("bike={bike}")));
        if parts.is_empty() { path.to_owned() } else { format!("{path}?{}", parts.join("&")) }
    }

    /// The bikes: those chosen, else all that the filter lets through, up to [`MOST_LISTED`].
    pub(super) async fn entries(
        &self,
        services: &Services,
        actor: &Actor,
        today: NaiveDate,
    ) -> Result<Vec<FleetEntry>, Failure> {
        Ok(if self.chosen.is_empty() {
            let rows = (MOST_LISTED, 0);
            outlook::fleet_page(services, actor, &self.filter(today), self.order(), rows).await?
        } else {
            outlook::entries(services, actor, &self.chosen).await?
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_address_says_what_it_was_made_of() {
        let bike = BikeId::generate();
        let text = format!(
            "advice=swap_now&group=quay town&within=7&sort=left&search=04&page=3&bike={bike}&bike={bike}"
        );
        let pairs: Vec<(String, String)> = text
            .split('&')
            .filter_map(|pair| pair.split_once('='))
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect();
        let which = Which::of(&pairs);
        assert_eq!((which.page, which.chosen.len(), which.order()), (2, 2, FleetSort::Left));
        assert_eq!(
            which.address("/fleet"),
            format!(
                "/fleet?search=04&advice=swap_now&group=quay%20town&within=7&sort=left&page=3&bike={bike}&bike={bike}"
            )
        );
        let unknown = [("advice", "fly"), ("within", "3"), ("sort", "due"), ("page", "-1"), ("bike", "x")];
        let unknown: Vec<(String, String)> =
            unknown.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
        assert_eq!(Which::of(&unknown).address("/fleet"), "/fleet");
    }
}
