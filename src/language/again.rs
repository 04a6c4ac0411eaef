//! A recipe read again from texts that were kept of it.
//!
//! Promises: what is given is the recipe of its hash, or nothing. Must not be here: where texts are kept.

use super::canonical::recipe_hash;
use super::recipe::Recipe;
use super::root;
use super::setting_word::SettingWord;
use super::sources::Memory;
use std::path::Path;

/// Reads the texts, the named one first, each under the name that it had then; `with` fills parameters.
#[must_use]
pub fn read_again(texts: &[(String, String)], with: &[(String, String)], hash: &str) -> Option<super::Reading> {
    let words = SettingWord::ALL.map(SettingWord::word);
    let named = Path::new(&texts.first()?.0);
    // Which folder was its root is not kept: it is one of those above, and the hash tells which.
    named.ancestors().skip(1).find_map(|root| {
        let marker = (root.join(root::FILE), "edition = 1\n");
        let files = texts.iter().map(|(name, text)| (Path::new(name).to_owned(), text.as_str()));
        let reading = super::read(&Memory::of(files.chain([marker])), named, with, &words);
        let is_it = |recipe: &Recipe| recipe_hash(recipe) == hash;
        (!reading.has_errors() && reading.recipe.as_ref().is_some_and(is_it)).then_some(reading)
    })
}
