//! In which order the values of an idle search are tried: where steps are small, single starts find the neighbourhood before
//! anything is proved.
//!
//! Promises: what is kept was proved at one value by all its starts; with steps too large to leap over one, this is the
//! plain way up. Must not know what a start is.

/// The furthest that a value may lie above the highest that was seen not to start, where that is more than one step, µs: a
/// motor that is tried so far above the pulse that it needs turns no faster than with the usual margin.
pub const LEAP: i32 = 25;

/// What is tried next.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Next {
    /// One start of the value at this place.
    One(usize),
    /// As many starts as prove the value at this place.
    Prove(usize),
}

/// How far a search has come among its values.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Bracket {
    /// The highest place that was seen not to start.
    failed: Option<usize>,
    /// The lowest place above it at which one start was well.
    started: Option<usize>,
    /// The neighbourhood is found: from here on every value is proved, one after the other.
    found: bool,
}

impl Bracket {
    /// What comes next among these values in µs, which ascend; `None`: the last has failed.
    #[must_use]
    pub fn next(&self, values: &[i32]) -> Option<Next> {
        let lowest = self.failed.map_or(0, |failed| failed + 1);
        let first = *values.get(lowest)?;
        if self.found || self.failed.is_none() {
            return Some(Next::Prove(lowest));
        }
        if let Some(started) = self.started {
            // Halfway down to what failed; the last one left below is proved, as nothing is found out from it besides.
            let halfway = usize::midpoint(lowest, started);
            return Some(if halfway == lowest { Next::Prove(lowest) } else { Next::One(halfway) });
        }
        let from = self.failed.map_or(first, |failed| values[failed]);
        let leap = values.iter().rposition(|value| *value <= from + LEAP).unwrap_or(0);
        Some(if leap <= lowest { Next::Prove(lowest) } else { Next::One(leap) })
    }

    /// What was tried did or did not start; one that was proved well ends the search, and is not told.
    pub fn tried(&mut self, next: Next, well: bool) {
        match next {
            Next::One(place) if well => self.started = Some(place),
            Next::One(place) => self.failed = Some(place),
            Next::Prove(place) => {
                self.found |= self.started.take().is_some();
                self.failed = Some(place);
            }
        }
    }
}
