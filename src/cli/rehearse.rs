//! `quadjig rehearse`: plays a recipe through on virtual craft with a scripted operator, unattended.
//!
//! Promises: no port is opened and no file is written; cards and records live in memory. Must not be
//! here: how a rehearsal is played, how it is told.

use super::completions;
use super::loaded;
use super::options::{ReadingOptions, Reporting};
use super::output::{Format, Output};
use crate::board::vocabulary;
use crate::language::sources::Disk as Files;
use crate::plan::checks;
use crate::rehearsal::fleet::{Craft, fleet, spread};
use crate::rehearsal::played::{make_for, unplayed};
use crate::rehearsal::rehearse::{Script, rehearse, willing};
use crate::rehearsal::simulated::Disk;
use crate::rehearsal::your_craft::like_yours;
use crate::report::findings::{self, Count};
use crate::report::fleet::fleet_text;
use crate::report::rehearsal::{RehearseJson, exit};
use crate::report::screen::Style;
use crate::report::transcript::{Transcript, reason};
use crate::seam::exit::Exit;
use crate::virtual_board::{Make, World, WorldConfig};
use clap_complete::engine::ArgValueCompleter;
use std::path::PathBuf;
use std::sync::Arc;

/// Play a recipe through on a virtual craft, unattended.
///
/// A scripted operator answers every question and works every switch. It shows how a run would go;
/// no craft is touched, and it proves nothing about yours. Nothing is written: cards and records
/// live in memory.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig rehearse wren-95.jig\n  quadjig rehearse wren-95.jig --radio bench --with idle-floor=1120us\n  quadjig rehearse wren-95.jig --fleet 100 --seed 1\n  quadjig rehearse wren-95.jig --seed 17"
)]
pub struct Rehearse {
    /// Recipe to rehearse.
    #[arg(value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipe: PathBuf,
    #[command(flatten)]
    reading: ReadingOptions,
    /// Rehearse on this many craft, whose motors, radios and packs are spread, and sum them up.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=100_000))]
    fleet: Option<u32>,
    /// Seed of the craft, or of the first of a fleet. Left out: the Wren 95 on the bench; for a fleet, 1.
    #[arg(long, value_name = "S")]
    seed: Option<u64>,
    #[command(flatten)]
    reporting: Reporting,
}

impl Rehearse {
    /// Rehearses, tells it, and ends as the run would.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let script = self.script(out)?;
        let make = match make_for(&script.sheets) {
            Ok(make) => make,
            Err(fault) => {
                if self.reporting.format == Format::Json {
                    out.json(&RehearseJson::refused(Vec::new()));
                }
                out.error(&reason(&fault), None);
                return Err(Exit::Document);
            }
        };
        if let Some(not) = script.sheets.first().and_then(unplayed) {
            out.message(&not);
        }
        let style = Style { colour: out.colour, plain: out.plain, ascii: out.ascii };
        let craft = match self.fleet {
            Some(count) => self.many(&script, &make, count, style, out),
            None => vec![self.single(&script, &make, style, out)],
        };
        if self.reporting.format == Format::Json {
            out.json(&RehearseJson::of(&craft));
        }
        Ok(exit(&craft))
    }

    /// Everything read and checked, or how the command ends without.
    fn script(&self, out: &mut Output) -> Result<Script, Exit> {
        let reading = vocabulary::read(&Files, &self.recipe, &self.reading.with.pairs());
        let (sheets, wrong) = match &reading.recipe {
            None => Default::default(),
            Some(_) => loaded::sheets(&self.reading.sheet, Some(&reading), out)?,
        };
        // Its file, if it has one, is read and never written.
        let (card, _) = loaded::card(&self.reading.radio, &reading.root, out)?;
        let mut found = checks::reading(&reading, &sheets, card.as_ref().map(|named| &named.card));
        found.extend(wrong);
        let count = Count::of(&found);
        match reading.recipe {
            Some(recipe) if count.errors == 0 && !recipe.is_part => Ok(Script { recipe, sheets, card }),
            Some(recipe) if count.errors == 0 && recipe.is_part => {
                if self.reporting.format == Format::Json {
                    out.json(&RehearseJson::refused(Vec::new()));
                }
                out.error(
                    "this recipe names no craft or no board: it is a part of one that uses it",
                    Some(loaded::PART),
                );
                Err(Exit::Document)
            }
            _ => {
                match self.reporting.format {
                    Format::Text => {
                        out.report(&findings::text(&reading.files, &found, out.look()));
                        out.report(&format!("not rehearsed: {count}\n"));
                    }
                    Format::Json => out.json(&RehearseJson::refused(findings::json(&reading.files, &found))),
                }
                Err(Exit::Document)
            }
        }
    }

    /// One craft, with its transcript.
    fn single(&self, script: &Script, make: &Arc<Make>, style: Style, out: &mut Output) -> Craft {
        let (config, which) = match self.seed {
            Some(seed) => (spread(make, seed), format!("seed {seed}")),
            None => (WorldConfig::default().made(Arc::clone(make)), "the Wren 95 on the bench".to_owned()),
        };
        let told = self.reporting.format == Format::Text;
        let mut transcript = Transcript::new(style);
        let mut tell = |text: String| {
            if told && !text.is_empty() {
                out.report(&text);
            }
        };
        let played = like_yours(config, script);
        let config = played.config.clone();
        let seed = config.seed;
        let craft = format!("{} craft, {which}, id {}, played by a scripted operator", make.name, config.board_id());
        tell(transcript.begin(&script.recipe.title.value, &craft, &played));
        let mut operator = willing(&config);
        let rehearsed = rehearse(script, World::new(config), &mut operator, Disk::default(), |_, seen| {
            tell(transcript.seen(seen));
        });
        tell(transcript.end(&rehearsed));
        Craft::of(seed, rehearsed)
    }

    /// A fleet, summed up.
    fn many(&self, script: &Script, make: &Arc<Make>, count: u32, style: Style, out: &mut Output) -> Vec<Craft> {
        let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
        let seed = self.seed.unwrap_or(1);
        let progress = out.progress(count);
        let craft = fleet(script, make, seed, count, threads, &|done| progress.at(done));
        progress.end();
        if self.reporting.format == Format::Text {
            let played = like_yours(spread(make, seed), script);
            out.report(&fleet_text(&script.recipe.title.value, &make.name, &played, &craft, style));
        }
        craft
    }
}
