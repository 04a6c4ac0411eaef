//! What a board that its sheet describes cannot give: said at the statement that needs it, before any bench.
//!
//! Must not be here: boards that are asked what they give, as over MAVLink.

use crate::board::console::Capability;
use crate::board::sheet::{LinkKind, Sheet};
use crate::language::checks::codes;
use crate::language::finding::Finding;
use crate::language::recipe::{Recipe, StatementKind};
use crate::language::turning::{self, Does};

pub(super) fn check(recipe: &Recipe, sheet: &Sheet, found: &mut Vec<Finding>) {
    let link = match &sheet.link {
        LinkKind::Mavlink => return,
        LinkKind::Console(_) => "the console of",
        LinkKind::Packets(_) => "what is known of the packets of",
    };
    let arms_while_spoken_to = sheet.console().is_none_or(|console| console.arms_while_open);
    for statement in &recipe.statements {
        let lacks: Vec<Capability> =
            needs(&statement.what, sheet).into_iter().filter(|need| !sheet.provides(*need)).collect();
        if !lacks.is_empty() {
            let words: Vec<&str> = lacks.iter().map(|need| need.words()).collect();
            let message = format!("{link} {} gives no {}, which this needs", sheet.board, words.join(", no "));
            let tables: Vec<String> = lacks.iter().map(|need| table(sheet, *need)).collect();
            found.push(Finding::error(codes::CONSOLE_LACKS, &statement.span, message).hint(format!(
                "leave it out, or add {} to the sheet {}",
                tables.join(", "),
                sheet.origin
            )));
        }
        if !arms_while_spoken_to && arms(&statement.what) {
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

/// Where a sheet says it.
fn table(sheet: &Sheet, need: Capability) -> String {
    match (&sheet.link, need) {
        (LinkKind::Packets(_), Capability::Write) => "`write` under [packets.settings]".to_owned(),
        _ => format!("[{}.{}]", sheet.link.word(), need.key()),
    }
}

/// Whether the operator's switch arms in the course of it.
fn arms(what: &StatementKind) -> bool {
    matches!(turning::does(what), Does::Arms | Does::RunsBySwitch)
}

/// What a statement needs of the link. The motor outputs are needed by all: a board that is not seen still is left alone.
fn needs(what: &StatementKind, sheet: &Sheet) -> Vec<Capability> {
    let mut needs = Vec::new();
    if arms(what) || turning::runs_motors(what) {
        needs.extend([Capability::Outputs, Capability::Channels, Capability::Attitude, Capability::Stop]);
        // Arming with the battery out needs no pack voltage, unless the current is watched.
        if turning::runs_motors(what) || sheet.most_current.is_some() {
            needs.push(Capability::Power);
        }
    }
    match turning::does(what) {
        Does::Watches => needs.extend([Capability::Outputs, Capability::Channels]),
        Does::PlugsIn => needs.extend([Capability::Outputs, Capability::Channels, Capability::Power]),
        Does::Keeps => needs.extend([Capability::Outputs, Capability::Store, Capability::Restart]),
        Does::Writes => needs.extend([Capability::Outputs, Capability::Write]),
        Does::RunsBySwitch if matches!(what, StatementKind::IdleSearch(_)) => needs.push(Capability::Write),
        Does::Looks | Does::PlugsOut | Does::Arms | Does::RunsBySwitch | Does::RunsByCommand => {}
    }
    if matches!(what, StatementKind::TestAttitude | StatementKind::CalibrateLevel) {
        needs.push(Capability::Attitude);
    }
    let mut once: Vec<Capability> = Vec::new();
    for need in needs {
        if !once.contains(&need) {
            once.push(need);
        }
    }
    once
}
