//! Reviews of a recipe as `review show`, `run` and `check` tell them: sentences, and JSON.
//!
//! Promises: what does not count is never told like what does; what came from a statement has passed the gate. Must not
//! be here: what a review is worth.

use super::difference;
use super::gate;
use crate::record::review::beside::{Review, Since, Withdrawn};
use serde::Serialize;

/// Said wherever a review counts.
pub const NO_QUESTION_LESS: &str = "A review removes no question at the bench.";

/// A review, and what became of the recipe since.
#[derive(Debug)]
pub struct ReviewReport<'r> {
    /// The review.
    pub review: &'r Review,
    /// What changed.
    pub since: Since,
    /// Boards whose sheet is another one now.
    pub other_sheets: Vec<&'r str>,
}

/// A review in JSON.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ReviewJson {
    file: String,
    reviewer: String,
    at: String,
    recipe_hash: String,
    criteria: Vec<String>,
    /// Whether its signature is good, and its key trusted for its reviewer.
    trusted: bool,
    /// Why not.
    why: Option<String>,
    withdrawn: Option<Withdrawn>,
    /// `nothing`, `layout`, `meaning`.
    changed: &'static str,
    /// Boards whose sheet is another one than was reviewed.
    other_sheets: Vec<String>,
    /// Whether it is a review of this very recipe, trusted and not withdrawn.
    counts: bool,
}

fn day(at: &str) -> String {
    gate::line(at).chars().take(10).collect()
}

impl ReviewReport<'_> {
    /// Whether it is a review of this very recipe with these sheets, trusted and not withdrawn.
    #[must_use]
    pub fn counts(&self) -> bool {
        let same = !matches!(self.since, Since::Meaning(_)) && self.other_sheets.is_empty();
        self.review.trusted.is_ok() && self.review.withdrawn.is_none() && same
    }

    /// As JSON.
    #[must_use]
    pub fn json(&self) -> ReviewJson {
        let Review { file, statement, trusted, withdrawn, .. } = self.review;
        ReviewJson {
            file: file.display().to_string(),
            reviewer: statement.reviewer.clone(),
            at: statement.at.clone(),
            recipe_hash: statement.recipe_hash.clone(),
            criteria: statement.criteria.clone(),
            trusted: trusted.is_ok(),
            why: trusted.as_ref().err().map(ToString::to_string),
            withdrawn: withdrawn.clone(),
            changed: match self.since {
                Since::Nothing => "nothing",
                Since::Layout(_) => "layout",
                Since::Meaning(_) => "meaning",
            },
            other_sheets: self.other_sheets.iter().map(|&board| board.to_owned()).collect(),
            counts: self.counts(),
        }
    }

    /// In sentences, the first one whole by itself.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let Review { file, statement, trusted, withdrawn, .. } = self.review;
        let (who, when) = (gate::line(&statement.reviewer), day(&statement.at));
        if let Err(why) = trusted {
            let file = file.display().to_string();
            let (file, why) = (gate::line(&file), why.to_string());
            return vec![format!("A review by {who} counts for nothing, {}: {file}", gate::line(&why))];
        }
        if let Some(Withdrawn { by, at, reason }) = withdrawn {
            let (by, reason) = (gate::line(by), gate::line(reason));
            return vec![format!("The review by {who} of {when} was withdrawn by {by} on {}: {reason}", day(at))];
        }
        let done: Vec<String> = statement.criteria.iter().map(|one| gate::line(one).into_owned()).collect();
        let done = done.join(", ");
        let mut lines = match &self.since {
            Since::Nothing => vec![format!("Reviewed by {who} on {when}: {done}. {NO_QUESTION_LESS}")],
            Since::Layout(names) => vec![format!(
                "Reviewed by {who} on {when}: {done}. Changed since, in nothing that has a meaning: {}. {NO_QUESTION_LESS}",
                gate::line(&names.join(", "))
            )],
            Since::Meaning(None) => vec![format!(
                "Changed since the review by {who} of {when}; the text that was reviewed is not kept any more, so in which \
                 points is not known."
            )],
            Since::Meaning(Some(points)) => {
                let mut lines = vec![format!("Changed since the review by {who} of {when}, in these points:")];
                lines.extend(difference::points(points).into_iter().map(|line| format!("  {line}")));
                lines
            }
        };
        if !self.other_sheets.is_empty() {
            let boards = self.other_sheets.join(", ");
            lines.push(format!("It was reviewed with another sheet of the board {}.", gate::line(&boards)));
        }
        lines
    }
}
