//! A recipe with its sheets and radio card, read and checked: what every command on a board begins with.
//!
//! Promises: with an error anywhere nothing is handed on, and everything wrong was told. Must not be
//! here: boards.

use super::documents;
use super::input;
use super::options::{RadioOption, ReadingOptions, SheetOption};
use super::output::Output;
use super::review;
use crate::bench::attended::NamedCard;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::{shipped, vocabulary};
use crate::language::Reading;
use crate::language::finding::Finding;
use crate::language::recipe::Recipe;
use crate::language::sources::Disk;
use crate::plan::checks;
use crate::report::findings::Count;
use crate::seam::exit::Exit;
use std::path::{Path, PathBuf};

/// Sheets of the boards that may be on the wire, with what is wrong with those that a recipe means.
///
/// # Errors
/// What `--sheet` names is none.
pub fn sheets(
    option: &SheetOption,
    reading: Option<&Reading>,
    out: &mut Output,
) -> Result<(Vec<Sheet>, Vec<Finding>), Exit> {
    let recipe = reading.and_then(|reading| Some((reading.recipe.as_ref()?, &reading.root)));
    let root = || reading.map_or_else(input::here, |reading| reading.root.clone());
    let found = match (&option.sheet, recipe) {
        (Some(name), _) => documents::sheet(name, &root())
            .map(|sheet| (vec![sheet], Vec::new()))
            .map_err(|e| (e.to_string(), e.hint())),
        (None, Some((recipe, root))) => documents::sheets_for(recipe, root, &[]).map_err(|e| (e.to_string(), None)),
        (None, None) => shipped::SHEETS
            .iter()
            .filter_map(|sheet| shipped::sheet(sheet.stem))
            .collect::<Result<Vec<_>, _>>()
            .map(|sheets| (sheets, Vec::new()))
            .map_err(|e| (e.to_string(), None)),
    };
    found.map_err(|(what, hint)| {
        out.error(&what, hint.as_deref());
        Exit::Document
    })
}

/// The radio card that `--radio` names: shipped or in `radios/` at the root, a file, or a file that is still to be made.
///
/// # Errors
/// A file that is no card.
pub fn card(option: &RadioOption, root: &Path, out: &mut Output) -> Result<(Option<NamedCard>, Option<PathBuf>), Exit> {
    let Some(name) = &option.radio else { return Ok((None, None)) };
    if shipped::radio_card(name).is_none() && !Path::new(name).exists() && Path::new(name).extension().is_some() {
        let stem = Path::new(name).file_stem().map_or_else(|| name.clone(), |stem| stem.to_string_lossy().into_owned());
        let card = RadioCard { radio: stem, ..RadioCard::default() };
        return Ok((Some(NamedCard { card, text: None, file: true }), Some(PathBuf::from(name))));
    }
    match documents::radio_card(name, root) {
        Ok((card, None)) => {
            let text = shipped::radio_text(name).map(str::to_owned);
            Ok((Some(NamedCard { card, text, file: false }), None))
        }
        Ok((card, Some(path))) => {
            let text = std::fs::read_to_string(&path).ok();
            Ok((Some(NamedCard { card, text, file: true }), Some(path)))
        }
        Err(error) => {
            out.error(&error.to_string(), error.hint().as_deref());
            Err(Exit::Document)
        }
    }
}

/// What to do with a recipe that is whole only in another one.
pub const PART: &str = "name the recipe that uses it, or give it its `craft` and `board`";

/// What a command on a board works with.
#[derive(Debug)]
pub struct Loaded {
    /// Without errors.
    pub recipe: Recipe,
    /// To choose from.
    pub sheets: Vec<Sheet>,
    /// The card that was named.
    pub card: Option<NamedCard>,
    /// Its file.
    pub card_file: Option<PathBuf>,
    /// What the reviews of the recipe are worth, in sentences.
    pub reviews: Vec<String>,
}

/// Reads and checks a recipe with its documents; what is wrong is told on standard error.
///
/// # Errors
/// [`Exit::Document`] where anything is wrong.
pub fn load(recipe: &Path, options: &ReadingOptions, out: &mut Output) -> Result<Loaded, Exit> {
    let reading = vocabulary::read(&Disk, recipe, &options.with.pairs());
    let (sheets, wrong) = sheets(&options.sheet, Some(&reading), out)?;
    let (card, card_file) = card(&options.radio, &reading.root, out)?;
    let mut found = checks::reading(&reading, &sheets, card.as_ref().map(|named| &named.card));
    found.extend(wrong);
    let errors = Count::of(&found).errors > 0;
    let shown: Vec<_> =
        found.iter().filter(|f| errors || f.severity != crate::language::finding::Severity::Hint).cloned().collect();
    if !shown.is_empty() {
        out.findings(&reading.files, &shown);
    }
    let reviews = if errors { Vec::new() } else { review::beside::lines(recipe, &reading, &sheets) };
    for line in &reviews {
        out.message(line);
    }
    match reading.recipe {
        Some(recipe) if !errors && recipe.is_part => {
            out.error("this recipe names no craft or no board: it is a part of one that uses it", Some(PART));
            Err(Exit::Document)
        }
        Some(recipe) if !errors => Ok(Loaded { recipe, sheets, card, card_file, reviews }),
        _ => {
            out.message("Nothing was opened and nothing was sent: the recipe has errors.");
            Err(Exit::Document)
        }
    }
}
