//! How a board departs from one that means well: what it cannot sense, how its clock runs, and whether what it
//! acknowledges is what it did.
//!
//! Promises: without a departure everything is as it would be without this file. Must not be here: what is done of what
//! it was told (see `deeds`).

use super::false_speeds::FalseSpeeds;
use std::time::Duration;

/// What becomes of something that the board is told to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Deed {
    /// Done, and acknowledged.
    #[default]
    Done,
    /// Acknowledged, and not done.
    Hollow,
    /// Acknowledged at once, and done so much later.
    Late(Duration),
    /// Done, and never acknowledged.
    Silent,
}

/// The id that a board gives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum GivenId {
    /// Its own.
    #[default]
    Own,
    /// All zeros.
    Zero,
    /// None: it refuses to say who it is.
    Refused,
    /// None: it says nothing to the question.
    Silent,
}

/// What the board runs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RunsOn {
    /// USB or the battery, whichever there is.
    #[default]
    Either,
    /// The battery alone: USB carries data only.
    Battery,
}

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conduct {
    /// Whether it has a sensor for voltage and current.
    pub voltage_sensor: bool,
    /// The shortest interval at which it tells its armed flag, whatever was asked for.
    pub flag_every: Duration,
    /// The shortest interval at which it tells speeds, whatever was asked for.
    pub speeds_every: Duration,
    /// How its motors' speeds are not told as they are.
    pub speeds: FalseSpeeds,
    /// How much later than it was so, and than it is dated, it tells of channels, of outputs and of its armed flag, on
    /// MAVLink.
    pub tells_late: [Duration; 3],
    /// How long after its switch went off it disarms.
    pub cuts_after: Duration,
    /// How fast its clock runs: 0.98 is slow by 2 %, 1.0001 fast by 100 ppm.
    pub clock_rate: f64,
    /// What becomes of a write. One that is not done is answered with the value that was asked for.
    pub writes: Deed,
    /// What becomes of storing.
    pub stores: Deed,
    /// What becomes of a restart.
    pub restarts: Deed,
    /// What becomes of a disarm.
    pub disarms: Deed,
    /// What becomes of a motor run by command.
    pub runs: Deed,
    /// Whether such a run ends by itself after its time.
    pub runs_end: bool,
    /// Whether it goes on for ever where the cable is pulled out meanwhile.
    pub runs_on_unplugged: bool,
    /// The next so many disarms that it does not hear at all.
    pub swallows: u32,
    /// The id that it gives.
    pub id: GivenId,
    /// What it runs on.
    pub runs_on: RunsOn,
    /// Whether its port stays open while it restarts, as an adapter's does.
    pub port_stays: bool,
    /// Whether USB feeds the motors while the battery is out. A diode keeps that from the voltage sensor, which
    /// shows 0 then.
    pub usb_feeds_motors: bool,
    /// Whether motors that sound turn by it, as with a controller that takes the sound for a throttle.
    pub sound_turns: bool,
}

impl Default for Conduct {
    fn default() -> Self {
        // A board that tells quickly: how often it tells its flag and its speeds is chosen, well above the 1 Hz and the 10 Hz
        // that the standard names for their messages (`common.xml`), which tests set.
        Self {
            voltage_sensor: true,
            flag_every: Duration::from_millis(50),
            speeds_every: Duration::from_millis(10),
            speeds: FalseSpeeds::default(),
            tells_late: [Duration::ZERO; 3],
            cuts_after: Duration::ZERO,
            clock_rate: 1.0,
            writes: Deed::Done,
            stores: Deed::Done,
            restarts: Deed::Done,
            disarms: Deed::Done,
            runs: Deed::Done,
            runs_end: true,
            runs_on_unplugged: false,
            swallows: 0,
            id: GivenId::Own,
            runs_on: RunsOn::Either,
            port_stays: false,
            usb_feeds_motors: false,
            sound_turns: false,
        }
    }
}

/// What USB gives to motors that it feeds, volts: chosen between 4.4 V, the least behind a cable and a hub without supply of
/// its own (Universal Serial Bus Specification, Revision 2.0, 7.2.2, voltage drop budget), and the 5.25 V at most.
pub const USB_VOLTS: f64 = 4.6;
