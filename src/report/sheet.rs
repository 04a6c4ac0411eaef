//! A sheet as it was checked, and as it was tried on a board: text and JSON.
//!
//! Promises: what came from a board or a document passes the gate. Must not be here: reading a sheet, speaking to a board.

use super::fields;
use super::gate;
use super::sheet_facts::{Fact, facts};
use crate::board::console::Capability;
use crate::board::document::DocumentError;
use crate::board::leftovers::{Leftover, leftovers};
use crate::board::sheet::{BandNames, LinkKind, Sheet};
use crate::board::value::SettingName;
use crate::board::vocabulary::WORDS;
use crate::plan::abilities::{Ability, abilities};
use crate::plan::titles::count;
use crate::seam::sheet_trial::{Contradiction, Reading, Trial};
use serde::Serialize;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// What `check-sheet` reports.
#[derive(Debug, Serialize)]
pub struct SheetJson {
    schema: &'static str,
    findings: Vec<FindingJson>,
    board: Option<String>,
    link: Option<&'static str>,
    words_without_setting: Vec<&'static str>,
    not_given: Vec<LackJson>,
    facts: Vec<Fact>,
    recipes_can: Vec<String>,
    recipes_cannot: Vec<CannotJson>,
    trial: Option<TrialJson>,
}

#[derive(Debug, Serialize)]
struct FindingJson {
    severity: &'static str,
    message: String,
    hints: Vec<String>,
    at: AtJson,
}

#[derive(Debug, Serialize)]
struct AtJson {
    file: String,
    line: usize,
    column: usize,
}

#[derive(Debug, Serialize)]
struct CannotJson {
    statement: String,
    why: String,
}

#[derive(Debug, Serialize)]
struct LackJson {
    need: &'static str,
    then: &'static str,
}

#[derive(Debug, Serialize)]
struct TrialJson {
    readings: Vec<ReadingJson>,
    settings_on_board: usize,
    settings_not_named: usize,
    names_not_on_board: Vec<String>,
    contradictions: Vec<Contradiction>,
    mismatch: Option<String>,
}

#[derive(Debug, Serialize)]
struct ReadingJson {
    need: &'static str,
    understood: Option<String>,
    problem: Option<String>,
}

/// What cannot be done where a board does not give a need.
fn then(need: Capability) -> &'static str {
    match need {
        Capability::Identity | Capability::List | Capability::Read | Capability::Armed => "nothing can be done",
        Capability::Outputs => "nothing is changed and no motor is turned: the board is never seen still",
        Capability::Channels => "no switch is found or tested, the battery is not asked in, and no motor is turned",
        Capability::Attitude => "no motor is turned: a craft that moves would not be seen",
        Capability::Power => "the battery is never asked in; that it is out is attested",
        Capability::Speeds => "whether all motors turn is asked of you, by eye",
        Capability::Write => "no setting is changed",
        Capability::Store => "nothing is kept over a restart",
        Capability::Restart => "nothing is shown to be kept, and what needs a restart does not come into force",
        Capability::RunMotor => "no single motor is run by command",
        Capability::Stop => "no motor is turned: it could not be stopped over the link",
    }
}

fn not_given(sheet: &Sheet) -> Vec<Capability> {
    Capability::ALL.into_iter().filter(|need| !sheet.provides(*need)).collect()
}

fn words_without(sheet: &Sheet) -> Vec<&'static str> {
    WORDS.iter().map(|word| word.word).filter(|word| !sheet.settings.contains_key(word)).collect()
}

/// Every name that the sheet gives to a setting.
fn names(sheet: &Sheet) -> BTreeSet<String> {
    let mut names: BTreeSet<String> = sheet.must_have.iter().map(ToString::to_string).collect();
    names.extend(sheet.settings.values().map(|entry| entry.name.to_string()));
    names.extend(sheet.raw.keys().map(ToString::to_string));
    names.extend(sheet.binding.way.bands().flat_map(BandNames::names).map(ToString::to_string));
    names
}

/// How many settings of the board the sheet does not name, and which of its names the board lacks.
fn against(sheet: &Sheet, trial: &Trial) -> (usize, Vec<String>) {
    let names = names(sheet);
    let unnamed = trial.settings.keys().filter(|name| !names.contains(name.as_str())).count();
    let on_board: BTreeSet<&str> = trial.settings.keys().map(SettingName::as_str).collect();
    if trial.readings.iter().any(|reading| reading.need == Capability::List && reading.understood.is_err()) {
        // What was not read may be there all the same.
        return (unnamed, Vec::new());
    }
    (unnamed, names.into_iter().filter(|name| !on_board.contains(name.as_str())).collect())
}

