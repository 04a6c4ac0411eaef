//! Board sheets and radio cards as somebody names them: shipped, at a recipe's root, or a file.
//!
//! Promises: a name that is shipped wins over a file of that name, as `--help` says; whatever is
//! wrong with a document is told whole. Must not be here: what a document means.

use crate::board::document::DocumentError;
use crate::board::document::load::{self, LoadError};
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::{radio_card_file, sheet_file, shipped};
use crate::language::characters::shell_word;
use crate::language::checks::codes;
use crate::language::finding::Finding;
use crate::language::recipe::Recipe;
use crate::measure::nearest::nearest;
use std::path::{Path, PathBuf};

/// Why a document could not be had.
#[derive(Debug, thiserror::Error)]
#[expect(missing_docs, reason = "the fields are the parts of the sentence above them")]
pub enum ChosenError {
    /// Neither shipped nor a file; `near` is what was most likely meant.
    #[error("there is no {kind} `{name}`: neither a file nor one of those that come with quadjig ({})", .shipped.join(", "))]
    Unknown { kind: &'static str, name: String, shipped: Vec<&'static str>, near: Option<&'static str> },
    /// Two of one name.
    #[error("two {kind}s are called `{name}`, and they differ: {first} and {other}")]
    Two { kind: &'static str, name: String, first: String, other: String },
    /// A file that cannot be used.
    #[error(transparent)]
    Load(#[from] LoadError),
}

impl ChosenError {
    /// What to do.
    #[must_use]
    pub fn hint(&self) -> Option<String> {
        match self {
            Self::Unknown { near: Some(near), .. } => Some(format!("did you mean `{near}`?")),
            Self::Two { .. } => Some("give one of the two another name, or name its file".to_owned()),
            _ => None,
        }
    }
}

fn unknown(kind: &'static str, name: &str, shipped: &'static [shipped::Shipped]) -> ChosenError {
    let shipped: Vec<&'static str> = shipped.iter().map(|one| one.stem).collect();
    let near = nearest(name, shipped.iter().copied());
    ChosenError::Unknown { kind, name: name.to_owned(), shipped, near }
}

/// The sheet that `--sheet` names: in `boards/` at the root or shipped; else a file.
///
/// # Errors
/// No such sheet, or all that is wrong with it.
pub fn sheet(name: &str, root: &Path) -> Result<Sheet, ChosenError> {
    let same = |one: &Sheet, other: &Sheet| one.hash == other.hash;
    match by_name(("board sheet", "boards", "board"), name, root, sheet_file::load, shipped::sheet(name), same)? {
        Some(sheet) => Ok(sheet),
        None if !Path::new(name).exists() => Err(unknown("board sheet", name, shipped::SHEETS)),
        None => Ok(sheet_file::load(Path::new(name))?),
    }
}

/// The card that `--radio` names: in `radios/` at the root or shipped, which are only read; else a file, which is given.
///
/// # Errors
/// No such card, or all that is wrong with it.
pub fn radio_card(name: &str, root: &Path) -> Result<(RadioCard, Option<PathBuf>), ChosenError> {
    let shipped = shipped::radio_card(name);
    let file = Path::new(name);
    match by_name(("radio card", "radios", "radio"), name, root, radio_card_file::load, shipped, RadioCard::eq)? {
        Some(card) => Ok((card, None)),
        None if !file.exists() => Err(unknown("radio card", name, shipped::RADIOS)),
        None => Ok((radio_card_file::load(file)?, Some(file.to_owned()))),
    }
}

/// What has a name: in its folder at the root, by its file's name or by what it says of itself, or shipped.
fn by_name<T>(
    (kind, folder, key): (&'static str, &str, &str),
    name: &str,
    root: &Path,
    load: fn(&Path) -> Result<T, LoadError>,
    shipped: Option<Result<T, DocumentError>>,
    same: fn(&T, &T) -> bool,
) -> Result<Option<T>, ChosenError> {
    let mut all: Vec<(String, T)> = Vec::new();
    for path in in_root(root, folder) {
        let text = load::text(&path).unwrap_or_default();
        if path.file_stem().is_some_and(|stem| stem == name) || says(&text, key, name) {
            all.push((path.display().to_string(), load(&path)?));
        }
    }
    if let Some(shipped) = shipped {
        all.push(("the one that comes with quadjig".to_owned(), shipped.map_err(LoadError::Document)?));
    }
    let mut all = all.into_iter();
    let Some((first, chosen)) = all.next() else { return Ok(None) };
    match all.find(|(_, other)| !same(other, &chosen)) {
        Some((other, _)) => Err(ChosenError::Two { kind, name: name.to_owned(), first, other }),
        None => Ok(Some(chosen)),
    }
}

/// A folder at the root: sheets, or cards.
fn in_root(root: &Path, folder: &str) -> Vec<PathBuf> {
    let Ok(entries) = std::fs::read_dir(Path::new(".").join(root).join(folder)) else { return Vec::new() };
    let names = entries.take(MOST).filter_map(|entry| Some(root.join(folder).join(entry.ok()?.file_name())));
    let toml = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "toml") && path.is_file();
    let mut found: Vec<PathBuf> = names.filter(toml).collect();
    found.sort();
    found
}

/// Files of a folder at the root that are looked at.
const MOST: usize = 1000;

/// The sheets of the boards that a recipe was written for, in the order of its boards: one's own, those in `boards/` at the
/// root, those that are shipped. What is wrong with them is found at the board's line.
///
/// # Errors
/// A shipped sheet that its own reader refuses.
pub fn sheets_for(recipe: &Recipe, root: &Path, own: &[Sheet]) -> Result<(Vec<Sheet>, Vec<Finding>), DocumentError> {
    let (mut sheets, mut findings): (Vec<Sheet>, Vec<Finding>) = (Vec::new(), Vec::new());
    let texts: Vec<(String, String)> = in_root(root, "boards")
        .into_iter()
        .filter_map(|path| Some((path.display().to_string(), load::text(&path).ok()?)))
        .collect();
    for board in &recipe.boards {
        let name = board.value.as_str();
        let mut all: Vec<(String, Sheet)> = own
            .iter()
            .filter(|sheet| sheet.board == name)
            .map(|sheet| ("a sheet that is checked along".to_owned(), sheet.clone()))
            .collect();
        for (file, text) in texts.iter().filter(|(_, text)| says(text, "board", name)) {
            match sheet_file::read(file, text) {
                Ok(sheet) if sheet.board == name => all.push((file.clone(), sheet)),
                Ok(_) => {}
                // Where it is checked along, it is told there.
                Err(_) if !own.is_empty() => {}
                Err(error) => {
                    let count = error.faults.len();
                    let message =
                        format!("`{file}`, which describes this board, is not as a sheet has to be: {count} mistakes");
                    let hint = format!("`quadjig check {}` tells them", shell_word(file.as_ref()));
                    findings.push(Finding::error(codes::SHEET_WRONG, &board.span, message).hint(hint));
                }
            }
        }
        all.extend(
            shipped::sheet(name).transpose()?.map(|sheet| ("the one that comes with quadjig".to_owned(), sheet)),
        );
        let mut all = all.into_iter();
        let Some((first, sheet)) = all.next() else { continue };
        if let Some((other, _)) = all.find(|(_, other)| other.hash != sheet.hash) {
            let message = format!("two sheets describe a board \"{name}\", and they differ: {first} and {other}");
            findings.push(
                Finding::error(codes::TWO_SHEETS, &board.span, message)
                    .hint("give one of the two another name, or leave it out"),
            );
        }
        sheets.push(sheet);
    }
    Ok((sheets, findings))
}

/// Every board that something at hand describes, by name.
#[must_use]
pub fn boards(root: &Path) -> Vec<String> {
    let own = in_root(root, "boards").into_iter().filter_map(|file| Some(sheet_file::load(&file).ok()?.board));
    let mut all: Vec<String> = own.chain(shipped::SHEETS.iter().map(|sheet| sheet.name.to_owned())).collect();
    all.sort();
    all.dedup();
    all
}

/// Whether a document says of itself that it is a board's or a radio's of this name.
fn says(text: &str, key: &str, name: &str) -> bool {
    let quoted = format!("\"{name}\"");
    let heads = text.lines().take_while(|line| !line.trim_start().starts_with('['));
    heads.filter(|line| line.trim_start().starts_with(key)).any(|line| line.contains(&quoted))
}
