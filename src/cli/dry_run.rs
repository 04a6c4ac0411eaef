//! `quadjig dry-run`: what a recipe, or a copy brought back, would change on this board, and every step with its effect and
//! guards.
//!
//! A plan holds no handle to a board, so there is nothing here that could write.

use super::board::{self, Besides};
use super::completions;
use super::craft;
use super::input;
use super::loaded;
use super::options::{PageReporting, PortOptions, ReadingOptions, RecordsOption};
use super::output::{Output, PageFormat};
use super::restore;
use crate::bench::attended::{Connected, NamedCard, card_of, with_declared};
use crate::board::identity;
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::signals::Link;
use crate::language::span::Place;
use crate::language::units::Pulse;
use crate::plan;
use crate::plan::compile::compile;
use crate::plan::inputs::{Inputs, Progress};
use crate::plan::problem::{PlanError, Problem};
use crate::plan::restore::{Radio, RestoreError};
use crate::plan::step::Plan;
use crate::record::ledger::Ledger;
use crate::record::{CraftRecord, folder};
use crate::report::html::switches::Bound;
use crate::report::{html, plan_json, plan_text, wire};
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

/// Show what a recipe would change on this board, or a copy that is brought back, and every step; writes nothing.
///
/// Sends only requests and heartbeats. With --against, a snapshot stands for the board. Named a snapshot instead of a
/// recipe, it shows what `quadjig restore` would do, and which switch would arm afterwards.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig dry-run wren-95.jig\n  quadjig dry-run wren-95.jig --against before.json\n  quadjig dry-run wren-95.jig --exit-code --format json\n  quadjig dry-run wren-95.jig --format html > plan.html\n  quadjig dry-run before.json"
)]
pub struct DryRun {
    /// The recipe; or a snapshot (`.json`), as it would be brought back.
    #[arg(value_name = "RECIPE|SNAPSHOT", add = ArgValueCompleter::new(completions::recipes))]
    what: PathBuf,
    /// Plan against a snapshot instead of a board.
    #[arg(long, value_name = "SNAPSHOT", conflicts_with = "port", add = ArgValueCompleter::new(completions::snapshots))]
    against: Option<PathBuf>,
    /// Show the very messages that would change the board.
    #[arg(long, conflicts_with = "against")]
    wire: bool,
    /// End in 3 when changes are pending.
    #[arg(long)]
    exit_code: bool,
    #[command(flatten)]
    port: PortOptions,
    #[command(flatten)]
    reading: ReadingOptions,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: PageReporting,
}

