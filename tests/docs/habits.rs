//! Habits of the tree that a machine can hold: headers, lengths, arrows, what may lie where.

use super::{files, project, text};
use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

const LONGEST: usize = 400;

fn name(path: &Path) -> String {
    path.to_string_lossy().replace('\\', "/")
}

#[test]
fn every_source_file_says_what_it_is_for() {
    for path in files("src", ".rs").into_iter().chain(files("tests", ".rs")) {
        let name = name(&path);
        let text = text(&name);
        let header = text.lines().take_while(|line| line.starts_with("//!")).count();
        assert!(header >= 1, "{name} begins with no header");
        let blanks_and_code = text.lines().count() - header;
        assert!(blanks_and_code > 1, "{name} holds nothing but its header");
    }
}

#[test]
fn no_source_file_is_too_long_to_hold_in_a_head() {
    let long: Vec<(String, usize)> = files("src", ".rs")
        .iter()
        .map(|path| (name(path), text(&name(path)).lines().count()))
        .filter(|(_, lines)| *lines > LONGEST)
        .collect();
    assert_eq!(long, [], "look for the second subject in these");
}

/// What a folder of `src/` may import, itself aside. Arrows point up the table in `DEVELOPERS.md`.
const ARROWS: [(&str, &[&str]); 15] = [
    ("language", &["measure"]),
    ("measure", &[]),
    ("virtual_board", &["measure"]),
    ("board", &["language", "measure"]),
    ("record", &["language", "measure", "board"]),
    ("plan", &["language", "measure", "board", "record"]),
    ("seam", &["language", "measure", "board", "record", "plan"]),
    ("machines", &["measure", "seam"]),
    ("interlock", &["language", "measure", "board", "plan", "seam"]),
    ("bench", &["language", "measure", "board", "record", "plan", "seam", "interlock"]),
    ("world", &["language", "measure", "board", "record", "plan", "seam", "machines", "bench", "virtual_board"]),
    ("rehearsal", &["language", "measure", "board", "record", "plan", "seam", "machines", "bench", "virtual_board"]),
    ("report", &["language", "measure", "board", "record", "plan", "seam", "world", "rehearsal"]),
    ("language_server", &["language", "measure", "board", "record", "plan", "report"]),
    (
        "cli",
        &[
            "language",
            "language_server",
            "measure",
            "board",
            "record",
            "plan",
            "seam",
            "bench",
            "virtual_board",
            "world",
            "rehearsal",
            "report",
        ],
    ),
];

#[test]
fn arrows_point_up() {
    for (folder, may) in ARROWS {
        for path in files(&format!("src/{folder}"), ".rs") {
            let name = name(&path);
            for line in text(&name).lines().filter(|line| !line.trim_start().starts_with("//")) {
                for part in line.split("crate::").skip(1) {
                    let part: String = part.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                    let fits = part == folder || may.contains(&part.as_str()) || part.is_empty();
                    assert!(fits, "{name} imports {part}: {line}");
                }
            }
        }
    }
}

/// The file of a module, by its path below `src/`.
fn file_of(module: &[&str]) -> Option<String> {
    let path = format!("src/{}", module.join("/"));
    [format!("{path}.rs"), format!("{path}/mod.rs")].into_iter().find(|file| project().join(file).exists())
}

/// Reads a path of modules, and those of the group at its end, each whole; what stands behind them is given back.
fn spread<'t>(mut text: &'t str, before: &str, found: &mut Vec<String>) -> &'t str {
    let (path, rest) =
        text.split_at(text.find(|c: char| !c.is_alphanumeric() && !"_:".contains(c)).unwrap_or(text.len()));
    let path = format!("{before}{path}");
    let Some(group) = rest.strip_prefix('{').filter(|_| path.ends_with("::")) else {
        found.push(path);
        return rest;
    };
    text = group.trim_start();
    while !text.is_empty() && !text.starts_with('}') {
        text = spread(text, &path, found).trim_start_matches(|c| !",}".contains(c));
        text = text.strip_prefix(',').unwrap_or(text).trim_start();
    }
    text.get(1..).unwrap_or_default()
}

