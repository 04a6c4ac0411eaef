//! The outline of a recipe: its head, parameters, switches and statements.
//!
//! Must not be here: what they mean.

use super::buffers::Buffer;
use super::workspace::Workspace;
use crate::language::outline::{Outlined, Role, outline};
use crate::report::gate;
use lsp_types::{DocumentSymbol, SymbolKind};

/// Longest name of an entry, in characters.
const LONGEST: usize = 80;

/// Every statement of a buffer as an entry of its outline.
pub fn all(workspace: &Workspace, buffer: &Buffer) -> Vec<DocumentSymbol> {
    let lines = buffer.lines(workspace.encoding);
    let one = |statement: &Outlined| {
        let new = statement.words.iter().find(|word| matches!(word.role, Role::NewSwitch | Role::NewParameter));
        #[expect(deprecated, reason = "the field has to be named, and is left empty")]
        DocumentSymbol {
            name: short(&statement.text),
            detail: None,
            kind: kind(statement),
            tags: None,
            deprecated: None,
            range: lines.range(&statement.range),
            selection_range: lines.range(new.map_or(&statement.range, |word| &word.range)),
            children: None,
        }
    };
    outline(&buffer.text).iter().map(one).collect()
}

/// A statement in one line, cut where it is long.
fn short(text: &str) -> String {
    let words = text.split_whitespace().collect::<Vec<_>>().join(" ");
    let shown = gate::line(&words);
    match shown.char_indices().nth(LONGEST) {
        Some((at, _)) => format!("{}…", &shown[..at]),
        None => shown.into_owned(),
    }
}

fn kind(statement: &Outlined) -> SymbolKind {
    match statement.text.split([' ', '\t']).next().unwrap_or_default() {
        "recipe" | "edition" | "craft" | "board" => SymbolKind::NAMESPACE,
        "given" => SymbolKind::CONSTANT,
        "use" => SymbolKind::MODULE,
        "switch" | "find" => SymbolKind::KEY,
        "bind" | "unbind" => SymbolKind::FUNCTION,
        "require" | "expect" => SymbolKind::BOOLEAN,
        "test" | "order" | "calibrate" => SymbolKind::EVENT,
        "note" | "pause" => SymbolKind::STRING,
        _ => SymbolKind::PROPERTY,
    }
}
