//! A craft of a series: recognised, and compared with the first; and the question between two crafts.
//!
//! Promises: what is known of another craft is shown beside this one, and goes no further: neither into its plan nor into
//! its record. Must not be here: what carries over, which are the radio card and the recipe (see `cli`).

use crate::bench::attended::connect::Connected;
use crate::bench::attended::job::{FirstCraft, RunJob};
use crate::bench::attended::run_state::RunState;
use crate::bench::session::context::SessionContext;
use crate::plan::effects;
use crate::plan::naming::Naming;
use crate::plan::titles::count;
use crate::record::crafts::compare::{Known, Row, compare};
use crate::record::crafts::runs::runs;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Declined, Reply, Tone};
use std::rc::Rc;

/// Settings that differ, of which so many are named.
const NAMED: usize = 8;

impl SessionContext {
    /// A craft is met: says which one it is, and what of it is other than of the first one was.
    ///
    /// # Errors
    /// It is done already.
    pub(super) fn is_met(&self, job: &RunJob, known: &Connected, state: &RunState) -> Result<(), Fault> {
        let Some(series) = &job.options.series else { return Ok(()) };
        if series.done.iter().any(|done| done.is_same_craft(&known.identity)) {
            return Err(Fault::refused(
                format!("The craft on the wire, {}, is done already in this series.", known.identity.told()),
                "Plug the next one in. To go through one again, run the recipe on it without --series.",
            ));
        }
        let before = runs(&state.record.journal);
        let met = match before.last() {
            Some(run) => format!("known, with {}, the last on {}", count(before.len(), "run"), day(&run.at)),
            None => "met for the first time".to_owned(),
        };
        let name = &series.name;
        self.line(Tone::Plain, format!("Series {name}, craft {}: {}, {met}.", series.number, known.identity.told()));
        let first = series.first.as_ref().filter(|first| !first.board.is_same_craft(&known.identity));
        if let Some(first) = first {
            self.compare_with(first, known, state);
        }
        Ok(())
    }

    fn compare_with(&self, first: &FirstCraft, known: &Connected, state: &RunState) {
        let (called, now) = (&first.called, &known.identity);
        for (what, was, is) in
            [("board", &first.board.kind, &now.kind), ("firmware", &first.board.firmware, &now.firmware)]
        {
            if was != is {
                self.line(Tone::Plain, format!("MIND: its {what} is {is}, and the first craft's was {was}."));
            }
        }
        let sheet = &state.sheet;
        let own = |name: &&crate::board::value::SettingName| {
            effects::entry_of(sheet, name).is_some_and(|entry| entry.craft_own)
        };
        let own = known.settings.keys().chain(first.before.keys()).filter(own).cloned().collect();
        let found = compare(&first.before, &known.settings, &Known { own, ..Known::default() });
        let all: Vec<&Row> = found.differ.iter().chain(&found.new).chain(&found.gone).collect();
        if all.is_empty() {
            self.line(Tone::Plain, format!("Before its run it is set as the first craft, {called}, was."));
            return;
        }
        let naming = Naming { sheet, then: &first.before, now: &known.settings };
        let told = |row: &&Row| {
            let value =
                |value: Option<_>| value.map_or_else(|| "none".to_owned(), |value| naming.show(&row.name, value));
            format!("{} {} (the first: {})", naming.describe(&row.name), value(row.right), value(row.left))
        };
        let mut named: Vec<String> = all.iter().take(NAMED).map(told).collect();
        if all.len() > NAMED {
            named.push(format!("and {} more", all.len() - NAMED));
        }
        let differ = count(all.len(), "setting");
        let text =
            format!("Before its run, other than on the first craft, {called}, was: {differ}: {}.", named.join("; "));
        self.line(Tone::Plain, text);
    }
}

fn day(at: &str) -> &str {
    at.split('T').next().unwrap_or_default()
}

/// Asks for the next craft. Nothing is opened, and no board is spoken to.
///
/// # Errors
/// The terminal is gone, or the program was told to end.
pub async fn next_craft(bench: Rc<SessionContext>, name: String, lines: Vec<String>) -> Result<(), Fault> {
    let title = "Next craft of the series?";
    let choices = vec![
        ('n', "the next one is plugged in, its battery out".to_owned()),
        ('s', "stop here; it goes on another day".to_owned()),
    ];
    let mut question = bench.question(About::Choice, title, lines, Reply::Choice(choices));
    question.craft = format!("the series {name}");
    match bench.ask_choice(question, title).await? {
        'n' => Ok(()),
        _ => Err(Fault::Declined { what: title.to_owned(), why: Declined::Refused }),
    }
}
