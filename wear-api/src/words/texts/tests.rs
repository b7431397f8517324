use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

use fluent_syntax::ast::{Entry, Pattern};
use fluent_syntax::parser;
use wear_core::drivetrain::Gearing;
use wear_core::drivetrain::symptom::{Cause, Symptom};

use super::{sentence, source, tongue, variables};
use crate::domain::{
    Advice, CareKind, FleetSort, Instrument, Language, Place, Role, Surface, SwapReason, Use,
};
use crate::service::Conflict;
use crate::web::problem::Kind;
use crate::words::Words;
use crate::words::reasons;

/// A text's key, `group.code` for a sentence by its code, and the variables in it.
type Texts<'a> = BTreeMap<String, BTreeSet<&'a str>>;

fn texts(language: Language) -> (Texts<'static>, Texts<'static>) {
    let resource =
        parser::parse(source(language)).unwrap_or_else(|(_, errors)| panic!("{language}: {errors:?}"));
    let (mut own, mut by_code) = (Texts::new(), Texts::new());
    let keep = |texts: &mut Texts<'static>, key: String, pattern: &Pattern<&'static str>| {
        assert!(
            texts.insert(key.clone(), variables::of_pattern(pattern)).is_none(),
            "{language}: {key} twice"
        );
    };
    for entry in &resource.body {
        if let Entry::Message(message) = entry {
            if let Some(value) = &message.value {
                keep(&mut own, message.id.name.to_owned(), value);
            }
            for attribute in &message.attributes {
                keep(&mut by_code, format!("{}.{}", message.id.name, attribute.id.name), &attribute.value);
            }
        } else {
            assert!(!matches!(entry, Entry::Junk { .. } | Entry::Term(_)), "{language}: {entry:?}");
        }
    }
    (own, by_code)
}

#[test]
fn every_language_has_the_same_texts_with_the_same_variables() {
    let (english, english_by_code) = texts(Language::En);
    assert!(english.len() > 500, "{}", english.len());
    for &language in Language::ALL {
        let (own, by_code) = texts(language);
        let keys = |texts: &Texts<'static>| texts.keys().cloned().collect::<BTreeSet<_>>();
        let apart: Vec<_> = keys(&english).symmetric_difference(&keys(&own)).cloned().collect();
        assert!(apart.is_empty(), "{language}: {apart:?}");
        for (key, variables) in &own {
            assert_eq!(variables, &english[key], "{language}: {key}");
        }
        // English may rest on what the library and the service say themselves.
        for (key, variables) in &english_by_code {
            assert_eq!(by_code.get(key), Some(variables), "{language}: {key}");
        }
    }
}

#[test]
fn every_sentence_and_word_has_its_text() {
    let words: [(&str, &[&str]); 13] = [
        ("role", Role::WORDS),
        ("fleet-sort", FleetSort::WORDS),
        ("surface-name", Surface::WORDS),
        ("help-advice", Advice::WORDS),
        ("walk-gauge-kind", &["drop_in", "drop_in_isolating"]),
        ("place", Place::WORDS),
        ("instrument", Instrument::WORDS),
        ("care", CareKind::WORDS),
        ("use", Use::WORDS),
        ("gearing", Gearing::WORDS),
        ("cause", Cause::WORDS),
        ("symptom", Symptom::WORDS),
        ("swap-reason", SwapReason::WORDS),
    ];
    let keys = |groups: &[(&str, &[&str])]| -> BTreeSet<String> {
        groups
            .iter()
            .flat_map(|(group, codes)| codes.iter().map(move |code| format!("{group}.{code}")))
            .collect()
    };
    let (words, mut sentences) = (keys(&words), keys(sentence::ALL));
    sentences.extend(keys(&[("reason", reasons::REASONS), ("ride-warning", reasons::RIDE_WARNINGS)]));
    let problems: Vec<&str> = Kind::ALL.iter().map(|kind| kind.slug()).collect();
    sentences.extend(keys(&[("problem", &problems)]));
    for &language in Language::ALL {
        let (_, by_code) = texts(language);
        let found: BTreeSet<String> = by_code.into_keys().collect();
        let missing: Vec<_> = words.difference(&found).collect();
        assert!(missing.is_empty(), "{language}: {missing:?}");
        if language != Language::En {
            let missing: Vec<_> = sentences.difference(&found).collect();
            assert!(missing.is_empty(), "{language}: {missing:?}");
        }
        let free = |key: &&String| {
            ["act.", "thing.", "locale.", "unit.", "vocabulary.", "quantity."]
                .iter()
                .any(|group| key.starts_with(group))
        };
        let unknown: Vec<_> = found
            .iter()
            .filter(|key| !words.contains(*key) && !sentences.contains(*key) && !free(key))
            .collect();
        assert!(unknown.is_empty(), "{language}: {unknown:?}");
    }
}

