//! Where words go: reports to standard output, messages to standard error.
//!
//! Promises: colour only on a terminal that wants it, never as the only carrier of meaning; with
//! `--format json` nothing but JSON reaches standard output; a closed pipe is quiet.
//! Must not be here: questions to the operator (see the bench), what a report says.

use crate::seam::exit::Exit;

use crate::language::finding::Finding;
use crate::language::recipe::File;
use crate::report::findings::{self, Look};
use crate::report::gate;
use crate::report::words::folded;
use serde::Serialize;
use std::io::{ErrorKind, IsTerminal, Write};
use std::sync::atomic::{AtomicUsize, Ordering};

/// How a report is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum Format {
    /// For people.
    #[default]
    Text,
    /// For programs, with a `schema` field.
    Json,
}

/// How a report is written that may be a page as well.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, clap::ValueEnum)]
pub enum PageFormat {
    /// For people.
    #[default]
    Text,
    /// For programs, with a `schema` field.
    Json,
    /// One page by itself, for a browser and for paper.
    Html,
}

/// The two ways out, and how they may look.
#[derive(Debug)]
pub struct Output {
    /// Linear, without pictures drawn in characters: for screen readers.
    pub plain: bool,
    /// Whether standard output may be coloured.
    pub colour: bool,
    /// Whether standard error may be coloured.
    pub message_colour: bool,
    /// Whether the terminal shows no more than ASCII.
    pub ascii: bool,
    /// How many columns standard output has, and standard error, where they are terminals.
    columns: [Option<usize>; 2],
    failed: bool,
    /// JSON was asked for, and nothing of it was written yet.
    owes_json: bool,
    errors: Vec<ErrorJson>,
}

/// A line on standard error that tells how much is done: drawn in place, or in the linear style a line a tenth.
#[derive(Debug)]
pub struct Progress {
    of: u32,
    plain: bool,
    shown: bool,
    /// Tenths that were told, in the linear style.
    tenths: AtomicUsize,
}

impl Progress {
    /// So much is done.
    pub fn at(&self, done: usize) {
        let tenth = done * 10 / self.of.max(1) as usize;
        if !self.shown || (self.plain && self.tenths.swap(tenth, Ordering::Relaxed) == tenth) {
            return;
        }
        let mut out = std::io::stderr().lock();
        let (before, after) = if self.plain { ("", "\n") } else { ("\r", "") };
        // As with messages: that nobody sees it is no reason to end.
        let _ = write!(out, "{before}  {done} of {} craft{after}", self.of).and_then(|()| out.flush());
    }

    /// Takes the line away that was drawn in place.
    pub fn end(&self) {
        if self.shown && !self.plain {
            let blank = " ".repeat(40);
            let _ = write!(std::io::stderr().lock(), "\r{blank}\r");
        }
    }
}

/// What a program is told that asked for JSON and gets no report.
#[derive(Serialize)]
struct Failure<'e> {
    schema: &'static str,
    exit: u8,
    errors: &'e [ErrorJson],
}

#[derive(Debug, Serialize)]
struct ErrorJson {
    message: String,
    hint: Option<String>,
}

impl Output {
    /// Looks at the two streams and the environment.
    #[must_use]
    pub fn new(plain: bool) -> Self {
        let wanted = !plain && colour_wanted(|name| std::env::var_os(name));
        Self {
            plain,
            colour: wanted && std::io::stdout().is_terminal(),
            message_colour: wanted && std::io::stderr().is_terminal(),
            ascii: ascii_only(|name| std::env::var_os(name)),
            columns: if plain { [None; 2] } else { [columns(std::io::stdout()), columns(std::io::stderr())] },
            failed: false,
            owes_json: false,
            errors: Vec::new(),
        }
    }

    /// JSON was asked for: it comes, whatever ends the command.
    pub fn owe_json(&mut self) {
        self.owes_json = true;
    }

    /// Writes a report to standard output, on a terminal with its lines broken between words: what came from outside must
    /// have passed the gate of [`crate::report::gate`] already.
    pub fn report(&mut self, text: &str) {
        match self.columns[0] {
            Some(columns) => self.verbatim(&folded(text, columns)),
            None => self.verbatim(text),
        }
    }

    /// As [`Output::report`], letter by letter: what a program reads, or what is a file.
    pub fn verbatim(&mut self, text: &str) {
        let mut out = std::io::stdout().lock();
        self.note(out.write_all(text.as_bytes()).and_then(|()| out.flush()));
    }

    /// Writes a value as JSON to standard output, ending in a line feed; characters that could
    /// change how the text is shown are written as JSON escapes.
    pub fn json<T: serde::Serialize>(&mut self, value: &T) {
        self.owes_json = false;
        match serde_json::to_string_pretty(value) {
            Ok(text) => self.verbatim(&format!("{}\n", gate::json(&text))),
            Err(_) => self.failed = true,
        }
    }

    /// Writes one message to standard error. Lines stay lines; everything else passes the gate.
    pub fn message(&mut self, text: &str) {
        let mut out = std::io::stderr().lock();
        // A message that nobody can read any more is no reason to end otherwise.
        let text = gate::lines(text);
        let text = self.columns[1].map_or(text.clone(), |columns| folded(&text, columns).into());
        let _ = writeln!(out, "{text}").and_then(|()| out.flush());
    }

