//! Tests of `src/language/`.

mod canonical;
pub mod checks;
mod complete;
pub mod explain;
mod findings;
mod format;
mod givens;
mod limits;
mod mistakes;
mod mutated;
mod one_cause;
mod outline;
mod statements;
mod uses;

use quadjig::language::recipe::Recipe;
use quadjig::language::sources::Memory;
use quadjig::language::{Reading, read};
use std::fmt::Write as _;
use std::path::Path;

/// The header that every recipe of the tests begins with.
pub const HEAD: &str = "recipe \"Test\"\nedition 1\ncraft quad x\nboard \"Finch\"\n";
/// A few words of a vocabulary.
pub const WORDS: &[&str] = &["idle", "loop-rate", "zero-throttle"];

/// Reads a text as the named recipe.
pub fn read_text(text: &str) -> Reading {
    read(&Memory::of([("test.jig", text)]), Path::new("test.jig"), &[], WORDS)
}

/// Reads statements behind the header, of which nothing may be wrong.
pub fn recipe(statements: &str) -> Recipe {
    let reading = read_text(&format!("{HEAD}{statements}\n"));
    assert!(reading.findings.is_empty(), "{statements}\n{}", told(&reading));
    reading.recipe.unwrap()
}

/// Findings as text: severity, code, place, what stands there, message, other places, hints, fixes.
pub fn told(reading: &Reading) -> String {
    let mut out = String::new();
    let place = |span: &quadjig::language::span::Span| {
        let file = &reading.files[span.file.0];
        let (line, column) = quadjig::language::recipe::line_column(&file.text, span.range.start);
        format!("{}:{line}:{column} `{}`", file.name, &file.text[span.range.clone()])
    };
    for finding in &reading.findings {
        writeln!(out, "{:?} {} {}: {}", finding.severity, finding.code, place(&finding.span), finding.message).unwrap();
        for (span, words) in &finding.also {
            writeln!(out, "  also {}: {words}", place(span)).unwrap();
        }
        for hint in &finding.hints {
            writeln!(out, "  hint {hint}").unwrap();
        }
        for fix in &finding.fixes {
            writeln!(out, "  fix {}: {} -> `{}`", fix.title, place(&fix.span), fix.replacement).unwrap();
        }
    }
    out
}