/// The files whose modules a file names from the top or from a folder above it. A folder's own file is one thing with all
/// that lies in it: it gives out what they have.
fn named(file: &str) -> BTreeSet<String> {
    let code = code(file).join("\n");
    let own = file.trim_start_matches("src/").trim_end_matches(".rs").trim_end_matches("/mod");
    let own: Vec<&str> = own.split('/').collect();
    let mut paths = Vec::new();
    let starts = ["crate::", "super::"].into_iter().flat_map(|start| code.match_indices(start));
    for (at, _) in starts.filter(|(at, _)| !code[..*at].ends_with(|c: char| c.is_alphanumeric() || "_:".contains(c))) {
        spread(&code[at..], "", &mut paths);
    }
    let files = paths.iter().filter_map(|path| {
        let up = path.split("::").take_while(|part| *part == "super").count();
        let above = if up == 0 { &[] } else { &own[..own.len() - up] };
        let parts = path.split("::").skip(up.max(1)).filter(|part| !part.is_empty());
        let mut module: Vec<&str> = above.iter().copied().chain(parts).collect();
        while !module.is_empty() && file_of(&module).is_none() {
            module.pop();
        }
        file_of(&module).filter(|_| !own.starts_with(&module))
    });
    files.collect()
}

/// What adds to the virtual board's `World` imports it; `world.rs` calls that by name alone, as it is one thing with it.
#[test]
fn files_import_each_other_one_way() {
    let all = files("src", ".rs").into_iter().map(|path| name(&path));
    let mut left: BTreeMap<String, BTreeSet<String>> = all.map(|file| (file.clone(), named(&file))).collect();
    assert!(left.values().map(BTreeSet::len).sum::<usize>() > 3000, "few import anything: {left:?}");
    loop {
        let before = left.len();
        let files: BTreeSet<String> = left.keys().cloned().collect();
        left.retain(|_, uses| !uses.is_disjoint(&files));
        if left.len() == before {
            break;
        }
    }
    assert!(left.is_empty(), "these import each other, in a circle or through one: {left:#?}");
}

/// Lines of code of a file, without comments and without the tests at its end.
fn code(name: &str) -> Vec<String> {
    let text = text(name);
    let code = text.split("#[cfg(test)]\nmod tests").next().unwrap_or_default();
    code.lines().filter(|line| !line.trim_start().starts_with("//")).map(str::to_owned).collect()
}

/// What lets a request leave, and where a session stands, is made in one room. Fields and constructors are private too;
/// this also finds what would be opened up.
#[test]
fn only_the_interlock_makes_what_lets_a_request_leave() {
    let made = ["Stillness(", "Clearance(", "Confirmed {", "Permit {", "Warrant {", "Contact {", "TypedWord {"];
    let inside = "src/interlock/";
    let mut found = BTreeSet::new();
    for path in files("src", ".rs") {
        let name = name(&path);
        for line in code(&name) {
            for token in made {
                let own = line
                    .find(token)
                    .is_some_and(|at| !line[..at].ends_with(|before: char| before.is_alphanumeric() || before == '_'));
                if own && name.starts_with(inside) {
                    found.insert(token);
                }
                assert!(!own || name.starts_with(inside), "{name} makes what only the interlock may: {line}");
            }
        }
    }
    // Words are typed to one prompt, which is opened in one place.
    for path in files("src", ".rs") {
        let name = name(&path);
        let opens = code(&name).iter().any(|line| line.contains("Prompt::open("));
        assert!(!opens || name == "src/bench/session/ask.rs", "{name} opens a prompt of its own");
    }
    // Whatever was renamed is looked for under its new name.
    assert_eq!(found.len(), made.len(), "of {made:?} only these are made at all: {found:?}");
}

#[test]
fn the_state_is_set_in_one_place() {
    let mut places = Vec::new();
    for path in files("src/interlock", ".rs").into_iter().chain(files("src/bench", ".rs")) {
        let name = name(&path);
        for line in code(&name) {
            let line = line.trim();
            let sets = line.contains("phase = ") && !line.starts_with("let ") || line.contains("phase: Phase::");
            if sets || line.contains(".after(Happening") {
                places.push(format!("{name}: {line}"));
            }
        }
    }
    let expected = [
        "src/interlock/events.rs: self.phase = next;",
        "src/interlock/phase.rs: self.after(Happening::Invite).is_some()",
    ];
    assert_eq!(places, expected);
}

