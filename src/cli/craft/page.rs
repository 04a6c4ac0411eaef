//! What a run's page is made from: its record, the texts that it keeps, and what still lies where it lay.
//!
//! Must not be here: what stands on the page.

use super::super::review::beside;
use crate::bench::attended::with_declared;
use crate::board::{radio_card_file, sheet_file, vocabulary};
use crate::language::again::read_again;
use crate::language::canonical::recipe_hash;
use crate::language::recipe::Recipe;
use crate::language::sources::Disk;
use crate::record::crafts::glance::Glance;
use crate::record::crafts::repair::ProofKind;
use crate::record::crafts::runs::{Span, runs};
use crate::record::crafts::state;
use crate::record::provenance::{Input, Provenance};
use crate::record::{CraftRecord, Proof, folder};
use crate::report::crafts::run::RunReport;
use crate::report::html::run::{RunPage, page};
use crate::report::html::switches::Bound;
use std::path::Path;

/// The run as a page, with all that its record and the recipe's folder still tell of it.
pub(super) fn html(craft: &Glance, record: &CraftRecord, told: RunReport<'_>) -> String {
    let (folder, run) = (craft.folder.as_path(), told.run);
    let made = run.provenance.as_ref();
    let kept = |input: &Input| folder::input(folder, input);
    let sheet = made.and_then(|made| sheet_file::read(&made.sheet.name, &kept(&made.sheet)?).ok());
    let after = run.end.as_ref().and_then(|end| state::snapshot(folder, end.snapshot.as_ref()?).ok());
    // The card that was named, else the craft's own: what the run found stands there; else as it was at the beginning.
    let named = made.and_then(|made| made.radio.as_ref()).and_then(|file| radio_card_file::load(Path::new(file)).ok());
    let own = || radio_card_file::read("the craft's own", record.radio_card.as_ref()?).ok();
    let then = || made.and_then(|made| radio_card_file::read("as it was", &kept(made.radio_card.as_ref()?)?).ok());
    let card = with_declared(&named.or_else(own).or_else(then).unwrap_or_default(), recipe(made, &kept).as_ref());
    let bound = sheet.as_ref().zip(after.as_ref());
    let bound = bound.map(|(sheet, after)| Bound { sheet, settings: &after.settings, card: Some(&card) });
    let proofs = within(record, told.number.0);
    let stands: Vec<ProofKind> =
        craft.shown.iter().filter(|shown| shown.void.is_empty()).map(|shown| shown.kind).collect();
    page(RunPage { told, reviews: &reviews(made), bound, proofs: &proofs, stands: &stands })
}

/// The recipe as it was run, from the texts that were kept.
fn recipe(made: Option<&Provenance>, kept: &dyn Fn(&Input) -> Option<String>) -> Option<Recipe> {
    let made = made?;
    let texts = made.files.iter().map(|file| Some((file.name.clone(), kept(file)?))).collect::<Option<Vec<_>>>()?;
    let pair = |with: &String| with.split_once('=').map(|(name, value)| (name.to_owned(), value.to_owned()));
    let with: Vec<(String, String)> = made.with.iter().filter_map(pair).collect();
    read_again(&texts, &with, made.recipe_hash.as_ref()?)?.recipe
}

/// What was shown in the run of this number, from 1.
fn within(record: &CraftRecord, number: usize) -> Vec<Proof> {
    let Some(span) = number.checked_sub(1).and_then(|at| Span::of(&runs(&record.journal), at)) else {
        return Vec::new();
    };
    let all = record.proofs.iter().chain(record.voided.iter().map(|shown| &shown.proof));
    all.filter(|proof| span.holds(&proof.at)).cloned().collect()
}

/// The reviews of the recipe, where it still lies where it was and means what it meant.
fn reviews(made: Option<&Provenance>) -> Vec<String> {
    let read = || {
        let made = made?;
        let file = Path::new(&made.files.first()?.name);
        let reading = vocabulary::read(&Disk, file, &[]);
        let same = reading.recipe.as_ref().map(recipe_hash) == made.recipe_hash;
        same.then(|| beside::lines(file, &reading, &[]))
    };
    read().unwrap_or_default()
}
