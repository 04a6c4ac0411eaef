//! Writing the session out, and leaving it: what is still open is said first.
//!
//! Must not be here: the recipe's text (see `write_out`).

use crate::bench::attended::{RunJob, Task, close};
use crate::bench::interactive::draft::Wrong;
use crate::bench::interactive::held::Standing;
use crate::bench::interactive::run_recipe::SHOWN;
use crate::bench::interactive::session::{InteractiveSession, SessionState};
use crate::bench::interactive::write_out;
use crate::board::sheet::Settings;
use crate::interlock::Answer;
use crate::interlock::signals::Pack;
use crate::language::characters::shell_word;
use crate::plan::titles::{count, stand};
use crate::record::{JournalLine, ProofSubject, StoreJob, StorePlace};
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply, Tone, UiEvent};
use std::path::PathBuf;
use std::rc::Rc;

impl InteractiveSession {
    /// The session as a recipe.
    fn recipe_text(&self) -> Option<Result<String, Wrong>> {
        self.with(|state| {
            let identity = &state.knows.identity;
            let virtual_board = if identity.is_virtual() { " (VIRTUAL)" } else { "" };
            let day = self.job.clock.at(self.bench.now());
            let about = vec![
                format!("Written at the bench on {}.", day.get(..10).unwrap_or(&day)),
                format!(
                    "On {} {}{virtual_board}, firmware {}.",
                    state.knows.sheet.board, identity.id, identity.firmware
                ),
            ];
            let standing = Standing { knows: &state.knows, held: &state.held, head: &state.draft.head };
            let left = state.under_way.as_ref().map(|under_way| under_way.left_texts(&state.draft)).unwrap_or_default();
            write_out::recipe(standing, &state.draft.kept, (&about, &left))
        })
    }

    pub(in crate::bench) fn show_recipe(&self) {
        match self.recipe_text() {
            Some(Ok(text)) => self.bench.show(UiEvent::Text(text)),
            Some(Err(wrong)) => self.not_written(wrong),
            None => {}
        }
    }

    fn not_written(&self, wrong: Wrong) {
        self.bench.show(UiEvent::Findings(wrong.files, wrong.findings));
        self.bench.line(Tone::Plain, "As it stands this would be no recipe that runs; nothing was written.");
    }

    /// Writes the session out. A file that is there already is left alone.
    ///
    /// # Errors
    /// The disk's reason.
    pub(in crate::bench) async fn write_recipe(&self, file: PathBuf) -> Result<(), Fault> {
        let file = if file.extension().is_none() { file.with_extension("jig") } else { file };
        let text = match self.recipe_text() {
            Some(Ok(text)) => text,
            Some(Err(wrong)) => {
                self.not_written(wrong);
                return Ok(());
            }
            None => return Ok(()),
        };
        let lines = text.lines().count();
        let place = StorePlace::New(file.clone());
        self.bench.store_aside(StoreJob { place, bytes: text.into_bytes(), append: false }).await?;
        self.log(&format!("write {}", file.display()), "written");
        self.with(|state| state.written = state.log.len());
        let (lines, path) = (count(lines, "line"), shell_word(&file));
        let words = format!(
            "Written to `{path}`: {lines}. Check it with `quadjig check {path}`, try it with `quadjig rehearse {path}`."
        );
        self.bench.line(Tone::Good, words);
        if let Some(left) = self.with(left_of).flatten() {
            self.bench.line(Tone::Warning, format!("{left} The file says so at its end, in a comment."));
        }
        Ok(())
    }

    /// What should be said before the session is left.
    fn open_ends(&self, state: &mut SessionState) -> Vec<String> {
        let bench = &self.bench;
        let mut open = Vec::new();
        open.extend(bench.what_is_open());
        if !open.is_empty() {
            open.push("`keep` stores what stands, restarts the board and reads it again.".to_owned());
        }
        if bench.pack() == Pack::In {
            open.push("The battery is in: take it out before the USB cable.".to_owned());
        }
        let bound = bench.facts().is_ok_and(|facts| !facts.arm_bands.is_empty());
        if bound {
            let standing = Standing { knows: &state.knows, held: &state.held, head: &state.draft.head };
            let shown = |of: fn(&ProofSubject) -> bool| standing.proof(of).is_some();
            if !shown(|subject| matches!(subject, ProofSubject::Arm)) {
                open.push("This craft can be armed, and `test arm` has not shown where: it may arm in a position that nobody expects.".to_owned());
            }
            if !shown(|subject| matches!(subject, ProofSubject::Failsafe { .. })) {
                open.push(
                    "This craft can be armed, and `test failsafe` has not shown that a lost link cuts the motors."
                        .to_owned(),
                );
            }
        }
        open.extend(left_of(state));
        if !state.draft.kept.is_empty() && state.log.len() > state.written {
            open.push("This session is in no recipe yet: `write FILE` writes it.".to_owned());
        }
        open
    }

