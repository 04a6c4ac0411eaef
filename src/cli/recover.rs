//! `quadjig recover`: after a run that was cut off, finishes it or puts back what it wrote.

use super::attend::{attend_by, job};
use super::board;
use super::craft;
use super::input;
use super::loaded;
use super::options::{OperatorOption, PortOptions, RadioOption, RecordsOption, SheetOption};
use super::output::Output;
use super::peer::Peer;
use crate::bench::attended::{RunOptions, Task, recover};
use crate::board::sheet::Settings;
use crate::seam::exit::Exit;

/// After a run that was cut off: say of every setting whether it is old, new, neither or unknown, then finish the run or
/// put back what was there before.
///
/// Both are planned, shown, asked, written and read back like a run. What the run had shown in the last two hours is not
/// asked for again, but for arm, cut and failsafe. Nothing is written before you choose.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig recover\n  quadjig recover --port /dev/ttyACM0\n  quadjig recover --port /dev/ttyACM0 --radio my-radio.toml"
)]
pub struct Recover {
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
}

impl Recover {
    /// Looks, asks, and does what was chosen.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let (sheets, _) = loaded::sheets(&self.sheet, None, out)?;
        let (card, card_file) = loaded::card(&self.radio, &input::here(), out)?;
        let peer = Peer::of(&self.port, &sheets, out)?;
        let port = board::port(&self.port, out)?;
        let crafts = craft::crafts(&self.records, out)?;
        let options = RunOptions { operator: self.operator.operator, radio: self.radio.radio, ..RunOptions::default() };
        let what = ("a recovery".to_owned(), Task::TakeBack(Settings::new()));
        let asked = job(what, sheets, card, port, options);
        attend_by(asked, crafts, card_file, peer, out, |bench, job| Box::pin(recover(bench, job)))
    }
}
