//! Who talks on the wire: loss by sequence numbers, and stations that are not the bound board.
//!
//! Judges who sent a frame and whether its kind gives commands, never what it says to whom: a station that commands
//! anything at all on this wire is reason enough for no motor step.

use crate::board::signals::LinkEvent;
use crate::measure::time::Time;
use std::collections::BTreeMap;
use std::time::Duration;

/// How often one stranger is told.
pub const TELL_EVERY: Duration = Duration::from_secs(1);

/// No bad link loses or shuffles so many frames within so short a time: such a leap of the number is another sender's,
/// or one that started anew. After more time the eight bits tell nothing.
const LEAP: u8 = 32;
const LEAP_WITHIN: Duration = Duration::from_millis(100);

/// Frames of one sender.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Loss {
    /// Frames received.
    pub heard: u64,
    /// Frames missing between them, by gaps of the sequence number modulo 256.
    pub lost: u64,
}

#[derive(Debug, Default)]
struct Track {
    loss: Loss,
    /// The last number, and when it came.
    last: Option<(u8, Time)>,
}

#[derive(Debug)]
struct Told {
    at: Time,
    commands: bool,
}

/// The senders of a wire by system and component.
#[derive(Debug, Default)]
pub(super) struct Traffic {
    /// By sender, sorted.
    tracks: Vec<((u8, u8), Track)>,
    /// Where that of the last frame is: most frames on a wire are of one sender.
    last: usize,
    told: BTreeMap<(u8, u8), Told>,
}

impl Traffic {
    /// Counts a frame. Whether its number leapt: no loss and no order of frames explains it.
    pub(super) fn count(&mut self, now: Time, sender: (u8, u8), sequence: u8) -> bool {
        let track = self.track(sender);
        track.loss.heard += 1;
        let gap = track.last.map_or(0, |(last, _)| sequence.wrapping_sub(last).wrapping_sub(1));
        let leapt = track.last.is_some_and(|(last, at)| {
            now < at + LEAP_WITHIN && sequence.wrapping_sub(last).cast_signed().unsigned_abs() > LEAP
        });
        // 255 is the same number once more: a doubled frame, nothing lost.
        if gap != u8::MAX {
            track.loss.lost += u64::from(gap);
        }
        track.last = Some((sequence, now));
        leapt
    }

    fn track(&mut self, sender: (u8, u8)) -> &mut Track {
        if self.tracks.get(self.last).is_none_or(|(of, _)| *of != sender) {
            self.last = self.tracks.binary_search_by_key(&sender, |(of, _)| *of).unwrap_or_else(|place| {
                self.tracks.insert(place, (sender, Track::default()));
                place
            });
        }
        &mut self.tracks[self.last].1
    }

    /// A stranger, if it is time to tell of it: once an interval, and at once when it begins to command.
    pub(super) fn stranger(&mut self, now: Time, sender: (u8, u8), commands: bool) -> Option<LinkEvent> {
        if let Some(told) = self.told.get(&sender) {
            let news = commands && !told.commands;
            if !news && now.since(told.at) < TELL_EVERY {
                return None;
            }
        }
        self.told.insert(sender, Told { at: now, commands });
        Some(LinkEvent::Stranger { system: sender.0, component: sender.1, commands })
    }

    pub(super) fn loss(&self, sender: (u8, u8)) -> Loss {
        let track = self.tracks.binary_search_by_key(&sender, |(of, _)| *of);
        track.map_or_else(|_| Loss::default(), |at| self.tracks[at].1.loss)
    }

    /// A gap of the line is no loss on it.
    pub(super) fn line_gap(&mut self) {
        for (_, track) in &mut self.tracks {
            track.last = None;
        }
    }
}

/// Whether messages of this id command a vehicle or change what it holds (common.xml).
#[must_use]
pub(super) fn commands(id: u32) -> bool {
    matches!(
        id,
        5 // CHANGE_OPERATOR_CONTROL
        | 11 // SET_MODE
        | 23 // PARAM_SET
        | 39 | 41 | 44 | 45 | 73 // MISSION_ITEM, _SET_CURRENT, _COUNT, _CLEAR_ALL, _ITEM_INT
        | 50 // PARAM_MAP_RC
        | 69 | 70 // MANUAL_CONTROL, RC_CHANNELS_OVERRIDE
        | 75 | 76 | 80 // COMMAND_INT, COMMAND_LONG, COMMAND_CANCEL
        | 82 | 84 | 86 // SET_ATTITUDE_TARGET, SET_POSITION_TARGET_*
        | 110 | 126 // FILE_TRANSFER_PROTOCOL, SERIAL_CONTROL
        | 139 // SET_ACTUATOR_CONTROL_TARGET
        | 323 // PARAM_EXT_SET
    )
}
