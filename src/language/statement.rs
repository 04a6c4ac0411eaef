//! Everything that a statement can say, typed.
//!
//! One variant a statement of the language; a value has its type. Must not be here: where it was
//! written (see `recipe`), what it means at the bench.

use super::search::IdleSearch;
use super::units::{Angle, Frequency, Pulse, Voltage};
use super::value::{Chemistry, Function, Idle, OnLoss, Setting, Stick, Switch, Value, ZeroThrottle};
use crate::measure::signal_timing::MotorSignal;
use std::time::Duration;

/// A condition that must hold before anything goes on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Require {
    /// Propellers taken off: attested, once a craft and session.
    PropsOff,
    /// Video antenna fitted: attested.
    AntennaOn,
    /// Pack out (false) or in (true): measured where a sensor was seen working.
    Battery {
        /// In or out.
        inside: bool,
    },
    /// Pack voltage for each cell at least this.
    BatteryAtLeast(Voltage),
    /// Throttle stick down.
    ThrottleLow,
    /// The board says that it is not armed.
    Disarmed,
    /// Roll and pitch within this of zero.
    Level(Angle),
    /// A switch stands in a position.
    SwitchPosition {
        /// Which switch.
        switch: Switch,
        /// Position from 0.
        position: u32,
    },
    /// The recipe's own question, answered by the operator.
    Attest(String),
}

/// Everything a statement can say.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum StatementKind {
    /// `require …`
    Require(Require),
    /// `expect SETTING is VALUE`
    Expect {
        /// Which setting.
        setting: Setting,
        /// The value it must have.
        value: Value,
    },
    /// `receiver PROTOCOL on port N`
    Receiver {
        /// A word of the sheet.
        protocol: String,
        /// The board's port.
        port: u32,
    },
    /// `channels roll, pitch, throttle, yaw`
    Channels([Stick; 4]),
    /// `switch B on channel 6 rests at …`
    DeclareSwitch {
        /// Its name.
        switch: Switch,
        /// Channel from 1.
        channel: u32,
        /// Rest pulses by position.
        rests: Vec<Pulse>,
        /// It springs back to position 0.
        momentary: bool,
        /// What the channel does on link loss, if said.
        on_loss: Option<OnLoss>,
    },
    /// `find switch B …`
    FindSwitch {
        /// Its name.
        switch: Switch,
        /// How many positions it must have, if said.
        positions: Option<u32>,
        /// It springs back to position 0.
        momentary: bool,
        /// Replace what the radio card says.
        anew: bool,
    },
    /// `find sticks`
    FindSticks {
        /// Replace what the radio card says.
        anew: bool,
    },
    /// `find link loss`
    FindLinkLoss {
        /// Replace what the craft's record says.
        anew: bool,
    },
    /// `test sticks …`
    TestSticks {
        /// Where the sticks rest, and how close.
        centre: (Pulse, Pulse),
        /// Lower end, upper end, how close.
        ends: (Pulse, Pulse, Pulse),
    },
    /// `bind FUNCTION to switch S positions …`
    Bind {
        /// What.
        function: Function,
        /// On which switch.
        switch: Switch,
        /// On in exactly these positions, ascending.
        positions: Vec<u32>,
    },
    /// `unbind FUNCTION`
    Unbind(Function),
    /// `at zero throttle spin | rest`
    AtZeroThrottle(ZeroThrottle),
    /// `idle at …`
    IdleAt(Idle),
    /// `idle start at …`
    IdleSearch(IdleSearch),
    /// `test idle [in N starts]`
    TestIdle {
        /// How many starts; default 3.
        starts: Option<u32>,
    },
    /// `signal … [at RATE]`
    Signal {
        /// The motor signal.
        signal: MotorSignal,
        /// The loop rate, if said.
        rate: Option<Frequency>,
    },
    /// `power cycle`
    PowerCycle,
    /// `test motors`
    TestMotors,
    /// `order motors`
    OrderMotors,
    /// `board turned 90 deg`
    BoardTurned(Angle),
    /// `test attitude`
    TestAttitude,
    /// `calibrate level`
    CalibrateLevel,
    /// `failsafe cut motors after …`
    Failsafe(Duration),
    /// `test arm`
    TestArm,
    /// `test cut [within …]`
    TestCut {
        /// Default 250 ms.
        within: Duration,
    },
    /// `test failsafe [within …]`
    TestFailsafe {
        /// Default 3 s.
        within: Duration,
    },
    /// `test buzzer`
    TestBuzzer,
    /// `battery 2 cells …`
    Battery {
        /// Cells in series.
        cells: u32,
        /// Chemistry; default lipo.
        chemistry: Chemistry,
        /// Warn at this, for each cell.
        warn: Voltage,
        /// Land at this, for each cell.
        land: Voltage,
    },
    /// `calibrate battery`
    CalibrateBattery,
    /// `set SETTING to VALUE`
    Set {
        /// Which setting.
        setting: Setting,
        /// Its new value.
        value: Value,
    },
    /// `keep`
    Keep,
    /// `pause "…"`
    Pause(String),
    /// `note "…"`
    Note(String),
    /// A statement that uses a `given` which has no value yet: read, not yet typed.
    Waiting {
        /// Which statement it would be.
        form: Form,
        /// The parameters without a value.
        names: Vec<String>,
        /// The switch that it would declare or find.
        declares: Option<Switch>,
    },
}

/// The statements in which a parameter can stand for a value.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[expect(missing_docs, reason = "each is named after its statement")]
pub enum Form {
    RequireBattery,
    RequireLevel,
    RequireSwitch,
    Expect,
    Receiver,
    DeclareSwitch,
    FindSwitch,
    TestSticks,
    Bind,
    IdleAt,
    IdleSearch,
    TestIdle,
    Signal,
    BoardTurned,
    Failsafe,
    TestCut,
    TestFailsafe,
    Battery,
    Set,
}

impl Form {
    /// Its first words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::RequireBattery => "require battery",
            Self::RequireLevel => "require level",
            Self::RequireSwitch => "require switch",
            Self::Expect => "expect",
            Self::Receiver => "receiver",
            Self::DeclareSwitch => "switch",
            Self::FindSwitch => "find switch",
            Self::TestSticks => "test sticks",
            Self::Bind => "bind",
            Self::IdleAt => "idle at",
            Self::IdleSearch => "idle start",
            Self::TestIdle => "test idle",
            Self::Signal => "signal",
            Self::BoardTurned => "board turned",
            Self::Failsafe => "failsafe",
            Self::TestCut => "test cut",
            Self::TestFailsafe => "test failsafe",
            Self::Battery => "battery",
            Self::Set => "set",
        }
    }
}
