//! The session as a recipe in the making: what was said and kept, one statement at a time.
//!
//! Every statement is read and checked below all that stands, by the very checks of `check`. A later statement
//! takes the place of an earlier one that gives the same thing another value. Must not be here: the board.

use crate::board::radio_card::RadioCard;
use crate::board::sheet::{Settings, Sheet};
use crate::board::vocabulary;
use crate::language::checks::assigned::{Thing, assigned};
use crate::language::checks::codes;
use crate::language::finding::{Finding, SESSION, Severity};
use crate::language::recipe::{Craft, File, Frame, Recipe, Statement};
use crate::language::sources::Memory;
use crate::language::span::Place;
use crate::language::{self, Reading, read_statement};
use crate::plan::checks;
use crate::plan::step::Plan;
use std::path::Path;

/// Findings about a whole recipe, which more statements may still answer.
const LATER: &[&str] =
    &[codes::NOT_TESTED, codes::UNUSED_SWITCH, codes::UNUSED_GIVEN, codes::UNUSUAL_ORDER, codes::UNDECIDED];

/// Whether a finding says nothing to who may still type more.
pub(in crate::bench) fn is_later(found: &Finding) -> bool {
    let found_by_this = found.code == codes::NOT_ON_CARD && found.severity == Severity::Hint;
    LATER.contains(&found.code) || found_by_this
}

/// Where a statement that stands came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Origin {
    /// It was typed.
    Hand,
    /// The statement with this index of the recipe that was run last.
    Recipe(usize),
    /// It stood before that recipe began.
    Earlier,
}

/// One statement that stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// As it goes into the recipe.
    pub text: String,
    /// As it is meant.
    pub statement: Statement,
    /// What it gives a value, in words.
    pub things: Vec<Thing>,
    /// When it was carried out, RFC 3339.
    pub at: String,
    /// Pack voltage then, if measured.
    pub volts: Option<f64>,
    /// Whether the battery was in then.
    pub powered: bool,
    /// Sentences of what was measured.
    pub measured: Vec<String>,
    /// Settings that it changed, with the values that it left.
    pub left: Settings,
    /// Where it came from.
    pub origin: Origin,
}

impl Kept {
    /// Whether all that a statement gives a value has another by this one.
    #[must_use]
    pub fn replaces(&self, things: &[Thing]) -> bool {
        !things.is_empty() && things.iter().all(|thing| self.things.contains(thing))
    }
}

/// What was wrong with a statement, and the text that the places stand in.
#[derive(Debug, Clone)]
pub struct Wrong {
    /// The text.
    pub files: Vec<File>,
    /// The findings.
    pub findings: Vec<Finding>,
}

/// A statement that may be tried.
#[derive(Debug, Clone)]
pub struct Ready {
    /// All that stands, and the statement last.
    pub recipe: Recipe,
    /// Its index.
    pub index: usize,
    /// As it was meant, alone.
    pub statement: Statement,
    /// Its text in the one layout.
    pub text: String,
    /// Warnings and hints about it.
    pub remarks: Wrong,
    /// What stands without it, were it carried out.
    pub rest: Vec<Kept>,
}

/// See the module.
#[derive(Debug, Clone, Default)]
pub struct Draft {
    /// The recipe's first lines.
    pub head: String,
    /// The statements that stand, in the order in which they were carried out.
    pub kept: Vec<Kept>,
}

impl Draft {
    /// A draft for a board, with nothing said yet.
    #[must_use]
    pub fn new(title: &str, sheet: &Sheet) -> Self {
        let corners: Vec<&str> = sheet.corners.iter().map(|corner| corner.0.as_str()).collect();
        let craft = Craft { frame: Frame::of(&corners).unwrap_or(Frame::QuadX), turning: None };
        Self { head: head(title, craft, [sheet.board.as_str()], []), kept: Vec::new() }
    }

    /// Reads a statement below what stands.
    ///
    /// # Errors
    /// Everything that is wrong with it.
    pub fn read(&self, text: &str, sheet: &Sheet, card: &RadioCard) -> Result<Ready, Wrong> {
        let statement = read_statement(text).map_err(|findings| alone(text, findings))?;
        let text = language::format::format(text).map_err(|findings| alone(text, findings))?;
        let text = text.trim_end().to_owned();
        let things = things(&statement);
        let mut rest = self.kept.clone();
        rest.retain(|kept| kept.things.is_empty() || !kept.things.iter().all(|thing| things.contains(thing)));
        let before = text_of(&self.head, rest.iter().map(|kept| kept.text.as_str()));
        let reading = read(&format!("{before}{text}\n"));
        let mut findings = checks::reading(&reading, std::slice::from_ref(sheet), Some(card));
        findings.retain(|found| found.span.range.start >= before.len() && !is_later(found));
        // Here somebody sits at the keys.
        findings.retain(|found| found.code != codes::STEPPED_BY_HAND);
        let wrong = findings.iter().any(|found| found.severity == Severity::Error);
        let remarks = Wrong { files: reading.files, findings };
        match reading.recipe {
            Some(recipe) if !wrong && !recipe.statements.is_empty() => {
                let index = recipe.statements.len() - 1;
                Ok(Ready { recipe, index, statement, text, remarks, rest })
            }
            _ => Err(remarks),
        }
    }