/// A sheet that cannot be read.
#[must_use]
pub fn wrong_json(error: &DocumentError) -> SheetJson {
    let finding = |fault: &crate::board::document::DocumentFault| FindingJson {
        severity: "error",
        message: fault.problem.to_string(),
        hints: fault.problem.hint().into_iter().collect(),
        at: AtJson { file: fault.file.clone(), line: fault.line, column: fault.column },
    };
    SheetJson {
        schema: "quadjig.check-sheet/1",
        findings: error.faults.iter().map(finding).collect(),
        board: None,
        link: None,
        words_without_setting: Vec::new(),
        not_given: Vec::new(),
        facts: Vec::new(),
        recipes_can: Vec::new(),
        recipes_cannot: Vec::new(),
        trial: None,
    }
}

/// A sheet that was read, and what came of it on a board.
#[must_use]
pub fn json(sheet: &Sheet, trial: Option<&Trial>) -> SheetJson {
    let tried = trial.map(|trial| {
        let (settings_not_named, names_not_on_board) = against(sheet, trial);
        let reading = |reading: &Reading| ReadingJson {
            need: reading.need.key(),
            understood: reading.understood.as_ref().ok().cloned(),
            problem: reading.understood.as_ref().err().cloned(),
        };
        TrialJson {
            readings: trial.readings.iter().map(reading).collect(),
            settings_on_board: trial.settings.len(),
            settings_not_named,
            names_not_on_board,
            contradictions: trial.contradictions.clone(),
            mismatch: trial.mismatch.clone(),
        }
    });
    let (can, cannot): (Vec<Ability>, Vec<Ability>) =
        abilities(sheet).into_iter().partition(|ability| ability.lacks.is_none());
    let cannot = cannot
        .into_iter()
        .map(|Ability { statement, lacks }| CannotJson { statement, why: lacks.unwrap_or_default() })
        .collect();
    SheetJson {
        schema: "quadjig.check-sheet/1",
        findings: leftovers(&sheet.text).iter().map(|left| left_json(sheet, left)).collect(),
        board: Some(sheet.board.clone()),
        link: Some(sheet.link.word()),
        words_without_setting: words_without(sheet),
        not_given: not_given(sheet).into_iter().map(|need| LackJson { need: need.key(), then: then(need) }).collect(),
        facts: facts(sheet),
        recipes_can: can.into_iter().map(|ability| ability.statement).collect(),
        recipes_cannot: cannot,
        trial: tried,
    }
}

fn left_json(sheet: &Sheet, left: &Leftover) -> FindingJson {
    FindingJson {
        severity: "error",
        message: left_over(left),
        hints: vec![LEFT_HINT.to_owned()],
        at: AtJson { file: sheet.origin.clone(), line: left.at.0, column: left.at.1 },
    }
}

/// What is wrong with a sheet, each fault with its place.
#[must_use]
pub fn wrong_text(error: &DocumentError) -> String {
    let mut text = String::new();
    for fault in &error.faults {
        // Writing into a string cannot fail.
        let _ = writeln!(text, "error: {}", gate::line(&fault.problem.to_string()));
        let _ = writeln!(text, "  at: {}:{}:{}", gate::line(&fault.file), fault.line, fault.column);
        if let Some(hint) = fault.problem.hint() {
            let _ = writeln!(text, "  do: {}", gate::line(&hint));
        }
        text.push('\n');
    }
    let _ = writeln!(text, "1 sheet: {}", count(error.faults.len(), "error"));
    text
}

