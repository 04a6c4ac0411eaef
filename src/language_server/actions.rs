//! Fixes that findings carry, as actions of the editor.
//!
//! Must not be here: which fix a finding has.

use super::buffers::Buffer;
use super::diagnostics;
use super::edits::{self, Edit};
use super::workspace::Workspace;
use lsp_types::{CodeActionKind, CodeActionParams};
use serde_json::{Value, json};
use std::path::Path;

/// Every fix of every finding that touches the range.
pub fn all(workspace: &Workspace, versioned: bool, buffer: &Buffer, params: &CodeActionParams) -> Vec<Value> {
    let wanted = |kind: &CodeActionKind| kind.as_str().is_empty() || *kind == CodeActionKind::QUICKFIX;
    if params.context.only.as_ref().is_some_and(|only| !only.iter().any(wanted)) {
        return Vec::new();
    }
    let asked = buffer.lines(workspace.encoding).bytes(params.range);
    let mut all = Vec::new();
    // A recipe that uses this one may find something in it.
    for judged in workspace.buffers.keys().filter_map(|uri| workspace.judge(uri)) {
        let text = |path: &Path| {
            judged.reading.files.iter().find(|file| Path::new(&file.name) == path).map(|file| &*file.text)
        };
        for finding in &judged.findings {
            let place = &finding.span.range;
            let touches = place.start <= asked.end && asked.start <= place.end;
            if !touches || judged.path(finding.span.file) != buffer.path {
                continue;
            }
            for fix in &finding.fixes {
                let edit = Edit::new(&judged.path(fix.span.file), &fix.span.range, fix.replacement.clone());
                let action = json!({
                    "title": crate::report::gate::line(&fix.title),
                    "kind": CodeActionKind::QUICKFIX,
                    "diagnostics": diagnostics::one(workspace, &judged, finding).into_iter().collect::<Vec<_>>(),
                    "edit": edits::workspace(workspace, versioned, &[edit], text),
                    "isPreferred": finding.fixes.len() == 1,
                });
                if !all.contains(&action) {
                    all.push(action);
                }
            }
        }
    }
    all
}
