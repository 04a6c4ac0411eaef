//! `quadjig check` over folders, for collections and for tools that gather findings.

use super::Sandbox;
use quadjig::cli::command_line;
use serde_json::Value;

const GOOD: &str = "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\nidle at 1120\n";
const WARNED: &str =
    "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\nfailsafe cut motors after 500 ms\nkeep\n";

fn sheet() -> String {
    include_str!("../../recipes/boards/finch.toml").replace("board = \"Finch\"", "board = \"Siskin\"")
}

fn json(sandbox: &Sandbox, arguments: &[&str]) -> (i32, Value) {
    let output = sandbox.command(arguments).output().unwrap();
    (output.status.code().unwrap(), serde_json::from_slice(&output.stdout).unwrap())
}

fn collection() -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox
        .write("all/b.jig", &GOOD.replace("Finch", "Siskin"))
        .write("all/a.jig", &GOOD.replace("1120", "1300"))
        .write("all/deep/er/c.jig", GOOD)
        .write("all/boards/siskin.toml", &sheet())
        .write("all/boards/bad.toml", "edition = 1\nbord = \"Heron\"\n")
        .write("all/radios/mine.toml", "edition = 1\nradio = \"Mine\"\nswitchs = 3\n")
        .write("all/Cargo.toml", "[package]\nname = \"other\"\n")
        .write("all/notes.txt", "keep it")
        .write("all/.hidden/d.jig", "keep it");
    sandbox
}

#[test]
fn a_folder_is_every_recipe_sheet_and_card_in_it_sorted() {
    let sandbox = collection();
    let (code, report) = json(&sandbox, &["check", "--format", "json", "all"]);
    assert_eq!(code, 1);
    let files: Vec<&str> =
        report["recipes"].as_array().unwrap().iter().map(|recipe| recipe["file"].as_str().unwrap()).collect();
    assert_eq!(files, ["all/a.jig", "all/b.jig", "all/deep/er/c.jig"]);
    let codes: Vec<(&str, &str)> = report["findings"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|finding| finding["severity"] == "error")
        .map(|finding| (finding["code"].as_str().unwrap(), finding["at"]["file"].as_str().unwrap()))
        .collect();
    assert!(codes.contains(&("BD1", "all/boards/bad.toml")), "{codes:?}");
    assert!(codes.contains(&("KD1", "all/radios/mine.toml")), "{codes:?}");
    assert!(codes.contains(&("CI5", "all/a.jig")), "{codes:?}");
    assert!(codes.iter().all(|(_, file)| !file.contains("hidden") && !file.contains("Cargo")), "{codes:?}");
    // The board that nobody ships is described by the sheet that lies beside.
    assert_eq!(report["recipes"][1]["filled"][0]["board"], "Siskin");
    let text = sandbox.run(&["check", "all"]);
    assert!(text.contains("3 recipes, 2 board sheets, 1 radio card: "), "{text}");
    assert!(text.contains("all/radios/mine.toml:3:1"), "{text}");
    sandbox.write("none/notes.txt", "");
    insta::assert_snapshot!("none", sandbox.run(&["check", "none"]));
}

/// Hashes are told of a recipe that can be used, as text and as JSON alike.
#[test]
fn both_hashes_are_told() {
    let sandbox = Sandbox::new();
    let open = GOOD.replace("idle at 1120", "given floor from 1050 us to 1150 us\nidle at floor");
    sandbox.write("open.jig", &open).write("bad.jig", "keep it\n");
    let hashes = |arguments: &[&str]| json(&sandbox, arguments).1["recipes"][0].clone();
    let waiting = hashes(&["check", "--format", "json", "open.jig"]);
    assert_eq!(waiting["recipe_hash"].as_str().unwrap().len(), 64);
    assert_eq!(waiting["filled"], serde_json::json!([]), "nothing stands for the parameter yet");
    let filled = hashes(&["check", "--format", "json", "--with", "floor=1120us", "open.jig"]);
    assert_eq!(filled["recipe_hash"], waiting["recipe_hash"]);
    let text = sandbox.run(&["check", "--with", "floor=1120us", "open.jig"]);
    for hash in [&filled["recipe_hash"], &filled["filled"][0]["hash"]] {
        assert!(text.contains(hash.as_str().unwrap()), "{text}");
    }
    let other = hashes(&["check", "--format", "json", "--with", "floor=1121us", "open.jig"]);
    assert_ne!(other["filled"], filled["filled"]);
    let bad = hashes(&["check", "--format", "json", "bad.jig"]);
    assert_eq!(bad["recipe_hash"], Value::Null);
}

#[test]
fn strict_lets_no_warning_pass() {
    let sandbox = Sandbox::new();
    sandbox.write("good.jig", GOOD).write("warned.jig", WARNED);
    let code = |arguments: &[&str]| sandbox.command(arguments).output().unwrap().status.code().unwrap();
    assert_eq!(code(&["check", "warned.jig"]), 0);
    assert_eq!(code(&["check", "--strict", "warned.jig"]), 1);
    assert_eq!(code(&["check", "--strict", "good.jig"]), 0);
}

/// SARIF 2.1.0 (OASIS): sections 3.13 (log file), 3.14 (run), 3.18 and 3.19 (tool), 3.27 (result), 3.30 (region).
#[test]
fn sarif_has_what_its_standard_asks_for() {
    let sandbox = collection();
    let (code, log) = json(&sandbox, &["check", "--format", "sarif", "all", "all/a b.jig"]);
    assert_eq!(code, 1);
    assert_eq!(log["version"], "2.1.0");
    let run = &log["runs"][0];
    assert_eq!(run["columnKind"], "unicodeCodePoints");
    assert_eq!(run["tool"]["driver"]["name"], "quadjig");
    let rules: Vec<&str> =
        run["tool"]["driver"]["rules"].as_array().unwrap().iter().map(|rule| rule["id"].as_str().unwrap()).collect();
    let results = run["results"].as_array().unwrap();
    assert!(results.len() > 3);
    for result in results {
        assert!(rules.contains(&result["ruleId"].as_str().unwrap()), "{result}");
        assert!(["error", "warning", "note"].contains(&result["level"].as_str().unwrap()), "{result}");
        assert!(!result["message"]["text"].as_str().unwrap().is_empty());
        let place = &result["locations"][0]["physicalLocation"];
        assert!(!place["artifactLocation"]["uri"].as_str().unwrap().contains(' '), "{place}");
        let number = |name: &str| place["region"][name].as_u64().unwrap();
        assert!(number("startLine") >= 1 && number("startColumn") >= 1 && number("endLine") >= number("startLine"));
    }
    let (_, json) = json_of(&sandbox);
    assert_eq!(results.len(), json["findings"].as_array().unwrap().len(), "the same findings as JSON");
}

fn json_of(sandbox: &Sandbox) -> (i32, Value) {
    json(sandbox, &["check", "--format", "json", "all", "all/a b.jig"])
}

/// The hooks that a repository of recipes can name call commands and options that there are.
#[test]
fn hooks_call_what_there_is() {
    let hooks = include_str!("../../.pre-commit-hooks.yaml");
    let entries: Vec<&str> = hooks.lines().filter_map(|line| line.trim().strip_prefix("entry: ")).collect();
    assert_eq!(entries.len(), 2, "{hooks}");
    for entry in entries {
        let words = entry.split(' ').chain(["wren.jig"]);
        command_line().try_get_matches_from(words).unwrap_or_else(|error| panic!("{entry}: {error}"));
    }
}
