//! What `check` reports besides findings: the two hashes of each recipe, the count; as text and JSON.
//!
//! Promises: a recipe with an error has no hashes; a filled hash names the sheet that it was made with. Must not be here:
//! what is wrong, how a hash is made.

use super::findings::FindingJson;
use super::gate;
use super::review::ReviewJson;
use crate::board::sheet::Sheet;
use crate::language::canonical;
use crate::language::recipe::Recipe;
use crate::plan::titles::count;
use serde::Serialize;
use std::fmt::Write;

/// The whole report of `check`.
#[derive(Debug, Serialize)]
pub struct CheckJson {
    /// `quadjig.check/1`.
    pub schema: &'static str,
    /// All findings.
    pub findings: Vec<FindingJson>,
    /// Each recipe with its hashes.
    pub recipes: Vec<Hashes>,
}

/// A recipe's hashes.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Hashes {
    /// The recipe, as it was named.
    pub file: String,
    /// What a review signs; none where the recipe has an error.
    pub recipe_hash: Option<String>,
    /// What a record keeps, for each sheet at hand; none where a parameter has no value.
    pub filled: Vec<FilledHash>,
    /// The reviews that lie beside it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub reviews: Vec<ReviewJson>,
}

/// A filled hash, with the sheet that it was made with.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FilledHash {
    /// The board.
    pub board: String,
    /// SHA-256 of its sheet's file.
    pub sheet: String,
    /// The hash.
    pub hash: String,
}

impl Hashes {
    /// Makes them; `recipe` is none where it has an error.
    #[must_use]
    pub fn of(file: &str, recipe: Option<&Recipe>, sheets: &[Sheet]) -> Self {
        let filled = |recipe: &Recipe| {
            let one = |sheet: &Sheet| {
                let hash = canonical::filled_hash(recipe, &[&sheet.hash])?;
                Some(FilledHash { board: sheet.board.clone(), sheet: sheet.hash.clone(), hash })
            };
            sheets.iter().filter_map(one).collect()
        };
        Self {
            file: file.to_owned(),
            recipe_hash: recipe.map(canonical::recipe_hash),
            filled: recipe.map(filled).unwrap_or_default(),
            reviews: Vec::new(),
        }
    }

    /// The hashes as lines; nothing where there are none.
    #[must_use]
    pub fn text(&self, plain: bool) -> String {
        let Some(recipe) = &self.recipe_hash else { return String::new() };
        let file = gate::line(&self.file);
        // Writing into a string cannot fail.
        let mut text = String::new();
        if plain {
            let _ = write!(text, "recipe: {file}\nrecipe hash: {recipe}\n");
            for FilledHash { board, hash, .. } in &self.filled {
                let _ = writeln!(text, "filled hash, {}: {hash}", gate::line(board));
            }
        } else {
            let _ = write!(text, "{file}\n  recipe hash  {recipe}\n");
            for FilledHash { board, hash, .. } in &self.filled {
                let _ = writeln!(text, "  filled hash  {hash}  {}", gate::line(board));
            }
        }
        text
    }
}

/// How many of each were checked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Checked {
    /// Recipes.
    pub recipes: usize,
    /// Board sheets.
    pub sheets: usize,
    /// Radio cards.
    pub cards: usize,
}

impl std::fmt::Display for Checked {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let all = [(self.recipes, "recipe"), (self.sheets, "board sheet"), (self.cards, "radio card")];
        let told: Vec<String> =
            all.into_iter().filter(|(number, _)| *number > 0).map(|(number, what)| count(number, what)).collect();
        f.write_str(&told.join(", "))
    }
}
