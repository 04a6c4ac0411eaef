//! `quadjig bench`: statements typed one at a time on a live board.

use super::board::{self, Sitting};
use super::craft;
use super::input;
use super::loaded;
use super::new_sheets;
use super::options::{OperatorOption, PortOptions, RadioOption, RecordsOption, SheetOption};
use super::output::Output;
use super::peer::Peer;
use crate::bench::interactive::{InteractiveJob, InteractiveSession, begin, beside, go_on};
use crate::bench::session::Script;
use crate::bench::session::context::SessionContext;
use crate::record::run_log;
use crate::seam::exit::Exit;
use crate::seam::ui::Beside;
use crate::world::line::history_file;
use crate::world::terminal::Terminal;
use std::path::Path;
use std::rc::Rc;

/// Work at the bench without a recipe: type statements one at a time, see, try, take back, and write them out.
///
/// Every statement runs as it would in a recipe, with the same guards and the same questions before
/// anything that can turn a motor. `help` at the prompt lists the words beside the statements.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig bench\n  quadjig bench --port /dev/ttyACM0 --title \"Wren 95\"\n  quadjig bench --compare wren-1\n  quadjig bench --port virtual"
)]
pub struct BenchByHand {
    /// What the craft is called on every question, and the recipe that is written; else the kind of its board.
    #[arg(long, value_name = "TITLE")]
    title: Option<String>,
    #[command(flatten)]
    port: PortOptions,
    #[command(flatten)]
    sheet: SheetOption,
    #[command(flatten)]
    radio: RadioOption,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    operator: OperatorOption,
    /// Show this craft's starts beside those that are made while the idle is stepped: its name, or its board's id.
    #[arg(long, value_name = "CRAFT")]
    compare: Option<String>,
}

impl BenchByHand {
    /// Opens the session and stays in it until it is left.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        if self.title.as_ref().is_some_and(|title| title.chars().any(char::is_control) || title.is_empty()) {
            out.error("a title is one line of text", None);
            return Err(Exit::Usage);
        }
        let (sheets, _) = loaded::sheets(&self.sheet, None, out)?;
        let (card, card_file) = loaded::card(&self.radio, &input::here(), out)?;
        let peer = Peer::of(&self.port, &sheets, out)?;
        let port = board::port(&self.port, out)?;
        let crafts = craft::crafts(&self.records, out)?;
        let beside = self.compare.as_deref().map(|craft| other(&crafts, craft, out)).transpose()?;
        if Terminal::controlling().is_none() {
            out.error(
                "this needs a terminal with a person at it; no port was opened and nothing was sent",
                Some("start it in a terminal, in the foreground; a recipe is tried without one by `quadjig rehearse`"),
            );
            return Ok(Exit::Stopped);
        }
        new_sheets::accepted(&sheets, &crafts, &port, &peer, out)?;
        let clock = board::clock();
        let job = InteractiveJob {
            title: self.title,
            sheets,
            card,
            port,
            clock,
            name: clock.started.to_string(),
            operator: self.operator.operator,
            beside,
        };
        let sitting = Sitting {
            history: history_file(|name| std::env::var_os(name)),
            crafts,
            radio_card: card_file,
            name: "a bench session".to_owned(),
            peer,
        };
        let bench = Rc::new(SessionContext::default());
        let desk = Rc::new(InteractiveSession::new(Rc::clone(&bench), job));
        let script = Box::pin(begin(Rc::clone(&desk)));
        let next = move |fault| -> Script { Box::pin(go_on(Rc::clone(&desk), fault)) };
        let result = board::sit(sitting, &bench, script, |session| session.going_on_with(next), out);
        Ok(match result {
            Ok(()) => Exit::Done,
            Err(fault) => board::ended(&fault, out),
        })
    }
}

/// Another craft's starts, as its record has them.
fn other(crafts: &Path, words: &str, out: &mut Output) -> Result<Beside, Exit> {
    let folder = craft::craft(crafts, words, out)?;
    let log = run_log::of_last_starts(&folder).map_err(|error| craft::told(&error, out))?;
    let beside = beside(words.to_owned(), &log);
    if beside.starts.is_empty() {
        out.error(&format!("no motor of {words} was started in any run that is kept"), None);
        return Err(Exit::Usage);
    }
    Ok(beside)
}
