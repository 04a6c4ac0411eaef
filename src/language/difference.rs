//! Two recipes compared by meaning: what the one says and the other does not, and what stands elsewhere.
//!
//! Promises: recipes with the same canonical form do not differ, whatever their files look like; every difference of the
//! form is told. Must not be here: how a difference is shown.

use super::canonical;
use super::recipe::{Recipe, Statement, StatementKind};
use super::sets::sets;
use super::turning::{Purpose, purpose, runs_motors, turns_motors};
use serde::Serialize;
use std::collections::HashMap;

/// What a line of a recipe is about, in the order in which differences are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Subject {
    /// What it is for, and its parameters.
    Head,
    /// What must be so before anything goes on.
    Guard,
    /// What is set, found, bound, stored.
    Setting,
    /// What turns motors on purpose.
    MotorStep,
    /// What is tried at the bench.
    Test,
    /// What is said to or asked of the operator.
    Question,
}

/// One difference.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// What it is about.
    pub subject: Subject,
    /// It can turn a motor, before or after.
    pub turns_motors: bool,
    /// What became of it.
    pub change: Change,
}

/// A line of a recipe: its canonical words, and its number among the lines of its recipe's form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Said {
    /// In canonical words.
    pub words: String,
    /// Which of the recipe's statements; none for a line of the head.
    pub statement: Option<usize>,
}

/// What became of a line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// Only the new recipe says it.
    Added(Said),
    /// Only the old recipe says it.
    Removed(Said),
    /// Both speak of one thing, and otherwise.
    Changed(Said, Said),
    /// It says the same at another place, where the order counts.
    Moved(Said, Said),
}

/// A line with what has to be known of it.
struct Line {
    said: Said,
    subject: Subject,
    turns: bool,
    /// The thing that it speaks of: of two lines with one key the later is the earlier, changed.
    key: String,
}

/// Every difference from the old recipe to the new one, parameters open; none if they mean the same.
#[must_use]
pub fn difference(old: &Recipe, new: &Recipe) -> Vec<Difference> {
    let (before, after) = (lines(old), lines(new));
    let kept = common(&before, &after);
    let mut gone: Vec<&Line> = unmatched(&before, kept.iter().map(|(at, _)| *at));
    let mut come: Vec<&Line> = unmatched(&after, kept.iter().map(|(_, at)| *at));
    let mut all = Vec::new();
    let mut pair = |same: &dyn Fn(&Line, &Line) -> bool, change: fn(Said, Said) -> Change| {
        let mut rest = Vec::new();
        for old in gone.drain(..) {
            match come.iter().position(|new| same(old, new)) {
                Some(at) => {
                    let new = come.remove(at);
                    let change = change(old.said.clone(), new.said.clone());
                    all.push(Difference { subject: old.subject, turns_motors: old.turns || new.turns, change });
                }
                None => rest.push(old),
            }
        }
        gone = rest;
    };
    pair(&|old, new| old.said.words == new.said.words, Change::Moved);
    pair(&|old, new| old.key == new.key, Change::Changed);
    let one = |line: &Line, change: fn(Said) -> Change| Difference {
        subject: line.subject,
        turns_motors: line.turns,
        change: change(line.said.clone()),
    };
    all.extend(gone.into_iter().map(|line| one(line, Change::Removed)));
    all.extend(come.into_iter().map(|line| one(line, Change::Added)));
    // By subject, then in the order of the recipes.
    all.sort_by_key(|difference| (difference.subject, place(&difference.change)));
    all
}

fn place(change: &Change) -> Option<usize> {
    match change {
        Change::Added(said) | Change::Removed(said) | Change::Changed(_, said) | Change::Moved(_, said) => {
            said.statement
        }
    }
}

/// The lines of a recipe's canonical form, the schema left out.
fn lines(recipe: &Recipe) -> Vec<Line> {
    let form = canonical::open(recipe);
    let all: Vec<&str> = form.lines().skip(1).collect();
    let head = all.len() - recipe.statements.len();
    let head_line = |words: &&str| Line {
        said: Said { words: (*words).to_owned(), statement: None },
        subject: Subject::Head,
        turns: false,
        key: words.split(' ').take(if words.starts_with("given") { 2 } else { 1 }).collect::<Vec<_>>().join(" "),
    };
    let statement = |(index, (words, statement)): (usize, (&&str, &Statement))| Line {
        said: Said { words: (*words).to_owned(), statement: Some(index) },
        subject: subject(&statement.what),
        turns: turns_motors(&statement.what),
        key: key(&statement.what, words),
    };
    let statements = all[head..].iter().zip(&recipe.statements).enumerate().map(statement);
    all[..head].iter().map(head_line).chain(statements).collect()
}

