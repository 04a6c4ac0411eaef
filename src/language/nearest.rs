//! The nearest known word, for a word that is unknown.
//!
//! Promises: a word is proposed only if it is close enough to be a slip of the hand.

/// The known word that a slip of the hand most likely meant.
#[must_use]
pub fn nearest<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    let allowed = 1 + word.chars().count() / 4;
    known
        .into_iter()
        .map(|candidate| (strsim::osa_distance(word, candidate), candidate))
        .filter(|(distance, _)| *distance <= allowed)
        .min()
        .map(|(_, candidate)| candidate)
}
