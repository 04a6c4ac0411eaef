//! What was shown before, and need not be shown again.
//!
//! Promises: a proof counts only on this board with this firmware, while every setting that it needs and that it depends
//! on is as it was, and will be; of a run that is finished nothing is taken over but idle and buzzer. Must not be here:
//! which steps a statement becomes.

use super::compile::Planner;
use super::remark::TAKEN_OVER;
use crate::board::value::SettingName;
use crate::record::{Proof, ProofSubject};

impl<'a> Planner<'a> {
    /// The last proof of this kind that stands, with these settings among those that it depends on.
    pub(super) fn shown(&self, needed: &[SettingName], is: impl Fn(&Proof) -> bool) -> Option<&'a Proof> {
        if self.ahead.open.iter().any(|name| needed.contains(name)) {
            return None;
        }
        let stands = |proof: &Proof| {
            proof.board == *self.inputs.identity
                && needed.iter().all(|name| proof.depends_on.contains_key(name))
                && proof.depends_on.iter().all(|(name, number)| !self.ahead.differs(name, *number))
        };
        self.inputs.record.proofs.iter().rev().find(|proof| stands(proof) && is(proof))
    }

    /// Whether a test is taken over from the run that is finished here; then the plan says so.
    pub(super) fn taken_over(
        &mut self,
        index: usize,
        test: &str,
        needed: &[SettingName],
        is: impl Fn(&ProofSubject) -> bool,
    ) -> bool {
        let Some((since, until)) = self.inputs.progress.taken_over else { return false };
        let lately = |proof: &Proof| {
            proof.at.parse::<jiff::Timestamp>().is_ok_and(|at| (since..=until).contains(&at)) && is(&proof.subject)
        };
        let Some(found) = self.shown(needed, lately) else { return false };
        let remark = format!("`test {test}` was shown on {} {TAKEN_OVER}, and is not asked for again.", found.at);
        self.proofs.push(found);
        self.remark_at(index, remark);
        true
    }
}
