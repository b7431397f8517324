//! Which variables a text names; the build and the tests look.

use std::collections::BTreeSet;

use fluent_syntax::ast::{Expression, InlineExpression, Pattern, PatternElement};

/// The variables of a text, those of its plural forms included.
pub(crate) fn of_pattern<'a>(pattern: &Pattern<&'a str>) -> BTreeSet<&'a str> {
    let mut found = BTreeSet::new();
    add(pattern, &mut found);
    found
}

fn add<'a>(pattern: &Pattern<&'a str>, found: &mut BTreeSet<&'a str>) {
    for element in &pattern.elements {
        if let PatternElement::Placeable { expression } = element {
            match expression {
                Expression::Inline(inline) => add_inline(inline, found),
                Expression::Select { selector, variants } => {
                    add_inline(selector, found);
                    variants.iter().for_each(|variant| add(&variant.value, found));
                }
            }
        }
    }
}

fn add_inline<'a>(inline: &InlineExpression<&'a str>, found: &mut BTreeSet<&'a str>) {
    if let InlineExpression::VariableReference { id } = inline {
        found.insert(id.name);
    }
}
