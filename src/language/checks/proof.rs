//! Proof: what a recipe sets for safety it also tests, and tests what will stay on the board.

use super::codes;
use crate::language::ceilings;
use crate::language::finding::Finding;
use crate::language::recipe::{Part, Recipe, Statement, StatementKind};
use crate::language::span::Span;
use crate::language::units::time;

/// What a test proves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Subject {
    Arm,
    Failsafe,
    Buzzer,
    Idle,
}

impl Subject {
    /// What a statement sets.
    fn set_by(what: &StatementKind) -> Option<Self> {
        match what {
            StatementKind::Bind { function, .. } if function.is_arm() => Some(Self::Arm),
            StatementKind::Bind { function, .. } if function.0 == "buzzer" => Some(Self::Buzzer),
            StatementKind::Failsafe(_) => Some(Self::Failsafe),
            StatementKind::IdleAt(_) | StatementKind::IdleSearch(_) => Some(Self::Idle),
            _ => None,
        }
    }

    /// What a statement tests.
    fn tested_by(what: &StatementKind) -> Option<Self> {
        match what {
            StatementKind::TestArm | StatementKind::TestCut { .. } => Some(Self::Arm),
            StatementKind::TestFailsafe { .. } => Some(Self::Failsafe),
            StatementKind::TestBuzzer => Some(Self::Buzzer),
            StatementKind::TestIdle { .. } => Some(Self::Idle),
            _ => None,
        }
    }
}

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    tested(recipe, found);
    kept(recipe, found);
    in_time(recipe, found);
}

/// Motors that are cut after a wait cannot rest before it is over.
fn in_time(recipe: &Recipe, found: &mut Vec<Finding>) {
    let set = recipe.statements.iter().find_map(|s| match s.what {
        // A wait that no recipe may have is told as that.
        StatementKind::Failsafe(wait) if wait <= ceilings::LINK_LOSS_WAIT => Some((wait, s)),
        _ => None,
    });
    let Some((wait, set)) = set else { return };
    for statement in &recipe.statements {
        let StatementKind::TestFailsafe { within } = statement.what else { continue };
        if within <= wait && !within.is_zero() {
            let message = format!(
                "the board waits {} before it cuts the motors, and {} are allowed: the test could not pass",
                time(wait),
                time(within)
            );
            found.push(
                Finding::error(codes::TOO_SOON, statement.part(Part::Within), message)
                    .also(set.part(Part::Value), "the wait")
                    .hint("allow the wait, and some tenths of a second in which the board notices and the motors stop"),
            );
        }
    }
}

/// Arm, failsafe and buzzer have a test below the line that set them. Cutting is a second proof of
/// the arm switch, and does not replace the first.
fn tested(recipe: &Recipe, found: &mut Vec<Finding>) {
    let subjects = [
        (Subject::Arm, "the arm switch", "test arm", "nobody would know whether it disarms in every other position"),
        (
            Subject::Failsafe,
            "the failsafe",
            "test failsafe",
            "nobody would know whether a lost link really cuts the motors",
        ),
        (Subject::Buzzer, "the buzzer", "test buzzer", "a craft down in high grass may stay silent"),
    ];
    for (subject, name, test, then) in subjects {
        let last = recipe.statements.iter().rposition(|s| Subject::set_by(&s.what) == Some(subject));
        let Some(index) = last else { continue };
        let proves = |s: &Statement| match subject {
            Subject::Arm => matches!(s.what, StatementKind::TestArm),
            _ => Subject::tested_by(&s.what) == Some(subject),
        };
        if recipe.statements[index..].iter().any(proves) {
            continue;
        }
        let set = &recipe.statements[index];
        let finding = match recipe.statements[..index].iter().find(|s| proves(s)) {
            Some(early) => Finding::warning(
                codes::NOT_TESTED,
                &set.span,
                format!("{name} is tested only before this line sets it: {then}"),
            )
            .also(&early.span, "tested here"),
            None => Finding::warning(codes::NOT_TESTED, &set.span, format!("{name} is never tested: {then}")),
        };
        let keep = recipe.statements[index..].iter().rev().find(|s| matches!(s.what, StatementKind::Keep));
        found.push(match keep {
            Some(keep) => {
                let below = Span { file: keep.span.file, range: keep.span.range.end..keep.span.range.end };
                let title = format!("write `{test}` below the `keep` that stores it");
                finding.also(&keep.span, "stored here").replace(title, below, format!("\n{test}"))
            }
            None => finding.hint(format!("write `keep`, and `{test}` below it")),
        });
    }
}

/// A test before the `keep` proves what the next restart may forget.
fn kept(recipe: &Recipe, found: &mut Vec<Finding>) {
    let mut pending: Vec<(Subject, &Statement)> = Vec::new();
    for statement in &recipe.statements {
        if matches!(statement.what, StatementKind::Keep) {
            pending.clear();
        }
        if let Some(subject) = Subject::set_by(&statement.what) {
            pending.push((subject, statement));
        }
        let Some(tested) = Subject::tested_by(&statement.what) else { continue };
        if let Some((_, set)) = pending.iter().rfind(|(subject, _)| *subject == tested) {
            let message = "this tests what is not stored yet: it proves nothing about the craft after its next restart";
            found.push(
                Finding::suggestion(codes::TEST_BEFORE_KEEP, &statement.span, message)
                    .also(&set.span, "set here, and not kept before the test")
                    .hint("write `keep` before the tests"),
            );
        }
    }
}
