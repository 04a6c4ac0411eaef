//! The reviews that lie beside a recipe, and what each of them is worth.
//!
//! Promises: reading changes nothing and is bounded; whatever does not count says why. Must not be here: how it is shown.

use super::signature::{self, SignatureError};
use super::signers;
use super::statement::{NotAStatement, Reviewed, Statement};
use crate::board::document::load;
use crate::board::sheet::Sheet;
use crate::language::Reading;
use crate::language::again::read_again;
use crate::language::canonical::{recipe_hash, sha256};
use crate::language::difference::{Difference, difference};
use crate::language::recipe::Recipe;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// Statements that are looked at.
const MOST: usize = 200;

/// The folder of a recipe's reviews: beside it, named after it.
#[must_use]
pub fn folder(recipe: &Path) -> PathBuf {
    let mut name = recipe.file_name().unwrap_or_default().to_owned();
    name.push(".reviews");
    recipe.with_file_name(name)
}

/// Where a text that was reviewed is kept, in that folder.
#[must_use]
pub fn text_file(folder: &Path, hash: &str) -> PathBuf {
    folder.join("texts").join(hash)
}

/// A statement, and what it is worth.
#[derive(Debug)]
pub struct Review {
    /// Its file.
    pub file: PathBuf,
    /// SHA-256 of its bytes.
    pub sha256: String,
    /// The statement.
    pub statement: Statement,
    /// The fingerprint of the key that the operator trusts for its reviewer; else why it counts for nothing.
    pub trusted: Result<String, Untrusted>,
    /// What it withdraws, or is withdrawn by: who, when and why.
    pub withdrawn: Option<Withdrawn>,
}

/// A withdrawal that counts.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Withdrawn {
    /// By whom.
    pub by: String,
    /// When.
    pub at: String,
    /// Why.
    pub reason: String,
}

/// Why a statement counts for nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Untrusted {
    /// There is no signature.
    #[error("it is not signed")]
    Unsigned,
    /// The signature says nothing.
    #[error(transparent)]
    Signature(#[from] SignatureError),
    /// The operator has no file.
    #[error("you trust nobody yet: there is no {}", .0.display())]
    Nobody(PathBuf),
    /// Another key, or another name.
    #[error("your allowed-signers file does not trust this key for {reviewer}: {key}")]
    Stranger {
        /// As whom it signed.
        reviewer: String,
        /// Its fingerprint.
        key: String,
    },
}

/// What changed since a recipe was reviewed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Since {
    /// Nothing: every byte is the same.
    Nothing,
    /// Files, in nothing that has a meaning.
    Layout(Vec<String>),
    /// What it means; none where the text that was reviewed is not kept any more.
    Meaning(Option<Vec<Difference>>),
}

/// A file that could not be read as a statement.
#[derive(Debug, thiserror::Error)]
#[error("{} counts for nothing: {why}", .file.display())]
pub struct Unread {
    /// Which.
    pub file: PathBuf,
    /// Why.
    pub why: String,
}

/// Whom the operator trusts: the file, and its text, if there is one.
#[derive(Debug, Clone, Default)]
pub struct Signers {
    /// The file.
    pub file: PathBuf,
    /// Its text.
    pub text: Option<String>,
}

impl Signers {
    /// Reads a file; where there is none nobody is trusted.
    #[must_use]
    pub fn read(file: PathBuf) -> Self {
        let text = load::text(&file).ok();
        Self { file, text }
    }

    fn judge(&self, statement: &Statement, bytes: &str, signature: Option<&str>) -> Result<String, Untrusted> {
        let key = signature::signer(signature.ok_or(Untrusted::Unsigned)?, bytes.as_bytes())?;
        let text = self.text.as_ref().ok_or_else(|| Untrusted::Nobody(self.file.clone()))?;
        let fingerprint = signature::fingerprint(&key);
        if signers::trusts(text, &statement.reviewer, &key, jiff::Timestamp::now()) {
            return Ok(fingerprint);
        }
        Err(Untrusted::Stranger { reviewer: statement.reviewer.clone(), key: fingerprint })
    }
}

