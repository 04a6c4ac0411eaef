//! What may stand at the cursor: from the grammar, the sheets, the radio card, and the recipe's own names.
//!
//! Must not be here: what may follow what (see `language::complete`).

use super::buffers::{Buffer, Reader};
use super::names::resolved;
use super::workspace::{Judged, Workspace};
use crate::board::{at_hand, known};
use crate::language::complete::complete;
use crate::language::known::Known;
use crate::language::outline::{Outlined, Role, begun, outline};
use crate::language::recipe::{GivenKind, StatementKind};
use crate::language::reference;
use crate::language::sources::Sources;
use lsp_types::{
    CompletionItem, CompletionItemKind, CompletionTextEdit, Documentation, MarkupContent, MarkupKind, TextEdit,
};
use std::path::Path;

/// Most recipes beside one that are offered behind `use`.
const MOST_FILES: usize = 200;
/// Most levels of folders in which they are looked for.
const LEVELS: usize = 4;

/// Everything that may stand at a byte of a buffer.
pub fn items(workspace: &Workspace, buffer: &Buffer, at: usize) -> Vec<CompletionItem> {
    let Some(judged) = workspace.judge(&buffer.uri) else { return Vec::new() };
    let text = &buffer.text;
    let start = begun(&text[..at]);
    let before = &text[start..at];
    let known = known(workspace, buffer, &judged, before);
    let (from, found) = complete(before, &known);
    let mut end = at;
    // A quote that the editor closed by itself is not written twice.
    if before[from..].starts_with('"') && text[at..].starts_with('"') {
        end += 1;
    }
    let lines = buffer.lines(workspace.encoding);
    let range = lines.range(&(start + from..end));
    let one = |(number, candidate): (usize, crate::language::complete::Candidate)| {
        let explained = (from == 0).then(|| reference::statement(&candidate.text)).flatten();
        let quoted = candidate.text.starts_with('"');
        CompletionItem {
            label: candidate.text.clone(),
            kind: Some(if quoted { CompletionItemKind::VALUE } else { CompletionItemKind::KEYWORD }),
            detail: Some(candidate.about).filter(|about| !about.is_empty()),
            documentation: explained.map(|statement| {
                Documentation::MarkupContent(MarkupContent {
                    kind: MarkupKind::PlainText,
                    value: statement.meaning.clone(),
                })
            }),
            // In the order in which they are offered.
            sort_text: Some(format!("{number:04}")),
            filter_text: Some(candidate.text.clone()),
            text_edit: Some(CompletionTextEdit::Edit(TextEdit { range, new_text: candidate.text })),
            ..CompletionItem::default()
        }
    };
    found.into_iter().enumerate().map(one).collect()
}

fn known(workspace: &Workspace, buffer: &Buffer, judged: &Judged, before: &str) -> Known {
    let mut known = judged.sheets.iter().map(known::of_sheet).fold(Known::default(), joined);
    known.head = true;
    if before.starts_with("board") {
        known.boards = at_hand::boards(&judged.reading.root);
    }
    known.switches = switches(buffer, judged);
    known.parameters = parameters(&outline(&buffer.text));
    if before.starts_with("use") && buffer.is_file() {
        known.files = files(buffer);
        known.told = told(workspace, buffer, judged, before);
    }
    known
}

/// What either of two boards knows.
fn joined(mut all: Known, one: Known) -> Known {
    fn add<T: PartialEq>(all: &mut Vec<T>, more: Vec<T>) {
        for one in more {
            if !all.contains(&one) {
                all.push(one);
            }
        }
    }
    add(&mut all.functions, one.functions);
    add(&mut all.raw, one.raw);
    add(&mut all.protocols, one.protocols);
    add(&mut all.signals, one.signals);
    for (word, values) in one.settings {
        match all.settings.iter_mut().find(|(known, _)| *known == word) {
            Some((_, known)) => add(known, values),
            None => all.settings.push((word, values)),
        }
    }
    all
}

/// Switches of the recipe, then those of the radio card, each with its positions as far as they are known.
fn switches(buffer: &Buffer, judged: &Judged) -> Vec<(String, u32)> {
    let card = judged.card.as_ref();
    let on_card = |name: &str| {
        let entry = card?.switches.iter().find(|(switch, _)| switch.0 == name)?.1;
        u32::try_from(entry.rests.len()).ok()
    };
    let mut all: Vec<(String, u32)> = Vec::new();
    for statement in judged.reading.recipe.iter().flat_map(|recipe| &recipe.statements) {
        let (switch, count) = match &statement.what {
            StatementKind::DeclareSwitch { switch, rests, .. } => (switch, u32::try_from(rests.len()).ok()),
            StatementKind::FindSwitch { switch, positions, .. } => (switch, positions.or_else(|| on_card(&switch.0))),
            _ => continue,
        };
        all.push((switch.0.clone(), count.unwrap_or(0)));
    }
    let more = new_names(&outline(&buffer.text), Role::NewSwitch).into_iter().map(|name| (name, 0));
    let card = card.into_iter().flat_map(|card| &card.switches);
    let card = card.map(|(switch, entry)| (switch.0.clone(), u32::try_from(entry.rests.len()).unwrap_or(0)));
    for (name, count) in more.chain(card) {
        if !all.iter().any(|(known, _)| *known == name) {
            all.push((name, count));
        }
    }
    all
}

fn parameters(statements: &[Outlined]) -> Vec<(String, GivenKind)> {
    let declared = statements.iter().filter_map(Outlined::parameter);
    declared.map(|(name, kind)| (name.to_owned(), kind)).collect()
}

fn new_names(statements: &[Outlined], role: Role) -> Vec<String> {
    let words = statements.iter().flat_map(|statement| &statement.words);
    words.filter(|word| word.role == role).map(|word| word.text.clone()).collect()
}

/// Recipes in the folder of one and below it, as a `use` line writes them.
fn files(buffer: &Buffer) -> Vec<String> {
    let Some(folder) = buffer.path.parent() else { return Vec::new() };
    let mut found = super::folders::recipes(folder, LEVELS, MOST_FILES);
    found.retain(|path| *path != buffer.path);
    let relative = |path: &Path| Some(path.strip_prefix(folder).ok()?.to_string_lossy().replace('\\', "/"));
    found.iter().filter_map(|path| relative(path)).collect()
}

/// Parameters of the file that a `use` line names.
fn told(workspace: &Workspace, buffer: &Buffer, judged: &Judged, before: &str) -> Vec<(String, GivenKind)> {
    let path = resolved(&buffer.path, before.split('"').nth(1).unwrap_or_default());
    let root = &judged.reading.root;
    let Ok(inside) = path.strip_prefix(root) else { return Vec::new() };
    let source = Reader::on_disk(&workspace.buffers).read_inside(root, inside);
    source.map(|source| parameters(&outline(&source.text))).unwrap_or_default()
}
