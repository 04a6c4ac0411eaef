//! Propellers off before anything that can turn a motor: said at each statement, not only the first.

use super::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Recipe, Require, Statement, StatementKind};
use crate::language::span::Span;
use crate::language::turning::{battery_in_after, turns_motors, turns_motors_with_battery};

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    let mut battery_in = false;
    for statement in &recipe.statements {
        let what = &statement.what;
        if matches!(what, StatementKind::Require(Require::PropsOff)) {
            return;
        }
        if turns_motors(what) {
            found.push(missing(statement, "this can turn a motor"));
        } else if battery_in && turns_motors_with_battery(what) {
            found.push(missing(statement, "with the battery in, this can turn a motor"));
        }
        battery_in = battery_in_after(what, battery_in);
    }
}

/// The finding at a statement; `why` begins its sentence.
#[must_use]
pub fn missing(statement: &Statement, why: &str) -> Finding {
    let before = Span { file: statement.span.file, range: statement.span.range.start..statement.span.range.start };
    let message =
        format!("{why}, and nothing before it requires the propellers off: a motor that starts by surprise would cut");
    Finding::error(codes::PROPS_OFF_MISSING, &statement.span, message).replace(
        "write `require props off` before this line",
        &before,
        "require props off\n",
    )
}
