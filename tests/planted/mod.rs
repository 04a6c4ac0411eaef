//! Planted defects: a safety rule is taken out of a copy of the tree, and the tests named beside it must fail.
//!
//! `cargo test --test all planted::every_defect_is_found -- --ignored --nocapture` builds one copy that holds them all,
//! runs each defect's tests with it alone switched on, and prints who found it; `QUADJIG_PLANTED=word,word` takes those
//! whose name has one of the words. What is fast stands in the ordinary suite: that every entry still fits its file, and names tests that are
//! there. Must not be here: a rule without its place in the documents, or a change that a compiler would refuse.

mod catalogue;
mod copy;
mod run;

use crate::docs::{project, text};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;

/// The names of all tests, as this very binary tells them.
fn tests() -> BTreeSet<String> {
    let listed =
        std::process::Command::new(std::env::current_exe().unwrap()).args(["--list", "--format=terse"]).output();
    let listed = String::from_utf8(listed.unwrap().stdout).unwrap();
    listed.lines().filter_map(|line| line.strip_suffix(": test")).map(str::to_owned).collect()
}

#[test]
fn every_defect_still_fits_and_names_tests_that_are_there() {
    let defects = catalogue::all();
    let mut names = BTreeSet::new();
    let there = tests();
    for defect in &defects {
        assert!(names.insert(&defect.name), "{} stands twice", defect.name);
        assert!(defect.rule.contains(": "), "{} names no place of a document", defect.name);
        assert!(!defect.tests.is_empty(), "{} names no test", defect.name);
        for test in &defect.tests {
            assert!(there.contains(test), "{}: there is no test {test}", defect.name);
        }
    }
    for (file, planted) in copy::by_file(&defects) {
        copy::plant(&text(file), &planted).unwrap_or_else(|why| panic!("{file}: {why}"));
    }
}

/// A defect that does not fit is refused, never left out.
#[test]
fn what_does_not_stand_exactly_once_or_overlaps_is_refused() {
    let plant = |changes: &[(&str, &str, &str)]| copy::plant("a + b; c(a);", changes);
    let planted = |code: &str, or: &str| format!("if crate::planted(\"x\") {{ {code} }} else {{ {or} }}");
    assert_eq!(plant(&[("x", "b; «c(a);»", "d();")]), Ok(format!("a + b; {}", planted("d();", "c(a);"))));
    assert_eq!(plant(&[("x", "«a» +", "z")]), Ok(format!("({}) + b; c(a);", planted("z", "a"))));
    assert!(plant(&[("x", "a", "z")]).unwrap_err().contains("2 times"));
    assert!(plant(&[("x", "q", "z")]).unwrap_err().contains("0 times"));
    assert!(plant(&[("x", "a + b", "z"), ("y", "b; «c(a);»", "d();")]).is_ok());
    assert!(plant(&[("x", "a + b", "z"), ("y", "+ «b»", "d")]).unwrap_err().contains("overlaps"));
    assert!(plant(&[("x", "a + b", "z"), ("y", "a + b", "q")]).unwrap().contains("else if crate::planted(\"y\")"));
}

/// How many rules of each place of the documents are taken out, as it stands in `DEVELOPERS.md`.
fn places(defects: &[catalogue::Defect]) -> String {
    let mut places: BTreeMap<&str, usize> = BTreeMap::new();
    for place in defects.iter().filter_map(|defect| defect.rule.split(':').next()) {
        *places.entry(place).or_default() += 1;
    }
    let rows = places.iter().map(|(place, taken)| format!("| {place} | {taken} |\n"));
    format!("| place | rules taken out |\n|---|---|\n{}", rows.collect::<String>())
}

/// Whoever adds an entry runs it, and says so there.
#[test]
fn the_table_in_the_developers_document_is_of_this_catalogue() {
    let table = places(&catalogue::all());
    assert!(text("DEVELOPERS.md").contains(&table), "once all are found, this belongs there:\n{table}");
}

