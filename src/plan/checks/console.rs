//! What a board's console cannot give: said at the statement that needs it, before any bench.
//!
//! Must not be here: boards that are asked what they give, as over MAVLink.

use crate::board::console::{ConsoleSheet, Need};
use crate::board::sheet::Sheet;
use crate::language::checks::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Recipe, Require, What};
use crate::language::turning;

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let Some(console) = sheet.console() else { return };
    for statement in &recipe.statements {
        let lacks: Vec<Need> = needs(&statement.what, sheet).into_iter().filter(|need| lacks(console, *need)).collect();
        if let Some(first) = lacks.first() {
            let words: Vec<&str> = lacks.iter().map(|need| need.words()).collect();
            let message = format!("the console of {} gives no {}, which this needs", sheet.board, words.join(", no "));
            found.push(Finding::error(codes::CONSOLE_LACKS, &statement.span, message).hint(format!(
                "leave it out, or add [console.{}] to the sheet {}",
                first.key(),
                sheet.origin
            )));
        }
        if !console.arms_while_open && arms(&statement.what) {
            let message = format!(
                "{} does not arm while its console is open (sheet {}), and without it nobody could watch or stop this",
                sheet.board, sheet.origin
            );
            found.push(
                Finding::error(codes::CONSOLE_OPEN, &statement.span, message)
                    .hint("leave it out, and try it by hand with the propellers off"),
            );
        }
    }
}

fn lacks(console: &ConsoleSheet, need: Need) -> bool {
    console.exchange(need).is_none()
}

/// Whether the operator's switch arms in the course of it.
fn arms(what: &What) -> bool {
    let by_command = matches!(what, What::TestMotors | What::OrderMotors);
    matches!(what, What::TestArm) || (turning::runs_motors(what) && !by_command)
}

/// What a statement needs of the link. The motor outputs are needed by all: a board that is not seen still is left alone.
fn needs(what: &What, sheet: &Sheet) -> Vec<Need> {
    let mut needs = Vec::new();
    if arms(what) || turning::runs_motors(what) {
        needs.extend([Need::Outputs, Need::Channels, Need::Attitude, Need::Stop]);
        // Arming with the battery out needs no pack voltage, unless the current is watched.
        if turning::runs_motors(what) || sheet.most_current.is_some() {
            needs.push(Need::Power);
        }
    }
    match what {
        What::FindSwitch { .. } | What::FindSticks { .. } | What::FindLinkLoss { .. } | What::TestSticks { .. } => {
            needs.extend([Need::Outputs, Need::Channels]);
        }
        What::PowerCycle | What::Require(Require::Battery { inside: true }) => {
            needs.extend([Need::Outputs, Need::Channels, Need::Power]);
        }
        What::Keep => needs.extend([Need::Outputs, Need::Store, Need::Restart]),
        What::Receiver { .. }
        | What::Channels(_)
        | What::Bind { .. }
        | What::Unbind(_)
        | What::AtZeroThrottle(_)
        | What::IdleAt(_)
        | What::IdleSearch(_)
        | What::Signal { .. }
        | What::Set { .. } => needs.extend([Need::Outputs, Need::Write]),
        _ => {}
    }
    let mut once: Vec<Need> = Vec::new();
    for need in needs {
        if !once.contains(&need) {
            once.push(need);
        }
    }
    once
}