#[test]
fn every_language_is_built() {
    for &language in Language::ALL {
        assert_ne!(tongue(language).grouped("1234.5"), "1234.5", "{language}");
    }
}

#[test]
fn numbers_in_texts_have_their_plural_and_their_marks() {
    let (en, de) = (Words::of(Language::En), Words::of(Language::De));
    for (total, due, english, german) in [
        (1_u32, 0_u32, "1 bike, not due today", "1 Rad, heute nicht fällig"),
        (2, 1, "1 of 2 bikes due today", "1 von 2 Rädern heute fällig"),
        (5_000, 1_200, "1,200 of 5,000 bikes due today", "1.200 von 5.000 Rädern heute fällig"),
    ] {
        let said = (en.fleet_headline(total, due), de.fleet_headline(total, due));
        assert_eq!((said.0.as_str(), said.1.as_str()), (english, german));
    }
    assert_eq!(en.chance(0.1), "about 1 chance in 10");
    assert_eq!(de.chance(0.3), "etwa 3 von 10");
}

#[test]
fn a_sentence_is_said_by_its_code() {
    let (en, de) = (Words::of(Language::En), Words::of(Language::De));
    let off = Conflict::PartOff;
    assert_eq!(off.to_string(), "the part is off already");
    assert_eq!(
        (en.said(&off).as_str(), de.said(&off).as_str()),
        ("The part is off already.", "Das Teil ist schon ab.")
    );
    // English that a page says as the library does.
    let look = Cause::StiffLink.inspection();
    assert_eq!(en.said(&look), look.to_string());
    assert!(de.said(&look).starts_with("Kurbel rückwärts drehen"), "{}", de.said(&look));
}

/// Texts that are the same in all languages.
const SAME: [&str; 13] = [
    "advice-with",
    "people-name",
    "walk-gauge",
    "calibration-person",
    "product-name",
    "measured-percent",
    "lives-stay",
    "audit-other",
    "date-medium",
    "date-month",
    "unit-km",
    "calibration-do",
    "swap-reading-tool",
];

#[test]
fn every_text_is_translated() {
    let spoken = |language| {
        let resource = parser::parse(source(language)).expect("texts");
        let messages = resource.body.into_iter().filter_map(|entry| match entry {
            Entry::Message(message) => message.value.map(|value| (message.id.name, value)),
            _ => None,
        });
        messages.collect::<BTreeMap<_, _>>()
    };
    let english = spoken(Language::En);
    for &language in Language::ALL.iter().filter(|language| **language != Language::En) {
        for (key, text) in spoken(language) {
            let letters = format!("{text:?}").contains("TextElement");
            assert!(!letters || english[key] != text || SAME.contains(&key), "{language}: {key} is English");
        }
    }
}

/// A template's own words: what is left of it without tags, expressions and statements.
fn own_words(template: &str) -> String {
    let mut left = template.to_owned();
    for (open, close) in [("{#", "#}"), ("{%", "%}"), ("{{", "}}")] {
        while let Some(start) = left.find(open) {
            let end = left[start..].find(close).map_or(left.len(), |end| start + end + close.len());
            left.replace_range(start..end, "");
        }
    }
    let mut words = String::new();
    for part in left.split('<') {
        let (tag, text) = part.split_once('>').unwrap_or(("", part));
        for spoken in ["aria-label=\"", "alt=\"", "placeholder=\"", "title=\""] {
            if let Some((_, rest)) = tag.split_once(spoken) {
                words.push_str(rest.split('"').next().unwrap_or_default());
            }
        }
        words.push_str(&text.replace("&nbsp;", " "));
    }
    words
}

#[test]
fn templates_have_no_words_of_their_own() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("templates");
    let mut seen = 0;
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        let words = own_words(&fs::read_to_string(&path).unwrap());
        let letters: String = words.chars().filter(|c| c.is_alphabetic()).collect();
        assert_eq!(letters, "", "{} has words of its own: {words}", path.display());
        seen += 1;
    }
    assert!(seen > 3);
}

#[test]
fn own_words_are_found() {
    assert!(own_words("<p>{{ f.x() }} Hello</p>").contains("Hello"));
    assert!(own_words("<a title=\"Hello\">{% if x %}{% endif %}</a>").contains("Hello"));
    assert!(!own_words("<p class=\"hello\">{{ f.hello() }}</p>").contains("hello"));
}