/// What is known of a craft is read outside the interlock, and set inside.
#[test]
fn nothing_of_the_interlock_can_be_set_from_outside() {
    for (file, head) in [
        ("mod.rs", "pub struct Interlock {"),
        ("tokens.rs", "pub struct Confirmed {"),
        ("guardian.rs", "pub struct Guardian {"),
        ("stream.rs", "pub struct Stream<T> {"),
    ] {
        let text = text(&format!("src/interlock/{file}"));
        let body = text.split(head).nth(1).and_then(|rest| rest.split("\n}").next());
        let body = body.unwrap_or_else(|| panic!("{file} has no {head}"));
        assert!(!body.contains("    pub "), "a field of {head} in {file} is open");
    }
    for (file, head) in [
        ("contact.rs", "pub(super) struct Contact {"),
        ("authority.rs", "pub(super) struct Warrant {"),
        ("tokens.rs", "pub struct Stillness(pub(super) "),
        ("tokens.rs", "pub struct Clearance(pub(super) "),
        ("tokens.rs", "pub(super) struct Permit {"),
    ] {
        assert!(text(&format!("src/interlock/{file}")).contains(head), "{head} in {file} is open, or renamed");
    }
}

/// The map of the house says how large the room is that a reviewer has to read.
#[test]
fn the_size_of_the_interlock_is_told_as_it_is() {
    let lines: usize = files("src/interlock", ".rs").iter().map(|path| text(&name(path)).lines().count()).sum();
    let hundreds = (lines + 50) / 100;
    let told = format!("about {},{}00 lines", hundreds / 10, hundreds % 10);
    assert!(text("DEVELOPERS.md").contains(&told), "the interlock has {lines} lines: {told}");
}

/// Files and folders that are named in the map and the tables are there.
#[test]
fn what_developers_are_sent_to_exists() {
    for word in text("DEVELOPERS.md").split('`').skip(1).step_by(2) {
        let path = word.contains('/') && !word.contains([' ', ':', '\n']) && !word.starts_with("quadjig.");
        let places = ["", "src/", "tests/"].map(|folder| super::project().join(format!("{folder}{word}")));
        let made = ["target/", "/"].iter().any(|start| word.starts_with(start));
        assert!(!path || made || places.iter().any(|place| place.exists()), "there is no {word}");
    }
}

#[test]
fn the_top_holds_only_what_it_may() {
    let may: BTreeSet<&str> = [
        ".ci",
        ".clippy.toml",
        ".gitignore",
        ".pre-commit-hooks.yaml",
        ".rustfmt.toml",
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "README.md",
        "grammar",
        "recipes",
        "src",
        "tests",
    ]
    .into();
    // What git ignores, git itself, and what the system leaves behind is not the project's.
    let others = ["target", ".git", ".DS_Store"];
    for entry in std::fs::read_dir(super::project()).unwrap() {
        let entry = entry.unwrap().file_name().into_string().unwrap();
        assert!(may.contains(entry.as_str()) || others.contains(&entry.as_str()), "{entry} lies at the top");
    }
    for name in may {
        assert!(super::project().join(name).exists(), "{name} is missing");
    }
}

/// Words that promise work later instead of doing it, and paths of somebody's machine.
#[test]
fn nothing_is_marked_for_later() {
    let marks = [["TO", "DO"].concat(), ["FIX", "ME"].concat(), ["XX", "X"].concat(), ["todo", "!("].concat()];
    let all = ["src", "tests", "recipes", "grammar"].into_iter().flat_map(|folder| files(folder, ""));
    for path in all {
        let name = name(&path);
        let Ok(text) = std::fs::read_to_string(super::project().join(&path)) else { continue };
        for mark in &marks {
            assert!(!text.contains(mark.as_str()), "{name} says {mark}");
        }
    }
}

/// What the README says passes all tests is what is run before a change goes in.
#[test]
fn the_readmes_test_command_is_the_one_that_is_run() {
    let command = "cargo test --locked";
    let readme = super::blocks::blocks(&text("README.md"));
    assert!(readme.iter().any(|block| block.language == "sh" && block.text == format!("{command}\n")));
    assert!(text(".ci/run").lines().last().unwrap().starts_with(&format!("step {command} ")));
}
