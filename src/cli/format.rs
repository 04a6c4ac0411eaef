//! `quadjig format`: rewrites recipes in the one layout.

use super::exit::Exit;
use super::options::Reporting;
use super::output::{Format as Form, Output};
use crate::language::finding::Finding;
use crate::language::format::format;
use crate::language::recipe::File;
use crate::language::sources::{Disk, Sources};
use crate::report::findings::{self, FindingJson};
use crate::world::replace::replace;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Rewrite recipes in the one layout.
///
/// Comments stay where they belong, and the meaning stays the same. A recipe that cannot be read
/// is left as it is.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig format wren-95.jig\n  quadjig format --check wren-95.jig common/receiver.jig"
)]
pub struct Format {
    /// Recipes to rewrite.
    #[arg(required = true, value_name = "RECIPE")]
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
}

/// What became of one recipe.
enum Formatted {
    Same,
    Changed,
    Wrong(File, Vec<Finding>),
    Unreadable(String),
    Unwritten(String),
}

impl Format {
    /// Rewrites what is not in the one layout yet.
    pub fn run(self, out: &mut Output) -> Exit {
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
            let name = path.display().to_string();
            let formatted = self.one(path);
            let changed = matches!(formatted, Formatted::Changed);
            match formatted {
                Formatted::Same => {}
                Formatted::Changed => {
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
                Formatted::Unreadable(why) => {
                    worse(Exit::Document);
                    out.error(&format!("{name} cannot be read: {why}"), None);
                }
                Formatted::Unwritten(why) => {
                    worse(Exit::Link);
                    out.error(&format!("{name} cannot be rewritten: {why}"), Some("it is as it was"));
                }
            }
            report.files.push(FileJson { file: name, changed });
        }
        if self.reporting.format == Form::Json {
            out.json(&report);
        }
        exit
    }

    fn one(&self, path: &Path) -> Formatted {
        let text = match Disk.read(path) {
            Ok(source) => source.text,
            Err(error) => return Formatted::Unreadable(error.to_string()),
        };
        match format(&text) {
            Err(found) => Formatted::Wrong(File { name: path.display().to_string(), text }, found),
            Ok(new) if *new == *text => Formatted::Same,
            Ok(_) if self.check => Formatted::Changed,
            Ok(new) => match replace(path, new.as_bytes()) {
                Ok(()) => Formatted::Changed,
                Err(error) => Formatted::Unwritten(error.to_string()),
            },
        }
    }
}
