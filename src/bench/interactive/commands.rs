//! The bench prompt's own words: everything that may be typed there and is no statement of the language.
//!
//! One table, for reading, completion and help; a word without an arm does not compile. Must not be here: what a word
//! does.

use crate::measure::words::words;
use crate::seam::RecipeAsked;
use std::path::PathBuf;

/// Follows the file of a recipe whose parameters are filled in.
pub(super) const WITH: &str = "with";

words! {
    /// A word of the prompt.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[expect(missing_docs, reason = "each is the word that it is named after")]
    pub enum PromptWord {
        Look,
        Watch,
        DryRun,
        Run,
        GoOn,
        Undo,
        Recipe,
        Write,
        Help,
        Leave,
    }
}

impl PromptWord {
    /// The word itself, what follows it as help shows it (empty for nothing), and what it does, in a few words.
    const fn row(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Self::Look => ("look", "[SUBJECT]", "what is there now; `look` alone gives a summary"),
            Self::Watch => ("watch", "", "a live page until a key is pressed"),
            Self::DryRun => ("dry-run", "STATEMENT", "what a statement would do, without doing it"),
            Self::Run => ("run", "FILE [with …]", "go through a recipe, with the questions of `quadjig run`"),
            Self::GoOn => ("go on", "", "plan what is left of the recipe anew, and go through it"),
            Self::Undo => ("undo", "", "take back the last statement that changed the board"),
            Self::Recipe => ("recipe", "", "this session as a recipe, as it would be written"),
            Self::Write => ("write", "FILE", "write this session out as a recipe"),
            Self::Help => ("help", "[WORD]", "these words, or the forms of a statement"),
            Self::Leave => ("leave", "", "end the session"),
        }
    }

    /// The word of the prompt that a text is, if it is one.
    #[must_use]
    pub fn of(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|word| word.word() == text)
    }

    /// The word with which a line begins, and what stands behind it.
    #[must_use]
    pub fn begins(line: &str) -> Option<(Self, &str)> {
        Self::ALL.into_iter().find_map(|word| {
            let rest = line.strip_prefix(word.word())?;
            (rest.is_empty() || rest.starts_with(char::is_whitespace)).then_some((word, rest.trim_start()))
        })
    }

    /// The word itself.
    #[must_use]
    pub const fn word(self) -> &'static str {
        self.row().0
    }

    /// What follows it, as help shows it; empty for nothing.
    #[must_use]
    pub const fn form(self) -> &'static str {
        self.row().1
    }

    /// What it does, in a few words.
    #[must_use]
    pub const fn about(self) -> &'static str {
        self.row().2
    }
}

words! {
    /// What `look` can be asked for.
    #[derive(Debug, Clone, Copy, PartialEq, Eq)]
    #[expect(missing_docs, reason = "each is the word that it is named after")]
    pub enum LookSubject {
        Settings,
        Changes,
        Switches,
        Outputs,
        Battery,
        Journal,
    }
}

impl LookSubject {
    /// The word, and what it shows.
    #[must_use]
    pub const fn row(self) -> (&'static str, &'static str) {
        match self {
            Self::Settings => ("settings", "settings in vocabulary words, with the board's own names"),
            Self::Changes => ("changes", "what differs from the snapshot of this session's beginning"),
            Self::Switches => ("switches", "switches and bands, each with the live pulse inside or outside"),
            Self::Outputs => ("outputs", "motor outputs and speeds"),
            Self::Battery => ("battery", "pack voltage and current"),
            Self::Journal => ("journal", "what this session did"),
        }
    }
}

/// A line of the prompt, told apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PromptLine {
    /// Nothing.
    Nothing,
    /// A statement of the language.
    Statement(String),
    /// `look`, with its subject.
    Look(Option<LookSubject>),
    /// `watch`.
    Watch,
    /// `dry-run` and its statement.
    DryRun(String),
    /// `run`, with its recipe.
    Run(RecipeAsked),
    /// `go on`.
    GoOn,
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

/// Why a line is none: one of the prompt's own words with something that does not belong behind it.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NotAsked {
    /// Nothing may follow.
    #[error("nothing follows `{0}`")]
    Follows(&'static str),
    /// Something has to follow.
    #[error("`{0}` needs {1} behind it")]
    Missing(&'static str, &'static str),
    /// Behind a recipe stand values of its parameters, or nothing.
    #[error(
        "`{0}` is no value of a parameter: `run first-craft.jig with idle-floor 1120 us, arm-switch C` has two, and a \
         file's name with blanks stands in quotes"
    )]
    NoPair(String),
    /// Another word does what this one does elsewhere.
    #[error("`{0}` is no word here: `{1}` does that")]
    Instead(&'static str, &'static str),
    /// No such subject.
    #[error("`{0}` is nothing to look at: {list}", list = subjects())]
    Subject(String),
}

