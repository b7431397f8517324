//! Every sentence of the pages, in each language side by side: what one language has, the other can't lack.
//!
//! A text is a method of [`super::words::Words`]; what stands in braces is an argument of it.

macro_rules! texts {
    ($($name:ident($($arg:ident),*) = $en:literal | $de:literal;)+) => {
        impl $crate::web::pages::words::Words {
            $(pub(in crate::web::pages) fn $name(&self, $($arg: impl std::fmt::Display),*) -> String {
                match self.language {
                    $crate::domain::Language::En => format!($en),
                    $crate::domain::Language::De => format!($de),
                }
            })+
        }

        #[cfg(test)]
        pub(super) const CATALOGUE: &[(&str, &str, &str)] = &[$((stringify!($name), $en, $de)),+];
    };
}

mod bench;
mod bike;
mod chain_length;
mod fleet;
mod frame;
mod hooks;
mod lives;
mod measure;
mod of_core;
mod of_service;
mod of_tables;
mod orders;
mod parts;
mod policy;
mod settings;
mod swap;
mod symptom;
mod tables;
mod track;

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::fs;
    use std::path::Path;

    fn catalogue() -> Vec<(&'static str, &'static str, &'static str)> {
        [
            super::bench::CATALOGUE,
            super::bike::CATALOGUE,
            super::chain_length::CATALOGUE,
            super::fleet::CATALOGUE,
            super::frame::CATALOGUE,
            super::hooks::CATALOGUE,
            super::lives::CATALOGUE,
            super::measure::CATALOGUE,
            super::orders::CATALOGUE,
            super::parts::CATALOGUE,
            super::policy::CATALOGUE,
            super::settings::CATALOGUE,
            super::swap::CATALOGUE,
            super::tables::CATALOGUE,
            super::symptom::CATALOGUE,
            super::track::CATALOGUE,
        ]
        .concat()
    }

    fn braces(text: &str) -> BTreeSet<&str> {
        text.split('{').skip(1).filter_map(|rest| rest.split('}').next()).collect()
    }

    /// Texts that are the same in both languages.
    const SAME: [&str; 3] = ["measured_percent", "lives_stay", "audit_other"];

    #[test]
    fn every_text_is_whole_in_every_language() {
        for (name, en, de) in catalogue() {
            assert!(!en.trim().is_empty() && !de.trim().is_empty(), "{name} is empty");
            assert_eq!(braces(en), braces(de), "{name} says different things");
            let same = en == de && en.chars().any(char::is_alphabetic);
            assert!(!same || SAME.contains(&name), "{name} isn't translated: {en}");
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
}
