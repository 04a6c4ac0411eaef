//! Which question an answer proves, where the answer itself says nothing of that.
//!
//! Neither the message that says who a board is nor the acknowledgement of the command that asked for it gives anything
//! back that the asking chose, so answers are counted. Each is to a question that was asked before it, and no two are to
//! the same one: so of n answers at least one is to the n-th question or a later one, in whatever order they came and
//! whatever was lost. An answer is therefore booked to the oldest question without one. A question that was lost leaves
//! those after it one answer behind, which errs to the safe side, and is given up after as long as a contact outlives
//! silence: on a wire that brings an answer later than that, nothing is proved.
//!
//! An answer that comes twice would break the count. The same frame is heard once (the link knows it by its number and
//! contents). A board that was asked twice, as our own question was doubled on its way, answers in two frames: the one too
//! many shows as soon as no question is open, and from then on a question needs two answers.
//!
//! How long an answer took is another matter: there a question that is overdue counts as lost, and the link is measured
//! only where the answer can belong to one alone of those left (Karn's rule: RFC 6298, section 3). Must not be here: what
//! is proved by it (see `contact`).

use crate::measure::time::Time;
use std::collections::VecDeque;
use std::time::Duration;

/// Silence that ends a contact, and after which no answer is waited for.
pub(super) const SILENCE_OVER: Duration = Duration::from_secs(10);

#[derive(Debug, Clone)]
struct Question {
    left: Time,
    /// So many answers it still needs.
    needs: u8,
    /// One came, and it was not enough.
    half: bool,
}

/// The question of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct AnsweredQuestion {
    /// When the first left of those that it may belong to and that are not overdue.
    pub at: Time,
    /// It can be no other's.
    pub alone: bool,
    /// The board was there after this moment; `None`: one answer of two.
    pub proves: Option<Time>,
}

/// Questions of who it is whose answers may still come.
#[derive(Debug, Clone, Default)]
pub(super) struct Questions {
    open: VecDeque<Question>,
    /// When an answer came that nobody had asked for.
    doubled: Option<Time>,
}

impl Questions {
    /// One leaves.
    pub fn leaves(&mut self, now: Time) {
        let doubled = self.doubled.is_some_and(|at| now.since(at) <= SILENCE_OVER);
        self.open.push_back(Question { left: now, needs: if doubled { 2 } else { 1 }, half: false });
    }

    /// None is on its way: no answer to one of before is taken.
    pub fn clear(&mut self) {
        self.open.clear();
    }

    /// Nobody was there to hear what left before this.
    pub fn were_lost_before(&mut self, then: Time) {
        self.open.retain(|question| question.left >= then);
    }

    /// An answer came. For how long it took, what is older than `patience` was lost. `None`: nothing was asked.
    pub fn answered(&mut self, now: Time, patience: Duration) -> Option<AnsweredQuestion> {
        self.open.retain(|question| now.since(question.left) <= SILENCE_OVER);
        let mut awaited = self.open.iter().map(|question| question.left).filter(|left| now.since(*left) <= patience);
        let measured = (awaited.next().or(self.open.back().map(|question| question.left)), awaited.next().is_none());
        let (Some(oldest), (Some(at), alone)) = (self.open.front_mut(), measured) else {
            self.doubled = Some(now);
            return None;
        };
        oldest.needs -= 1;
        oldest.half = true;
        let proves = (oldest.needs == 0).then_some(oldest.left);
        if proves.is_some() {
            self.open.pop_front();
        }
        Some(AnsweredQuestion { at, alone, proves })
    }

    /// An answer came that alone proves nothing: if nobody asks once more, none may ever follow it.
    pub fn is_half_answered(&self, now: Time) -> bool {
        self.open.front().is_some_and(|question| question.half && now.since(question.left) <= SILENCE_OVER)
    }

    /// No answer is awaited any more, so that the next question has its own.
    pub fn are_over(&self, now: Time, patience: Duration) -> bool {
        self.open.back().is_none_or(|question| now.since(question.left) > patience)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PATIENCE: Duration = Duration::from_secs(1);

    const fn at(ms: u64) -> Time {
        Time(ms * 1000)
    }

    fn proved(questions: &mut Questions, ms: u64) -> Option<Time> {
        questions.answered(at(ms), PATIENCE).and_then(|asked| asked.proves)
    }

    #[test]
    fn an_answer_is_booked_to_the_oldest_question() {
        let mut questions = Questions::default();
        for ms in [0, 500, 3000] {
            questions.leaves(at(ms));
        }
        // Late by seconds, and of a wire that lost the first: neither shows more than the oldest.
        assert_eq!(proved(&mut questions, 3010), Some(at(0)));
        assert_eq!(proved(&mut questions, 3020), Some(at(500)));
        questions.leaves(at(3100));
        assert_eq!(proved(&mut questions, 3120), Some(at(3000)));
        assert_eq!(proved(&mut questions, 3130), Some(at(3100)));
        assert_eq!(proved(&mut questions, 3140), None);
    }

    #[test]
    fn a_question_is_given_up_after_as_long_as_a_contact_outlives_silence() {
        for (ms, proves) in [(10_000, 0), (10_001, 9990)] {
            let mut questions = Questions::default();
            questions.leaves(at(0));
            questions.leaves(at(9990));
            assert_eq!(proved(&mut questions, ms), Some(at(proves)));
        }
    }

    #[test]
    fn on_a_wire_that_doubles_a_question_needs_two_answers() {
        let mut questions = Questions::default();
        questions.leaves(at(0));
        assert_eq!((proved(&mut questions, 20), proved(&mut questions, 30)), (Some(at(0)), None));
        questions.leaves(at(1000));
        // The second of the first, late.
        assert_eq!(proved(&mut questions, 1005), None);
        assert_eq!(proved(&mut questions, 1020), Some(at(1000)));
        assert_eq!(proved(&mut questions, 1030), None);
        // Ten seconds without one too many.
        questions.leaves(at(11_031));
        assert_eq!(proved(&mut questions, 11_040), Some(at(11_031)));
    }

    /// RFC 6298, section 3: no sample of a segment that was sent again.
    #[test]
    fn an_answer_to_a_question_that_was_repeated_measures_nothing() {
        let mut questions = Questions::default();
        let asked = |left: u64, alone: bool, proves: u64| {
            Some(AnsweredQuestion { at: at(left), alone, proves: Some(at(proves)) })
        };
        questions.leaves(at(0));
        assert_eq!(questions.answered(at(60), PATIENCE), asked(0, true, 0));
        for sent in [100, 400] {
            questions.leaves(at(sent));
        }
        assert_eq!(questions.answered(at(460), PATIENCE), asked(100, false, 100));
        // Was it the first's after all, the second's comes by itself.
        assert_eq!(questions.answered(at(760), PATIENCE), asked(400, true, 400));
    }

    #[test]
    fn after_a_loss_the_next_question_has_its_own_answer_once_the_others_are_over() {
        let mut questions = Questions::default();
        for sent in [0, 300] {
            questions.leaves(at(sent));
        }
        assert!(questions.answered(at(360), PATIENCE).is_some_and(|asked| !asked.alone));
        assert!(!questions.are_over(at(1300), PATIENCE) && questions.are_over(at(1301), PATIENCE));
        questions.leaves(at(1400));
        // What it measures is its own, and what it proves is the one before.
        let asked = AnsweredQuestion { at: at(1400), alone: true, proves: Some(at(300)) };
        assert_eq!(questions.answered(at(1460), PATIENCE), Some(asked));
    }
}
