//! Every code of a check, in one table, each with one line that explains it.
//!
//! Promises: a code keeps its meaning for ever; a code that falls away is not given out again.
//! Scheme: `C` for what the text decides, `B` with a board sheet, `K` with a radio card, a letter
//! for the subject, a number. Must not be here: codes of reading (see the reader's table).

use crate::language::codes::codes;

codes! {
    UNKNOWN_SWITCH = "CS1", "A switch is neither found nor declared.";
    SWITCH_USED_EARLY = "CS2", "A switch is used above the line that finds or declares it.";
    NO_SUCH_POSITION = "CS3", "The switch does not have this position.";
    POSITION_COUNT = "CS4", "A switch has fewer than 2 or more than 6 positions.";
    RESTS_CLOSE = "CS5", "Two rest pulses are closer than twice the fixed margin.";
    RESTS_UNORDERED = "CS6", "The rest pulses of a switch do not run one way.";
    CHANNEL_RANGE = "CS7", "No receiver has this channel.";
    CHANNEL_TAKEN = "CS8", "A switch is on the channel of a stick or of another switch.";
    UNUSED_SWITCH = "CS9", "Nothing uses a switch.";
    UNUSED_GIVEN = "CS10", "Nothing uses a parameter.";
    STICK_RANGE = "CS11", "No stick can meet these figures.";

    ARM_AT_REST = "CF1", "Arm is bound to position 0.";
    ARM_MEETS = "CF2", "Arm shares a position with a function that changes how motors answer.";
    ARM_SWITCH_SHARED = "CF3", "The arm switch carries another function.";
    ARM_ON_LINK_LOSS = "CF4", "Arm is bound where its channel goes on link loss.";
    ARM_MOMENTARY = "CF6", "Arm is bound to a switch that springs back.";
    SPIN_WITHOUT_ARM = "CF5", "Motors spin at zero throttle without a bound arm switch.";

    STEP_ZERO = "CI1", "The step of a search does not go up.";
    START_ABOVE_LIMIT = "CI2", "A search starts above its limit.";
    NO_VALUES = "CI3", "A search has not a single value to try.";
    TOO_MANY_VALUES = "CI4", "A search has more than 40 values.";
    ABOVE_CEILING = "CI5", "A value is beyond a built-in ceiling.";
    NOTHING_TO_PROVE = "CI6", "A count or a time is nothing, or less.";
    STEPPED_BY_HAND = "CI7", "An idle is stepped by hand, which only the bench prompt does.";

    PROPS_OFF_MISSING = "CM1", "A statement that can turn a motor has no `require props off` before it.";
    SIGNAL_TOO_SLOW = "CM2", "A motor signal cannot carry the loop rate.";
    POWER_CYCLE_MISSING = "CM3", "Motors run between a new signal and its power cycle.";

    BATTERY_ORDER = "CB1", "Battery limits are out of order.";
    CELL_VOLTS_LOW = "CB2", "A cell voltage is so low that it harms the cell.";
    CELL_VOLTS_HIGH = "CB3", "No cell of its kind reaches this voltage.";
    CELLS_MISSING = "CB4", "A voltage per cell stands in a recipe without a cell count.";

    NOT_TESTED = "CP1", "Arm, failsafe or a bound function is never tested.";
    TOO_SOON = "CP3", "A test allows the failsafe less time than it waits.";
    TEST_BEFORE_KEEP = "CP2", "A test stands above the `keep` that it should prove.";

    TWO_VALUES = "CV1", "One thing has two values.";
    EXPECT_FAILS = "CV2", "The recipe itself breaks what it expects.";

    UNUSUAL_ORDER = "CO1", "The order takes more plug-ins than needed.";
    LOOSER_REQUIRE = "CO3", "A looser `require` stands behind a tighter one.";
    UNDECIDED = "CO2", "Something is left for a sheet, a radio card, a value or the bench to decide.";

    UNKNOWN_WORD = "BW1", "A setting is no word of the vocabulary.";
    WORD_HAS_STATEMENT = "BW2", "`set` names a word that has a statement of its own.";
    VALUE_KIND = "BW3", "A value is of another kind than its setting.";
    WORD_NOT_ON_BOARD = "BW4", "The board does not have this setting.";
    RAW_COVERED = "BW5", "A word covers this name of the board's own.";
    RAW_UNLISTED = "BW6", "The sheet does not list this name of the board's own.";

    TWO_SHEETS = "BB11", "Two sheets describe one board, and differ.";
    UNKNOWN_BOARD = "BB10", "Nothing at hand describes a board.";
    SHEET_WRONG = "BD1", "A board sheet is not as a sheet has to be.";
    CARD_WRONG = "KD1", "A radio card is not as a card has to be.";

    OTHER_BOARD = "BB1", "The sheet is for a board that the recipe was not written for.";
    FRAME_MISMATCH = "BB2", "The frame has other motors than the sheet.";
    TURNING = "BB12", "Neither recipe nor sheet says which way the motors should turn.";
    NO_SPEEDS = "BB13", "The board tells no motor speeds, so somebody has to say after every start which motors turned.";
    NO_ALARM = "BB14", "The board has no setting for the limits of a battery.";
    UNKNOWN_FUNCTION = "BB3", "The board does not have this function.";
    POSITIONS_APART = "BB4", "The board takes one band a function, and the positions are apart.";
    REST_OUTSIDE_BANDS = "BB5", "A switch rests where the board can bind nothing.";
    NO_MOTOR_RUN = "BB6", "The board cannot run a single motor.";
    SEARCH_AT_REST = "BB7", "Motors rest at zero throttle, so no arming would show the idle.";

    CONSOLE_LACKS = "BB8", "The board's sheet gives nothing for what this needs.";
    CONSOLE_OPEN = "BB9", "The board does not arm while its console is open, so this could not be watched.";

    VALUE_NOT_OFFERED = "BV1", "The board does not take this word or number.";
    BEYOND_SHEET = "BV2", "A value is beyond the sheet's limits.";
    IDLE_UNIT = "BV3", "The board does not count its idle in this unit.";

    NOT_ON_CARD = "KS1", "The radio card does not have this switch.";
    CARD_DISAGREES = "KS2", "The radio card knows this switch otherwise.";
    BAND_NARROW = "KS3", "The measured noise does not fit into the band.";
}
