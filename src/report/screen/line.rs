//! A page of lines: who or what speaks in a narrow column on the left, what is said beside it.
//!
//! Promises: two gaps never follow each other; colour only marks what the words say as well.
//! Must not be here: what is said.

use super::Style;
use crate::report::style::{DANGER, GOOD, QUIET, WARNING};
use crate::report::words::{columns, wrap};

/// Width of the left column.
const LABEL: usize = 11;
/// Column in which texts begin.
const TEXT: usize = LABEL + 2;
/// Widest text that is still read with ease.
const WIDEST: usize = 96;
const NARROWEST: usize = 40;

/// A colour by what it means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::report) enum Ink {
    Quiet,
    Strong,
    Good,
    Warning,
    /// What motors are about to do, or do: unlike every other warning.
    Danger,
    /// What is to be typed.
    Asked,
}

impl Ink {
    /// Source of the form: ECMA-48, select graphic rendition; ITU-T T.416 for a colour of a table.
    fn codes(self) -> String {
        match self {
            Self::Quiet => format!("38;5;{QUIET}"),
            Self::Strong => "1".to_owned(),
            Self::Good => format!("38;5;{GOOD}"),
            Self::Warning => format!("1;38;5;{WARNING}"),
            Self::Danger => format!("1;38;5;{};48;5;{}", DANGER.0, DANGER.1),
            Self::Asked => "1;7".to_owned(),
        }
    }
}

/// Text in a colour, where colour is wanted.
pub(in crate::report) fn ink(style: Style, ink: Ink, text: &str) -> String {
    if style.colour && !text.is_empty() { format!("\u{1b}[{}m{text}\u{1b}[0m", ink.codes()) } else { text.to_owned() }
}

/// See the module.
pub(in crate::report) struct Page {
    style: Style,
    width: usize,
    lines: Vec<String>,
}

impl Page {
    pub(in crate::report) fn new(style: Style, width: usize) -> Self {
        Self { style, width: width.clamp(NARROWEST, WIDEST), lines: Vec::new() }
    }

    pub(in crate::report) fn style(&self) -> Style {
        self.style
    }

    /// Columns that a row of its own may take.
    pub(in crate::report) fn width(&self) -> usize {
        self.width
    }

    /// An empty line, in the linear style none.
    pub(in crate::report) fn gap(&mut self) {
        if !self.style.plain && self.lines.last().is_none_or(|last| !last.is_empty()) {
            self.lines.push(String::new());
        }
    }

    pub(in crate::report) fn heading(&mut self, text: &str) {
        self.gap();
        self.title(text);
    }

    /// A heading close to what stands before it.
    pub(in crate::report) fn title(&mut self, text: &str) {
        if self.style.plain {
            self.lines.push(format!("{text}:"));
        } else {
            self.lines.push(format!("  {}", ink(self.style, Ink::Strong, text)));
        }
    }

    /// A sentence behind its label, in the quiet colour.
    pub(in crate::report) fn say(&mut self, label: &str, text: &str) {
        self.inked(Ink::Quiet, label, text);
    }

    /// A sentence behind its label.
    pub(in crate::report) fn inked(&mut self, colour: Ink, label: &str, text: &str) {
        if self.style.plain {
            self.lines.push(self.one(label, text));
            return;
        }
        let padded = format!("{label:>LABEL$}");
        // One that is a little wider takes of the gap, so that all texts stand below each other.
        let gap = TEXT.saturating_sub(columns(&padded)).max(1);
        let label = ink(self.style, colour, &padded) + &" ".repeat(gap);
        for (at, line) in wrap(text, self.width - TEXT).into_iter().enumerate() {
            let before = if at == 0 { label.clone() } else { " ".repeat(TEXT) };
            self.lines.push(format!("{before}{line}").trim_end().to_owned());
        }
    }

    /// A label and a text as one line, however long.
    pub(in crate::report) fn one(&self, label: &str, text: &str) -> String {
        match (self.style.plain, label.is_empty()) {
            (true, true) => text.to_owned(),
            (true, false) => format!("{label}: {text}"),
            (false, _) => {
                let fits = self.width - TEXT;
                let text: String = text.chars().take(fits).collect();
                let padded = format!("{label:>LABEL$}");
                format!("{}  {text}", ink(self.style, Ink::Quiet, &padded))
            }
        }
    }

    /// Puts words of the line that was added first into another colour, where they stand whole in it.
    pub(in crate::report) fn last_ink(&mut self, colour: Ink, words: &str) {
        let style = self.style;
        if let Some(line) = self.lines.iter_mut().rfind(|line| !words.is_empty() && line.contains(words)) {
            *line = line.replacen(words, &ink(style, colour, words), 1);
        }
    }

    /// A row that is laid out already.
    pub(in crate::report) fn row(&mut self, text: String) {
        self.lines.push(text);
    }

    /// Large plain words between bars.
    pub(in crate::report) fn banner(&mut self, text: &str) {
        if self.style.plain {
            self.lines.push(text.to_owned());
            return;
        }
        let bar = "#".repeat(self.width - 2);
        self.gap();
        let words = wrap(text, self.width - 4).into_iter().map(|row| format!("   {row}"));
        let rows = [bar.clone(), String::new()].into_iter().chain(words).chain([String::new(), bar]);
        for line in rows {
            let line = if line.is_empty() { line } else { format!(" {line}") };
            self.lines.push(ink(self.style, Ink::Danger, &line));
        }
        self.gap();
    }

    pub(in crate::report) fn lines(self) -> Vec<String> {
        self.lines
    }
}