/// The reviews beside a recipe, by the names of their files, withdrawals left out; and what could not be read.
#[must_use]
pub fn reviews(recipe: &Path, signers: &Signers) -> (Vec<Review>, Vec<Unread>) {
    let (all, unread) = statements(recipe, signers);
    let (withdrawals, mut reviews): (Vec<Review>, Vec<Review>) =
        all.into_iter().partition(|review| !review.statement.withdraws.is_empty());
    for review in &mut reviews {
        let of_it = |other: &&Review| other.trusted.is_ok() && other.statement.withdraws.contains(&review.sha256);
        review.withdrawn = withdrawals.iter().find(of_it).map(|other| Withdrawn {
            by: other.statement.reviewer.clone(),
            at: other.statement.at.clone(),
            reason: other.statement.reason.clone().unwrap_or_default(),
        });
    }
    (reviews, unread)
}

fn statements(recipe: &Path, signers: &Signers) -> (Vec<Review>, Vec<Unread>) {
    let (mut all, mut unread) = (Vec::new(), Vec::new());
    let Ok(entries) = std::fs::read_dir(folder(recipe)) else { return (all, unread) };
    let toml = |path: &PathBuf| path.extension().is_some_and(|ending| ending == "toml");
    let mut files: Vec<PathBuf> = entries.filter_map(|entry| Some(entry.ok()?.path())).filter(toml).collect();
    files.sort();
    for file in files.into_iter().take(MOST) {
        let read = load::text(&file).map_err(|error| error.to_string());
        let read = read.and_then(|text| {
            let statement = Statement::parse(&text).map_err(|error: NotAStatement| error.to_string())?;
            Ok((text, statement))
        });
        match read {
            Ok((text, statement)) => {
                let signature = load::text(&signature_file(&file)).ok();
                let trusted = signers.judge(&statement, &text, signature.as_deref());
                all.push(Review { file, sha256: sha256(&text), statement, trusted, withdrawn: None });
            }
            Err(why) => unread.push(Unread { file, why }),
        }
    }
    (all, unread)
}

/// The signature of a statement's file, where `ssh-keygen -Y sign` puts it.
#[must_use]
pub fn signature_file(statement: &Path) -> PathBuf {
    let mut name = statement.file_name().unwrap_or_default().to_owned();
    name.push(".sig");
    statement.with_file_name(name)
}

/// The files of a recipe by their names relative to its root.
#[must_use]
pub fn files(reading: &Reading) -> Vec<(Reviewed, &str)> {
    let one = |file: &'_ crate::language::recipe::File| {
        let path = Path::new(&file.name);
        let name = path.strip_prefix(&reading.root).unwrap_or(path).display().to_string();
        Reviewed { name, sha256: sha256(&file.text) }
    };
    reading.files.iter().map(|file| (one(file), &*file.text)).collect()
}

impl Review {
    /// What changed in a recipe since.
    #[must_use]
    pub fn since(&self, recipe_file: &Path, reading: &Reading, recipe: &Recipe) -> Since {
        let now: Vec<Reviewed> = files(reading).into_iter().map(|(file, _)| file).collect();
        if recipe_hash(recipe) == self.statement.recipe_hash {
            let other = |file: &&Reviewed| !self.statement.files.contains(file);
            let gone = |file: &&Reviewed| !now.iter().any(|other| other.name == file.name);
            let changed = now.iter().filter(other).chain(self.statement.files.iter().filter(gone));
            let names: Vec<String> = changed.map(|file| file.name.clone()).collect();
            return if names.is_empty() { Since::Nothing } else { Since::Layout(names) };
        }
        let text = |file: &Reviewed| {
            let text = load::text(&text_file(&folder(recipe_file), &file.sha256)).ok();
            Some((file.name.clone(), text.filter(|text| sha256(text) == file.sha256)?))
        };
        let texts: Option<Vec<(String, String)>> = self.statement.files.iter().map(text).collect();
        let before = texts.and_then(|texts| read_again(&texts, &[], &self.statement.recipe_hash)?.recipe);
        Since::Meaning(before.map(|before| difference(&before, recipe)))
    }

    /// Sheets that are used now, and are not those that it was reviewed with, by their boards.
    #[must_use]
    pub fn other_sheets<'s>(&self, sheets: &'s [Sheet]) -> Vec<&'s str> {
        let known = |sheet: &&Sheet| {
            let is = |one: &Reviewed| one.name == sheet.board && one.sha256 == sheet.hash;
            self.statement.sheets.iter().any(is)
        };
        sheets.iter().filter(|sheet| !known(sheet)).map(|sheet| sheet.board.as_str()).collect()
    }
}
