//! One thing has one value in a whole recipe; and no recipe expects what it has just changed.

use super::assigned::{Assigned, Thing, assigned, value_words};
use super::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, StatementKind};
use std::collections::BTreeMap;

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let mut first: BTreeMap<Thing, Assigned<'_>> = BTreeMap::new();
    for statement in &recipe.statements {
        let mut told = false;
        for now in assigned(statement) {
            match first.get(&now.thing) {
                // Other rests of a switch are other positions too: said once.
                Some(before) if before.value != now.value && !told => {
                    told = !matches!(now.thing, Thing::Channel(_));
                    found.push(two_values(before, &now));
                }
                Some(_) => {}
                None => {
                    first.insert(now.thing.clone(), now);
                }
            }
        }
        if let StatementKind::Expect { setting, value } = &statement.what
            && let Some(before) = first.get(&Thing::Setting(setting.clone()))
        {
            let wanted = value_words(setting, value);
            if wanted != before.value && !before.searched {
                let message =
                    format!("by then {} is {}, not {wanted}: every run would stop here", before.thing, before.value);
                found.push(
                    Finding::error(codes::EXPECT_FAILS, statement.part(Part::Value), message)
                        .also(before.place, "set here")
                        .hint("an `expect` says what the board has before the recipe changes it: move it up"),
                );
            }
        }
    }
}

fn two_values(before: &Assigned<'_>, now: &Assigned<'_>) -> Finding {
    let message = format!(
        "{} has two values, {} and {}: which one the craft flies with would hang on the order of lines",
        now.thing, before.value, now.value
    );
    Finding::error(codes::TWO_VALUES, now.place, message)
        .also(before.place, format!("{} here", before.value))
        .hint("one thing has one value in a whole recipe: leave one of them out")
}