    /// Says what is still open, and asks where there is something.
    pub(in crate::bench) async fn may_leave(&self) -> bool {
        let bench = &self.bench;
        let open = self.with(|state| self.open_ends(state)).unwrap_or_default();
        if open.is_empty() || bench.dialogue().terminal_gone {
            return true;
        }
        let choices = vec![('l', "leave all the same".to_owned()), ('s', "stay".to_owned())];
        let question = bench.question(About::Choice, "Leave the bench?", open, Reply::Choice(choices));
        matches!(bench.ask(question).await, Answer::Chosen('l'))
    }

    /// Ends the session as the operator asked.
    ///
    /// # Errors
    /// The disk's reason.
    pub(in crate::bench) async fn leave(&self) -> Result<(), Fault> {
        let bench = &self.bench;
        let there = bench.link_up() && bench.interlock().is_session_craft_there();
        let whole = !bench.ledger.borrow().is_unfinished() && !bench.journal_failed.get();
        let job = self.run_job("", Task::TakeBack(Settings::new()));
        let identity = self.with(|state| state.knows.identity.clone()).filter(|_| there && whole);
        let snapshot = match identity {
            Some(identity) => bench.store_snapshot_after(&job, &identity).await?,
            None => None,
        };
        if there {
            bench.put_streams_back().await;
        }
        if whole {
            bench.keep_log(&job).await?;
            bench.journal(JournalLine::End { at: self.now(), outcome: "left".to_owned(), snapshot }).await?;
        }
        let known = self.settled.get() && !bench.ledger.borrow().has_unread();
        let open = bench.what_is_open();
        let mut lines = self.with(|state| closing_lines(state, known, !open.is_empty())).unwrap_or_default();
        lines.extend(open);
        bench.show(UiEvent::Closing { finished: true, lines });
        Ok(())
    }

    /// Ends a session that cannot go on.
    ///
    /// # Errors
    /// Always `fault`, once it was written down.
    pub(in crate::bench) async fn ends(&self, fault: Fault) -> Result<(), Fault> {
        let title = self.with(|state| state.title.clone()).unwrap_or_default();
        let job: RunJob = self.run_job(&title, Task::TakeBack(Settings::new()));
        close(Rc::clone(&self.bench), Rc::new(job), fault.clone()).await?;
        Err(fault)
    }
}

/// What a recipe that was gone through has left, by name; nothing where nothing is.
fn left_of(state: &mut SessionState) -> Option<String> {
    let under_way = state.under_way.as_ref()?;
    let left = under_way.left_texts(&state.draft);
    let named: Vec<String> = left.iter().take(SHOWN).map(|text| format!("`{text}`")).collect();
    let more = left.len().checked_sub(SHOWN).filter(|more| *more > 0);
    let more = more.map_or_else(String::new, |more| format!(" and {more} more"));
    let name = &under_way.name;
    (!left.is_empty())
        .then(|| format!("Not done yet of {name}: {}{more}; `go on` does what is left.", named.join(", ")))
}

/// `open`: what follows says what a restart may bring.
fn closing_lines(state: &SessionState, known: bool, open: bool) -> Vec<String> {
    let changed = crate::bench::interactive::session::differing(&state.begun, &state.held).len();
    let mut lines = vec![match changed {
        _ if !known => {
            "What stands on the board now was not read again: the next start says what is old and what is new."
                .to_owned()
        }
        0 if open => {
            "Nothing stands otherwise on the board now than before this session; a restart may change that.".to_owned()
        }
        0 => "Nothing stands otherwise on the board than before this session.".to_owned(),
        n => format!("{} otherwise on the board than before this session.", stand(n)),
    }];
    if changed > 0 || !known || open {
        let restore = shell_word(&state.snapshot);
        lines.push(format!("To bring back all that was there before: `quadjig restore {restore}`"));
    }
    lines
}