    /// Writes an error to standard error, with what to do where that is known.
    pub fn error(&mut self, what: &str, hint: Option<&str>) {
        self.errors.push(ErrorJson { message: what.to_owned(), hint: hint.map(str::to_owned) });
        let hint = hint.map_or_else(String::new, |hint| format!("\n  do: {hint}"));
        self.message(&format!("error: {what}{hint}"));
    }

    /// How far something has come, on a terminal alone.
    #[must_use]
    pub fn progress(&self, of: u32) -> Progress {
        Progress { of, plain: self.plain, shown: std::io::stderr().is_terminal(), tenths: AtomicUsize::new(0) }
    }

    /// Columns of a line of prose on standard output.
    #[must_use]
    pub fn width(&self) -> usize {
        self.columns[0].map_or(PROSE, |columns| columns.min(PROSE))
    }

    /// How findings are shown on standard output.
    #[must_use]
    pub fn look(&self) -> Look {
        Look::of(self.plain, self.colour)
    }

    /// Writes findings to standard error. Each text in them has passed the gate, which would take their colours for
    /// somebody's.
    pub fn findings(&mut self, files: &[File], found: &[Finding]) {
        let look = Look::of(self.plain, self.message_colour);
        let mut out = std::io::stderr().lock();
        let _ = writeln!(out, "{}", findings::text(files, found, look).trim_end()).and_then(|()| out.flush());
    }

    /// The exit code: the command's own, or [`Exit::Link`] where a report could not be written. Where JSON was asked
    /// for and no report came, what went wrong is written instead.
    #[must_use]
    pub fn finish(mut self, exit: Exit) -> Exit {
        if std::mem::take(&mut self.owes_json) {
            let errors = std::mem::take(&mut self.errors);
            self.json(&Failure { schema: "quadjig.error/1", exit: exit.code(), errors: &errors });
        }
        if self.failed && exit == Exit::Done { Exit::Link } else { exit }
    }

    /// Keeps in mind that a report was lost. Who closed the pipe has read enough: no failure.
    fn note(&mut self, result: std::io::Result<()>) {
        if let Err(error) = result
            && error.kind() != ErrorKind::BrokenPipe
            && !self.failed
        {
            self.failed = true;
            self.message(&format!("error: the report could not be written: {error}"));
        }
    }
}

/// Most columns of a line of prose, and as many as it has where nobody says.
const PROSE: usize = 100;

#[cfg(unix)]
fn columns(stream: impl std::os::fd::AsFd) -> Option<usize> {
    crate::world::terminal::columns(stream)
}

#[cfg(not(unix))]
fn columns<T>(_: T) -> Option<usize> {
    None
}

/// Whether the environment leaves colour allowed: `NO_COLOR` empty or unset, `TERM` not `dumb`.
fn colour_wanted(var: impl Fn(&str) -> Option<std::ffi::OsString>) -> bool {
    let refused = var("NO_COLOR").is_some_and(|value| !value.is_empty());
    let dumb = var("TERM").is_some_and(|value| value == "dumb");
    !refused && !dumb
}

/// Whether the locale names a character set other than UTF-8. Where none is named at all nothing is known, and terminals of
/// today show UTF-8.
/// Source of the order: POSIX.1-2017, Base Definitions, 8.2.
fn ascii_only(var: impl Fn(&str) -> Option<std::ffi::OsString>) -> bool {
    let named = ["LC_ALL", "LC_CTYPE", "LANG"].into_iter().filter_map(var).find(|value| !value.is_empty());
    named.is_some_and(|value| {
        let value = value.to_string_lossy().to_lowercase();
        !value.contains("utf-8") && !value.contains("utf8")
    })
}

#[cfg(test)]
mod tests {
    use super::{ascii_only, colour_wanted};

    fn with(pairs: &[(&str, &str)]) -> bool {
        colour_wanted(|name| pairs.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).into()))
    }

    #[test]
    fn the_locale_can_refuse_more_than_ascii() {
        let with = |pairs: &[(&str, &str)]| {
            ascii_only(|name| pairs.iter().find(|(n, _)| *n == name).map(|(_, v)| (*v).into()))
        };
        assert!(!with(&[]));
        assert!(!with(&[("LANG", "de_DE.UTF-8")]));
        assert!(!with(&[("LC_ALL", ""), ("LC_CTYPE", "C.utf8"), ("LANG", "C")]));
        assert!(with(&[("LC_ALL", "C"), ("LANG", "en_GB.UTF-8")]));
        assert!(with(&[("LANG", "en_GB.ISO-8859-1")]));
    }

    /// An empty `NO_COLOR` counts as unset: <https://no-color.org>.
    #[test]
    fn the_environment_can_refuse_colour() {
        assert!(with(&[]));
        assert!(with(&[("TERM", "xterm-256color")]));
        assert!(with(&[("NO_COLOR", "")]));
        assert!(!with(&[("NO_COLOR", "1")]));
        assert!(!with(&[("TERM", "dumb")]));
    }
}
