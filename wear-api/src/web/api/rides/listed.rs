//! The rides of a batch as they are read: no more of them than a batch may have, and no more of each than a ride has.

use std::cell::Cell;
use std::fmt;

use serde::Deserialize;
use serde::de::{DeserializeSeed, Deserializer, Error, IgnoredAny, MapAccess, SeqAccess, Visitor};
use serde_json::{Map, Value};

use super::batch::MOST_RIDES;

/// Most values that are kept of one ride: several times as many as it has fields. What has more has unknown fields, or lists where
/// none belong, and is refused for these.
const MOST_VALUES: usize = 64;

/// Rides, each as it was sent.
pub(super) struct Listed {
    /// The first of them, as many as a batch may have.
    pub(super) rides: Vec<Value>,
    /// How many were sent.
    pub(super) found: usize,
}

impl<'de> Deserialize<'de> for Listed {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_seq(All)
    }
}

struct All;

impl<'de> Visitor<'de> for All {
    type Value = Listed;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a sequence")
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut all: A) -> Result<Listed, A::Error> {
        let mut listed = Listed { rides: Vec::new(), found: 0 };
        loop {
            if listed.found < MOST_RIDES {
                let Some(ride) = all.next_element_seed(Bounded(&Cell::new(MOST_VALUES)))? else { break };
                listed.rides.push(ride);
            } else if all.next_element::<IgnoredAny>()?.is_none() {
                break;
            }
            listed.found += 1;
        }
        Ok(listed)
    }
}

/// A value of which no more than so many are kept; further ones are read and dropped.
struct Bounded<'a>(&'a Cell<usize>);

impl Bounded<'_> {
    /// Whether there is room for another one.
    fn room(&self) -> bool {
        let left = self.0.get();
        self.0.set(left.saturating_sub(1));
        left > 0
    }
}

impl<'de> DeserializeSeed<'de> for Bounded<'_> {
    type Value = Value;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Value, D::Error> {
        deserializer.deserialize_any(self)
    }
}

impl<'de> Visitor<'de> for Bounded<'_> {
    type Value = Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("any JSON value")
    }

    fn visit_bool<E>(self, value: bool) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_i64<E>(self, value: i64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_u64<E>(self, value: u64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_f64<E>(self, value: f64) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_str<E: Error>(self, value: &str) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_string<E>(self, value: String) -> Result<Value, E> {
        Ok(value.into())
    }

    fn visit_unit<E>(self) -> Result<Value, E> {
        Ok(Value::Null)
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut all: A) -> Result<Value, A::Error> {
        let mut kept = Vec::new();
        while self.room() {
            let Some(value) = all.next_element_seed(Bounded(self.0))? else { return Ok(kept.into()) };
            kept.push(value);
        }
        // Read as values are, so that what lies too deep is refused.
        while all.next_element_seed(Bounded(self.0))?.is_some() {}
        Ok(kept.into())
    }

    fn visit_map<A: MapAccess<'de>>(self, mut all: A) -> Result<Value, A::Error> {
        let mut kept = Map::new();
        while self.room() {
            let Some(name) = all.next_key::<String>()? else { return Ok(kept.into()) };
            let value = all.next_value_seed(Bounded(self.0))?;
            kept.insert(name, value);
        }
        while all.next_key::<IgnoredAny>()?.is_some() {
            all.next_value_seed(Bounded(self.0))?;
        }
        Ok(kept.into())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ride_is_kept_as_it_is_and_of_junk_no_more_than_a_ride_has() {
        let ride =
            r#"{"bike_id":"7","distance_km":18.4,"wet":true,"climb_m":-3,"source":null,"x":[1,{"y":2}]}"#;
        let listed: Listed = serde_json::from_str(&format!("[{ride},7]")).expect("rides");
        assert_eq!(listed.rides, [serde_json::from_str::<Value>(ride).expect("a value"), 7.into()]);
        let many = vec!["[]"; 5_000].join(",");
        let listed: Listed = serde_json::from_str(&format!("[[{many}],{{\"a\":[{many}]}}]")).expect("rides");
        assert_eq!(listed.found, 2);
        assert!(listed.rides[0].as_array().is_some_and(|kept| kept.len() < MOST_VALUES));
        let rides = vec!["[]"; MOST_RIDES + 5].join(",");
        let listed: Listed = serde_json::from_str(&format!("[{rides}]")).expect("rides");
        assert_eq!((listed.rides.len(), listed.found), (MOST_RIDES, MOST_RIDES + 5));
    }
}
