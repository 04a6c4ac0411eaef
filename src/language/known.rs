//! What is known at a place where a statement is typed: names and words beyond those of the grammar.
//!
//! Plain values, filled by whoever knows the board and the radio. Must not be here: how they are found.

use super::recipe::GivenKind;

/// See the module.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Known {
    /// Functions that the board can bind, such as `buzzer`.
    pub functions: Vec<String>,
    /// Words of the vocabulary that the board has, each with the words it takes where its value is a word.
    pub settings: Vec<(String, Vec<String>)>,
    /// The board's own names that no word covers.
    pub raw: Vec<String>,
    /// Receiver protocols of the board.
    pub protocols: Vec<String>,
    /// Motor signals of the board.
    pub signals: Vec<String>,
    /// Whether it is a file's line, where lines of the head may stand.
    pub head: bool,
    /// Names of boards that a sheet describes.
    pub boards: Vec<String>,
    /// Files that can be used, as a path is written.
    pub files: Vec<String>,
    /// Parameters of the file, each with what it stands for.
    pub parameters: Vec<(String, GivenKind)>,
    /// The same of the file that this line uses.
    pub told: Vec<(String, GivenKind)>,
    /// Switches that were found or declared, with the number of their positions.
    pub switches: Vec<(String, u32)>,
}
