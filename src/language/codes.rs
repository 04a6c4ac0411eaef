//! The one table of finding codes: every code once, with the stage that gives it.
//!
//! Promises: a code never changes its meaning and is never used twice.
//! Must not be here: messages (they stand where the finding is made).

/// Which stage gives a code.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Stage {
    /// Reading files and statements.
    Reading,
    /// Checks that the text alone decides.
    Text,
    /// Checks against the vocabulary and a board sheet.
    Sheet,
    /// Checks against a radio card.
    Card,
}

/// One code.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Code {
    /// The code itself.
    pub code: &'static str,
    /// Who gives it.
    pub stage: Stage,
    /// What it is about, in a few words.
    pub about: &'static str,
}

macro_rules! codes {
    ($($(#[$doc:meta])* $stage:ident { $($name:ident = $code:literal, $about:literal;)* })*) => {
        $($(#[doc = $about] pub const $name: &str = $code;)*)*
        /// All codes, by stage.
        pub const CODES: &[Code] = &[$($(Code { code: $code, stage: Stage::$stage, about: $about },)*)*];
    };
}

codes! {
    Text {
        UNKNOWN_SWITCH = "unknown-switch", "a switch that is neither found nor declared";
        SWITCH_USED_EARLY = "switch-used-early", "a switch used above the line that finds or declares it";
        NO_SUCH_POSITION = "no-such-position", "a position that the switch does not have";
        POSITION_COUNT = "position-count", "a switch with fewer than 2 or more than 6 positions";
        RESTS_CLOSE = "rests-close", "rest pulses closer than twice the fixed margin";
        RESTS_UNORDERED = "rests-unordered", "rest pulses that do not run one way";
        CHANNEL_RANGE = "channel-range", "a channel that no receiver has";
        CHANNEL_TAKEN = "channel-taken", "a switch on a stick's or another switch's channel";
        UNUSED_SWITCH = "unused-switch", "a switch that nothing uses";
        UNUSED_GIVEN = "unused-given", "a parameter that nothing uses";
        ARM_AT_REST = "arm-at-rest", "arm on position 0";
        ARM_MEETS = "arm-meets", "arm on one position with a function that changes how motors answer";
        ARM_SWITCH_SHARED = "arm-switch-shared", "an arm switch that carries another function";
        ARM_ON_LINK_LOSS = "arm-on-link-loss", "arm bound where the channel goes on link loss";
        STEP_ZERO = "step-zero", "a search step that does not go up";
        START_ABOVE_LIMIT = "start-above-limit", "a search that starts above its limit";
        NO_VALUES = "no-values", "a search without a single value to try";
        TOO_MANY_VALUES = "too-many-values", "a search of more than 40 values";
        ABOVE_CEILING = "above-ceiling", "a value beyond a built-in ceiling";
        NOTHING_TO_PROVE = "nothing-to-prove", "a count or time of nothing";
        PROPS_OFF_MISSING = "props-off-missing", "a statement that can turn a motor without `require props off` before it";
        SPIN_WITHOUT_ARM = "spin-without-arm", "motors that spin at zero throttle without a bound arm switch";
        SIGNAL_TOO_SLOW = "signal-too-slow", "a motor signal that cannot carry the loop rate";
        POWER_CYCLE_MISSING = "power-cycle-missing", "a motor step between a new signal and its power cycle";
        BATTERY_ORDER = "battery-order", "battery limits out of order";
        CELL_VOLTS_LOW = "cell-volts-low", "a cell voltage that harms the cell";
        CELL_VOLTS_HIGH = "cell-volts-high", "a cell voltage that no cell of its kind reaches";
        CELLS_MISSING = "cells-missing", "a voltage per cell without a cell count";
        NOT_TESTED = "not-tested", "arm, failsafe or a bound function that is never tested";
        TEST_BEFORE_KEEP = "test-before-keep", "a test above the `keep` that it should prove";
        TWO_VALUES = "two-values", "one thing with two values";
        EXPECT_FAILS = "expect-fails", "an expectation that the recipe itself breaks";
        UNUSUAL_ORDER = "unusual-order", "an order that takes more plug-ins than needed";
        STICK_RANGE = "stick-range", "stick figures that no stick can meet";
        UNDECIDED = "undecided", "what only a sheet, a radio card, a value or the bench can decide";
    }
    Sheet {
        UNKNOWN_WORD = "unknown-word", "a setting that is no word of the vocabulary";
        WORD_HAS_STATEMENT = "word-has-statement", "`set` of a word that has a statement of its own";
        VALUE_KIND = "value-kind", "a value of another kind than the setting's";
        OTHER_BOARD = "other-board", "a sheet of a board that the recipe was not written for";
        FRAME_MISMATCH = "frame-mismatch", "a frame with another number of motors than the sheet's";
        WORD_NOT_ON_BOARD = "word-not-on-board", "a setting that the board does not have";
        UNKNOWN_FUNCTION = "unknown-function", "a function that the board does not have";
        VALUE_NOT_OFFERED = "value-not-offered", "a word or number that is not among those that the board takes";
        BEYOND_SHEET = "beyond-sheet", "a value beyond the sheet's limits";
        IDLE_UNIT = "idle-unit", "an idle in a unit that the board does not count in";
        RAW_COVERED = "raw-covered", "a board's own name that a word covers";
        RAW_UNLISTED = "raw-unlisted", "a board's own name that the sheet does not list";
        POSITIONS_APART = "positions-apart", "positions apart on a board that takes one band a function";
        REST_OUTSIDE_BANDS = "rest-outside-bands", "a rest pulse outside what the board can bind";
        SEARCH_AT_REST = "search-at-rest", "an idle search that no arming would show";
        NO_MOTOR_RUN = "no-motor-run", "single motors on a board that cannot run one";
    }
    Card {
        NOT_ON_CARD = "not-on-card", "a switch that the radio card does not have";
        CARD_DISAGREES = "card-disagrees", "a switch that the radio card knows otherwise";
        BAND_NARROW = "band-narrow", "a band narrower than the measured noise allows";
    }
}

/// The table's entry of a code.
#[must_use]
pub fn code(name: &str) -> Option<&'static Code> {
    CODES.iter().find(|entry| entry.code == name)
}
