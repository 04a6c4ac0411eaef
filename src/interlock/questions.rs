//! Identity questions on their way, and which of them an answer may belong to.
//!
//! Answers come in the order of their questions, and a repeat has one of its own, but any of them may be lost. Promises:
//! an answer is never taken for one to a later question than it may belong to, and measures the link only where it can
//! belong to one alone (Karn's rule: RFC 6298, section 3). Must not be here: what an answer means for the contact.

use crate::measure::time::Time;
use std::collections::VecDeque;
use std::time::Duration;

/// Questions whose answers may still come, by the moment at which they left.
#[derive(Debug, Default)]
pub(super) struct Questions(VecDeque<Time>);

/// The question of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Asked {
    /// When it left; of several, the first.
    pub at: Time,
    /// It can be no other's.
    pub alone: bool,
}

impl Questions {
    /// One leaves.
    pub fn leaves(&mut self, now: Time) {
        self.0.push_back(now);
    }

    /// None is on its way: no answer to one of before is taken.
    pub fn clear(&mut self) {
        self.0.clear();
    }

    /// Nobody was there to hear what left before this.
    pub fn were_lost_before(&mut self, then: Time) {
        self.0.retain(|asked| *asked >= then);
    }

    /// An answer came. A question that is older than `patience` was lost, or its answer was; of several, the last tells
    /// least too much. `None`: nothing was asked.
    pub fn answered(&mut self, now: Time, patience: Duration) -> Option<Asked> {
        while self.0.len() > 1 && self.0.front().is_some_and(|asked| now.since(*asked) > patience) {
            self.0.pop_front();
        }
        let alone = self.0.len() == 1;
        self.0.pop_front().map(|at| Asked { at, alone })
    }

    /// No answer is awaited any more, so that the next question has its own.
    pub fn are_over(&self, now: Time, patience: Duration) -> bool {
        self.0.back().is_none_or(|asked| now.since(*asked) > patience)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PATIENCE: Duration = Duration::from_secs(1);

    fn asked(at: u64, alone: bool) -> Asked {
        Asked { at: Time(at), alone }
    }

    /// RFC 6298, section 3: no sample of a segment that was sent again.
    #[test]
    fn an_answer_to_a_question_that_was_repeated_measures_nothing() {
        let mut questions = Questions::default();
        assert_eq!(questions.answered(Time(0), PATIENCE), None);
        questions.leaves(Time(0));
        assert_eq!(questions.answered(Time(60_000), PATIENCE), Some(asked(0, true)));
        for sent in [100_000, 400_000] {
            questions.leaves(Time(sent));
        }
        assert_eq!(questions.answered(Time(460_000), PATIENCE), Some(asked(100_000, false)));
        // Was it the first's after all, the second's comes by itself.
        assert_eq!(questions.answered(Time(760_000), PATIENCE), Some(asked(400_000, true)));
    }

    #[test]
    fn after_a_loss_the_next_question_has_its_own_answer_once_the_others_are_over() {
        let mut questions = Questions::default();
        for sent in [0, 300_000] {
            questions.leaves(Time(sent));
        }
        assert_eq!(questions.answered(Time(360_000), PATIENCE), Some(asked(0, false)));
        assert!(!questions.are_over(Time(1_300_000), PATIENCE) && questions.are_over(Time(1_300_001), PATIENCE));
        questions.leaves(Time(1_400_000));
        assert_eq!(questions.answered(Time(1_460_000), PATIENCE), Some(asked(1_400_000, true)));
    }
}
