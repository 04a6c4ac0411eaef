//! The bench prompt's own words: everything that may be typed there and is no statement of the language.
//!
//! One table, for reading, completion and help. Must not be here: what a word does.

use std::path::PathBuf;

/// A word of the prompt.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Word {
    /// The word itself.
    pub word: &'static str,
    /// What follows it, as help shows it; empty for nothing.
    pub form: &'static str,
    /// What it does, in a few words.
    pub about: &'static str,
}

/// Every word, in the order in which help shows them.
pub const WORDS: &[Word] = &[
    Word { word: "look", form: "[SUBJECT]", about: "what is there now; `look` alone gives a summary" },
    Word { word: "watch", form: "", about: "a live page until a key is pressed" },
    Word { word: "dry-run", form: "STATEMENT", about: "what a statement would do, without doing it" },
    Word { word: "undo", form: "", about: "take back the last statement that changed the board" },
    Word { word: "recipe", form: "", about: "this session as a recipe, as it would be written" },
    Word { word: "write", form: "FILE", about: "write this session out as a recipe" },
    Word { word: "help", form: "[WORD]", about: "these words, or the forms of a statement" },
    Word { word: "leave", form: "", about: "end the session" },
];

/// What `look` can be asked for, each with what it shows.
pub const SUBJECTS: &[(&str, &str)] = &[
    ("settings", "settings in vocabulary words, with the board's own names"),
    ("changes", "what differs from the snapshot of this session's beginning"),
    ("switches", "switches and bands, each with the live pulse inside or outside"),
    ("outputs", "motor outputs and speeds"),
    ("battery", "pack voltage and current"),
    ("journal", "what this session did"),
];

/// A line of the prompt, told apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Asked {
    /// Nothing.
    Nothing,
    /// A statement of the language.
    Statement(String),
    /// `look`, with its subject.
    Look(Option<Subject>),
    /// `watch`.
    Watch,
    /// `dry-run` and its statement.
    DryRun(String),
    /// `undo`.
    Undo,
    /// `recipe`.
    Recipe,
    /// `write` and its file.
    Write(PathBuf),
    /// `help`, with the word asked for.
    Help(Option<String>),
    /// `leave`.
    Leave,
}

/// See [`SUBJECTS`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "named after the words above")]
pub enum Subject {
    Settings,
    Changes,
    Switches,
    Outputs,
    Battery,
    Journal,
}

/// Why a line is none: one of the prompt's own words with something that does not belong behind it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAsked {
    /// Nothing may follow.
    #[error("nothing follows `{0}`")]
    Follows(&'static str),
    /// Something has to follow.
    #[error("`{0}` needs {1} behind it")]
    Missing(&'static str, &'static str),
    /// No such subject.
    #[error("`{0}` is nothing to look at: {list}", list = subjects())]
    Subject(String),
}

fn subjects() -> String {
    SUBJECTS.iter().map(|(word, _)| *word).collect::<Vec<_>>().join(", ")
}

/// Tells a line apart. What begins with none of the prompt's own words is a statement.
///
/// # Errors
/// A word of the prompt that is not used as it may be.
pub fn read(line: &str) -> Result<Asked, NotAsked> {
    let line = line.trim();
    let (first, rest) = line.split_once(char::is_whitespace).map_or((line, ""), |(first, rest)| (first, rest.trim()));
    let Some(word) = WORDS.iter().find(|known| known.word == first).map(|known| known.word) else {
        let bare = line.lines().all(|line| line.trim().is_empty() || line.trim_start().starts_with('#'));
        return Ok(if bare { Asked::Nothing } else { Asked::Statement(line.to_owned()) });
    };
    // The only one that a header line of a recipe shares: with a title behind it, it is that line.
    if word == "recipe" && rest.starts_with('"') {
        return Ok(Asked::Statement(line.to_owned()));
    }
    let alone = |asked| if rest.is_empty() { Ok(asked) } else { Err(NotAsked::Follows(word)) };
    match word {
        "look" if rest.is_empty() => Ok(Asked::Look(None)),
        "look" => subject(rest).map(|subject| Asked::Look(Some(subject))),
        "watch" => alone(Asked::Watch),
        "dry-run" if rest.is_empty() => Err(NotAsked::Missing(word, "a statement")),
        "dry-run" => Ok(Asked::DryRun(rest.to_owned())),
        "undo" => alone(Asked::Undo),
        "recipe" => alone(Asked::Recipe),
        "write" if rest.is_empty() => Err(NotAsked::Missing(word, "the name of a file, such as `wren-95.jig`,")),
        "write" => Ok(Asked::Write(PathBuf::from(rest.trim_matches('"')))),
        "help" => Ok(Asked::Help((!rest.is_empty()).then(|| rest.to_owned()))),
        _ => alone(Asked::Leave),
    }
}

fn subject(word: &str) -> Result<Subject, NotAsked> {
    Ok(match word {
        "settings" => Subject::Settings,
        "changes" => Subject::Changes,
        "switches" => Subject::Switches,
        "outputs" => Subject::Outputs,
        "battery" => Subject::Battery,
        "journal" => Subject::Journal,
        other => return Err(NotAsked::Subject(other.to_owned())),
    })
}
