//! `quadjig format`: rewrites recipes in the one layout.

use super::completions;
use super::input;
use super::options::Reporting;
use super::output::{Format as Form, Output};
use crate::language::cannot_read;
use crate::language::finding::Finding;
use crate::language::format::format;
use crate::language::recipe::File;
use crate::report::findings::{self, FindingJson};
use crate::seam::exit::Exit;
use crate::world::replace::replace;
use clap_complete::engine::ArgValueCompleter;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Rewrite recipes in the one layout.
///
/// Comments stay where they belong, and the meaning stays the same. A recipe that cannot be read
/// is left as it is.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig format wren-95.jig\n  quadjig format --check wren-95.jig common/receiver.jig\n  quadjig format - < wren-95.jig"
)]
pub struct Format {
    /// Recipes to rewrite; `-` reads one from standard input and writes it to standard output.
    #[arg(required = true, value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipes: Vec<PathBuf>,
    /// Write nothing; name what would change, and end in 3 if anything would.
    #[arg(long)]
    check: bool,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Report {
    schema: &'static str,
    files: Vec<FileJson>,
    findings: Vec<FindingJson>,
}

#[derive(Serialize)]
struct FileJson {
    file: String,
    changed: bool,
    /// Of standard input, which nothing is written back to.
    #[serde(skip_serializing_if = "Option::is_none")]
    text: Option<String>,
}

/// What became of one recipe.
enum Formatted {
    Same,
    Changed,
    /// Of standard input: the layout, and whether it is another.
    Piped(String, bool),
    Wrong(File, Vec<Finding>),
    Unwritten(String),
}

impl Format {
    /// Rewrites what is not in the one layout yet.
    pub fn run(self, out: &mut Output) -> Exit {
        if let Some(why) = input::named_twice(&self.recipes) {
            out.error(why, None);
            return Exit::Usage;
        }
        let mut report = Report { schema: "quadjig.format/1", files: Vec::new(), findings: Vec::new() };
        let (mut exit, look) = (Exit::Done, out.look());
        let mut worse = |other: Exit| {
            // A disk that fails weighs most, then a wrong recipe, then what is pending.
            let weight = |exit| match exit {
                Exit::Link => 3,
                Exit::Document => 2,
                Exit::Pending => 1,
                _ => 0,
            };
            exit = if weight(other) > weight(exit) { other } else { exit };
        };
        for path in &self.recipes {
            let name = input::source(path).1.display().to_string();
            let formatted = self.one(path);
            let changed = matches!(formatted, Formatted::Changed | Formatted::Piped(_, true));
            let mut text = None;
            match formatted {
                Formatted::Piped(tidy, _) if !self.check => match self.reporting.format {
                    // Bytes for the next program, which must be those of the recipe; it holds no hidden character.
                    Form::Text => out.verbatim(&tidy),
                    Form::Json => text = Some(tidy),
                },
                Formatted::Same | Formatted::Piped(_, false) => {}
                Formatted::Changed | Formatted::Piped(..) => {
                    if self.check {
                        worse(Exit::Pending);
                    }
                    if self.reporting.format == Form::Text {
                        let did = if self.check { "would change" } else { "rewritten" };
                        out.report(&format!("{did}: {}\n", crate::report::gate::line(&name)));
                    }
                }
                Formatted::Wrong(file, found) => {
                    worse(Exit::Document);
                    let files = [file];
                    match self.reporting.format {
                        Form::Text => out.report(&findings::text(&files, &found, look)),
                        Form::Json => report.findings.extend(findings::json(&files, &found)),
                    }
                }
                Formatted::Unwritten(why) => {
                    worse(Exit::Link);
                    out.error(&format!("{name} cannot be rewritten: {why}"), Some("it is as it was"));
                }
            }
            report.files.push(FileJson { file: name, changed, text });
        }
        if self.reporting.format == Form::Json {
            out.json(&report);
        }
        exit
    }

    fn one(&self, path: &Path) -> Formatted {
        let (sources, name) = input::source(path);
        let text = match sources.read(&name) {
            Ok(source) => source.text,
            Err(error) => {
                let name = name.display().to_string();
                let found = vec![cannot_read(&name, &error)];
                return Formatted::Wrong(File { name, text: "".into() }, found);
            }
        };
        match format(&text) {
            Err(found) => Formatted::Wrong(File { name: name.display().to_string(), text }, found),
            Ok(new) if input::is_meant(path) => Formatted::Piped(new.clone(), *new != *text),
            Ok(new) if *new == *text => Formatted::Same,
            Ok(_) if self.check => Formatted::Changed,
            Ok(new) => match replace(path, new.as_bytes()) {
                Ok(()) => Formatted::Changed,
                Err(error) => Formatted::Unwritten(error.to_string()),
            },
        }
    }
}
