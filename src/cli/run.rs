//! `quadjig run`: the attended run of a recipe on a board.

use super::attend::{attend, job};
use super::board;
use super::completions;
use super::craft;
use super::loaded;
use super::options::{OperatorOption, PortOptions, ReadingOptions, RecordsOption};
use super::output::Output;
use super::peer::Peer;
use super::series::{self, Series};
use crate::bench::attended::{RunOptions, Task};
use crate::record::series::{NoSeriesName, SeriesName};
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use std::path::PathBuf;

/// Run a recipe on a board, attended: asks before anything that can turn a motor.
///
/// Needs a terminal with a person at it. Every motor question names what turns and how to stop it,
/// and is answered by typing its word. Any key stops while motors can turn; the emergency stop is
/// the battery plug. Parameters that the recipe had last time on the same craft are shown, and taken with one key.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig run wren-95.jig\n  quadjig run wren-95.jig --port /dev/ttyACM0 --radio my-radio.toml\n  quadjig run recipes/first-craft.jig --port virtual\n  quadjig run wren-95.jig --series"
)]
pub struct Run {
    /// The recipe.
    #[arg(value_name = "RECIPE", add = ArgValueCompleter::new(completions::recipes))]
    recipe: PathBuf,
    /// Go through craft after craft with it, and say how they compare. NAME: what the series is called, else as the recipe's
    /// file; where there is one of that name, it goes on. What belongs to the radio is found once; what is asked of a craft
    /// before anything can turn is asked of each.
    #[arg(long, value_name = "NAME", num_args = 0..=1, require_equals = true, default_missing_value = "", value_parser = series_name)]
    series: Option<SeriesAsked>,
    #[command(flatten)]
    port: PortOptions,
    #[command(flatten)]
    reading: ReadingOptions,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    operator: OperatorOption,
}

impl Run {
    /// Loads, runs, and says how it ended.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        match self.series.clone() {
            Some(SeriesAsked::OfRecipe) => {
                let name = SeriesName::of_recipe(&self.recipe);
                return self.series(name, out);
            }
            Some(SeriesAsked::Named(name)) => return self.series(name, out),
            None => {}
        }
        let loaded = loaded::load(&self.recipe, &self.reading, out)?;
        let peer = Peer::of(&self.port, &loaded.sheets, out)?;
        let port = board::port(&self.port, out)?;
        let crafts = craft::crafts(&self.records, out)?;
        let options = RunOptions {
            with: self.reading.with.as_given(),
            operator: self.operator.operator,
            radio: self.reading.radio.radio,
            series: None,
        };
        let what = (loaded.recipe.title.value.clone(), Task::Recipe(Box::new(loaded.recipe)));
        attend(job(what, loaded.sheets, loaded.card, port, options), crafts, loaded.card_file, peer, out)
    }

    fn series(mut self, name: SeriesName, out: &mut Output) -> Result<Exit, Exit> {
        let crafts = craft::crafts(&self.records, out)?;
        // Where none are given, it goes on with those that it was begun with.
        if let Some(common) = series::begun(&crafts, &name, out)?
            && self.reading.with.with.is_empty()
        {
            self.reading.with.with = common.with.iter().filter_map(|with| with.parse().ok()).collect();
        }
        let loaded = loaded::load(&self.recipe, &self.reading, out)?;
        let (mut with, operator) = (self.reading.with.as_given(), self.operator.operator);
        // In which order they are given means nothing.
        with.sort_unstable();
        Series { name, crafts, loaded, port: &self.port, radio: &self.reading.radio, with, operator }.go(out)
    }
}

/// Which series.
#[derive(Debug, Clone)]
enum SeriesAsked {
    /// The one that is called as the recipe's file.
    OfRecipe,
    /// Another.
    Named(SeriesName),
}

fn series_name(text: &str) -> Result<SeriesAsked, NoSeriesName> {
    if text.is_empty() { Ok(SeriesAsked::OfRecipe) } else { SeriesName::read(text).map(SeriesAsked::Named) }
}
