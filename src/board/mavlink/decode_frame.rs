//! Messages of the bound board into live signals.
//!
//! One function a message. Numbers that are not finite are refused with their whole message. Enum values that the
//! dialect does not know pass. Sources of layouts and units: common.xml, minimal.xml.

use super::fields::Fields;
use crate::board::signals::LinkEvent;
use crate::measure::time::Time;
use std::time::Duration;

/// Receiver bit of the sensors in `SYS_STATUS` (common.xml, `MAV_SYS_STATUS_SENSOR_RC_RECEIVER`).
const RECEIVER: u32 = 65536;

/// How long the pack's message counts where the status is told without it, and the other way round. Common boards
/// send both once a second or more often.
const TOGETHER: Duration = Duration::from_millis(1500);

/// What earlier messages said that later ones need.
#[derive(Debug, Default)]
pub(super) struct Hearing {
    /// Number of speed controllers.
    controllers: Option<u8>,
    /// Whether the pack's voltage comes in `SYS_STATUS`.
    voltage_in_status: bool,
    /// Voltage and current of `BATTERY_STATUS`.
    pack: Option<(Time, Option<u16>, Option<i16>)>,
    /// Receiver of `SYS_STATUS`.
    receiver: Option<(Time, bool)>,
    outputs_clock: Microseconds,
}

/// A 32-bit clock in µs, which runs over every 71.6 minutes, as milliseconds that do not.
#[derive(Debug, Default)]
struct Microseconds {
    last: u32,
    turns: u64,
}

impl Microseconds {
    fn milliseconds(&mut self, now: u32) -> u32 {
        // A late start against an early end: it ran over. Any other step back is a restart.
        if self.last > 0xF000_0000 && now < 0x1000_0000 {
            self.turns += 1;
        } else if now < self.last.saturating_sub(0x1000_0000) {
            self.turns = 0;
        }
        self.last = now;
        let whole = (self.turns << 32) + u64::from(now);
        u32::try_from(whole / 1000 % (1 << 32)).unwrap_or(0)
    }
}

impl Hearing {
    /// After a gap: what was heard before it goes in with nothing that is heard after it.
    pub(super) fn gap(&mut self) {
        self.pack = None;
        self.receiver = None;
    }

    /// The signal in a message, if it carries one.
    pub(super) fn signal(&mut self, now: Time, id: u32, fields: Fields) -> Option<LinkEvent> {
        match id {
            1 => Some(self.status(now, fields)),
            30 => attitude(fields),
            36 => self.outputs(fields),
            65 => Some(channels(fields)),
            147 => self.battery(now, fields),
            290 => {
                self.controllers = Some(fields.u8(43));
                None
            }
            291 => self.speeds(fields),
            _ => None,
        }
    }

    /// Where the status has no voltage, the pack's own message goes in with it, so that each tells the whole.
    fn status(&mut self, now: Time, fields: Fields) -> LinkEvent {
        let millivolts = Some(fields.u16(14)).filter(|mv| *mv != u16::MAX);
        let centiamps = Some(fields.i16(16)).filter(|ca| *ca != -1);
        self.voltage_in_status = millivolts.is_some();
        let receiver = (fields.u32(0) & RECEIVER != 0).then(|| fields.u32(8) & RECEIVER != 0);
        self.receiver = receiver.map(|heard| (now, heard));
        let pack = self.pack.filter(|(at, ..)| millivolts.is_none() && now.since(*at) <= TOGETHER);
        let (millivolts, centiamps) = pack.map_or((millivolts, centiamps), |(_, mv, ca)| (mv, ca.or(centiamps)));
        LinkEvent::Power { millivolts, centiamps, receiver }
    }

    /// Only where `SYS_STATUS` has no voltage, and only the first pack.
    fn battery(&mut self, now: Time, fields: Fields) -> Option<LinkEvent> {
        if self.voltage_in_status || fields.u8(32) != 0 {
            return None;
        }
        let cells = (0..10).map(|i| fields.u16(10 + 2 * i)).take_while(|mv| *mv != u16::MAX);
        let sum: u32 = cells.map(u32::from).sum();
        let known = fields.u16(10) != u16::MAX;
        let millivolts = u16::try_from(sum).ok().filter(|_| known);
        let centiamps = Some(fields.i16(30)).filter(|ca| *ca != -1);
        self.pack = Some((now, millivolts, centiamps));
        let receiver = self.receiver.filter(|(at, _)| now.since(*at) <= TOGETHER).map(|(_, heard)| heard);
        Some(LinkEvent::Power { millivolts, centiamps, receiver })
    }

    fn outputs(&mut self, fields: Fields) -> Option<LinkEvent> {
        // Port 0 is the main group (common.xml).
        (fields.u8(20) == 0).then(|| LinkEvent::Outputs {
            pulses: fields.u16s(4),
            board_time: Some(self.outputs_clock.milliseconds(fields.u32(0))),
        })
    }

    fn speeds(&self, fields: Fields) -> Option<LinkEvent> {
        let first = fields.u8(56);
        let count = self.controllers.map_or(4, |all| all.saturating_sub(first).min(4));
        let rpm = std::array::from_fn(|i| fields.i32(8 + 4 * i));
        (count > 0 && first.is_multiple_of(4)).then_some(LinkEvent::Speeds { first, rpm, count })
    }
}

fn attitude(fields: Fields) -> Option<LinkEvent> {
    let (roll, pitch, yaw) = (fields.real(4)?, fields.real(8)?, fields.real(12)?);
    Some(LinkEvent::Attitude { roll, pitch, yaw, board_time: Some(fields.u32(0)) })
}

fn channels(fields: Fields) -> LinkEvent {
    let count = fields.u8(40).min(18);
    let mut pulses = [None; 18];
    for (pulse, told) in pulses.iter_mut().zip(fields.u16s::<18>(4)).take(usize::from(count)) {
        *pulse = (told != u16::MAX).then_some(told);
    }
    LinkEvent::Channels { count, pulses, board_time: Some(fields.u32(0)) }
}
