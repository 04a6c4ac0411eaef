//! The command line: one file a command, and nothing here that a test would want to reach.
//!
//! Promises: every command says what it does with `--help` and an example; every way out is one of
//! [`Exit`]. Must not be here: how a recipe is read, planned or run.

#[cfg(unix)]
mod attend;
#[cfg(unix)]
mod bench;
mod board;
mod check;
#[cfg(unix)]
mod check_sheet;
mod collection;
mod completions;
mod craft;
mod diff;
#[cfg(unix)]
mod dry_run;
mod explain;
mod format;
#[cfg(unix)]
mod guardian;
mod input;
mod language_server;
#[cfg(unix)]
mod listen;
mod loaded;
mod manual;
#[cfg(unix)]
mod new_sheets;
pub mod options;
pub mod output;
mod peer;
mod ports;
#[cfg(unix)]
mod recover;
mod rehearse;
#[cfg(unix)]
mod restore;
mod review;
#[cfg(unix)]
mod run;
#[cfg(unix)]
mod series;
#[cfg(unix)]
mod snapshot;
#[cfg(unix)]
mod virtual_board;
#[cfg(unix)]
mod watch;

pub use crate::board::at_hand as documents;
use crate::seam::exit::Exit;
use clap::Parser;
use output::Output;
use std::ffi::OsString;
use std::io::Write;

/// Sets up small multirotors at the bench, from a recipe.
#[derive(Debug, Parser)]
#[command(name = "quadjig", version, propagate_version = true)]
#[command(after_help = "Examples:\n  quadjig check wren-95.jig\n  quadjig check --help")]
struct Cli {
    /// For screen readers: one fact a line, no frames, no moving cursor.
    #[arg(long, global = true)]
    plain: bool,
    #[command(subcommand)]
    command: Command,
}

/// For the commands that end in one way alone.
impl From<Exit> for Result<Exit, Exit> {
    fn from(exit: Exit) -> Self {
        Ok(exit)
    }
}

macro_rules! commands {
    ($($(#[$on:meta])? $name:ident($file:ident::$options:ident),)*) => {
        /// The commands; each file holds its options and what it does.
        #[derive(Debug, clap::Subcommand)]
        enum Command {
            $($(#[$on])? $name($file::$options),)*
        }

        impl Command {
            fn run(self, out: &mut Output) -> Result<Exit, Exit> {
                match self {
                    $($(#[$on])? Self::$name(command) => command.run(out).into(),)*
                }
            }
        }
    };
}

commands! {
    Check(check::Check),
    #[cfg(unix)]
    CheckSheet(check_sheet::CheckSheet),
    Completions(completions::Completions),
    Craft(craft::Craft),
    Diff(diff::Diff),
    Explain(explain::Explain),
    Format(format::Format),
    Manual(manual::Manual),
    #[cfg(unix)]
    Guardian(guardian::Guardian),
    LanguageServer(language_server::LanguageServer),
    Ports(ports::Ports),
    #[cfg(unix)]
    DryRun(dry_run::DryRun),
    #[cfg(unix)]
    Run(run::Run),
    #[cfg(unix)]
    Recover(recover::Recover),
    #[cfg(unix)]
    Watch(watch::Watch),
    #[cfg(unix)]
    Listen(listen::Listen),
    #[cfg(unix)]
    Bench(bench::BenchByHand),
    #[cfg(unix)]
    Snapshot(snapshot::TakeSnapshot),
    #[cfg(unix)]
    Restore(restore::Restore),
    Rehearse(rehearse::Rehearse),
    Review(review::Review),
    #[cfg(unix)]
    Virtual(virtual_board::Virtual),
}

/// Runs the command line and says how the process ends.
///
/// Our own bug (a panic) ends the process as [`Exit::Bug`], after held stops have left.
pub fn main(arguments: impl IntoIterator<Item = OsString>) -> Exit {
    let arguments: Vec<OsString> = arguments.into_iter().collect();
    if completions::answered(&arguments) {
        return Exit::Done;
    }
    let json = asks_for_json(&arguments);
    let read = whole_examples(command_line()).try_get_matches_from(arguments);
    let cli = match read.and_then(|read| <Cli as clap::FromArgMatches>::from_arg_matches(&read)) {
        Ok(cli) => cli,
        Err(error) if json && error.use_stderr() => {
            let mut out = Output::new(true);
            out.owe_json();
            out.error(error.to_string().trim_start_matches("error: ").trim_end(), None);
            return out.finish(Exit::Usage);
        }
        Err(error) => {
            // Help and version go to standard output and are no mistake. A closed pipe is quiet.
            let (out, text) = (Output::new(false), error.render());
            let shown = |colour| if colour { text.ansi().to_string() } else { text.to_string() }.replace(HELD, " ");
            return if error.use_stderr() {
                let _ = std::io::stderr().write_all(shown(out.message_colour).as_bytes());
                Exit::Usage
            } else {
                let _ = std::io::stdout().write_all(shown(out.colour).as_bytes());
                Exit::Done
            };
        }
    };
    crate::world::panic::install(move || {
        let words = "this is a mistake in quadjig itself, not in your recipe";
        Output::new(cli.plain).error(words, Some("report it with the lines above"));
        Exit::Bug.code()
    });
    let mut out = Output::new(cli.plain);
    if json {
        out.owe_json();
    }
    let exit = cli.command.run(&mut out).unwrap_or_else(|exit| exit);
    out.finish(exit)
}

/// A blank that help does not break lines at: a private letter.
const HELD: char = '\u{e000}';

/// The same command line with examples that help leaves whole, so that they can be pasted from a narrow terminal.
fn whole_examples(command: clap::Command) -> clap::Command {
    let unbroken = |line: &str| match line.strip_prefix("  ") {
        Some(example) => format!("  {}", example.replace(' ', &HELD.to_string())),
        None => line.to_owned(),
    };
    let help =
        command.get_after_help().map(|help| help.to_string().lines().map(unbroken).collect::<Vec<_>>().join("\n"));
    let command = command.mut_subcommands(whole_examples);
    match help {
        Some(help) => command.after_help(help),
        None => command,
    }
}

/// Whether `--format json` stands on the command line, which has to be known even where the rest of it is wrong.
fn asks_for_json(arguments: &[OsString]) -> bool {
    let before_end = || arguments.iter().take_while(|argument| *argument != "--");
    before_end().any(|argument| argument == "--format=json")
        || before_end().zip(before_end().skip(1)).any(|(option, value)| option == "--format" && value == "json")
}

/// The whole command line as clap has it: for help, completions and manual pages.
#[must_use]
pub fn command_line() -> clap::Command {
    <Cli as clap::CommandFactory>::command()
}
