//! Changes of texts that an editor makes for the reader: fixes, the one layout, a name in all its places.
//!
//! Promises: a change is made from the text that the client has, and says so by its version where the client reads it.
//! Must not be here: which changes are wanted.

use super::workspace::Workspace;
use lsp_types::TextEdit;
use serde_json::{Map, Value, json};
use std::ops::Range;
use std::path::{Path, PathBuf};

/// One replacement in a file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Edit {
    /// Which file.
    pub path: PathBuf,
    /// Start and end in bytes.
    pub from: usize,
    /// See above.
    pub to: usize,
    /// With what.
    pub text: String,
}

impl Edit {
    /// In one file.
    pub fn new(path: &Path, range: &Range<usize>, text: impl Into<String>) -> Self {
        Self { path: path.to_owned(), from: range.start, to: range.end, text: text.into() }
    }
}

/// Edits as the protocol wants them; `text` gives the text of a file.
pub fn workspace<'t>(
    workspace: &Workspace,
    versioned: bool,
    edits: &[Edit],
    text: impl Fn(&Path) -> Option<&'t str>,
) -> Option<Value> {
    let (mut changes, mut documents) = (Map::new(), Vec::new());
    for edits in edits.chunk_by(|a, b| a.path == b.path) {
        let path = &edits.first()?.path;
        let text = text(path)?;
        let one =
            |edit: &Edit| TextEdit { range: workspace.range(text, &(edit.from..edit.to)), new_text: edit.text.clone() };
        let all: Vec<TextEdit> = edits.iter().map(one).collect();
        let uri = workspace.uri_of(path);
        let version = workspace.buffer_of(path).map(|buffer| buffer.version);
        documents.push(json!({ "textDocument": { "uri": uri, "version": version }, "edits": all }));
        changes.insert(uri, json!(all));
    }
    Some(if versioned { json!({ "documentChanges": documents }) } else { json!({ "changes": changes }) })
}

/// What makes one text of another, the lines at both ends that are the same left alone.
pub fn difference(old: &str, new: &str) -> Option<(Range<usize>, String)> {
    if old == new {
        return None;
    }
    let start = same(old.split_inclusive('\n'), new.split_inclusive('\n'));
    let (olds, news) = (&old[start..], &new[start..]);
    let end = same(olds.split_inclusive('\n').rev(), news.split_inclusive('\n').rev());
    Some((start..old.len() - end, new[start..new.len() - end].to_owned()))
}

/// Bytes of the lines that are the same from the beginning on.
fn same<'t>(a: impl Iterator<Item = &'t str>, b: impl Iterator<Item = &'t str>) -> usize {
    a.zip(b).take_while(|(a, b)| a == b).map(|(a, _)| a.len()).sum()
}
