//! What is told about the word and the statement under the cursor.
//!
//! Promises: what came from a recipe, a sheet or a record has passed the gate, and can't pass for our own marks. Must
//! not be here: what the words mean to a board (see `sheet_words`), what would change (see `against`).

use super::against;
use super::buffers::Buffer;
use super::markdown::{code, plain};
use super::names::touches;
use super::sheet_words;
use super::workspace::{Judged, Workspace};
use crate::language::outline::{Named, Outlined, Role, outline};
use crate::language::recipe::{Given, GivenKind, OnLoss, Statement, StatementKind};
use crate::language::reference;
use crate::language::span::FileId;
use crate::language::units::Pulse;
use crate::plan::titles;
use std::ops::Range;
use std::path::Path;

/// What is told, in Markdown, and the bytes that it is about.
pub fn told(workspace: &Workspace, buffer: &Buffer, at: usize) -> Option<(String, Range<usize>)> {
    let judged = workspace.judge(&buffer.uri)?;
    let all = outline(&buffer.text);
    let outlined = all.into_iter().find(|statement| touches(&statement.range, at))?;
    let mut words = outlined.words.iter().filter(|word| touches(&word.range, at));
    let first = words.next();
    let word = words.next().filter(|_| first.is_none_or(|first| first.role == Role::Other)).or(first);
    let mut parts: Vec<String> = Vec::new();
    if let Some(word) = word {
        parts.extend(of_word(buffer, &judged, word));
    }
    let statement = typed(&judged, &outlined);
    parts.extend(explained(&outlined));
    if let Some(statement) = statement {
        parts.extend(sheet_words::of_statement(&judged, statement));
        parts.extend(against::told(workspace, &judged, statement));
    }
    let range = word.filter(|word| word.role != Role::Other).map_or(outlined.range, |word| word.range.clone());
    (!parts.is_empty()).then(|| (parts.join("\n\n"), range))
}

/// The statement as it was typed.
fn typed<'j>(judged: &'j Judged, outlined: &Outlined) -> Option<&'j Statement> {
    let recipe = judged.reading.recipe.as_ref()?;
    let same = |statement: &&Statement| statement.span.file == FileId(0) && statement.span.range == outlined.range;
    recipe.statements.iter().find(same)
}

/// The form of a statement and what it means.
fn explained(outlined: &Outlined) -> Option<String> {
    let statement = reference::statement(&outlined.text)?;
    let mut begin = statement.heading.clone();
    // Of statements with many forms, the one that stands here.
    let behind = outlined.text.get(begin.len()..).and_then(|rest| rest.split_whitespace().next());
    if let Some(second) = behind.map(|second| second.trim_end_matches(',')) {
        let longer = format!("{begin} {second}");
        let is_one = |example: &String| example == &longer || example.starts_with(&format!("{longer} "));
        if statement.examples.len() > 1
            && second.starts_with(|c: char| c.is_ascii_lowercase())
            && statement.examples.iter().any(is_one)
        {
            begin = longer;
        }
    }
    let can = reference::can(&outlined.text).map(|can| format!("\n\nAt the bench it {can}."));
    Some(format!("```jig\n{}\n```\n{}{}", reference::form(&begin), statement.meaning, can.unwrap_or_default()))
}

fn of_word(buffer: &Buffer, judged: &Judged, word: &Named) -> Option<String> {
    match word.role {
        Role::NewParameter | Role::Parameter | Role::Value => parameter(judged, &buffer.path, &word.text),
        Role::NewSwitch | Role::Switch => {
            parameter(judged, &buffer.path, &word.text).or_else(|| Some(switch(judged, &word.text)))
        }
        Role::Setting => sheet_words::of_setting(judged, &word.text),
        Role::RawSetting => sheet_words::of_raw(judged, &word.text),
        Role::Function => sheet_words::of_function(judged, &word.text),
        Role::Protocol => {
            parameter(judged, &buffer.path, &word.text).or_else(|| sheet_words::of_protocol(judged, &word.text))
        }
        Role::Board => Some(sheet_words::of_board(judged, &word.text)),
        Role::Told | Role::UsedFile | Role::Listed | Role::Other => None,
    }
}

fn parameter(judged: &Judged, path: &Path, name: &str) -> Option<String> {
    let here = |given: &&Given| given.name.value == name && judged.path(given.name.span.file) == *path;
    let recipe = judged.reading.recipe.as_ref()?;
    let given = recipe.givens.iter().find(here)?;
    let about = given.about.as_ref().map(|about| format!(": {}", plain(about)));
    let range = match (&given.kind, &given.range) {
        (GivenKind::Switch, _) => Some(" A switch.".to_owned()),
        (GivenKind::Word(words), _) => {
            Some(format!(" One of {}.", words.iter().map(|word| code(word)).collect::<Vec<_>>().join(", ")))
        }
        (GivenKind::Quantity, range) => range.as_ref().map(|(least, most)| format!(" From {least} to {most}.")),
    };
    let stands = match (&given.value, &given.default) {
        (Some(value), Some(default)) if value == default => format!("It stands at its default, {value}."),
        (Some(value), _) => format!("It stands at {value}."),
        (None, _) => "It has no value yet: whoever runs the recipe gives it one.".to_owned(),
    };
    let (about, range) = (about.unwrap_or_default(), range.unwrap_or_default());
    Some(format!("Parameter {}{about}.{range} {stands}", code(name)))
}

/// What recipe and radio card know of a switch, and what is bound to it.
fn switch(judged: &Judged, name: &str) -> String {
    let statements = || judged.reading.recipe.iter().flat_map(|recipe| &recipe.statements);
    let declared = statements().find_map(|statement| match &statement.what {
        StatementKind::DeclareSwitch { switch, channel, rests, on_loss, .. } if switch.0 == name => {
            Some((*channel, rests.clone(), *on_loss, "as this recipe says"))
        }
        _ => None,
    });
    let card = judged.card.as_ref();
    let on_card = || {
        let (_, entry) = card?.switches.iter().find(|(switch, _)| switch.0 == name)?;
        Some((entry.channel, entry.rests.clone(), entry.on_loss, "as the radio card says"))
    };
    let place = match declared.or_else(on_card) {
        None => ": where it is, the bench finds.".to_owned(),
        Some((channel, rests, on_loss, says)) => {
            let loss = match on_loss {
                Some(OnLoss::Rests(pulse)) => format!(", on link loss at {pulse}"),
                Some(OnLoss::Holds) => ", held on link loss".to_owned(),
                Some(OnLoss::Flagged) => ", flagged on link loss".to_owned(),
                None => String::new(),
            };
            format!(" on channel {channel}, rests at {}{loss}, {says}.", pulses(&rests))
        }
    };
    let bound = statements().filter_map(|statement| match &statement.what {
        StatementKind::Bind { function, switch, positions } if switch.0 == name => {
            Some(format!(" {} is on in {}.", code(&function.0), titles::positions(positions)))
        }
        _ => None,
    });
    format!("Switch {}{place}{}", code(name), bound.collect::<String>())
}

fn pulses(all: &[Pulse]) -> String {
    all.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")
}
