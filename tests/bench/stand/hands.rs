//! An operator: does what a willing one does, unless told otherwise for a question or an invitation.

use quadjig::rehearsal::operator::{Deed, Operator, Willing};
use quadjig::rehearsal::rehearse::willing;
use quadjig::seam::Key;
use quadjig::seam::ui::{Gesture, Question};
use quadjig::virtual_board::WorldConfig;
use std::time::Duration;

/// What is done, each after its time from the question or invitation.
pub type Deeds = Vec<(Duration, Deed)>;

type Does<'a, T> = Box<dyn FnMut(&T) -> Option<Deeds> + 'a>;

/// See the module.
pub struct Hands<'a> {
    willing: Willing,
    asked: Does<'a, Question>,
    invited: Does<'a, Gesture>,
}

impl<'a> Hands<'a> {
    /// Does everything that is asked.
    pub fn willing(config: &WorldConfig) -> Self {
        Self { willing: willing(config), asked: Box::new(|_| None), invited: Box::new(|_| None) }
    }

    /// Answers differently where `asked` says so.
    pub fn who_answers(mut self, asked: impl FnMut(&Question) -> Option<Deeds> + 'a) -> Self {
        self.asked = Box::new(asked);
        self
    }

    /// Follows invitations differently where `invited` says so.
    pub fn who_follows(mut self, invited: impl FnMut(&Gesture) -> Option<Deeds> + 'a) -> Self {
        self.invited = Box::new(invited);
        self
    }
}

impl Operator for Hands<'_> {
    fn sees(&mut self, turned: &[(&'static str, bool)]) {
        self.willing.sees(turned);
    }

    fn asked(&mut self, question: &Question) -> Deeds {
        (self.asked)(question).unwrap_or_else(|| self.willing.asked(question))
    }

    fn invited(&mut self, gesture: &Gesture) -> Deeds {
        (self.invited)(gesture).unwrap_or_else(|| self.willing.invited(gesture))
    }
}

/// Keys, the first at `first`, each `apart` after the one before.
pub fn keys(first: u64, apart: u64, keys: impl IntoIterator<Item = Key>) -> Deeds {
    let mut at = first;
    keys.into_iter()
        .map(|key| {
            let deed = (Duration::from_millis(at), Deed::Key(key));
            at += apart;
            deed
        })
        .collect()
}
