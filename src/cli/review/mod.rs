//! `quadjig review`: signs a recipe after it was reviewed, shows reviews, withdraws them.

pub mod beside;
mod show;
mod sign;
mod withdraw;
mod written;

use super::output::Output;
use crate::seam::exit::Exit;

/// Sign a recipe after reviewing it; show reviews, or withdraw one with a reason.
///
/// Reviews lie beside the recipe, in a folder named after it, each a file of text with a signature that `ssh-keygen -Y
/// verify` takes. Whom you trust stands in an allowed-signers file of your own. A review removes no question at the bench.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig review sign wren-95.jig --reviewer alba --key ~/.ssh/id_ed25519 --read --rehearsed 100\n  quadjig review show wren-95.jig"
)]
pub struct Review {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, clap::Subcommand)]
enum Command {
    Sign(sign::Sign),
    Show(show::Show),
    Withdraw(withdraw::Withdraw),
}

impl Review {
    /// Does what is asked.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        match self.command {
            Command::Sign(sign) => sign.run(out),
            Command::Show(show) => show.run(out),
            Command::Withdraw(withdraw) => withdraw.run(out),
        }
    }
}
