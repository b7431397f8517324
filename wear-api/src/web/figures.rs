//! Numbers of answers, with as many digits as they mean.
//!
//! What is estimated is told to four significant digits, more than anybody knows of a chain, in place of the seventeen that
//! a computer has. Whoever compares computations asks for all of them with `Prefer: numbers=exact` (RFC 7240). As the
//! language of an answer, this is known wherever an answer is put together.

use std::future::Future;

use actix_web::http::header::{HeaderMap, HeaderName, HeaderValue, VARY};
use serde::{Serialize, Serializer};

/// Significant digits of an estimate.
const DIGITS: i32 = 4;

/// Parts of a kilometre to which sums of what was entered are told: millimetres, as distances are stored.
const PARTS_OF_KM: f64 = 1e6;

/// What a request may prefer.
const EXACT: &str = "numbers=exact";

tokio::task_local! {
    static ARE_EXACT: bool;
}

/// Whether a request prefers exact numbers.
#[must_use]
pub fn asked(headers: &HeaderMap) -> bool {
    let preferences =
        headers.get_all(HeaderName::from_static("prefer")).filter_map(|value| value.to_str().ok());
    preferences.flat_map(|value| value.split([',', ';'])).any(|preference| preference.trim() == EXACT)
}

/// Runs `work` as part of a request that prefers exact numbers, or doesn't.
pub async fn during<F: Future>(are_exact: bool, work: F) -> F::Output {
    ARE_EXACT.scope(are_exact, work).await
}

/// Says that numbers are exact, and that another request may get others.
pub fn label(headers: &mut HeaderMap, are_exact: bool) {
    if are_exact {
        headers.insert(HeaderName::from_static("preference-applied"), HeaderValue::from_static(EXACT));
    }
    headers.append(VARY, HeaderValue::from_static("prefer"));
}

fn are_exact() -> bool {
    ARE_EXACT.try_with(|are_exact| *are_exact).unwrap_or(false)
}

/// `x` to four significant digits.
fn rounded(x: f64) -> f64 {
    if x == 0.0 || !x.is_finite() {
        return x;
    }
    // By its decimal text, as dividing by a power of ten would bring digits back.
    format!("{x:.*e}", DIGITS as usize - 1).parse().unwrap_or(x)
}

/// An estimate.
///
/// # Errors
/// Those of the serializer.
pub fn told<S: Serializer>(x: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    if are_exact() { *x } else { rounded(*x) }.serialize(serializer)
}

/// An estimate, if there is one.
///
/// # Errors
/// Those of the serializer.
pub fn told_if_any<S: Serializer>(x: &Option<f64>, serializer: S) -> Result<S::Ok, S::Error> {
    x.map(|x| if are_exact() { x } else { rounded(x) }).serialize(serializer)
}

/// A sum of distances that were entered, km.
///
/// # Errors
/// Those of the serializer.
pub fn summed<S: Serializer>(km: &f64, serializer: S) -> Result<S::Ok, S::Error> {
    if are_exact() { *km } else { (km * PARTS_OF_KM).round() / PARTS_OF_KM }.serialize(serializer)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_digits_are_told() {
        for (x, expected) in [
            (0.459_317_585_301_841_86, "0.4593"),
            (2_144.718_790_461_487, "2145.0"),
            (5.416_253_464_618_492e-7, "5.416e-7"),
            (13_147.6, "13150.0"),
            (-0.07, "-0.07"),
            (0.0, "0.0"),
            (1.0, "1.0"),
            (0.999_99, "1.0"),
        ] {
            assert_eq!(serde_json::to_string(&rounded(x)).unwrap(), expected);
        }
    }

    #[test]
    fn a_preference_among_others_is_found() {
        let prefers = |value| {
            let mut headers = HeaderMap::new();
            headers.append(HeaderName::from_static("prefer"), HeaderValue::from_static(value));
            asked(&headers)
        };
        assert!(
            prefers("numbers=exact") && prefers("respond-async, numbers=exact") && !prefers("numbers=few")
        );
    }
}
