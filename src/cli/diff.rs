//! `quadjig diff`: compares two recipes by what they mean, also as the external diff command of a version control.

use super::completions;
use super::input::Elsewhere;
use super::options::Reporting;
use super::output::{Format, Output};
use crate::board::vocabulary;
use crate::language::Reading;
use crate::language::difference::{Difference, difference};
use crate::language::recipe::Recipe;
use crate::language::sources::{Disk, Sources};
use crate::report::difference::{self as report, Side};
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use std::path::{Path, PathBuf};

/// Compare two recipes by meaning: settings, guards, tests, motor steps, questions.
///
/// Titles, comments, layout, units and the order of clauses are no difference; the order of statements is one, and used
/// files are taken in. Parameters are compared open, with their defaults and ranges. Ends in 3 when the two differ.
///
/// A version control can call it for its own diff: with the seven arguments PATH OLD-FILE OLD-HASH OLD-MODE NEW-FILE
/// NEW-HASH NEW-MODE (two more after a rename) it compares OLD-FILE and NEW-FILE under the name PATH, looks for used
/// files beside PATH, takes /dev/null as no recipe, and ends in 0, as such a caller takes anything else for a failure.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig diff wren-95.jig wren-95-new.jig\n  quadjig diff --format json old.jig new.jig\n  echo '*.jig diff=quadjig' >> .gitattributes && git config diff.quadjig.command 'quadjig diff'"
)]
pub struct Diff {
    /// The old and the new recipe; or the seven or nine arguments of a version control.
    #[arg(required = true, num_args = 1..=9, value_name = "OLD NEW", add = ArgValueCompleter::new(completions::recipes))]
    recipes: Vec<PathBuf>,
    #[command(flatten)]
    reporting: Reporting,
}

impl Diff {
    /// Reads both, compares, reports.
    pub fn run(self, out: &mut Output) -> Exit {
        match self.recipes.as_slice() {
            [old, new] => self.two(old, new, out),
            [path, old, _, _, new, _, _] | [path, old, _, _, new, _, _, _, _] => {
                self.checkouts(path, old, new, out);
                Exit::Done
            }
            other => {
                let hint = "name OLD and NEW, or let a version control call it with its seven arguments";
                out.error(&format!("two recipes are compared, not {}", other.len()), Some(hint));
                Exit::Usage
            }
        }
    }

    fn two(&self, old: &Path, new: &Path, out: &mut Output) -> Exit {
        let (before, after) = (vocabulary::read(&Disk, old, &[]), vocabulary::read(&Disk, new, &[]));
        let (names, mut wrong) = ([old.display().to_string(), new.display().to_string()], false);
        for reading in [&before, &after] {
            if reading.has_errors() {
                wrong = true;
                out.findings(&reading.files, &reading.findings);
            }
        }
        let (Some(before), Some(after), false) = (&before.recipe, &after.recipe, wrong) else {
            out.error("recipes with errors are not compared", Some("`quadjig check` says what is wrong"));
            return Exit::Document;
        };
        let differences = difference(before, after);
        let [old, new] = &names;
        self.report(
            Side { name: old, recipe: Some(before) },
            Side { name: new, recipe: Some(after) },
            &differences,
            out,
        );
        if differences.is_empty() { Exit::Done } else { Exit::Pending }
    }

    /// Two states of one file of a version control, each of which may be none or have errors.
    fn checkouts(&self, path: &Path, old: &Path, new: &Path, out: &mut Output) {
        // Read where the version control put it, called by its path in the work tree, beside which lies what it uses.
        let read = |lies: &Path| vocabulary::read(&Elsewhere(|| Ok(Disk.read(lies)?.text)), path, &[]);
        let state = |lies: &Path| (lies != Path::new("/dev/null")).then(|| read(lies));
        let (before, after) = (state(old), state(new));
        let name = path.display().to_string();
        let broken = |reading: &Option<Reading>| reading.as_ref().is_some_and(Reading::has_errors);
        if broken(&before) || broken(&after) {
            let which = if broken(&after) { "new" } else { "old" };
            out.error(
                &format!("{name}: the {which} recipe has errors, so the two are not compared by meaning"),
                Some("`quadjig check` says what is wrong"),
            );
            return;
        }
        let recipe = |reading: &Option<Reading>| reading.as_ref().and_then(|reading| reading.recipe.clone());
        let (before, after) = (recipe(&before), recipe(&after));
        let differences = match (&before, &after) {
            (Some(before), Some(after)) => difference(before, after),
            (Some(only), None) => difference(only, &emptied(only)),
            (None, Some(only)) => difference(&emptied(only), only),
            (None, None) => Vec::new(),
        };
        let side = |recipe| Side { name: &name, recipe };
        self.report(side(before.as_ref()), side(after.as_ref()), &differences, out);
    }

    fn report(&self, old: Side<'_>, new: Side<'_>, differences: &[Difference], out: &mut Output) {
        match self.reporting.format {
            Format::Json => out.json(&report::json(old, new, differences)),
            Format::Text => out.report(&report::text(old, new, differences)),
        }
    }
}

/// A recipe of which nothing is left but what every recipe has.
fn emptied(recipe: &Recipe) -> Recipe {
    Recipe { statements: Vec::new(), givens: Vec::new(), ..recipe.clone() }
}
