//! `quadjig language-server`: help in editors, over standard input and output.
//!
//! Must not be here: what an editor is told.

use super::documents;
use super::input;
use super::options::{ReadingOptions, RecordsOption};
use super::output::Output;
use crate::language_server::{Setup, serve};
use crate::record::folder;
use crate::seam::exit::Exit;

/// Help in editors while a recipe is written; touches no board.
///
/// An editor starts it and speaks the Language Server Protocol with it on standard input and output: findings and their
/// fixes, completion, what a word means and what the board's sheet says of it, places of a name, the layout, the
/// outline. With --craft, or for a recipe whose title begins with a craft's name, it also tells what a statement would
/// change against the craft's last snapshot.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig language-server\n  quadjig language-server --radio bench --craft wren-95\n\nThe editor's settings name this command; the README shows how."
)]
pub struct LanguageServer {
    #[command(flatten)]
    reading: ReadingOptions,
    #[command(flatten)]
    records: RecordsOption,
    /// The craft whose last snapshot is compared with: its board's id, or its name.
    #[arg(long, value_name = "CRAFT")]
    craft: Option<String>,
    /// What some editors add; standard input and output are used in any case.
    #[arg(long, hide = true)]
    stdio: bool,
}

impl LanguageServer {
    /// Serves until the editor ends it.
    pub fn run(self, out: &mut Output) -> Exit {
        let root = input::here();
        let sheet = match self.reading.sheet.sheet.as_deref().map(|name| documents::sheet(name, &root)).transpose() {
            Ok(sheet) => sheet,
            Err(error) => {
                out.error(&error.to_string(), error.hint().as_deref());
                return Exit::Document;
            }
        };
        // Without a place for records there is nothing to compare with.
        let crafts = self.records.records.or_else(|| folder::crafts(|name| std::env::var_os(name)).ok());
        let setup = Setup {
            sheet,
            radio: self.reading.radio.radio,
            with: self.reading.with.pairs(),
            crafts,
            craft: self.craft,
        };
        match serve(std::io::stdin().lock(), &mut std::io::stdout().lock(), setup) {
            Ok(true) => Exit::Done,
            // The protocol's own number for an end without `shutdown`.
            Ok(false) => Exit::Document,
            Err(error) => {
                out.error(&format!("the editor can't be heard or told any more: {error}"), None);
                Exit::Link
            }
        }
    }
}
