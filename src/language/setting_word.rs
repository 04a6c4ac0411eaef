//! The words of the vocabulary, as values: a slip in one does not compile.
//!
//! Must not be here: what their values are and what changing them can do (see `board::vocabulary`).

use std::fmt;

/// A setting that boards share, named in words of the trade; sorted by its word.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "each is the word that it is named after")]
pub enum SettingWord {
    BatteryCells,
    BatteryChemistry,
    BatteryLand,
    BatteryWarn,
    BoardTurn,
    Idle,
    LevelPitch,
    LevelRoll,
    LinkLossAction,
    LinkLossWait,
    LoopRate,
    PitchChannel,
    ReceiverPort,
    ReceiverProtocol,
    RollChannel,
    Signal,
    ThrottleChannel,
    VoltageRatio,
    YawChannel,
    ZeroThrottle,
}

impl SettingWord {
    /// All of them, sorted.
    pub const ALL: [Self; 20] = [
        Self::BatteryCells,
        Self::BatteryChemistry,
        Self::BatteryLand,
        Self::BatteryWarn,
        Self::BoardTurn,
        Self::Idle,
        Self::LevelPitch,
        Self::LevelRoll,
        Self::LinkLossAction,
        Self::LinkLossWait,
        Self::LoopRate,
        Self::PitchChannel,
        Self::ReceiverPort,
        Self::ReceiverProtocol,
        Self::RollChannel,
        Self::Signal,
        Self::ThrottleChannel,
        Self::VoltageRatio,
        Self::YawChannel,
        Self::ZeroThrottle,
    ];

    /// As a recipe writes it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::BatteryCells => "battery-cells",
            Self::BatteryChemistry => "battery-chemistry",
            Self::BatteryLand => "battery-land",
            Self::BatteryWarn => "battery-warn",
            Self::BoardTurn => "board-turn",
            Self::Idle => "idle",
            Self::LevelPitch => "level-pitch",
            Self::LevelRoll => "level-roll",
            Self::LinkLossAction => "link-loss-action",
            Self::LinkLossWait => "link-loss-wait",
            Self::LoopRate => "loop-rate",
            Self::PitchChannel => "pitch-channel",
            Self::ReceiverPort => "receiver-port",
            Self::ReceiverProtocol => "receiver-protocol",
            Self::RollChannel => "roll-channel",
            Self::Signal => "signal",
            Self::ThrottleChannel => "throttle-channel",
            Self::VoltageRatio => "voltage-ratio",
            Self::YawChannel => "yaw-channel",
            Self::ZeroThrottle => "zero-throttle",
        }
    }

    /// The word that a text is, if it is one.
    #[must_use]
    pub fn of(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|word| word.word() == text)
    }
}

impl fmt::Display for SettingWord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
