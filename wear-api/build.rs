//! Builds again when a migration is added, as the program carries them, and makes a method of each text of the pages:
//! a page that asks for a text that isn't there, or with other arguments, doesn't compile, and neither stays a text that
//! nobody asks for without a warning.

use std::fmt::Write as _;
use std::path::Path;
use std::{env, fs};

use fluent_syntax::ast::{Entry, Message};
use fluent_syntax::parser;

#[path = "src/words/texts/variables.rs"]
mod variables;

const ENGLISH: &str = "texts/en.ftl";

fn main() {
    println!("cargo::rerun-if-changed=../migrations");
    println!("cargo::rerun-if-changed=texts");
    println!("cargo::rerun-if-changed=src/words/texts/variables.rs");
    let source = fs::read_to_string(ENGLISH).expect("the English texts");
    let resource = parser::parse(source.as_str()).unwrap_or_else(|(_, errors)| {
        panic!("{ENGLISH}: {errors:?}");
    });
    let mut methods = String::from("impl crate::words::Words {\n");
    for entry in &resource.body {
        if let Entry::Message(message) = entry {
            method(message, &mut methods);
        }
    }
    methods.push_str("}\n");
    let target = Path::new(&env::var_os("OUT_DIR").expect("cargo's folder")).join("texts.rs");
    fs::write(target, methods).expect("the methods");
}

/// One argument of a text, as the comment above it names it: `$count (Number)`.
struct Argument {
    name: String,
    is_number: bool,
}

fn arguments(message: &Message<&str>) -> Vec<Argument> {
    let comment = message.comment.as_ref().map(|comment| comment.content.join(" ")).unwrap_or_default();
    comment
        .split(',')
        .filter_map(|part| part.trim().strip_prefix('$'))
        .map(|part| Argument {
            name: part.split_whitespace().next().unwrap_or_default().to_owned(),
            is_number: part.ends_with("(Number)"),
        })
        .collect()
}

/// A text without a value of its own holds sentences by their code, which no method names.
fn method(message: &Message<&str>, out: &mut String) {
    let Some(value) = &message.value else { return };
    let id = message.id.name;
    let arguments = arguments(message);
    let mut named: Vec<&str> = arguments.iter().map(|argument| argument.name.as_str()).collect();
    named.sort_unstable();
    let used: Vec<&str> = variables::of_pattern(value).into_iter().collect();
    assert_eq!(named, used, "{ENGLISH}: the comment above {id} names other variables than the text");
    let mut signature = String::new();
    let mut values = String::new();
    for Argument { name, is_number } in &arguments {
        let (kind, value) =
            if *is_number { ("Quantity", "Self::counted") } else { ("std::fmt::Display", "Self::shown") };
        write!(signature, ", {name}: impl {kind}").expect("a string takes it");
        write!(values, "(\"{name}\", {value}({name})), ").expect("a string takes it");
    }
    let method = id.replace('-', "_");
    writeln!(
        out,
        "    #[doc = \"`{id}`.\"]\n    pub(crate) fn {method}(&self{signature}) -> String {{\n        \
         self.text(\"{id}\", [{}])\n    }}",
        values.trim_end_matches(", "),
    )
    .expect("a string takes it");
}
