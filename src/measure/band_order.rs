//! In which order to write channel and ends of a band, so that nothing comes on by the way.
//!
//! Promises: no prefix of an order given out puts the function on over a pulse at which the channel can rest, other
//! than those wanted; where there is no such order it says so. Must not know which function it is, nor how writes are sent.

use super::bands::Band;
use std::collections::BTreeMap;

/// Where a function is bound: channel from 1 (or a board's word for none) and band.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Binding {
    /// The channel.
    pub channel: i32,
    /// The band.
    pub band: Band,
}

/// One write.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Write {
    /// The channel.
    Channel(i32),
    /// The lower end, µs.
    From(i32),
    /// The upper end, µs.
    To(i32),
}

impl Write {
    /// The binding once this is written.
    #[must_use]
    pub fn applied(self, mut binding: Binding) -> Binding {
        match self {
            Self::Channel(channel) => binding.channel = channel,
            Self::From(from) => binding.band.from = from,
            Self::To(to) => binding.band.to = to,
        }
        binding
    }
}

/// What is known of the pulses at which channels rest.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RestPulses {
    /// Pulses in µs by channel from 1. A channel that is not here can rest anywhere.
    pub by_channel: BTreeMap<i32, Vec<f64>>,
    /// How far a pulse may be from its rest, µs: several σ.
    pub noise: f64,
    /// The number that binds to no channel, where the board has one.
    pub unbound: Option<i32>,
}

/// What is to become what, on which board.
#[derive(Debug, Clone, Copy)]
pub struct Rebinding<'a> {
    /// What the board has now.
    pub present: Binding,
    /// What it shall have.
    pub wanted: Binding,
    /// The pair of ends that closes a band.
    pub closed: Band,
    /// See [`RestPulses`].
    pub rests: &'a RestPulses,
}

/// A write after which the function is on where it must not be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unsafe {
    /// How many writes have been made.
    pub after: usize,
    /// What the board then has.
    pub binding: Binding,
    /// A pulse in µs over which the function came on; `None`: the channel's rests are not known, or the board refuses the write.
    pub pulse: Option<f64>,
}

/// An order of single writes none of whose prefixes comes on over a rest that is not wanted.
///
/// One write where only one differs. Else the band is closed, the channel moved, and the band opened last, so that an
/// order that breaks off leaves the function off; where that can't be, it is bound to no channel meanwhile. `None`: no such order, so the step can turn motors.
#[must_use]
pub fn safe_order(question: &Rebinding<'_>) -> Option<Vec<Write>> {
    let Rebinding { present, wanted, closed, .. } = *question;
    let direct: Vec<Write> =
        needed(present, [Write::From(wanted.band.from), Write::To(wanted.band.to), Write::Channel(wanted.channel)]);
    if direct.len() <= 1 {
        return first_unsafe(question, &direct).is_none().then_some(direct);
    }
    let closings = [[Write::To(closed.to), Write::From(closed.from)], [Write::From(closed.from), Write::To(closed.to)]];
    let openings = [
        [Write::From(wanted.band.from), Write::To(wanted.band.to)],
        [Write::To(wanted.band.to), Write::From(wanted.band.from)],
    ];
    let by_closing = closings.iter().flat_map(|closing| {
        openings.iter().map(move |opening| {
            needed(
                present,
                closing.iter().copied().chain([Write::Channel(wanted.channel)]).chain(opening.iter().copied()),
            )
        })
    });
    // On a board that makes something of inverted ends no band closes step by step, but no channel means off.
    let by_unbinding = question.rests.unbound.map(|none| {
        let ends = [Write::From(wanted.band.from), Write::To(wanted.band.to)];
        needed(present, [Write::Channel(none)].into_iter().chain(ends).chain([Write::Channel(wanted.channel)]))
    });
    by_closing.chain(by_unbinding).find(|order| first_unsafe(question, order).is_none() && opens_last(question, order))
}

/// The first write after which the function newly comes on over a rest that the wanted binding does not cover.
/// `None`: every prefix is safe.
///
/// What was on before the first write is not held against the order; switching it on again after it went off is.
#[must_use]
pub fn first_unsafe(question: &Rebinding<'_>, writes: &[Write]) -> Option<Unsafe> {
    let mut binding = question.present;
    for (index, write) in writes.iter().enumerate() {
        let next = write.applied(binding);
        let flagged = |pulse| Some(Unsafe { after: index + 1, binding: next, pulse });
        let (before, wanted) = (covered(question, binding), covered(question, question.wanted));
        match covered(question, next) {
            Covered::Unknown if next != question.wanted && next != binding => return flagged(None),
            Covered::Unknown | Covered::Nothing => {}
            Covered::Rests(rests) => {
                let new = rests.iter().find(|rest| {
                    let was_on = next.channel == binding.channel && before.has(**rest);
                    let is_wanted = next.channel == question.wanted.channel && wanted.has(**rest);
                    !was_on && !is_wanted
                });
                if let Some(rest) = new {
                    return flagged(Some(*rest));
                }
            }
        }
        binding = next;
    }
    None
}

/// Whether the function is off from the moment it first goes off until the last write.
fn opens_last(question: &Rebinding<'_>, order: &[Write]) -> bool {
    let mut binding = question.present;
    let mut off = false;
    for write in order.iter().take(order.len().saturating_sub(1)) {
        binding = write.applied(binding);
        let nothing = matches!(covered(question, binding), Covered::Nothing);
        if off && !nothing {
            return false;
        }
        off |= nothing;
    }
    true
}

/// Leaves out writes of what is already there.
fn needed(present: Binding, writes: impl IntoIterator<Item = Write>) -> Vec<Write> {
    let mut binding = present;
    let mut order = Vec::new();
    for write in writes {
        let next = write.applied(binding);
        if next != binding {
            order.push(write);
        }
        binding = next;
    }
    order
}

/// Rests over which a binding is on.
enum Covered {
    Nothing,
    /// Some pulses of a channel whose rests are not known.
    Unknown,
    Rests(Vec<f64>),
}

impl Covered {
    fn has(&self, rest: f64) -> bool {
        matches!(self, Self::Rests(rests) if rests.iter().any(|r| r.total_cmp(&rest).is_eq()))
    }
}

fn covered(question: &Rebinding<'_>, binding: Binding) -> Covered {
    let Binding { channel, band } = binding;
    let Band { from, to } = band;
    // A board leaves off what has its lower end above its upper.
    if from >= to || question.rests.unbound == Some(channel) {
        return Covered::Nothing;
    }
    let Some(rests) = question.rests.by_channel.get(&channel) else { return Covered::Unknown };
    let noise = question.rests.noise;
    let on: Vec<f64> =
        rests.iter().copied().filter(|r| r + noise >= f64::from(from) && r - noise < f64::from(to)).collect();
    if on.is_empty() { Covered::Nothing } else { Covered::Rests(on) }
}
