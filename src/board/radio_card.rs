//! A radio card, read: which channel each switch drives and where its positions rest.

use crate::board::binding::BoundNow;
use crate::board::bound::positions_on;
use crate::language::recipe::{OnLoss, Stick, Switch};
use crate::language::units::Pulse;
use std::collections::BTreeMap;

/// One transmitter.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct RadioCard {
    /// Its name.
    pub radio: String,
    /// Made on a virtual board: refused on a real one.
    pub is_virtual: bool,
    /// Switches by name.
    pub switches: BTreeMap<Switch, SwitchEntry>,
    /// Sticks, where found.
    pub sticks: BTreeMap<Stick, StickEntry>,
}

impl RadioCard {
    /// The switch that all of these bands are on, and in which of its positions, none left out; nothing where no switch is
    /// known to have them.
    #[must_use]
    pub fn bound(&self, bands: &[BoundNow]) -> Option<(&Switch, Vec<u32>)> {
        bands.first()?;
        let has_all = |entry: &SwitchEntry| bands.iter().all(|band| band.channel == entry.channel);
        let (switch, entry) = self.switches.iter().find(|(_, entry)| has_all(entry))?;
        Some((switch, positions_on(bands, entry.channel, &entry.rests)))
    }
}

/// What is known of one switch.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchEntry {
    /// Channel from 1.
    pub channel: u32,
    /// Rest pulse of each position, position 0 first.
    pub rests: Vec<Pulse>,
    /// Robust standard deviation of a rest pulse in µs, where measured.
    pub noise: Option<f64>,
    /// It springs back to position 0.
    pub momentary: bool,
    /// What the channel does on link loss, where the radio decides that.
    pub on_loss: Option<OnLoss>,
}

impl SwitchEntry {
    /// The position in which the switch rests at this pulse, if it rests near one.
    #[must_use]
    pub fn position_at(&self, pulse: Pulse) -> Option<u32> {
        let away = |rest: Pulse| (rest.0 - pulse.0).abs();
        let (at, rest) = self.rests.iter().enumerate().min_by_key(|(_, rest)| away(**rest))?;
        if away(*rest) > self.nearness() { None } else { u32::try_from(at).ok() }
    }

    /// How far from a rest pulse still counts as resting there, in µs: a third of the way to the nearest
    /// neighbour, at most 60 µs.
    fn nearness(&self) -> i32 {
        let others = |at: usize| self.rests.iter().skip(at + 1);
        let gaps =
            self.rests.iter().enumerate().flat_map(|(at, rest)| others(at).map(|other| (other.0 - rest.0).abs()));
        (gaps.min().unwrap_or(200) / 3).min(60)
    }
}

/// What is known of one stick.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct StickEntry {
    /// Channel from 1.
    pub channel: u32,
    /// Whether the pulse falls when the stick goes right or up.
    pub reversed: bool,
}
