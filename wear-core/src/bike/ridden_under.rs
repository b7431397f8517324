//! What a chain was ridden under: exposure by lubricant, as far as somebody named it.

use std::sync::Arc;

use crate::fleet::LubricantShare;
use crate::units::Probability;

/// A chain's exposure under one lubricant.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct UnderLubricant {
    /// The lubricant.
    pub lubricant: Arc<str>,
    /// Exposure from its applications to the next care each, reference km.
    pub reference_km: f64,
    /// How often it was put on.
    pub applications: u32,
}

/// A chain's exposure by lubricant; what was ridden under none that is known is left out.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RiddenUnder(Vec<UnderLubricant>);

impl RiddenUnder {
    /// By lubricant, in the order in which each was put on first.
    pub fn iter(&self) -> impl Iterator<Item = &UnderLubricant> {
        self.0.iter()
    }

    /// Whether no lubricant was named.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Shares of an exposure of so many reference km of which this is a part.
    #[must_use]
    pub fn shares_of(&self, reference_km: f64) -> Vec<LubricantShare> {
        let share = |under: &UnderLubricant| {
            let share = under.reference_km / reference_km;
            (share > 0.0).then(|| LubricantShare {
                lubricant: under.lubricant.to_string(),
                share: Probability::saturating(share),
            })
        };
        self.0.iter().filter_map(share).collect()
    }

    /// Reference km under each since it was `before`.
    pub(super) fn since<'a>(&'a self, before: &'a Self) -> impl Iterator<Item = (&'a str, f64)> {
        self.0.iter().map(|under| {
            let earlier = before.0.iter().find(|it| it.lubricant == under.lubricant);
            let earlier = earlier.map_or(0.0, |it| it.reference_km);
            (&*under.lubricant, (under.reference_km - earlier).max(0.0))
        })
    }

    pub(super) fn put_on(&mut self, lubricant: &Arc<str>) {
        self.of(lubricant).applications += 1;
    }

    pub(super) fn ride(&mut self, lubricant: &Arc<str>, reference_km: f64) {
        self.of(lubricant).reference_km += reference_km;
    }

    fn of(&mut self, lubricant: &Arc<str>) -> &mut UnderLubricant {
        let place = self.0.iter().position(|under| under.lubricant == *lubricant).unwrap_or_else(|| {
            self.0.push(UnderLubricant {
                lubricant: Arc::clone(lubricant),
                reference_km: 0.0,
                applications: 0,
            });
            self.0.len() - 1
        });
        &mut self.0[place]
    }
}
