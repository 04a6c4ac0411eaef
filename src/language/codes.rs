//! Every code of a reading finding, in one table, each with one line that explains it.
//!
//! Promises: a code keeps its meaning for ever; a code that falls away is not given out again.
//! Scheme: `R` for reading, a letter for the group (T text, S statement, Q quantity, H header,
//! G given, U use), a number. Must not be here: codes of checks that need the typed recipe.

macro_rules! codes {
    ($($name:ident = $code:literal, $about:literal;)*) => {
        $(#[doc = $about] pub const $name: &str = $code;)*
        /// Code and explanation, in the order of the groups.
        pub const TABLE: &[(&str, &str)] = &[$(($code, $about)),*];
    };
}
pub(super) use codes;

codes! {
    UNREADABLE = "RT1", "The file cannot be read.";
    NOT_UTF8 = "RT2", "The file is not UTF-8 text.";
    FILE_TOO_LONG = "RT3", "The file is longer than 1 MiB.";
    LINE_TOO_LONG = "RT4", "A logical line is longer than 4 KiB.";
    TOO_MANY_STATEMENTS = "RT5", "The recipe has more than 10,000 statements in all.";
    HIDDEN_CHARACTER = "RT6", "A control, bidirectional or zero-width character stands in the text.";
    UNCLOSED_STRING = "RT7", "A string has no closing quote on its line.";
    BAD_ESCAPE = "RT8", "A string holds a backslash that escapes neither a quote nor a backslash.";
    DANGLING_COMMA = "RT9", "The last statement ends in a comma, and nothing follows.";
    STRAY_COMMA = "RT10", "A line ends in a comma, but the next begins a new statement.";
    TOO_MANY_FINDINGS = "RT11", "There are more than 1,000 findings, and only the first are told.";

    UNKNOWN_STATEMENT = "RS1", "No statement begins with this word.";
    UNEXPECTED = "RS2", "Something else was expected at this place of a statement.";
    ENDS_EARLY = "RS3", "A statement ends before it is complete.";
    REPEATED_CLAUSE = "RS4", "A clause stands twice in one statement.";
    MISSING_CLAUSE = "RS5", "A statement lacks a clause that it needs.";
    ONE_POSITION = "RS6", "`position` takes one position; several are `positions`.";
    REPEATED_ITEM = "RS7", "A list names the same thing twice.";
    EMPTY_TEXT = "RS8", "A text in quotes is empty.";

    WRONG_UNIT = "RQ1", "The unit does not fit the place.";
    MISSING_UNIT = "RQ2", "A unit is missing where a bare number says nothing.";
    BAD_NUMBER = "RQ3", "A number has too many digits, or is finer or larger than its type can hold.";
    UNKNOWN_UNIT = "RQ4", "The word after a number is no unit.";

    UNKNOWN_EDITION = "RH1", "The edition of the language is not known.";
    MISSING_HEADER = "RH2", "A line that every recipe begins with is missing.";
    MISPLACED_HEADER = "RH3", "A line of the header stands out of its order.";
    REPEATED_HEADER = "RH4", "A line that stands once stands twice.";
    LEFT_OUT = "RH6", "A recipe leaves its craft or its board to the one that uses it.";
    BAD_FIRMWARE = "RH5", "A firmware version is not two or three numbers with dots.";

    BAD_NAME = "RG1", "A parameter has the name of a keyword, a unit or a word of the vocabulary.";
    DUPLICATE_GIVEN = "RG2", "A parameter is declared twice.";
    UNKNOWN_NAME = "RG3", "A name stands for a value, but no parameter has it.";
    OTHER_KIND = "RG11", "A parameter, or a value for it, is of another kind than its place.";
    UNTOLD = "RG12", "A used recipe's parameter has no default, and is told no value.";
    TWO_DIMENSIONS = "RG4", "A parameter is used as two kinds of quantity.";
    OUT_OF_RANGE = "RG5", "The value of a parameter lies outside its range or list.";
    RANGE_MISMATCH = "RG6", "The range of a parameter does not fit its value, or is upside down.";
    NEEDS_UNIT = "RG7", "A bare value of a parameter is used where several units would fit.";
    WITHOUT_VALUE = "RG8", "A parameter has no value yet.";
    UNKNOWN_WITH = "RG9", "A value is given for a parameter that the file does not have.";
    USED_TOO_EARLY = "RG10", "A parameter is used before its declaration.";

    BAD_PATH = "RU1", "A used file's path is absolute, empty, not written with plain slashes, or no recipe's.";
    LEAVES_FOLDER = "RU2", "A used file lies outside the root of the recipe that was named.";
    CANNOT_USE = "RU3", "A used file cannot be read.";
    USE_CYCLE = "RU4", "A recipe uses itself, directly or through others.";
    TOO_MANY_FILES = "RU5", "A recipe has more than 64 files.";
    TOO_DEEP = "RU6", "`use` goes more than 16 levels deep.";
    OTHER_CRAFT = "RU7", "A used recipe is for another craft.";
    NO_COMMON_BOARD = "RU8", "A used recipe shares no board with the one that uses it.";
    NO_COMMON_FIRMWARE = "RU9", "A used recipe shares no firmware version with the one that uses it.";
    TAKEN_ALREADY = "RU10", "A file that was taken already is told other values.";
    BAD_ROOT = "RU12", "The `quadjig.toml` that marks the root is not as it has to be.";
    NO_RECIPE = "RU13", "A used file does not begin as a recipe.";
    TAKEN_ONCE = "RU11", "A file that requires, asks or tests was taken already, and does so only there.";
}
