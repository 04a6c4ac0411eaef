//! `quadjig dry-run`: what would change on this board, and every step with its effect and guards.
//!
//! A plan holds no handle to a board, so there is nothing here that could write.

use super::board;
use super::completions;
use super::exit::Exit;
use super::loaded::{self, Loaded};
use super::options::{PageReporting, PortOptions, ReadingOptions, RecordsOption};
use super::output::{Output, PageFormat};
use crate::bench::attended::{Connected, with_declared};
use crate::board::radio_card::RadioCard;
use crate::board::sheet::Sheet;
use crate::board::{identity, radio_card_file};
use crate::language::recipe::Recipe;
use crate::plan::compile::compile;
use crate::plan::inputs::{Inputs, Progress};
use crate::plan::step::Plan;
use crate::record::ledger::Ledger;
use crate::record::{CraftRecord, folder};
use crate::report::html::switches::Bound;
use crate::report::{html, plan_json, plan_text, wire};
use clap_complete::engine::ArgValueCompleter;
use std::path::{Path, PathBuf};

/// Show what a recipe would change on this board, and every step; writes nothing.
///
/// Sends only requests and heartbeats. With --against, a snapshot stands for the board.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig dry-run wren-95.jig\n  quadjig dry-run wren-95.jig --against before.json\n  quadjig dry-run wren-95.jig --exit-code --format json\n  quadjig dry-run wren-95.jig --format html > plan.html"
)]
pub struct DryRun {
    /// The recipe.
    #[arg(value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipe: PathBuf,
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
    pub fn run(self, out: &mut Output) -> Exit {
        self.go(out).unwrap_or_else(|exit| exit)
    }

    fn go(self, out: &mut Output) -> Result<Exit, Exit> {
        let loaded = loaded::load(&self.recipe, &self.reading, out)?;
        let crafts = board::crafts(&self.records, out)?;
        let (known, link) = if let Some(path) = &self.against {
            let snapshot = super::restore::snapshot(path, out)?;
            (Connected { identity: snapshot.board, settings: snapshot.settings }, None)
        } else {
            let looked = board::look(&self.port, &loaded.sheets, &crafts, out)?;
            (looked.known, Some(looked.link))
        };
        let record = read_record(&crafts, &known, out)?;
        // A snapshot is not what the board holds now.
        board::say_unsettled(&record, link.is_some().then_some(&known.settings), out);
        let planned = Planned {
            sheet: sheet(&loaded, &known, out)?,
            card: card(&loaded, &record, out)?,
            reviews: &loaded.reviews,
            recipe: &loaded.recipe,
        };
        let plan = self.plan(&loaded, &known, &record, &planned, out)?;
        let wire = link.filter(|_| self.wire).map(|link| wire::messages(&plan, link.as_ref()));
        match self.reporting.format {
            PageFormat::Json => out.json(&plan_json::with_wire(&plan, wire.as_deref())),
            PageFormat::Html => out.report(&html(&plan, &planned, &known)),
            PageFormat::Text if out.plain => out.report(&plan_text::plain(&plan)),
            PageFormat::Text => out.report(&plan_text::page(&plan)),
        }
        if let (Some(wire), PageFormat::Text) = (&wire, self.reporting.format) {
            out.report(&wire::text(wire));
        }
        Ok(if self.exit_code && !plan.is_satisfied() { Exit::Pending } else { Exit::Done })
    }

    fn plan(
        &self,
        loaded: &Loaded,
        known: &Connected,
        record: &CraftRecord,
        planned: &Planned<'_>,
        out: &mut Output,
    ) -> Result<Plan, Exit> {
        let inputs = Inputs {
            recipe: &loaded.recipe,
            sheet: planned.sheet,
            card: &planned.card,
            record,
            identity: &known.identity,
            settings: &known.settings,
            progress: Progress { unsaved: Ledger::of(record).names(), ..Progress::start() },
            by_hand: false,
        };
        compile(&inputs).map_err(|errors| {
            match self.reporting.format {
                PageFormat::Json => out.json(&plan_json::refused(&errors)),
                PageFormat::Html => out.report(&html::plan::refused(&loaded.recipe.title.value, &errors)),
                PageFormat::Text => out.report(&plan_text::refused(&errors)),
            }
            Exit::Document
        })
    }
}

/// The sheet of the board.
fn sheet<'l>(loaded: &'l Loaded, known: &Connected, out: &mut Output) -> Result<&'l Sheet, Exit> {
    identity::choose(&loaded.sheets, &known.identity, &known.settings).map_err(|error| {
        out.error(&error.to_string(), Some("name the board's sheet with --sheet"));
        out.message("Nothing was written to the board.");
        Exit::Document
    })
}

/// What a plan is made with, and who reviewed its recipe.
struct Planned<'l> {
    sheet: &'l Sheet,
    card: RadioCard,
    reviews: &'l [String],
    recipe: &'l Recipe,
}

/// The plan as a page: bands as they would be.
fn html(plan: &Plan, planned: &Planned<'_>, known: &Connected) -> String {
    let mut then = known.settings.clone();
    then.extend(plan.changes.iter().map(|change| (change.on_board.clone(), change.to)));
    let card = with_declared(&planned.card, Some(planned.recipe));
    let bound = Bound { sheet: planned.sheet, settings: &then, card: Some(&card) };
    html::plan::page(plan, planned.reviews, bound)
}

/// The card that was named, else the craft's own.
fn card(loaded: &Loaded, record: &CraftRecord, out: &mut Output) -> Result<RadioCard, Exit> {
    match (&loaded.card, &record.radio_card) {
        (Some(named), _) => Ok(named.card.clone()),
        (None, Some(text)) => {
            let file = record.folder.join(folder::RADIO_CARD).display().to_string();
            radio_card_file::read(&file, text).map_err(|error| {
                out.error(&error.to_string(), None);
                Exit::Document
            })
        }
        (None, None) => Ok(RadioCard::default()),
    }
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
