//! `quadjig manual`: manual pages, from the one command line.
//!
//! Must not be here: words about a command, which stand beside its options.

use super::output::Output;
use crate::seam::exit::Exit;
use clap_mangen::Man;
use std::path::PathBuf;

/// Print the manual page of quadjig or of one of its commands, or write all of them into a folder.
///
/// The pages are for `man`: what `--help` says, in its form.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig manual check | man -l -\n  quadjig manual --to ~/.local/share/man/man1")]
pub struct Manual {
    /// The command; left out: quadjig itself.
    #[arg(value_name = "COMMAND", conflicts_with = "to")]
    command: Option<String>,
    /// Folder that all pages are written to.
    #[arg(long, value_name = "DIR", value_hint = clap::ValueHint::DirPath)]
    to: Option<PathBuf>,
}

/// Every page, each with the name of its file.
fn pages() -> Vec<(String, Man)> {
    let mut line = super::command_line();
    line.build();
    // Words that stand for all commands are the page's own, which `build` puts under each.
    let shown = line.get_subcommands().filter(|command| !command.is_hide_set() && command.get_name() != "help");
    let commands: Vec<clap::Command> = shown
        .map(|command| {
            let name = format!("quadjig-{}", command.get_name());
            command.clone().name(name.clone()).display_name(name).disable_help_subcommand(true)
        })
        .collect();
    let page = |command: clap::Command| {
        let name = command.get_name().to_owned();
        (name.clone(), Man::new(command).title(name.to_uppercase()).manual("Quadjig"))
    };
    std::iter::once(super::command_line()).chain(commands).map(page).collect()
}

impl Manual {
    /// Prints one page, or writes all.
    pub fn run(self, out: &mut Output) -> Exit {
        if let Some(folder) = &self.to {
            return write_all(folder, out);
        }
        let wanted = self.command.as_ref().map_or_else(|| "quadjig".to_owned(), |command| format!("quadjig-{command}"));
        let Some((_, page)) = pages().into_iter().find(|(name, _)| *name == wanted) else {
            let names = pages();
            let known: Vec<&str> = names.iter().filter_map(|(name, _)| name.strip_prefix("quadjig-")).collect();
            out.error(
                &format!("there is no command `{}`", self.command.unwrap_or_default()),
                Some(&format!("commands are {}", known.join(", "))),
            );
            return Exit::Usage;
        };
        let mut text = Vec::new();
        if page.render(&mut text).is_err() {
            return Exit::Bug;
        }
        out.verbatim(&String::from_utf8_lossy(&text));
        Exit::Done
    }
}

fn write_all(folder: &std::path::Path, out: &mut Output) -> Exit {
    let written = || -> std::io::Result<usize> {
        std::fs::create_dir_all(folder)?;
        let pages = pages();
        for (name, page) in &pages {
            let mut text = Vec::new();
            page.render(&mut text)?;
            std::fs::write(folder.join(format!("{name}.1")), text)?;
        }
        Ok(pages.len())
    };
    match written() {
        Ok(count) => {
            out.message(&format!("{count} pages were written to {}.", folder.display()));
            Exit::Done
        }
        Err(error) => {
            out.error(&format!("{}: {error}", folder.display()), None);
            Exit::Link
        }
    }
}
