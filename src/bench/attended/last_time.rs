//! A recipe's parameters of last time on the same craft: proposed, shown, and taken by one key or not at all.
//!
//! Promises: nothing is taken silently, nothing over what was given now; what the recipe no longer takes, and what no
//! longer fits it, is said and left. Must not be here: what a parameter may be (see `language::givens`).

use crate::bench::attended::adopt::named_card;
use crate::bench::attended::job::{AskedJob, RunJob, RunOptions, Task};
use crate::bench::attended::run_state::{RunState, with_declared};
use crate::bench::session::context::SessionContext;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::language::again::read_again;
use crate::language::canonical::recipe_hash;
use crate::language::finding::Severity;
use crate::language::recipe::{Given, Recipe};
use crate::language::span::FileId;
use crate::plan::checks;
use crate::record::crafts::runs::runs;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, Tone};
use std::rc::Rc;

/// Parameters, each as it is given on the command line: name and value.
type With = Vec<(String, String)>;

/// A recipe as it is read from these texts with these parameters; nothing where anything is wrong with it.
pub(super) fn read_so(
    texts: &[(String, String)],
    with: &[(String, String)],
    hash: &str,
    (sheet, card): (Option<&Sheet>, Option<&RadioCard>),
) -> Option<Recipe> {
    let reading = read_again(texts, with, hash)?;
    let wrong = checks::reading(&reading, sheet.map(std::slice::from_ref).unwrap_or_default(), card);
    let fine = wrong.iter().all(|found| found.severity != Severity::Error);
    reading.recipe.filter(|recipe| fine && !recipe.is_part)
}

/// Name and value of a parameter as it was given.
pub(super) fn pair(with: &str) -> Option<(String, String)> {
    with.split_once('=').map(|(name, value)| (name.to_owned(), value.to_owned()))
}

/// What is proposed.
struct Proposed {
    /// When that run began.
    at: String,
    /// The recipe with all of it.
    recipe: Recipe,
    /// All parameters: those that were given now as well.
    with: With,
    /// What would be other than it is now, each in words.
    shown: Vec<String>,
}

/// A parameter of the named recipe.
fn own<'r>(recipe: &'r Recipe, name: &str) -> Option<&'r Given> {
    recipe.givens.iter().find(|given| given.name.span.file == FileId(0) && given.name.value == name)
}

impl SessionContext {
    /// The job with the parameters that its recipe had last time on this craft, where they are wanted.
    ///
    /// # Errors
    /// Declined altogether.
    pub(super) async fn parameters_of_last_time(
        &self,
        asked: &AskedJob,
        knows: &mut RunState,
    ) -> Result<Rc<RunJob>, Fault> {
        let job = asked.job();
        // In a series the parameters are the series', for each craft the same.
        let alone = job.options.series.is_none();
        let Some(recipe) = job.task.recipe().filter(|_| alone) else { return Ok(job) };
        let given: With = job.options.with.iter().filter_map(|with| pair(with)).collect();
        let Some((recipe, with)) = self.of_last_time(recipe, &given, knows).await? else { return Ok(job) };
        let with = with.into_iter().map(|(name, value)| format!("{name}={value}")).collect();
        let told = RunOptions { with, ..job.options.clone() };
        let job = asked.choose(asked.instead(job.title.clone(), Task::Recipe(Box::new(recipe)), told));
        knows.card = with_declared(&named_card(&job, &knows.record)?, job.task.recipe());
        Ok(job)
    }

    /// A recipe with the parameters that it had last time on this craft, beside those that were given; nothing where
    /// there are none, or they are not wanted.
    ///
    /// # Errors
    /// Declined altogether.
    pub(in crate::bench) async fn of_last_time(
        &self,
        recipe: &Recipe,
        given: &[(String, String)],
        knows: &RunState,
    ) -> Result<Option<(Recipe, With)>, Fault> {
        let Some(proposed) = self.proposed(recipe, given, knows) else { return Ok(None) };
        let title = "Take the parameters of last time?";
        let at = proposed.at.split('T').next().unwrap_or_default();
        let mut lines = vec![format!("\"{}\" ran on this craft on {at} with:", recipe.title.value)];
        lines.extend(proposed.shown);
        let choices = vec![('t', "take them".to_owned()), ('o', "go on without them".to_owned())];
        let question = self.question(About::Choice, title, lines, Reply::Choice(choices));
        let takes = self.ask_choice(question, title).await? == 't';
        Ok(takes.then_some((proposed.recipe, proposed.with)))
    }

    /// What last time's parameters come to with the recipe as it is now.
    fn proposed(&self, recipe: &Recipe, given: &[(String, String)], knows: &RunState) -> Option<Proposed> {
        let mut all = runs(&knows.record.journal);
        all.retain(|run| {
            run.recipe == recipe.title.value && run.provenance.as_ref().is_some_and(|it| !it.files.is_empty())
        });
        let run = all.pop()?;
        let last: With = run.provenance.iter().flat_map(|made| &made.with).filter_map(|with| pair(with)).collect();
        let texts: Vec<(String, String)> =
            recipe.files.iter().map(|file| (file.name.clone(), file.text.to_string())).collect();
        let hash = recipe_hash(recipe);
        let read = |with: &[(String, String)]| read_so(&texts, with, &hash, (Some(&knows.sheet), Some(&knows.card)));
        let (mut with, mut shown, mut chosen) = (given.to_vec(), Vec::new(), None);
        let mut left = Vec::new();
        for (name, value) in last.iter().rev() {
            // What was given now wins, and of a name that stands twice the last counted.
            if with.iter().any(|(known, _)| known == name) || left.iter().any(|(known, _)| *known == name) {
                continue;
            }
            let Some(now) = own(recipe, name) else {
                left.push((
                    name,
                    format!("{name}={value} of last time is left out: the recipe takes no {name} any more."),
                ));
                continue;
            };
            let tried = [with.as_slice(), &[(name.clone(), value.clone())]].concat();
            let Some(read) = read(&tried) else {
                left.push((name, format!("{name}={value} of last time is left out: it no longer fits the recipe.")));
                continue;
            };
            let then = own(&read, name).and_then(|given| given.value.clone());
            with = tried;
            chosen = Some(read);
            if then == now.value {
                continue;
            }
            let instead = now
                .value
                .as_ref()
                .map_or_else(|| "which has no value now".to_owned(), |value| format!("which is {value} now"));
            shown.push(format!("{name} {}, {instead}", then.map_or_else(|| value.clone(), |then| then.to_string())));
        }
        for (_, text) in left.into_iter().rev() {
            self.line(Tone::Warning, text);
        }
        shown.reverse();
        let recipe = chosen.filter(|_| !shown.is_empty())?;
        Some(Proposed { at: run.at, recipe, with, shown })
    }
}
