//! Stick figures that some stick could meet.

use super::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, StatementKind};

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    for statement in &recipe.statements {
        let StatementKind::TestSticks { centre: (centre, close), ends: (low, high, tolerance) } = statement.what else {
            continue;
        };
        let mut wrong = |part, message: String, advice: &str| {
            found.push(Finding::error(codes::STICK_RANGE, statement.part(part), message).hint(advice));
        };
        if low >= high {
            let message =
                format!("the sticks' ends {low} and {high} leave no travel between them: no stick could pass");
            wrong(Part::Limit, message, "write the lower end first");
        } else if centre <= low || centre >= high {
            let message = format!("a centre of {centre} is not between the ends {low} and {high}: no stick could pass");
            wrong(Part::Value, message, "write a centre between the ends; 1500 is usual");
        }
        if close.0 < 1 || tolerance.0 < 1 {
            let message = "no stick rests to less than a microsecond: the test could not pass".to_owned();
            wrong(Part::Within, message, "write `within` 1 or more; 5 for the centre and 15 for the ends are usual");
        }
    }
}
