//! README: its recipes pass the check, its cautions are those of every run, its tables are the code's.

use super::blocks::{blocks, table};
use super::{files, project, text};
use crate::cli::Sandbox;
use quadjig::report::cautions;
use std::collections::BTreeSet;

/// Checks a recipe in a copy of the shipped folder, as the command does.
fn checks(name: &str, recipe: &str) {
    let sandbox = Sandbox::new();
    sandbox.write(name, recipe);
    for path in files("recipes", ".jig").into_iter().chain(files("recipes", ".toml")) {
        let used = path.display().to_string();
        sandbox.write(&used, &text(&used));
    }
    let shown = sandbox.run(&["check", name]);
    assert!(shown.starts_with("exit code: 0\n"), "{name}: {shown}");
}

#[test]
fn every_recipe_in_the_texts_passes_the_check() {
    let mut seen = 0;
    for file in ["README.md", "DEVELOPERS.md", "grammar/manual.md"] {
        for block in blocks(&text(file)).iter().filter(|block| block.language == "jig") {
            checks(&format!("{}-line-{}.jig", file.replace('/', "-"), block.line), &block.text);
            seen += 1;
        }
    }
    assert!(seen >= 2, "README shows recipes");
}

#[test]
fn every_shipped_recipe_passes_the_check_and_is_in_the_one_layout() {
    for path in files("recipes", ".jig") {
        let name = path.display().to_string();
        let recipe = text(&name);
        checks(&name, &recipe);
        assert_eq!(quadjig::language::format::format(&recipe).as_deref(), Ok(recipe.as_str()), "{name}");
    }
}

/// The cautions stand in the README word for word, each sentence a list item of its own.
#[test]
fn the_cautions_are_those_of_every_run() {
    let readme = text("README.md");
    let flat = readme.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains(cautions::FOREWORD), "the foreword");
    let items: Vec<&str> = readme
        .lines()
        .filter_map(|line| line.split_once(". ").filter(|(n, _)| n.parse::<u8>().is_ok()))
        .map(|(_, item)| item)
        .collect();
    let wanted: Vec<&str> = cautions::BENCH.into_iter().chain(cautions::FLIGHT).collect();
    assert_eq!(items, wanted, "all cautions, in their order, and no other numbered list");
}

/// The table of exit codes in both texts is the one of the code.
#[test]
fn exit_codes_are_told_in_full() {
    for file in ["README.md", "DEVELOPERS.md"] {
        let told: Vec<String> = table(&text(file), "## Exit codes").into_iter().map(|row| row[0].clone()).collect();
        assert_eq!(told, ["0", "1", "2", "3", "4", "5", "6", "70"], "{file}");
    }
}

/// Every command for people stands in the README's table, and no other.
#[test]
fn every_command_is_told() {
    let rows = table(&text("README.md"), "## Commands");
    let told: BTreeSet<&str> = rows.iter().map(|row| row[0].trim_matches('`')).collect();
    let line = quadjig::cli::command_line();
    let there: BTreeSet<&str> =
        line.get_subcommands().filter(|it| !it.is_hide_set()).map(clap::Command::get_name).collect();
    assert_eq!(told, there);
}

/// Whoever follows a link finds something there.
#[test]
fn files_that_are_linked_exist() {
    for file in ["README.md", "DEVELOPERS.md"] {
        let text = text(file);
        for link in text.split("](").skip(1).filter_map(|rest| rest.split_once(')')).map(|(link, _)| link) {
            assert!(link.contains("://") || link.starts_with('#') || project().join(link).exists(), "{file}: {link}");
        }
    }
}

/// The recipes in the README are those in the files that it names, comments above the title aside.
#[test]
fn recipes_in_the_readme_are_the_shipped_ones() {
    let shipped: Vec<String> = files("recipes", ".jig").iter().map(|path| text(&path.display().to_string())).collect();
    for block in blocks(&text("README.md")).iter().filter(|block| block.language == "jig") {
        assert!(shipped.iter().any(|recipe| recipe.ends_with(&block.text)), "README.md, line {}", block.line);
    }
}
