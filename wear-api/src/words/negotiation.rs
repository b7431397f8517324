//! Which of our languages a reader prefers (RFC 9110, section 12.5.4; RFC 4647, section 3.4).

use crate::domain::Language;

/// The language of ours that an `Accept-Language` header likes best; none when it names none of them. `*` is no preference.
pub(crate) fn preferred(header: &str) -> Option<Language> {
    let mut best: Option<(f64, Language)> = None;
    let ranges = header.split(',').filter_map(range);
    let ranges: Vec<(String, f64)> = ranges.take(MOST).collect();
    for (tag, quality) in &ranges {
        let Some(language) = ours(tag) else { continue };
        // The longest range that names a language decides on it: `en;q=0` refuses English even where `en-GB` stands too.
        let decides = ranges
            .iter()
            .filter(|(other, _)| ours(other) == Some(language))
            .all(|(other, _)| tag.len() >= other.len());
        if decides && *quality > 0.0 && best.is_none_or(|(so_far, _)| *quality > so_far) {
            best = Some((*quality, language));
        }
    }
    best.map(|(_, language)| language)
}

/// Ranges that are looked at: more than any reader has languages.
const MOST: usize = 32;

/// The tag in lower case, and its quality; none where it isn't one.
fn range(text: &str) -> Option<(String, f64)> {
    let mut parts = text.split(';').map(str::trim);
    let tag = parts.next().filter(|tag| !tag.is_empty())?.to_ascii_lowercase();
    let quality = parts.find_map(|part| part.strip_prefix("q=").or_else(|| part.strip_prefix("Q=")));
    let quality = quality.map_or(Some(1.0), |q| q.trim().parse().ok().filter(|q| (0.0..=1.0).contains(q)))?;
    Some((tag, quality))
}

/// The language of ours that a tag leads to, cut off at its hyphens: `de-AT` is German.
fn ours(tag: &str) -> Option<Language> {
    tag.split('-').next()?.parse().ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_best_liked_of_our_languages_is_taken() {
        use Language::{De, En};
        for (header, expected) in [
            ("de", Some(De)),
            ("de-AT, en;q=0.8", Some(De)),
            ("en-GB;q=0.5, de;q=0.9", Some(De)),
            ("fr, de;q=0.3, en;q=0.2", Some(De)),
            ("en, de", Some(En)),
            ("de;q=0, en;q=0.1", Some(En)),
            ("DE ; q=1.0", Some(De)),
            ("*", None),
            ("fr, *;q=0.5", None),
            ("", None),
            ("de;q=2", None),
            ("de;q=x, en", Some(En)),
            ("deutsch", None),
            ("de;q=0", None),
        ] {
            assert_eq!(preferred(header), expected, "{header:?}");
        }
    }
}
