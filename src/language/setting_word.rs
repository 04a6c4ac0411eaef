//! The words of the vocabulary, as values: a slip in one does not compile.
//!
//! Must not be here: what their values are and what changing them can do (see `board::vocabulary`).

use crate::measure::words::words;
use std::fmt;

words! {
    /// A setting that boards share, named in words of the trade; sorted by its word.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
    #[expect(missing_docs, reason = "each is the word that it is named after")]
    pub enum SettingWord, word {
        BatteryCells = "battery-cells",
        BatteryChemistry = "battery-chemistry",
        BatteryLand = "battery-land",
        BatteryWarn = "battery-warn",
        BoardTurn = "board-turn",
        Idle = "idle",
        LevelPitch = "level-pitch",
        LevelRoll = "level-roll",
        LinkLossAction = "link-loss-action",
        LinkLossWait = "link-loss-wait",
        LoopRate = "loop-rate",
        PitchChannel = "pitch-channel",
        ReceiverPort = "receiver-port",
        ReceiverProtocol = "receiver-protocol",
        RollChannel = "roll-channel",
        Signal = "signal",
        ThrottleChannel = "throttle-channel",
        VoltageRatio = "voltage-ratio",
        YawChannel = "yaw-channel",
        ZeroThrottle = "zero-throttle",
    }
}

impl SettingWord {
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