    /// Everything that stands, and more below it.
    #[must_use]
    pub fn text<'k>(&'k self, below: impl Iterator<Item = &'k str>) -> String {
        text_of(&self.head, self.kept.iter().map(|kept| kept.text.as_str()).chain(below))
    }

    /// A recipe begins: the head is its own from here on, and its values replace those that stand.
    pub fn begins(&mut self, title: &str, recipe: &Recipe) {
        if let Some(craft) = &recipe.craft {
            let boards = recipe.boards.iter().map(|board| board.value.as_str());
            let firmware = recipe.firmware.iter().map(|firmware| firmware.value.0.as_str());
            self.head = head(title, craft.value, boards, firmware);
        }
        self.kept.iter_mut().for_each(|kept| kept.origin = Origin::Earlier);
    }

    /// Takes a statement of the recipe in that was carried out.
    pub fn keep_of_recipe(&mut self, kept: Kept) {
        self.kept.retain(|one| one.origin != Origin::Earlier || !kept.replaces(&one.things));
        self.kept.push(kept);
    }

    /// Takes a statement in that was carried out.
    pub fn keep(&mut self, rest: Vec<Kept>, kept: Kept) {
        self.kept = rest;
        self.kept.push(kept);
    }

    /// Leaves out what the board does not hold any more, and gives the texts.
    pub fn fallen_away(&mut self, held: &Settings) -> Vec<String> {
        let stands =
            |kept: &Kept| kept.left.iter().all(|(name, value)| held.get(name).is_some_and(|now| now.same(*value)));
        let gone = self.kept.iter().filter(|kept| !stands(kept)).map(|kept| kept.text.clone()).collect();
        self.kept.retain(stands);
        gone
    }
}

/// A statement as text in the recipe, on which later values rest.
///
/// # Errors
/// It is no statement.
pub fn rewritten(text: &str) -> Result<(String, Statement, Vec<Thing>), Vec<Finding>> {
    let statement = read_statement(text)?;
    let things = things(&statement);
    Ok((text.to_owned(), statement, things))
}

/// What a statement gives a value.
#[must_use]
pub fn things(statement: &Statement) -> Vec<Thing> {
    assigned(statement).into_iter().map(|assigned| assigned.thing).collect()
}

fn head<'t>(
    title: &str,
    craft: Craft,
    boards: impl IntoIterator<Item = &'t str>,
    firmware: impl IntoIterator<Item = &'t str>,
) -> String {
    let first = format!("recipe {}\nedition 1\ncraft {craft}\n", quoted(title));
    let boards = boards.into_iter().map(|board| format!("board {}\n", quoted(board)));
    let firmware = firmware.into_iter().map(|version| format!("require firmware {}\n", quoted(version)));
    boards.chain(firmware).fold(first, |head, line| head + &line)
}

fn alone(text: &str, findings: Vec<Finding>) -> Wrong {
    Wrong { files: vec![File { name: SESSION.to_owned(), text: text.into() }], findings }
}

/// Lines below the head.
pub(in crate::bench) fn text_of<'k>(head: &str, lines: impl Iterator<Item = &'k str>) -> String {
    let mut text = head.to_owned();
    for line in lines {
        text.push_str(line);
        text.push('\n');
    }
    text
}

/// A plan with statements for places, where these are lines of a text that nobody has seen.
pub(in crate::bench) fn with_statements(plan: &Plan, recipe: &Recipe) -> Plan {
    let mut plan = plan.clone();
    let Some(typed) = recipe.files.first().filter(|file| file.name == SESSION) else { return plan };
    let changes = plan.changes.iter_mut().map(|change| &mut change.at);
    let unknown = plan.unknown.iter_mut().map(|unknown| &mut unknown.at);
    for at in changes.chain(unknown).chain(plan.steps.iter_mut().map(|step| &mut step.at)) {
        place_by_statement(at, &typed.text);
    }
    for remark in &mut plan.remarks {
        if let Some(text) = remark.line.and_then(|line| statement(&typed.text, line)) {
            (remark.text, remark.line) = (format!("`{text}`: {}", remark.text), None);
        }
    }
    plan
}

/// A place in this session's `text` becomes the statement that stands there, as nobody has seen its lines.
pub(in crate::bench) fn place_by_statement(at: &mut Place, text: &str) {
    if let Some(statement) = statement(text, at.line).filter(|_| at.file == SESSION) {
        (at.file, at.line) = (statement.to_owned(), 0);
    }
}

fn statement(text: &str, line: usize) -> Option<&str> {
    text.lines().nth(line.checked_sub(1)?)
}

/// Reads a whole text.
pub(in crate::bench) fn read(text: &str) -> Reading {
    vocabulary::read(&Memory::of([(SESSION, text)]), Path::new(SESSION), &[])
}

/// A text as a string of the language.
pub(in crate::bench) fn quoted(text: &str) -> String {
    format!("\"{}\"", text.replace('\\', "\\\\").replace('"', "\\\""))
}
