//! `quadjig completions`: what a shell needs to complete a command line, and what it is then offered.
//!
//! Promises: all of it comes from the one command line; what is offered is looked up where it lies, and nothing is
//! opened, sent or written. Must not be here: what an option means.

use super::input;
use super::output::Output;
use crate::board::shipped::{self, Shipped};
use crate::language::explain;
use crate::plan::explained;
use crate::record::folder;
use crate::seam::exit::Exit;
use crate::world::ports;
use clap::builder::StyledStr;
use clap_complete::CompletionCandidate;
use clap_complete::engine::{PathCompleter, ValueCompleter as _};
use clap_complete::env::{CompleteEnv, Shells};
use std::ffi::{OsStr, OsString};
use std::path::Path;

/// What tells this program that a shell asks.
const ASKED: &str = "QUADJIG_COMPLETE";

/// Print what a shell needs to complete commands, options, files, sheets, cards, ports and codes.
///
/// The shell asks quadjig itself at every Tab, so what is plugged in and what lies beside a recipe is known.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  source <(quadjig completions bash)\n  quadjig completions zsh > ~/.zsh/completions/_quadjig\n  quadjig completions fish > ~/.config/fish/completions/quadjig.fish"
)]
pub struct Completions {
    /// The shell.
    #[arg(value_name = "SHELL", value_parser = ["bash", "elvish", "fish", "powershell", "zsh"])]
    shell: String,
}

impl Completions {
    /// Prints the script.
    pub fn run(self, out: &mut Output) -> Exit {
        let mut script = Vec::new();
        let shells = Shells::builtins();
        let written = shells
            .completer(&self.shell)
            .map(|shell| shell.write_registration(ASKED, "quadjig", "quadjig", "quadjig", &mut script));
        if let Some(Ok(())) = written {
            out.verbatim(&String::from_utf8_lossy(&script));
            Exit::Done
        } else {
            out.error(&format!("nothing is known of the shell `{}`", self.shell), None);
            Exit::Usage
        }
    }
}

/// Answers a shell, where it is one that asks.
pub fn answered(arguments: &[OsString]) -> bool {
    let here = std::env::current_dir().ok();
    std::env::var_os(ASKED).is_some()
        && CompleteEnv::with_factory(super::command_line)
            .var(ASKED)
            .try_complete(arguments.iter().cloned(), here.as_deref())
            .unwrap_or(true)
}

fn offer(text: impl Into<OsString>, about: &str) -> CompletionCandidate {
    CompletionCandidate::new(text).help(Some(StyledStr::from(about.to_owned())))
}

/// Those that begin as what stands there, and files of this ending.
fn with_files(
    current: &OsStr,
    all: impl IntoIterator<Item = CompletionCandidate>,
    ending: &'static str,
) -> Vec<CompletionCandidate> {
    let begins = |one: &CompletionCandidate| one.get_value().as_encoded_bytes().starts_with(current.as_encoded_bytes());
    let mut found: Vec<CompletionCandidate> = all.into_iter().filter(begins).collect();
    let files =
        PathCompleter::any().filter(move |path| path.is_dir() || path.extension().is_some_and(|is| is == ending));
    found.extend(files.complete(current));
    found
}

/// Documents that come with the program, and those of a folder at the root.
fn documents(shipped: &[Shipped], at_root: &str) -> Vec<CompletionCandidate> {
    let root = input::here();
    let own = std::fs::read_dir(Path::new(".").join(root).join(at_root)).into_iter().flatten().flatten();
    let own = own.filter_map(|entry| {
        let path = entry.path();
        path.extension().is_some_and(|ending| ending == "toml").then(|| path.file_stem().map(OsStr::to_owned))?
    });
    let shipped = shipped.iter().map(|one| offer(one.stem, one.name));
    shipped.chain(own.map(|stem| offer(stem, "beside the recipe"))).collect()
}

/// Recipes.
pub fn recipes(current: &OsStr) -> Vec<CompletionCandidate> {
    with_files(current, [], "jig")
}

/// Board sheets.
pub fn sheets(current: &OsStr) -> Vec<CompletionCandidate> {
    with_files(current, documents(shipped::SHEETS, "boards"), "toml")
}

/// Radio cards.
pub fn cards(current: &OsStr) -> Vec<CompletionCandidate> {
    with_files(current, documents(shipped::RADIOS, "radios"), "toml")
}

/// Ports that are there, and the words for what is no port.
pub fn ports(current: &OsStr) -> Vec<CompletionCandidate> {
    let listed = ports::list();
    let there =
        listed.iter().map(|port| offer(port.info.name.as_str(), if port.plausible { "could be a board" } else { "" }));
    let words = [("virtual", "the board inside the program"), ("tcp:", "HOST:PORT"), ("udp:", "HOST:PORT")];
    let all = there.chain(words.map(|(word, about)| offer(word, about)));
    let begins = |one: &CompletionCandidate| one.get_value().as_encoded_bytes().starts_with(current.as_encoded_bytes());
    all.filter(begins).collect()
}

/// Snapshots in the records of all crafts.
pub fn snapshots(current: &OsStr) -> Vec<CompletionCandidate> {
    let crafts = folder::crafts(|name| std::env::var_os(name)).ok();
    let inside = |folder: std::path::PathBuf| std::fs::read_dir(folder).into_iter().flatten().flatten();
    let crafts = crafts.into_iter().flat_map(inside);
    let taken = crafts.flat_map(|craft| {
        let name = craft.file_name().to_string_lossy().into_owned();
        inside(craft.path().join("snapshots")).map(move |entry| offer(entry.path(), &name)).collect::<Vec<_>>()
    });
    with_files(current, taken, "json")
}

/// Codes of findings.
pub fn codes(current: &OsStr) -> Vec<CompletionCandidate> {
    let typed = current.to_string_lossy().to_lowercase();
    let findings = explain::all().map(|(code, _)| code).filter_map(explain::explain);
    let all = findings.chain(explained::codes().filter_map(explained::explain));
    all.filter(|one| one.code.to_lowercase().starts_with(&typed)).map(|one| offer(one.code, &one.about)).collect()
}
