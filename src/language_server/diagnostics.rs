//! Findings as an editor shows them, in every file that they are about.
//!
//! Promises: what is published is what `check` finds; a file that no open recipe speaks of any more is cleared. Must
//! not be here: what is wrong with a recipe, a sheet, a card.

use super::positions::{Lines, starts};
use super::workspace::{self, Judged, Workspace};
use crate::language::finding::{Finding, Severity};
use crate::language::recipe::File;
use crate::language::span::Span;
use crate::report::findings::{self, FindingJson};
use crate::report::gate;
use lsp_types::{
    Diagnostic, DiagnosticRelatedInformation, DiagnosticSeverity, Location, NumberOrString, PublishDiagnosticsParams,
    Range,
};
use std::collections::{BTreeMap, BTreeSet};
use std::path::PathBuf;

/// What the client was told last, by file.
#[derive(Debug, Default)]
pub struct Published {
    told: BTreeMap<String, Vec<Diagnostic>>,
}

impl Published {
    /// What has to be told now; of the files in `changed` also that nothing is new.
    pub fn news(&mut self, workspace: &Workspace, changed: &BTreeSet<String>) -> Vec<PublishDiagnosticsParams> {
        let mut now: BTreeMap<String, Vec<Diagnostic>> = BTreeMap::new();
        for uri in workspace.buffers.keys() {
            let all = if let Some(judged) = workspace.judge(uri) {
                Told::of(workspace, &judged.reading.files).all(&judged.findings)
            } else if let Some((file, found)) = workspace.document(uri) {
                Told::of(workspace, &[file]).all(&found)
            } else {
                continue;
            };
            now.entry(uri.clone()).or_default();
            for (path, diagnostic) in all {
                let list = now.entry(workspace.uri_of(&path)).or_default();
                if !list.contains(&diagnostic) {
                    list.push(diagnostic);
                }
            }
        }
        for gone in self.told.keys().filter(|uri| !now.contains_key(*uri)).cloned().collect::<Vec<_>>() {
            now.insert(gone, Vec::new());
        }
        let mut news = Vec::new();
        for (uri, diagnostics) in &now {
            let is_new = self.told.get(uri) != Some(diagnostics);
            if let (true, Ok(named)) = (is_new || changed.contains(uri), uri.parse()) {
                let version = workspace.buffers.get(uri).map(|buffer| buffer.version);
                news.push(PublishDiagnosticsParams { uri: named, diagnostics: diagnostics.clone(), version });
            }
        }
        now.retain(|uri, diagnostics| workspace.buffers.contains_key(uri) || !diagnostics.is_empty());
        self.told = now;
        news
    }
}

/// Files in which something was found.
struct Told<'a> {
    workspace: &'a Workspace,
    files: &'a [File],
    /// Where the lines of each begin.
    starts: Vec<Vec<usize>>,
}

impl<'a> Told<'a> {
    fn of(workspace: &'a Workspace, files: &'a [File]) -> Self {
        Self { workspace, files, starts: files.iter().map(|file| starts(&file.text)).collect() }
    }

    /// Every finding with its file.
    fn all(&self, findings: &[Finding]) -> Vec<(PathBuf, Diagnostic)> {
        let told = findings::json(self.files, findings);
        let one = |(finding, told): (&Finding, &FindingJson)| {
            (workspace::path(self.files, finding.span.file), self.diagnostic(finding, told))
        };
        findings.iter().zip(&told).map(one).collect()
    }

    fn range(&self, span: &Span) -> Option<Range> {
        let (file, starts) = (self.files.get(span.file.0)?, self.starts.get(span.file.0)?);
        Some(Lines::new(&file.text, starts, self.workspace.encoding).range(&span.range))
    }

    fn diagnostic(&self, finding: &Finding, told: &FindingJson) -> Diagnostic {
        let also = finding.also.iter().filter_map(|(span, words)| {
            let uri = self.workspace.uri_of(&workspace::path(self.files, span.file)).parse().ok()?;
            let location = Location { uri, range: self.range(span)? };
            Some(DiagnosticRelatedInformation { location, message: gate::line(words).into_owned() })
        });
        Diagnostic {
            range: self.range(&finding.span).unwrap_or_default(),
            severity: Some(match finding.severity {
                Severity::Error => DiagnosticSeverity::ERROR,
                Severity::Warning => DiagnosticSeverity::WARNING,
                Severity::Hint => DiagnosticSeverity::HINT,
            }),
            code: Some(NumberOrString::String(finding.code.to_owned())),
            source: Some("quadjig".to_owned()),
            message: message(told),
            related_information: Some(also.collect()).filter(|also: &Vec<_>| !also.is_empty()),
            ..Diagnostic::default()
        }
    }
}

/// What is wrong, then what to do, a line each.
fn message(told: &FindingJson) -> String {
    let mut message = gate::line(&told.message).into_owned();
    for hint in &told.hints {
        message.push_str("\ndo: ");
        message.push_str(&gate::line(hint));
    }
    message
}

/// The diagnostic of one finding.
pub fn one(workspace: &Workspace, judged: &Judged, finding: &Finding) -> Option<Diagnostic> {
    let all = Told::of(workspace, &judged.reading.files).all(std::slice::from_ref(finding));
    all.into_iter().next().map(|(_, diagnostic)| diagnostic)
}
