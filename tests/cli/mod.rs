//! Tests of `src/cli/`: the built binary in a world of its own, stdout, stderr and exit code whole.

#[cfg(unix)]
pub mod attended;
mod cable_tried;
mod check;
mod check_sheet;
mod collection;
#[cfg(unix)]
mod completions;
#[cfg(unix)]
mod crafts;
#[cfg(unix)]
pub mod desk;
mod diff;
mod explain;
mod format;
#[cfg(target_os = "linux")]
mod guardian;
#[cfg(unix)]
pub mod hostile;
#[cfg(unix)]
mod interactive;
#[cfg(unix)]
mod listen;
pub mod pages;
#[cfg(unix)]
mod played;
mod rehearse;
mod reviews;
mod robust;
mod root;
#[cfg(unix)]
mod series;
#[cfg(unix)]
mod shared;
#[cfg(unix)]
mod sheet_tried;
#[cfg(unix)]
mod signing;
#[cfg(unix)]
mod watch;

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

/// An empty folder to work in, with its own home; nothing of the machine's settings comes in.
pub struct Sandbox {
    folder: tempfile::TempDir,
}

impl Sandbox {
    /// A fresh one.
    pub fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    /// Writes a file, and the folders above it.
    pub fn write(&self, name: &str, text: &str) -> &Self {
        let path = self.path(name);
        std::fs::create_dir_all(path.parent().unwrap()).unwrap();
        std::fs::write(path, text).unwrap();
        self
    }

    /// Where a file is.
    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// The whole environment of a program that runs here.
    pub fn environment(&self) -> Vec<(&'static str, PathBuf)> {
        let home = self.folder.path();
        vec![
            ("HOME", home.to_owned()),
            ("XDG_DATA_HOME", home.join("data")),
            ("XDG_CONFIG_HOME", home.join("config")),
            ("XDG_STATE_HOME", home.join("state")),
            ("XDG_CACHE_HOME", home.join("cache")),
            ("NO_COLOR", "1".into()),
            ("TERM", "dumb".into()),
            ("COLUMNS", "100".into()),
        ]
    }

    /// The binary, ready to run here.
    pub fn command(&self, arguments: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_quadjig"));
        self.surround(&mut command);
        command.args(arguments).stdin(Stdio::null());
        command
    }

    /// Lets a program run here, with nothing of the machine's settings.
    pub fn surround(&self, command: &mut Command) {
        command.current_dir(self.folder.path()).env_clear().envs(self.environment());
    }

    /// Runs it and shows all that came of it.
    pub fn run(&self, arguments: &[&str]) -> String {
        self.shown(&self.command(arguments).output().unwrap())
    }

    /// Shows all that came of a program that ran here.
    pub fn shown(&self, output: &Output) -> String {
        shown(output, self.folder.path())
    }
}

/// Exit code, stdout and stderr in one text, the sandbox's own folder left out.
pub fn shown(output: &Output, folder: &Path) -> String {
    let mut all = format!("exit code: {}\n", output.status.code().unwrap());
    for (name, bytes) in [("stdout", &output.stdout), ("stderr", &output.stderr)] {
        let text = std::str::from_utf8(bytes).unwrap().replace(&folder.display().to_string(), "SANDBOX");
        if !text.is_empty() {
            write!(all, "--- {name}\n{text}").unwrap();
        }
    }
    all
}

/// Every command says what it does, with an example.
#[test]
fn every_command_has_an_example() {
    let line = quadjig::cli::command_line();
    line.clone().debug_assert();
    for command in std::iter::once(&line).chain(line.get_subcommands().filter(|command| !command.is_hide_set())) {
        let help = command.clone().render_long_help().to_string();
        assert!(help.contains("Example"), "{}: {help}", command.get_name());
    }
}

/// The table of exit codes is a promise to scripts, and stands in `DEVELOPERS.md` as well.
#[test]
fn exit_codes_are_as_promised() {
    use quadjig::seam::exit::Exit;
    use quadjig::seam::fault::Fault;
    let told = include_str!("../../DEVELOPERS.md");
    let all = [
        (Exit::Done, 0),
        (Exit::Document, 1),
        (Exit::Usage, 2),
        (Exit::Pending, 3),
        (Exit::Stopped, 4),
        (Exit::Link, 5),
        (Exit::Unproved, 6),
        (Exit::Bug, 70),
    ];
    for (exit, code) in all {
        assert_eq!(exit.code(), code);
        assert!(told.contains(&format!("\n| {code} | `{exit:?}` |")), "{exit:?}");
    }
    // A thread or a terminal that can't be had is no wrong recipe.
    assert_eq!(Fault::System("no thread".to_owned()).exit(), Exit::Bug);
}
