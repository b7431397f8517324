//! Every sentence of the pages: `texts/<language>.ftl`, in Fluent's syntax.
//!
//! A text is a method of [`Words`], made by `build.rs` of its key and the comment above it. A sentence that the library or
//! the service declares is found by its code ([`Words::said`]), a word of a vocabulary by itself ([`Words::word`]).

mod sentence;
#[cfg(test)]
mod tests;
#[cfg(test)]
mod variables;

use std::fmt::Display;
use std::sync::LazyLock;

use fixed_decimal::Decimal;
use fluent_bundle::concurrent::FluentBundle;
use fluent_bundle::types::FluentNumber;
use fluent_bundle::{FluentArgs, FluentResource, FluentValue};
use icu_decimal::DecimalFormatter;
use icu_locale_core::Locale;
use intl_memoizer::concurrent::IntlLangMemoizer;
use unic_langid::LanguageIdentifier;

pub(crate) use sentence::Sentence;

use super::Words;
use crate::domain::Language;

include!(concat!(env!("OUT_DIR"), "/texts.rs"));

/// The texts of a language.
const fn source(language: Language) -> &'static str {
    match language {
        Language::En => include_str!("../../../texts/en.ftl"),
        Language::De => include_str!("../../../texts/de.ftl"),
    }
}

/// A language as the pages write it.
pub(crate) struct Tongue {
    texts: FluentBundle<FluentResource>,
    numbers: DecimalFormatter,
    /// Names of months and weekdays.
    pub(crate) calendar: chrono::Locale,
}

/// One a language, in the order of [`Language::ALL`]; built once.
static TONGUES: LazyLock<Vec<Tongue>> =
    LazyLock::new(|| Language::ALL.iter().map(|&language| Tongue::of(language)).collect());

/// How a language is written.
pub(crate) fn tongue(language: Language) -> &'static Tongue {
    &TONGUES[language as usize]
}

impl Tongue {
    /// What `texts/<language>.ftl` says. The files are part of the program, and a test reads them all.
    fn of(language: Language) -> Self {
        let tag: LanguageIdentifier = language.as_str().parse().expect("a language's tag");
        let resource = FluentResource::try_new(source(language).to_owned());
        let resource = resource.unwrap_or_else(|(_, errors)| panic!("texts/{language}.ftl: {errors:?}"));
        let mut texts = FluentBundle::new_concurrent(vec![tag]);
        // Isolating marks are for text of mixed direction; the templates put `<bdi>` where it matters.
        texts.set_use_isolating(false);
        texts.set_formatter(Some(grouped));
        texts.add_resource(resource).unwrap_or_else(|errors| panic!("texts/{language}.ftl: {errors:?}"));
        let locale: Locale = language.as_str().parse().expect("a language's tag");
        let numbers = DecimalFormatter::try_new(locale.into(), Default::default()).expect("compiled data");
        let mut tongue = Self { texts, numbers, calendar: chrono::Locale::POSIX };
        let named = tongue.sentence("locale", "calendar", &FluentArgs::new()).unwrap_or_default();
        tongue.calendar = named.parse().unwrap_or_else(|error| panic!("texts/{language}.ftl: {error:?}"));
        tongue
    }

    fn text(&self, id: &str, arguments: &FluentArgs<'_>) -> Option<String> {
        Some(self.formatted(self.texts.get_message(id)?.value()?, arguments))
    }

    fn sentence(&self, group: &str, code: &str, arguments: &FluentArgs<'_>) -> Option<String> {
        let pattern = self.texts.get_message(group)?.get_attribute(code)?.value();
        Some(self.formatted(pattern, arguments))
    }

    fn formatted(&self, pattern: &fluent_syntax::ast::Pattern<&str>, arguments: &FluentArgs<'_>) -> String {
        self.texts.format_pattern(pattern, Some(arguments), &mut Vec::new()).into_owned()
    }

    /// A number that was written with a point, with this language's marks.
    pub(crate) fn grouped(&self, plain: &str) -> String {
        Decimal::try_from_str(plain)
            .map_or_else(|_| plain.to_owned(), |it| self.numbers.format(&it).to_string())
    }
}

/// The language's own marks in a number that stands in a text.
struct Marks(DecimalFormatter);

impl intl_memoizer::Memoizable for Marks {
    type Args = ();
    type Error = icu_provider::DataError;

    fn construct(language: LanguageIdentifier, (): ()) -> Result<Self, Self::Error> {
        let locale: Locale = language.to_string().parse().unwrap_or(Locale::UNKNOWN);
        DecimalFormatter::try_new(locale.into(), Default::default()).map(Self)
    }
}

fn grouped(value: &FluentValue<'_>, memoizer: &IntlLangMemoizer) -> Option<String> {
    let FluentValue::Number(number) = value else { return None };
    let number = Decimal::try_from_str(&number.as_string()).ok()?;
    memoizer.with_try_get::<Marks, _, _>((), |marks| marks.0.format(&number).to_string()).ok()
}

/// What plural rules can go by.
pub(crate) trait Quantity {
    /// It as a number.
    fn quantity(&self) -> f64;
}

macro_rules! quantities {
    ($($type:ty),+) => {$(
        impl Quantity for $type {
            fn quantity(&self) -> f64 {
                *self as f64
            }
        }
    )+};
}

quantities!(u16, u32, u64, i64, usize, f64);

impl<T: Quantity + ?Sized> Quantity for &T {
    fn quantity(&self) -> f64 {
        (**self).quantity()
    }
}

impl Words {
    fn counted(number: impl Quantity) -> FluentValue<'static> {
        FluentValue::Number(FluentNumber::new(number.quantity(), Default::default()))
    }

    fn shown(value: impl Display) -> FluentValue<'static> {
        FluentValue::String(value.to_string().into())
    }

    /// A text of this language.
    fn text<const N: usize>(&self, id: &str, values: [(&'static str, FluentValue<'static>); N]) -> String {
        let arguments = FluentArgs::from_iter(values);
        tongue(self.language).text(id, &arguments).unwrap_or_else(|| id.to_owned())
    }

    /// A sentence that the library or the service declares; in English as it stands there, unless a page says it
    /// otherwise.
    pub(crate) fn said(&self, sentence: &impl Sentence) -> String {
        let arguments = FluentArgs::from_iter(sentence.values(self));
        let own = tongue(self.language).sentence(sentence.group(), sentence.code(), &arguments);
        own.unwrap_or_else(|| sentence.to_string())
    }

    /// A word of a vocabulary as people call it; the word itself where nobody wrote one.
    pub(crate) fn word(&self, group: &str, word: &str) -> String {
        self.own_word(group, word).unwrap_or_else(|| word.replace('_', " "))
    }

    /// The same; none where nobody wrote one.
    pub(crate) fn own_word(&self, group: &str, word: &str) -> Option<String> {
        tongue(self.language).sentence(group, word, &FluentArgs::new())
    }

    /// What was done with a thing, by the word of the act; none where nobody wrote one.
    pub(crate) fn act(&self, act: &str, thing: &str) -> Option<String> {
        tongue(self.language).sentence("act", act, &FluentArgs::from_iter([("thing", Self::shown(thing))]))
    }
}
