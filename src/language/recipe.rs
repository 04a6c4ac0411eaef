//! The typed recipe: what stands after reading, before any board is known.
//!
//! Promises: every quantity has its type, every `given` is filled in or the statement is
//! [`StatementKind::Waiting`], `use` lines are replaced by the statements of their files, and every
//! statement keeps its place. Must not be here: checks (see `checks`), boards, plans.

pub use super::search::IdleSearch;
use super::span::{FileId, Place, Span, Spanned};
pub use super::statement::{Form, Require, StatementKind};
use super::units::Quantity;
pub use super::value::{Chemistry, Function, Idle, OnLoss, Setting, Stick, Switch, Value, ZeroThrottle};
use super::written::Written;
use std::fmt;
use std::sync::Arc;

/// One file of a recipe with its text.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct File {
    /// Name as a person would write it.
    pub name: String,
    /// Its text.
    pub text: Arc<str>,
}

/// A whole recipe, `use` lines replaced by what they use.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recipe {
    /// The files, the named recipe first.
    pub files: Vec<File>,
    /// Title of the named recipe.
    pub title: Spanned<String>,
    /// It leaves its craft or its board to a recipe that uses it: it can be checked, and not run.
    pub is_part: bool,
    /// What craft it is for.
    pub craft: Option<Spanned<Craft>>,
    /// Sheets it was written for, by board name; intersected over used files.
    pub boards: Vec<Spanned<String>>,
    /// Firmware versions allowed; empty: any.
    pub firmware: Vec<Spanned<Firmware>>,
    /// Parameters, with the value that stands.
    pub givens: Vec<Given>,
    /// The statements in order. The implied `keep` at the end is not among them.
    pub statements: Vec<Statement>,
}

impl Recipe {
    /// Turns a span into file, line and column.
    #[must_use]
    pub fn place(&self, span: &Span) -> Place {
        let FileId(index) = span.file;
        let file = &self.files[index];
        let (line, column) = line_column(&file.text, span.range.start);
        let (end_line, end_column) = line_column(&file.text, span.range.end);
        Place { file: file.name.clone(), line, column, end_line, end_column }
    }
}

/// Line and column from 1 of a byte offset; columns count characters.
#[must_use]
pub fn line_column(text: &str, offset: usize) -> (usize, usize) {
    let before = &text[..offset.min(text.len())];
    let start = before.rfind('\n').map_or(0, |at| at + 1);
    // So many at a time that a byte holds their number: sixteen are counted at once then.
    let ends = |bytes: &[u8]| usize::from(bytes.iter().fold(0, |ends: u8, byte| ends + u8::from(*byte == b'\n')));
    let lines: usize = before.as_bytes().chunks(usize::from(u8::MAX)).map(ends).sum();
    (lines + 1, before[start..].chars().count() + 1)
}

/// One statement of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Statement {
    /// What it says.
    pub what: StatementKind,
    /// From its first to its last character, comments left out.
    pub span: Span,
    /// Places of the parts that findings point at, such as the pulse of an idle or a position.
    pub parts: Vec<(Part, Span)>,
    /// In its canonical words, with places for parameters.
    pub written: Written,
}

impl Statement {
    /// The place of a part, or of the whole statement where it was not written.
    #[must_use]
    pub fn part(&self, part: Part) -> &Span {
        self.parts.iter().find(|(p, _)| *p == part).map_or(&self.span, |(_, span)| span)
    }
}

/// Names for the parts of a statement that a finding can point at.
///
/// Each is the place of the value, its keywords left out. A list (`Positions`, `Rests`) has the place of the
/// whole list first, then one for each item in the order written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[expect(missing_docs, reason = "each names the clause it stands for")]
pub enum Part {
    Subject,
    Switch,
    Positions,
    Function,
    Value,
    Start,
    Step,
    Limit,
    Dwell,
    Starts,
    Margin,
    Rate,
    Channel,
    Rests,
    Within,
    Warn,
    Land,
    Cells,
    Loss,
    ByHand,
}

/// The frame and which way its motors turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Craft {
    /// Layout of the motors.
    pub frame: Frame,
    /// Which way the motors turn, seen from above at the front; `None`: the sheet's.
    pub turning: Option<Turning>,
}

impl fmt::Display for Craft {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let turning = match self.turning {
            None => "",
            Some(Turning::Inward) => " turning inward",
            Some(Turning::Outward) => " turning outward",
        };
        write!(f, "{}{turning}", self.frame.words())
    }
}

/// Layouts of motors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Frame {
    QuadX,
    QuadPlus,
    HexX,
    OctoX,
}

impl Frame {
    /// As a recipe writes it.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::QuadX => "quad x",
            Self::QuadPlus => "quad plus",
            Self::HexX => "hex x",
            Self::OctoX => "octo x",
        }
    }

    /// How many motors.
    #[must_use]
    pub fn motors(self) -> usize {
        self.places().len()
    }
}

/// Whether the front propellers sweep towards the nose (inward) or away from it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "said above")]
pub enum Turning {
    Inward,
    Outward,
}

/// A firmware version of two or three numbers; two match every third.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Firmware(pub String);

/// What a parameter stands for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GivenKind {
    /// A quantity or a count.
    Quantity,
    /// A switch.
    Switch,
    /// One of these words.
    Word(Vec<String>),
}

/// A value of a parameter.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GivenValue {
    /// A quantity or a count.
    Quantity(Quantity),
    /// A switch.
    Switch(Switch),
    /// A word.
    Word(String),
}

impl GivenValue {
    /// The quantity, if it is one.
    #[must_use]
    pub fn quantity(&self) -> Option<Quantity> {
        if let Self::Quantity(quantity) = self { Some(*quantity) } else { None }
    }
}

impl fmt::Display for GivenValue {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Quantity(quantity) => write!(f, "{quantity}"),
            Self::Switch(Switch(text)) | Self::Word(text) => f.write_str(text),
        }
    }
}

/// A parameter of one file of a recipe.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Given {
    /// Its name; the span says whose it is.
    pub name: Spanned<String>,
    /// What it stands for.
    pub kind: GivenKind,
    /// What stands for it: from `--with` for the named recipe's, from `use … with` for a used file's, or the default.
    pub value: Option<GivenValue>,
    /// What stands for it if nobody says otherwise.
    pub default: Option<GivenValue>,
    /// As which parameter of the named recipe its value stands while that one is open: its own name for one of the
    /// named recipe; `None` where the recipe itself fixes it, as a used file's.
    pub stands_for: Option<String>,
    /// Least and most allowed.
    pub range: Option<(Quantity, Quantity)>,
    /// The recipe's description of it.
    pub about: Option<String>,
    /// Every place where its name stands for a value; none: it is never used.
    pub uses: Vec<Span>,
}
