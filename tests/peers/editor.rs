//! The language server with clients of other hands: a library, scene by scene, and a whole editor without a screen.

use super::{found, project, python, run};
use crate::cli::Sandbox;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

fn scene(name: &str) {
    let Some(python) = python(&format!("peers::editor {name}")) else { return };
    run(&python, "editor.py", &[env!("CARGO_BIN_EXE_quadjig"), name], Duration::from_secs(120));
}

#[test]
fn words_have_the_colours_of_what_they_are() {
    scene("colours");
}

#[test]
fn findings_while_typing_are_those_of_check() {
    scene("findings");
}

#[test]
fn sheets_and_cards_are_judged_while_they_are_written() {
    scene("documents");
}

#[test]
fn fixes_mend_the_recipe() {
    scene("fixes");
}

#[test]
fn completion_comes_from_grammar_sheet_card_and_recipe() {
    scene("completion");
}

#[test]
fn a_word_tells_what_it_means_and_what_the_sheet_says() {
    scene("hover");
}

#[test]
fn a_statement_tells_what_it_would_change() {
    scene("against");
}

#[test]
fn names_are_found_and_renamed_over_all_files() {
    scene("names");
}

#[test]
fn the_one_layout_is_made_of_as_little_as_it_takes() {
    scene("layout");
}

#[test]
fn every_statement_stands_in_the_outline() {
    scene("outline");
}

#[test]
fn columns_count_what_was_agreed_on() {
    scene("encodings");
}

#[test]
fn files_in_buffers_on_the_disk_and_gone() {
    scene("files");
}

#[test]
fn two_clients_do_not_disturb_each_other() {
    scene("two");
}

const RECIPE: &str = "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\nnote \"𝛼 µs\"   # said\n\
    require battery out\nrequire propz off\nswitch B on channel 6 rests at 1000, 1500, 2000 on link loss 1000\n\
    bind arm to switch B position 2\nunbind self-level\nset loop-rate to 4 kHz\n  keep\ntest arm\n";

/// Set up as the README tells. Source: Neovim's own client, `:help lsp`, from 0.7 on.
#[test]
fn a_whole_editor_is_served() {
    let Some(editor) = found("peers::editor in nvim", &["nvim"]) else { return };
    let readme = std::fs::read_to_string(project().join("README.md")).unwrap();
    let (_, setup) = readme.split_once("```lua\n").unwrap();
    let (setup, _) = setup.split_once("```").unwrap();
    assert!(setup.contains("/path/to/quadjig/"), "{setup}");
    let setup = setup.replace("/path/to/quadjig/", &format!("{}/", project().display()));
    let home = Sandbox::new();
    home.write("wren.jig", RECIPE).write("init.lua", &setup);
    let mut command = Command::new(editor);
    home.surround(&mut command);
    let script = project().join("tests/peers/editor.lua");
    command.args(["--headless", "-i", "NONE", "-n", "-u"]).arg(home.path("init.lua"));
    command.arg("-c").arg(format!("luafile {}", script.display()));
    let mut path = vec![Path::new(env!("CARGO_BIN_EXE_quadjig")).parent().unwrap().to_owned()];
    path.extend(std::env::split_paths(&std::env::var_os("PATH").unwrap_or_default()));
    command.env("PATH", std::env::join_paths(path).unwrap()).env("RECIPE", home.path("wren.jig")).stdin(Stdio::null());
    let output = super::ended(command, Duration::from_secs(120));
    let said = |bytes: &[u8]| String::from_utf8_lossy(bytes).into_owned();
    assert!(output.status.success(), "{}\n{}{}", output.status, said(&output.stdout), said(&output.stderr));
}
