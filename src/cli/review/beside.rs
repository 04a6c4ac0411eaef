//! What `run` and `check` say of the reviews of a recipe: nothing where there are none.

use crate::board::sheet::Sheet;
use crate::language::Reading;
use crate::record::review::beside::{Review, Signers, Unread, reviews};
use crate::record::review::signers;
use crate::report::review::ReviewReport;
use std::path::{Path, PathBuf};

/// The reviews beside a recipe, read.
pub struct Beside {
    recipe: PathBuf,
    reviews: Vec<Review>,
    unread: Vec<Unread>,
}

/// The operator's own allowed-signers file, or the one that was named.
pub fn trusted(named: Option<PathBuf>) -> Signers {
    let own = || signers::file(|name| std::env::var_os(name));
    named.or_else(own).map(Signers::read).unwrap_or_default()
}

impl Beside {
    /// Reads what lies beside a recipe.
    pub fn read(recipe: &Path, signers: &Signers) -> Self {
        let (reviews, unread) = reviews(recipe, signers);
        Self { recipe: recipe.to_owned(), reviews, unread }
    }

    /// The reviews.
    pub fn reviews(&self) -> &[Review] {
        &self.reviews
    }

    /// Files that could not be read, in sentences.
    pub fn unread(&self) -> Vec<String> {
        self.unread.iter().map(ToString::to_string).collect()
    }

    /// Each with what became of the recipe since; nothing where it has an error.
    pub fn told<'r>(&'r self, reading: &Reading, sheets: &'r [Sheet]) -> Vec<ReviewReport<'r>> {
        let Some(recipe) = reading.recipe.as_ref().filter(|_| !reading.has_errors()) else { return Vec::new() };
        let one = |review: &'r Review| ReviewReport {
            since: review.since(&self.recipe, reading, recipe),
            other_sheets: review.other_sheets(sheets),
            review,
        };
        self.reviews.iter().map(one).collect()
    }
}

/// What the reviews beside a recipe are worth, each in sentences; then what could not be read of them.
pub fn lines(recipe: &Path, reading: &Reading, sheets: &[Sheet]) -> Vec<String> {
    let beside = Beside::read(recipe, &trusted(None));
    let told = beside.told(reading, sheets).iter().map(|told| told.lines().join("\n")).collect::<Vec<_>>();
    told.into_iter().chain(beside.unread()).collect()
}