impl DryRun {
    /// Reads, plans, shows.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let crafts = craft::crafts(&self.records, out)?;
        if self.what.extension().is_some_and(|ending| ending == "json") {
            return self.of_copy(&crafts, out);
        }
        let loaded = loaded::load(&self.what, &self.reading, out)?;
        let planned_for = self.planned_for(&crafts, &loaded.sheets, loaded.card.as_ref(), Besides::Nothing, out)?;
        let inputs = Inputs {
            recipe: &loaded.recipe,
            sheet: planned_for.sheet,
            card: &planned_for.card,
            record: &planned_for.record,
            identity: &planned_for.known.identity,
            settings: &planned_for.known.settings,
            progress: Progress::below(&Ledger::of(&planned_for.record)),
            by_hand: false,
        };
        let plan = compile(&inputs).map_err(|errors| self.refused(&loaded.recipe.title.value, &errors, out))?;
        let card = with_declared(&planned_for.card, Some(&loaded.recipe));
        Ok(self.show(&plan, Some(&loaded.reviews), &card, &planned_for, out))
    }

    /// What bringing a copy back would do.
    fn of_copy(&self, crafts: &Path, out: &mut Output) -> Result<Exit, Exit> {
        if !self.reading.with.with.is_empty() {
            out.error("a copy of settings has no parameters", Some("leave out --with"));
            return Err(Exit::Usage);
        }
        let copy = restore::snapshot(&self.what, out)?;
        let (sheets, _) = loaded::sheets(&self.reading.sheet, None, out)?;
        let (card, _) = loaded::card(&self.reading.radio, &input::here(), out)?;
        let planned_for = self.planned_for(crafts, &sheets, card.as_ref(), Besides::Radio, out)?;
        let PlannedFor { known, record, card, heard, sheet, .. } = &planned_for;
        let radio = Radio { card, link_loss: &record.link_loss, heard: heard.clone() };
        let open = Ledger::of(record).names();
        let title = restore::title(&copy);
        let mut plan =
            plan::restore::plan(&copy, sheet, &known.identity, &known.settings, &radio, &open).map_err(|errors| {
                let file = self.what.display().to_string();
                let at = Place { file, line: 1, column: 1, end_line: 1, end_column: 1 };
                let error = |error: RestoreError| {
                    let problem = Problem::Copy { why: error.to_string(), hint: error.hint() };
                    PlanError { at: at.clone(), problem }
                };
                self.refused(&title, &errors.into_iter().map(error).collect::<Vec<_>>(), out)
            })?;
        plan.title = title;
        Ok(self.show(&plan, None, &planned_for.card, &planned_for, out))
    }

    /// The board, or the snapshot that stands for it, with all that is known of it.
    fn planned_for<'l>(
        &self,
        crafts: &Path,
        sheets: &'l [Sheet],
        named: Option<&NamedCard>,
        besides: Besides,
        out: &mut Output,
    ) -> Result<PlannedFor<'l>, Exit> {
        let (known, heard, link) = if let Some(path) = &self.against {
            let copy = restore::snapshot(path, out)?;
            if let Some(why) = copy.not_whole() {
                out.message(&format!("mind this: the snapshot is not whole: when it was taken, {why}"));
            }
            (Connected { identity: copy.board, settings: copy.settings }, None, None)
        } else {
            let looked = board::look(&self.port, sheets, crafts, besides, out)?;
            (looked.known, Some(looked.heard), Some(looked.link))
        };
        let record = read_record(crafts, &known, out)?;
        let sheet = sheet(sheets, &known, out);
        // A snapshot is not what the board holds now.
        let now = link.is_some().then_some(&known.settings);
        board::say_unsettled(&record, now, sheet.as_deref().ok(), out);
        let sheet = sheet?;
        let card = card_of(named, &record).map_err(|error| {
            out.error(&error.to_string(), None);
            Exit::Document
        })?;
        Ok(PlannedFor { known, heard, link, record, sheet, card })
    }

    fn show(
        &self,
        plan: &Plan,
        reviews: Option<&[String]>,
        card: &RadioCard,
        planned_for: &PlannedFor<'_>,
        out: &mut Output,
    ) -> Exit {
        let link = planned_for.link.as_ref().filter(|_| self.wire);
        let wire = link.map(|link| wire::messages(plan, link.as_ref()));
        match self.reporting.format {
            PageFormat::Json => out.json(&plan_json::plan(plan, wire.as_deref())),
            PageFormat::Html => {
                // Bands as they would be.
                let mut then = planned_for.known.settings.clone();
                then.extend(plan.changes.iter().map(|change| (change.on_board.clone(), change.to)));
                let bound = Bound { sheet: planned_for.sheet, settings: &then, card: Some(card) };
                out.verbatim(&html::plan::page(plan, reviews, bound));
            }
            PageFormat::Text if out.plain => out.report(&plan_text::plain(plan)),
            PageFormat::Text => out.report(&plan_text::page(plan, out.width())),
        }
        if let (Some(wire), PageFormat::Text) = (&wire, self.reporting.format) {
            out.report(&wire::text(wire));
        }
        if self.exit_code && !plan.is_satisfied() { Exit::Pending } else { Exit::Done }
    }

    fn refused(&self, title: &str, errors: &[PlanError], out: &mut Output) -> Exit {
        match self.reporting.format {
            PageFormat::Json => out.json(&plan_json::refused(errors)),
            PageFormat::Html => out.verbatim(&html::plan::refused(title, errors)),
            PageFormat::Text => out.report(&plan_text::refused(errors, out.width())),
        }
        Exit::Document
    }
}

/// What a plan is made for.
struct PlannedFor<'l> {
    known: Connected,
    /// Where the channels stand; `None`: there is no board.
    heard: Option<BTreeMap<u32, Pulse>>,
    link: Option<Box<dyn Link>>,
    record: CraftRecord,
    sheet: &'l Sheet,
    card: RadioCard,
}

/// The sheet of the board.
fn sheet<'l>(sheets: &'l [Sheet], known: &Connected, out: &mut Output) -> Result<&'l Sheet, Exit> {
    identity::choose(sheets, &known.identity, &known.settings).map_err(|error| {
        out.error(&error.to_string(), Some("name the board's sheet with --sheet"));
        out.message("Nothing was written to the board.");
        Exit::Document
    })
}

/// The craft's record without its lock; a craft without a name has none.
fn read_record(crafts: &Path, known: &Connected, out: &mut Output) -> Result<CraftRecord, Exit> {
    let Ok(folder) = folder::of_board(crafts, &known.identity) else { return Ok(CraftRecord::default()) };
    CraftRecord::read(&folder).map_err(|error| {
        out.error(&error.to_string(), error.hint());
        out.message("Nothing was written to the board.");
        Exit::Link
    })
}