/// What a statement is about. A statement that runs a motor is told as that, whatever else it is.
fn subject(what: &StatementKind) -> Subject {
    match purpose(what) {
        _ if runs_motors(what) => Subject::MotorStep,
        Purpose::Requires => Subject::Guard,
        Purpose::Asks | Purpose::Says => Subject::Question,
        Purpose::Tests => Subject::Test,
        Purpose::Sets | Purpose::Prepares => Subject::Setting,
    }
}

/// The thing that a statement speaks of: the settings that it sets, the switch, the function; else its first words.
fn key(what: &StatementKind, words: &str) -> String {
    let first = |count: usize| words.split(' ').take(count).collect::<Vec<_>>().join(" ");
    match what {
        StatementKind::FindSwitch { .. } => first(3),
        StatementKind::IdleAt(_) | StatementKind::IdleSearch(_) => "idle".to_owned(),
        StatementKind::Pause(_) | StatementKind::Note(_) => first(1),
        // What sets one thing changes it, whatever it is set to.
        other if !sets(other).is_empty() => first(1),
        _ => first(2),
    }
}

/// Pairs of equal lines in one order, as many as a longest run of them has. Equal beginnings and ends are taken off
/// first; what is left of two long recipes is matched by lines that stand once in each.
fn common(old: &[Line], new: &[Line]) -> Vec<(usize, usize)> {
    let same = |a: &Line, b: &Line| a.said.words == b.said.words;
    let first = old.iter().zip(new).take_while(|(a, b)| same(a, b)).count();
    let (old_rest, new_rest) = (&old[first..], &new[first..]);
    let last = old_rest.iter().rev().zip(new_rest.iter().rev()).take_while(|(a, b)| same(a, b)).count();
    let mut pairs: Vec<(usize, usize)> = (0..first).map(|at| (at, at)).collect();
    let middle = longest(&old_rest[..old_rest.len() - last], &new_rest[..new_rest.len() - last]);
    pairs.extend(middle.into_iter().map(|(a, b)| (a + first, b + first)));
    pairs.extend((1..=last).rev().map(|back| (old.len() - back, new.len() - back)));
    pairs
}

/// A longest common run, found as the longest rising run of places (patience sorting); of lines that stand several
/// times in the new recipe, every place counts.
fn longest(old: &[Line], new: &[Line]) -> Vec<(usize, usize)> {
    let mut places: HashMap<&str, Vec<usize>> = HashMap::new();
    for (at, line) in new.iter().enumerate() {
        places.entry(&line.said.words).or_default().push(at);
    }
    // For each length, the run whose last place in the new recipe is least; runs are chains through `links`.
    let mut links: Vec<(usize, usize, Option<usize>)> = Vec::new();
    let mut ends: Vec<usize> = Vec::new();
    let mut steps = 0;
    for (at, line) in old.iter().enumerate() {
        for &place in places.get(line.said.words.as_str()).into_iter().flatten().rev() {
            steps += 1;
            if steps > MOST_STEPS {
                break;
            }
            let length = ends.partition_point(|end| links[*end].1 < place);
            links.push((at, place, length.checked_sub(1).map(|before| ends[before])));
            match ends.get_mut(length) {
                Some(end) => *end = links.len() - 1,
                None => ends.push(links.len() - 1),
            }
        }
    }
    let mut run = Vec::with_capacity(ends.len());
    let mut next = ends.last().copied();
    while let Some(link) = next {
        let (at, place, before) = links[link];
        run.push((at, place));
        next = before;
    }
    run.reverse();
    run
}

/// Thousands of equal lines in both recipes would be compared each with each. Beyond so many pairs the rest counts as
/// moved, which is still true.
const MOST_STEPS: usize = 2_000_000;

fn unmatched(lines: &[Line], matched: impl Iterator<Item = usize>) -> Vec<&Line> {
    let mut free = vec![true; lines.len()];
    for at in matched {
        free[at] = false;
    }
    lines.iter().zip(free).filter_map(|(line, free)| free.then_some(line)).collect()
}