/// What a sheet says and lacks.
#[must_use]
pub fn text(sheet: &Sheet, trial: Option<&Trial>, answers: bool) -> String {
    let mut text = String::new();
    let over = match &sheet.link {
        LinkKind::Mavlink => "MAVLink",
        LinkKind::Console(_) => "a console",
        LinkKind::Packets(_) => "packets",
    };
    // Writing into a string cannot fail.
    let _ = writeln!(text, "{}: {}, over {over}", gate::line(&sheet.origin), gate::line(&sheet.board));
    let _ = writeln!(text, "  words with a setting: {} of {}", sheet.settings.len(), WORDS.len());
    let without = words_without(sheet);
    if !without.is_empty() {
        let _ = writeln!(text, "  words without: {}", without.join(", "));
    }
    for need in not_given(sheet) {
        let _ = writeln!(text, "  gives no {}: {}", need.words(), then(need));
    }
    if sheet.console().is_some_and(|console| !console.arms_while_open) {
        text.push_str("  does not arm while its console is open: nothing that arms can be watched or tested\n");
    }
    text.push_str("\nWhat no answer of a board tells by itself, and how to see it; propellers off, battery out unless it is named:\n");
    for fact in facts(sheet) {
        let _ = writeln!(text, "  {} = {}: {}", fact.line, gate::line(&fact.says), fact.see);
    }
    if let Some(trial) = trial {
        tried(&mut text, sheet, trial);
        text.push_str(&fields::settings(sheet, &trial.settings, &trial.came));
        if answers {
            text.push_str(&fields::answers(sheet, &trial.came));
        }
    }
    recipes(&mut text, sheet);
    for left in leftovers(&sheet.text) {
        let _ = writeln!(text, "error: {}", gate::line(&left_over(&left)));
        let _ = writeln!(text, "  at: {}:{}:{}\n  do: {LEFT_HINT}", gate::line(&sheet.origin), left.at.0, left.at.1);
    }
    match errors(sheet, trial) {
        0 => text.push_str("1 sheet: no error\n"),
        wrong => {
            let _ = writeln!(text, "1 sheet: {}", count(wrong, "error"));
        }
    }
    text
}

/// What to do about what was left of a template.
const LEFT_HINT: &str = "write what your board has there, of a corner where that motor sits; or leave the table out";

fn left_over(left: &Leftover) -> String {
    format!("`{}` is of the template, and no board's or craft's", left.text)
}

/// Everything that is wrong with a sheet that could be read.
#[must_use]
pub fn errors(sheet: &Sheet, trial: Option<&Trial>) -> usize {
    let tried = trial.map_or(0, |trial| {
        let odd = trial.readings.iter().filter(|reading| reading.understood.is_err()).count();
        odd + against(sheet, trial).1.len() + trial.contradictions.len() + usize::from(trial.mismatch.is_some())
    });
    leftovers(&sheet.text).len() + tried
}

/// What recipes can and cannot do on this board.
fn recipes(text: &mut String, sheet: &Sheet) {
    let (can, cannot): (Vec<Ability>, Vec<Ability>) =
        abilities(sheet).into_iter().partition(|ability| ability.lacks.is_none());
    let can: Vec<String> = can.into_iter().map(|ability| ability.statement).collect();
    let _ = writeln!(text, "\nRecipes can, on {}: {}", gate::line(&sheet.board), gate::line(&can.join(" · ")));
    if !cannot.is_empty() {
        text.push_str("Recipes can't:\n");
    }
    for Ability { statement, lacks } in cannot {
        let _ = writeln!(text, "  {}: {}", gate::line(&statement), gate::line(&lacks.unwrap_or_default()));
    }
    text.push('\n');
}

fn tried(text: &mut String, sheet: &Sheet, trial: &Trial) {
    text.push_str("\nTried on the board, nothing was written:\n");
    for reading in &trial.readings {
        let (mark, words) = match &reading.understood {
            Ok(words) => ("", words),
            Err(why) => ("NOT UNDERSTOOD: ", why),
        };
        let _ = writeln!(text, "  {}: {mark}{}", reading.need.words(), gate::line(words));
    }
    if let Some(why) = fields::misfit(sheet, &trial.came) {
        let _ = writeln!(text, "  NOT THE SHEET'S PACKETS: {why}");
    }
    let (unnamed, missing) = against(sheet, trial);
    let _ = writeln!(text, "  settings on the board that the sheet does not name: {unnamed}");
    if !missing.is_empty() {
        let _ = writeln!(text, "  NOT ON THE BOARD, and in the sheet: {}", missing.join(", "));
    }
    for one in &trial.contradictions {
        let (line, sheet, board) = (gate::line(&one.line), gate::line(&one.sheet), gate::line(&one.board));
        let _ = writeln!(text, "  CONTRADICTED: {line}: by the sheet {sheet}; by the board {board}");
    }
    if let Some(why) = &trial.mismatch {
        let _ = writeln!(text, "  NOT FOR THIS BOARD: {}", gate::line(why));
    }
    text.push('\n');
}
