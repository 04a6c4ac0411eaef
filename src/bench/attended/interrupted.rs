//! What earlier runs left behind that is not settled, said at every start until it is.
//!
//! Must not be here: its words (see `record::crafts::unsettled`), what is done about it.

use crate::bench::session::context::SessionContext;
use crate::board::sheet::Sheet;
use crate::plan::naming::Naming;
use crate::record::CraftRecord;
use crate::record::crafts::unsettled;
use crate::seam::ui::Tone;

/// Says what of the record could not be read, which runs of this craft were cut off, and what is old, new or unknown
/// of what they wrote.
pub(in crate::bench) fn say_interrupted(bench: &SessionContext, record: &CraftRecord, sheet: &Sheet) {
    let now = bench.look(|live| live.settings.clone());
    let naming = Naming { sheet, then: &now, now: &now };
    let words = unsettled::words(record, &bench.ledger.borrow(), Some(&now), &|name| naming.both(name));
    for text in words {
        bench.line(Tone::Warning, text);
    }
}