fn subjects() -> String {
    LookSubject::ALL.map(|subject| subject.row().0).join(", ")
}

/// Tells a line apart. What begins with none of the prompt's own words is a statement.
///
/// # Errors
/// A word of the prompt that is not used as it may be.
pub fn read(line: &str) -> Result<PromptLine, NotAsked> {
    let line = line.trim();
    let first = line.split(char::is_whitespace).next().unwrap_or_default();
    for (other, word) in [
        ("exit", PromptWord::Leave),
        ("quit", PromptWord::Leave),
        ("go", PromptWord::GoOn),
        ("continue", PromptWord::GoOn),
    ] {
        if first == other && PromptWord::begins(line).is_none() {
            return Err(NotAsked::Instead(other, word.word()));
        }
    }
    let Some((word, rest)) = PromptWord::begins(line) else {
        let bare = line.lines().all(|line| line.trim().is_empty() || line.trim_start().starts_with('#'));
        return Ok(if bare { PromptLine::Nothing } else { PromptLine::Statement(line.to_owned()) });
    };
    let alone = |asked| if rest.is_empty() { Ok(asked) } else { Err(NotAsked::Follows(word.word())) };
    match word {
        PromptWord::Look if rest.is_empty() => Ok(PromptLine::Look(None)),
        PromptWord::Look => subject(rest).map(|subject| PromptLine::Look(Some(subject))),
        PromptWord::Watch => alone(PromptLine::Watch),
        PromptWord::DryRun if rest.is_empty() => Err(NotAsked::Missing(word.word(), "a statement")),
        PromptWord::DryRun => Ok(PromptLine::DryRun(rest.to_owned())),
        PromptWord::Run if rest.is_empty() => {
            Err(NotAsked::Missing(word.word(), "the file of a recipe, such as `first-craft.jig`,"))
        }
        PromptWord::Run => recipe(rest).map(PromptLine::Run),
        PromptWord::GoOn => alone(PromptLine::GoOn),
        PromptWord::Undo => alone(PromptLine::Undo),
        // The only one that a header line of a recipe shares: with a title behind it, it is that line.
        PromptWord::Recipe if rest.starts_with('"') => Ok(PromptLine::Statement(line.to_owned())),
        PromptWord::Recipe => alone(PromptLine::Recipe),
        PromptWord::Write if rest.is_empty() => {
            Err(NotAsked::Missing(word.word(), "the name of a file, such as `wren-95.jig`,"))
        }
        PromptWord::Write => Ok(PromptLine::Write(PathBuf::from(rest.trim_matches('"')))),
        PromptWord::Help => Ok(PromptLine::Help((!rest.is_empty()).then(|| rest.to_owned()))),
        PromptWord::Leave => alone(PromptLine::Leave),
    }
}

/// A recipe's file, and values of its parameters as a `use` line has them.
fn recipe(text: &str) -> Result<RecipeAsked, NotAsked> {
    let (file, rest) = file_of(text);
    let pairs = match behind_with(rest) {
        Some(pairs) => pairs.split(',').map(pair).collect::<Result<_, _>>()?,
        None if rest.trim().is_empty() => Vec::new(),
        None => return Err(NotAsked::NoPair(rest.trim().to_owned())),
    };
    // A completed name has a blank behind it.
    let file = PathBuf::from(file.trim_end());
    let file = if file.extension().is_none() { file.with_extension("jig") } else { file };
    Ok(RecipeAsked { file, with: pairs })
}

/// A file's name, in quotes or up to the first blank, and what stands behind it.
pub(super) fn file_of(text: &str) -> (&str, &str) {
    match text.strip_prefix('"') {
        Some(quoted) => quoted.split_once('"').unwrap_or((quoted, "")),
        None => text.find(char::is_whitespace).map_or((text, ""), |end| text.split_at(end)),
    }
}

fn behind_with(rest: &str) -> Option<&str> {
    rest.trim_start().strip_prefix(WITH).filter(|pairs| pairs.starts_with(char::is_whitespace))
}

fn pair(text: &str) -> Result<(String, String), NotAsked> {
    let pair = text.trim().split_once(char::is_whitespace);
    let pair = pair.map(|(name, value)| (name.to_owned(), value.trim().to_owned()));
    pair.ok_or_else(|| NotAsked::NoPair(text.trim().to_owned()))
}

fn subject(text: &str) -> Result<LookSubject, NotAsked> {
    let found = LookSubject::ALL.into_iter().find(|subject| subject.row().0 == text);
    found.ok_or_else(|| NotAsked::Subject(text.to_owned()))
}
