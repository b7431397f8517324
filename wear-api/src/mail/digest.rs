//! A digest's message: what is due, in the words of its language, as plain text and as HTML.

use std::fmt::Write as _;

use askama::Template;
use chrono::NaiveDate;
use wear_core::Reason;
use wear_core::degradation::Quantiles;

use super::Letter;
use crate::domain::{Advice, BikeId, Digest, Timestamp, Workshop};
use crate::words::Words;

/// What a digest lists.
#[derive(Debug, Clone, PartialEq)]
pub struct Listing {
    /// The date where the workshop is.
    pub today: NaiveDate,
    /// The last day whose work is listed.
    pub until: NaiveDate,
    /// What is due, by advice, the most urgent first.
    pub sections: Vec<Section>,
    /// How many bikes are due.
    pub due: i64,
}

/// Bikes of one advice.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// What to do.
    pub advice: Advice,
    /// Those that are listed.
    pub bikes: Vec<ListedBike>,
}

/// A bike that is due.
#[derive(Debug, Clone, PartialEq)]
pub struct ListedBike {
    /// The bike.
    pub bike_id: BikeId,
    /// What people call it.
    pub label: String,
    /// Its group.
    pub group: String,
    /// By when its chain is to be swapped.
    pub swap_by: Option<NaiveDate>,
    /// By when a reading pays.
    pub measure_by: Option<NaiveDate>,
    /// Why.
    pub reason: Option<Reason>,
    /// How far the chain has to go, km.
    pub remaining: Option<Quantiles>,
    /// Probability that it is over its limit now.
    pub over: Option<f64>,
}

impl Listing {
    /// How many bikes are due and aren't listed.
    #[must_use]
    pub fn more(&self) -> i64 {
        let listed: usize = self.sections.iter().map(|section| section.bikes.len()).sum();
        self.due - i64::try_from(listed).unwrap_or(i64::MAX)
    }
}

#[derive(Template)]
#[template(path = "digest.html")]
struct Html<'a> {
    words: &'a Words,
    title: &'a str,
    intro: &'a str,
    sections: &'a [Shown],
    more: Option<(String, String)>,
    caution: Option<String>,
    because: &'a str,
    unsubscribe: &'a str,
}

struct Shown {
    title: String,
    bikes: Vec<Line>,
}

struct Line {
    label: String,
    group: String,
    says: String,
    url: String,
}

/// The message of a digest for a date. `test` names one that a manager asked for.
#[must_use]
pub fn letter(
    digest: &Digest,
    workshop: &Workshop,
    listing: &Listing,
    public_url: &str,
    (on, test): (NaiveDate, Option<Timestamp>),
) -> Letter {
    let words = Words::for_workshop(workshop, Some(digest.facts.language));
    let name = workshop.settings.name.as_str();
    let sections: Vec<Shown> =
        listing.sections.iter().map(|section| shown(&words, section, listing.today, public_url)).collect();
    let fleet = format!("{public_url}/fleet");
    let more = (listing.more() > 0).then(|| (words.digest_more(listing.more()), fleet));
    let intro = if listing.due == 0 {
        words.digest_nothing(words.date(listing.until))
    } else {
        words.digest_intro(listing.due, words.date(listing.until))
    };
    let title = words.digest_title(name, words.date(listing.today));
    let caution = (listing.due > 0).then(|| words.digest_caution());
    let because = words.digest_because(name);
    let path = format!("/unsubscribe/{}", digest.secret.reveal());
    let unsubscribe = format!("{public_url}{path}");
    let subject = if listing.due == 0 {
        words.digest_subject_nothing(name)
    } else {
        words.digest_subject(listing.due, name)
    };
    let text = {
        let mut text = format!("{title}\n\n{intro}\n");
        for Shown { title, bikes } in &sections {
            // Writing to a string doesn't fail.
            let _ = writeln!(text, "\n{title}");
            for Line { label, group, says, url } in bikes {
                let _ = writeln!(text, "- {label} ({group}): {says}\n  {url}");
            }
        }
        if let Some((says, url)) = &more {
            let _ = writeln!(text, "\n{says}: {url}");
        }
        if let Some(says) = &caution {
            let _ = writeln!(text, "\n{says}");
        }
        let _ = writeln!(text, "\n-- \n{because}\n{}: {unsubscribe}", words.digest_unsubscribe());
        text
    };
    let html = Html {
        words: &words,
        title: &title,
        intro: &intro,
        sections: &sections,
        more: more.clone(),
        caution: caution.clone(),
        because: &because,
        unsubscribe: &unsubscribe,
    };
    let id = match test {
        None => format!("digest.{}.{on}", digest.id.uuid().simple()),
        Some(at) => format!("digest.{}.test.{}", digest.id.uuid().simple(), at.micros()),
    };
    Letter {
        to: digest.facts.address.clone(),
        id,
        subject,
        html: html.render().unwrap_or_default(),
        text,
        language: digest.facts.language.as_str(),
        unsubscribe: path,
    }
}

fn shown(words: &Words, section: &Section, today: NaiveDate, public_url: &str) -> Shown {
    let title = words.advice(section.advice);
    let bikes = section.bikes.iter().map(|bike| {
        let to_do = words.what_to_do(section.advice, bike.swap_by, bike.measure_by, today);
        let why = words.why(section.advice, bike.reason, bike.remaining, bike.over);
        Line {
            label: bike.label.clone(),
            group: bike.group.clone(),
            says: match (why.is_empty(), to_do == title) {
                (true, _) => to_do,
                // The heading has said so.
                (false, true) => why,
                (false, false) => format!("{to_do}. {why}"),
            },
            url: format!("{public_url}/bikes/{}", bike.bike_id),
        }
    });
    let bikes = bikes.collect();
    Shown { title, bikes }
}
