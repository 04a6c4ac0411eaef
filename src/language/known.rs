//! What is known at a place where a statement is typed: names and words beyond those of the grammar.
//!
//! Plain values, filled by whoever knows the board and the radio. Must not be here: how they are found.

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
    /// Switches that were found or declared, with the number of their positions.
    pub switches: Vec<(String, u32)>,
}
