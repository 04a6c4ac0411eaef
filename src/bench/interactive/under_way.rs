//! A recipe that is gone through at the prompt: its statements, and which of them are left.
//!
//! Promises: what is done is what stands in the draft, so that a statement which was taken back, or which the board does
//! not hold any more, is left again; what was set by hand since is not set again. Must not be here: the board.

use crate::bench::interactive::draft::{Draft, Kept, Origin, rewritten};
use crate::language::checks::assigned::Thing;
use crate::language::finding::Finding;
use crate::language::format::format;
use crate::language::recipe::{Recipe, Require, Statement, StatementKind};

/// One of its statements, with the values of parameters in it.
#[derive(Debug, Clone, PartialEq)]
pub struct FilledStatement {
    /// In the one layout.
    pub text: String,
    /// As it is meant, alone.
    pub statement: Statement,
    /// What it gives a value.
    pub things: Vec<Thing>,
}

/// See the module.
#[derive(Debug, Clone, PartialEq)]
pub struct UnderWay {
    /// The file that was named.
    pub name: String,
    /// All statements, in order.
    pub statements: Vec<FilledStatement>,
    /// Whether it is being carried out now.
    pub running: bool,
}

impl UnderWay {
    /// A recipe with all its parameters filled in, of which nothing was done yet.
    ///
    /// # Errors
    /// A statement that does not stand by itself.
    pub fn new(name: String, recipe: &Recipe) -> Result<Self, Vec<Finding>> {
        let said = |statement: &Statement| -> Result<FilledStatement, Vec<Finding>> {
            let text = format(&filled(recipe, statement))?;
            let (text, statement, things) = rewritten(text.trim_end())?;
            Ok(FilledStatement { text, statement, things })
        };
        let statements = recipe.statements.iter().map(said).collect::<Result<_, _>>()?;
        Ok(Self { name, statements, running: false })
    }

    /// What is left, as indices of its statements.
    #[must_use]
    pub fn left(&self, draft: &Draft) -> Vec<usize> {
        let done = |index: usize| draft.kept.iter().any(|kept| kept.origin == Origin::Recipe(index));
        (0..self.statements.len()).filter(|index| !done(*index) && self.by_hand(*index, draft).is_none()).collect()
    }

    /// What is left, as text.
    #[must_use]
    pub fn left_texts(&self, draft: &Draft) -> Vec<&str> {
        self.left(draft).into_iter().map(|index| self.statements[index].text.as_str()).collect()
    }

    /// What was typed in the place of a statement since the recipe began.
    #[must_use]
    pub fn by_hand<'d>(&self, index: usize, draft: &'d Draft) -> Option<&'d Kept> {
        let things = &self.statements[index].things;
        draft.kept.iter().find(|kept| kept.origin == Origin::Hand && kept.replaces(things))
    }

    /// What the rest asks anew of who goes on: words that no signal can tell, given before it was broken off.
    #[must_use]
    pub fn asked_anew(draft: &Draft) -> Vec<String> {
        let mut texts: Vec<String> = Vec::new();
        for kept in &draft.kept {
            let StatementKind::Require(Require::PropsOff | Require::AntennaOn | Require::Attest(_)) =
                &kept.statement.what
            else {
                continue;
            };
            if !texts.contains(&kept.text) {
                texts.push(kept.text.clone());
            }
        }
        texts
    }
}

/// A statement's text with the value of each parameter in the place of its name.
fn filled(recipe: &Recipe, statement: &Statement) -> String {
    let span = &statement.span;
    let inside = |use_of: &&crate::language::span::Span| {
        use_of.file == span.file && span.range.start <= use_of.range.start && use_of.range.end <= span.range.end
    };
    let uses = recipe.givens.iter().filter_map(|given| Some((given.uses.iter(), given.value.as_ref()?)));
    let mut uses: Vec<_> =
        uses.flat_map(|(uses, value)| uses.filter(inside).map(move |place| (place.range.clone(), value))).collect();
    uses.sort_by_key(|(range, _)| range.start);
    let text = &recipe.files[span.file.0].text;
    let (mut filled, mut at) = (String::new(), span.range.start);
    for (range, value) in uses {
        filled.push_str(&text[at..range.start]);
        filled.push_str(&value.to_string());
        at = range.end;
    }
    filled + &text[at..span.range.end]
}
