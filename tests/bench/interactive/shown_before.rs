//! What was shown before, as a session is left: it counts on this board with this firmware, as everywhere.

use super::kit::{Turn, again, on};
use crate::spy::bound;
use quadjig::board::signals::Identity;
use quadjig::record::journal::{self, Journal};
use quadjig::record::{CraftRecord, Proof, ProofSubject, proof};
use quadjig::virtual_board::WorldConfig;
use std::path::Path;

/// A board as a journal has it.
fn met(bytes: &[u8]) -> Identity {
    let journal = Journal::parse(Path::new("j"), bytes).unwrap();
    CraftRecord { journal: journal.lines, ..CraftRecord::default() }.last_board().unwrap().clone()
}

#[test]
fn an_arm_switch_that_was_shown_under_another_firmware_is_said_to_be_unshown() {
    const UNSHOWN: &str = "This craft can be armed, and `test arm` has not shown where";
    let config = WorldConfig::default();
    let sat = on(bound(&config), &config, vec![Turn::Line("leave")]).sit();
    sat.says(UNSHOWN);
    let own = met(&sat.disk.craft[Path::new(journal::FILE)]);
    let after = |board: Identity| {
        let first = on(bound(&config), &config, vec![Turn::Line("leave")]).sit();
        let shown = Proof {
            schema: proof::SCHEMA.to_owned(),
            at: "1970-01-01T00:00:00Z".to_owned(),
            subject: ProofSubject::Arm,
            board,
            depends_on: [].into(),
            volts: None,
        };
        let mut next = again(first, &["leave"]);
        next.disk.craft.insert(proof::FILE.into(), shown.store().unwrap().bytes);
        next.sit()
    };
    after(own.clone()).never_says(UNSHOWN);
    after(Identity { firmware: "9.9.9".to_owned(), ..own }).says(UNSHOWN);
}
