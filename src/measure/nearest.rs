//! The nearest known word, for a word that is unknown.
//!
//! Promises: a word is proposed only if it is close enough to be a slip of the hand; capitals are no slip. One measure
//! for recipes, documents, the command line and the virtual board.

/// A longer word is no slip of the hand, and would take its time to compare.
const LONGEST: usize = 100;

/// The known word that a slip of the hand most likely meant.
#[must_use]
pub fn nearest<'w>(word: &str, known: impl IntoIterator<Item = &'w str>) -> Option<&'w str> {
    if word.len() > LONGEST {
        return None;
    }
    let (word, allowed) = (word.to_lowercase(), 1 + word.chars().count() / 4);
    known
        .into_iter()
        .map(|candidate| (strsim::osa_distance(&word, &candidate.to_lowercase()), candidate))
        // Of two names with one letter each, neither is the other misspelt.
        .filter(|(distance, candidate)| *distance <= allowed && *distance < candidate.chars().count())
        .min()
        .map(|(_, candidate)| candidate)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_near_word_is_offered() {
        assert_eq!(nearest("leest", ["least", "most"]), Some("least"));
        assert_eq!(nearest("IDLE", ["idle"]), Some("idle"));
        assert_eq!(nearest("propeller", ["least", "most"]), None);
        assert_eq!((nearest("X", ["B", "C"]), nearest("b", ["A", "B"])), (None, Some("B")));
    }
}
