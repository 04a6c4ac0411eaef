//! Help at the prompt, what is known for completion, and the dry run of one statement.
//!
//! Must not be here: the completion itself.

use crate::bench::attended::Task;
use crate::bench::interactive::commands::{LookSubject, PromptWord};
use crate::bench::interactive::draft::with_statements;
use crate::bench::interactive::session::InteractiveSession;
use crate::board::binding::is_band_setting;
use crate::board::known;
use crate::language::complete::{complete, examples, hint};
use crate::language::known::Known;
use crate::seam::fault::Fault;
use crate::seam::ui::{Fact, Tone, UiEvent};
use std::rc::Rc;

/// Where the statements are explained.
const STATEMENTS: &str = "statements of the recipe language; Tab completes, a hint shows what may follow";

/// So many names of a kind are listed.
const NAMES: usize = 12;

/// How the statements that begin with a word go on, what it may name, and an example of each.
fn forms(asked: &str, known: &Known) -> Vec<Fact> {
    let begun = format!("{asked} ");
    let form = |text: &str| {
        Fact::new("", format!("{text} {}", hint(text, known).unwrap_or_default()).trim_end().replace(" ,", ","))
    };
    // Words of the language lead to a statement each; names of this board stand in one place of the same.
    let (names, words): (Vec<_>, Vec<_>) = complete(&begun, known)
        .1
        .into_iter()
        .partition(|next| ["a ", "the "].iter().any(|it| next.about.starts_with(it)));
    let mut facts: Vec<Fact> = words.iter().map(|next| form(&format!("{begun}{}", next.text))).collect();
    if facts.is_empty() {
        facts.push(form(asked));
    }
    for names in names.chunk_by(|a, b| a.about == b.about) {
        let mut listed: Vec<&str> = names.iter().take(NAMES).map(|name| name.text.as_str()).collect();
        listed.extend((names.len() > NAMES).then_some("…"));
        facts.push(Fact::new("", format!("{}: {}", names[0].about, listed.join(", "))));
    }
    facts.extend(examples(asked, known).map(|example| Fact::new("", format!("such as `{example}`"))));
    facts
}

impl InteractiveSession {
    /// What may be typed.
    pub(in crate::bench) fn help(&self, word: Option<&str>) {
        let row = |word: PromptWord| Fact::new(format!("{} {}", word.word(), word.form()).trim_end(), word.about());
        let look = |subject: LookSubject| {
            let (word, about) = subject.row();
            Fact::new(format!("look {word}"), about)
        };
        let (title, facts) = match (word, word.and_then(PromptWord::of)) {
            (Some(asked), Some(PromptWord::Look)) => (asked.to_owned(), LookSubject::ALL.map(look).to_vec()),
            (Some(asked), Some(word)) => (asked.to_owned(), vec![row(word)]),
            (Some(asked), None) => {
                let known = self.known();
                if !complete("", &known).1.iter().any(|start| start.text == asked) {
                    self.bench.line(Tone::Plain, format!("No statement begins with `{asked}`; `help` lists all."));
                    return;
                }
                (format!("Statements that begin with {asked}"), forms(asked, &known))
            }
            (None, _) => {
                let mut facts: Vec<Fact> = PromptWord::ALL.map(row).to_vec();
                facts.push(Fact::new("STATEMENT", STATEMENTS));
                let starts = complete("", &self.known()).1;
                let mut starts: Vec<&str> = starts.iter().map(|start| start.text.as_str()).collect();
                starts.sort_unstable();
                facts.push(Fact::new("", format!("begins with {}; `help WORD` shows its forms", starts.join(", "))));
                ("At this prompt".to_owned(), facts)
            }
        };
        self.bench.show(UiEvent::Facts { title, facts });
    }

    /// What the line editor can complete.
    pub(in crate::bench) fn known(&self) -> Known {
        let known = self.with(|state| {
            let sheet = &state.knows.sheet;
            Known {
                raw: state
                    .held
                    .keys()
                    .filter(|name| sheet.word_of(name).is_none() && !is_band_setting(sheet, name))
                    .map(ToString::to_string)
                    .collect(),
                switches: state
                    .knows
                    .card
                    .switches
                    .iter()
                    .map(|(switch, entry)| (switch.0.clone(), u32::try_from(entry.rests.len()).unwrap_or(0)))
                    .collect(),
                ..known::of_sheet(sheet)
            }
        });
        known.unwrap_or_default()
    }

    /// Shows what a statement would do, and does none of it.
    ///
    /// # Errors
    /// It cannot be planned on this board as it is.
    pub(in crate::bench) fn dry_run(&self, text: &str) -> Result<(), Fault> {
        let Some(ready) = self.ready(text) else { return Ok(()) };
        let Some((title, mut knows)) = self.title_and_knows() else { return Ok(()) };
        let job = self.run_job(&title, Task::Statement(Box::new(ready.recipe.clone())));
        let plan = self.plan(&job, &mut knows, ready.index)?;
        self.bench.show(UiEvent::DryRun(Rc::new(with_statements(&plan, &ready.recipe))));
        self.bench.say_what_is_kept_as_well(&job, &plan);
        Ok(())
    }
}