#[test]
#[ignore = "builds a copy of the tree, and takes minutes"]
#[expect(clippy::print_stdout, reason = "a table is what it is for")]
fn every_defect_is_found() {
    let wanted = std::env::var("QUADJIG_PLANTED").unwrap_or_default();
    let all = catalogue::all();
    let copy = project().join("target/planted");
    copy::make(&copy, &all);
    let built = run::build(&copy);
    let is_wanted = |name: &str| wanted.split(',').any(|part| name.contains(part));
    let defects: Vec<_> = all.iter().filter(|defect| is_wanted(&defect.name)).collect();
    // Each of them passes in the same build while nothing is switched on: else a failure shows nothing.
    let named: BTreeSet<String> = defects.iter().flat_map(|defect| defect.tests.clone()).collect();
    // Some sit at real terminals, and a busy machine fails them once.
    let again = built.failing("", &built.failing("", &named));
    assert!(again.is_empty(), "with no rule taken out these fail: {again:?}");
    let mut escaped = Vec::new();
    let mut table = "| rule | taken out | found by |\n|---|---|---|\n".to_owned();
    for defect in defects {
        let failing = built.failing(&defect.name, &defect.tests);
        let told = |test: &String| if failing.contains(test) { format!("`{test}`") } else { format!("ESCAPED {test}") };
        let by = defect.tests.iter().map(told).collect::<Vec<_>>().join(", ");
        println!("{}: {by}", defect.name);
        writeln!(table, "| {} | {} | {by} |", defect.rule, defect.name).unwrap();
        if failing.len() < defect.tests.len() {
            escaped.push(&defect.name);
        }
    }
    std::fs::write(copy.join("table.md"), &table).unwrap();
    println!("\n{table}\n{}", places(&all));
    assert!(escaped.is_empty(), "not found: {escaped:?}");
}

/// How the judge of the world under faults is judged: rules are taken out, and seeds are played until one finds it.
/// `QUADJIG_PLANTED` names them, with commas; `QUADJIG_FAULTS` says how many seeds.
#[test]
#[ignore = "builds a copy of the tree, and takes minutes"]
#[expect(clippy::print_stdout, reason = "a table is what it is for")]
fn defects_under_faults() {
    let wanted = std::env::var("QUADJIG_PLANTED").unwrap_or_default();
    let seeds = std::env::var("QUADJIG_FAULTS").unwrap_or_else(|_| "500".to_owned());
    let all = catalogue::all();
    let copy = project().join("target/planted");
    copy::make(&copy, &all);
    let built = run::build(&copy);
    println!("with no rule taken out: {}", built.seeds("", &seeds));
    for name in wanted.split_terminator(',') {
        assert!(all.iter().any(|defect| defect.name == name), "there is no entry {name}");
        println!("{name}: {}", built.seeds(name, &seeds));
    }
}

/// Which rules of the interlock and the machines beside it the model misses when they are taken out: all of them, or those
/// that `QUADJIG_PLANTED` names, with commas, within the bounds of `QUADJIG_MODEL`.
#[test]
#[ignore = "builds a copy of the tree, and takes minutes"]
#[expect(clippy::print_stdout, reason = "a table is what it is for")]
fn defects_in_the_model() {
    let wanted = std::env::var("QUADJIG_PLANTED").unwrap_or_default();
    let bounds = std::env::var("QUADJIG_MODEL").unwrap_or_else(|_| "2,2,1".to_owned());
    let all = catalogue::all();
    let copy = project().join("target/planted");
    copy::make(&copy, &all);
    let built = run::build(&copy);
    println!("with no rule taken out: {}", built.model("", &bounds));
    let rooms = ["src/interlock/", "src/machines/writer.rs", "src/world/guardian/machine.rs"];
    for defect in &all {
        let named = wanted.split_terminator(',').any(|name| name == defect.name);
        let there = defect.changes().all(|(file, ..)| rooms.iter().any(|room| file.starts_with(room)));
        if named || (wanted.is_empty() && there) {
            println!("{}: {}", defect.name, built.model(&defect.name, &bounds));
        }
    }
}
