//! The root: which files, sheets and cards a recipe of a collection may reach, and which it never does.

use super::Sandbox;
use serde_json::Value;
use std::process::Stdio;

const PART: &str = "recipe \"Part\"\nedition 1\nnote \"from the part\"\n";

fn craft(more: &str) -> String {
    format!("recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\n{more}")
}

/// A collection below the home folder: a craft in one folder, a part in another.
fn collection() -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox
        .write("all/crafts/wren.jig", &craft("use \"../common/part.jig\"\nkeep\n"))
        .write("all/common/part.jig", PART);
    sandbox
}

fn report(sandbox: &Sandbox, recipe: &str) -> Value {
    let output = sandbox.command(&["check", "--format", "json", recipe]).output().unwrap();
    serde_json::from_slice(&output.stdout).unwrap()
}

fn errors(sandbox: &Sandbox, recipe: &str) -> Vec<String> {
    let report = report(sandbox, recipe);
    let found = report["findings"].as_array().unwrap().iter();
    found.filter(|one| one["severity"] == "error").map(|one| one["code"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn the_nearest_marked_folder_upwards_is_the_root() {
    let sandbox = collection();
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), ["RU2"], "without a mark it is the recipe's own folder");
    sandbox.write("all/quadjig.toml", "edition = 1\n");
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), [""; 0]);
    // From wherever it is named.
    let inside = sandbox.command(&["check", "wren.jig"]).current_dir(sandbox.path("all/crafts")).output().unwrap();
    assert!(inside.status.success(), "{}", sandbox.shown(&inside));
    let mut stdin = sandbox.command(&["check", "-"]);
    let mut child =
        stdin.current_dir(sandbox.path("all/crafts")).stdin(Stdio::piped()).stdout(Stdio::null()).spawn().unwrap();
    std::io::Write::write_all(&mut child.stdin.take().unwrap(), craft("use \"../common/part.jig\"\n").as_bytes())
        .unwrap();
    assert!(child.wait().unwrap().success(), "standard input stands in the current folder");
    // One mark for the whole recipe: a nearer one of a used file changes nothing.
    sandbox.write("all/common/quadjig.toml", "edition = 1\n").write("all/top.jig", PART);
    sandbox.write("all/common/part.jig", &format!("{PART}use \"../top.jig\"\n"));
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), [""; 0]);
    // A nearer one of the named recipe takes the further ones away.
    sandbox.write("all/crafts/quadjig.toml", "edition = 1\n");
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), ["RU2"]);
}

#[test]
fn a_mark_above_a_version_control_or_in_the_home_folder_marks_nothing() {
    let sandbox = collection();
    sandbox.write("all/quadjig.toml", "edition = 1\n").write("all/crafts/.git/HEAD", "");
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), ["RU2"], "a mark above the version control's root");
    std::fs::rename(sandbox.path("all/crafts/.git"), sandbox.path("all/.git")).unwrap();
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), [""; 0], "at its root");
    let sandbox = collection();
    sandbox.write("quadjig.toml", "edition = 1\n");
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), ["RU2"], "the home folder is nobody's root");
}

#[test]
fn the_mark_has_one_line() {
    for (text, why) in [
        ("", "`edition = 1`"),
        ("edition = 2\n", "edition 2 is not known"),
        ("edition = 1\nname = \"mine\"\n", "`name` is no key"),
        ("edition 1\n", "quadjig.toml"),
    ] {
        let sandbox = collection();
        sandbox.write("all/quadjig.toml", text);
        let report = report(&sandbox, "all/crafts/wren.jig");
        let first = &report["findings"][0];
        assert_eq!(first["code"], "RU12", "{report}");
        assert!(first["message"].as_str().unwrap().contains(why), "{text}: {first}");
    }
}

/// A recipe of a stranger names whatever file it likes; nothing of one that is no recipe comes back to the stranger.
#[test]
fn a_file_that_is_no_recipe_is_never_shown() {
    let sandbox = collection();
    sandbox.write("all/quadjig.toml", "edition = 1\n").write("all/common/part.jig", "password = hunter2\nkeep it\n");
    for form in ["text", "json", "sarif"] {
        let shown = sandbox.run(&["check", "--format", form, "all/crafts/wren.jig"]);
        assert!(shown.contains("RU13") && !shown.contains("hunter2") && !shown.contains("keep it"), "{shown}");
    }
    sandbox.write("all/crafts/wren.jig", &craft("use \"../common/part.toml\"\nuse \"../quadjig.toml\"\n"));
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), ["RU1", "RU1"], "recipes end in `.jig`");
}

fn finch() -> &'static str {
    include_str!("../../recipes/boards/finch.toml")
}

#[test]
fn a_board_is_looked_for_at_the_root_as_well() {
    let sandbox = collection();
    sandbox
        .write("all/quadjig.toml", "edition = 1\n")
        .write("all/boards/siskin.toml", &finch().replace("board = \"Finch\"", "board = \"Siskin\""))
        .write("all/crafts/wren.jig", &craft("").replace("Finch", "Siskin"));
    let found = report(&sandbox, "all/crafts/wren.jig");
    assert_eq!(found["recipes"][0]["filled"][0]["board"], "Siskin", "{found}");
    // One that comes with the program may lie there too, as it is.
    sandbox.write("all/boards/finch.toml", finch()).write("all/crafts/wren.jig", &craft("keep\n"));
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), [""; 0]);
    sandbox.write("all/boards/finch.toml", &finch().replace("# ", "#  "));
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), ["BB11"], "one name, two sheets");
    let refused = sandbox.command(&["rehearse", "all/crafts/wren.jig"]).output().unwrap();
    assert_eq!(refused.status.code(), Some(1), "{}", sandbox.shown(&refused));
    sandbox.write("all/boards/finch.toml", "edition = 1\nboard = \"Finch\"\n");
    assert_eq!(errors(&sandbox, "all/crafts/wren.jig"), ["BD1"]);
}

#[test]
fn a_sheet_is_named_as_it_lies_at_the_root() {
    let sandbox = collection();
    let siskin = finch().replace("board = \"Finch\"", "board = \"Siskin\"");
    sandbox
        .write("all/quadjig.toml", "edition = 1\n")
        .write("all/boards/small.toml", &siskin)
        .write("all/crafts/wren.jig", &craft("require props off\nkeep\n").replace("Finch", "Siskin"));
    for name in ["small", "Siskin", "all/boards/small.toml"] {
        let shown = sandbox.run(&["check", "--sheet", name, "all/crafts/wren.jig"]);
        assert!(shown.contains("  Siskin\n") && shown.contains("exit code: 0"), "{name}: {shown}");
    }
    let inside = sandbox.command(&["check-sheet", "Siskin"]).current_dir(sandbox.path("all/crafts")).output().unwrap();
    assert!(inside.status.success(), "{}", sandbox.shown(&inside));
    let shown = sandbox.run(&["check", "--sheet", "sisk", "all/crafts/wren.jig"]);
    assert!(shown.contains("there is no board sheet `sisk`"), "{shown}");
    sandbox.write("all/boards/finch.toml", &finch().replace("# ", "#  "));
    let shown = sandbox.run(&["check", "--sheet", "finch", "all/crafts/wren.jig"]);
    assert!(shown.contains("exit code: 1") && shown.contains("two board sheets are called `finch`"), "{shown}");
}

const CARD: &str = "edition = 1\nradio = \"Shelf\"\n\n[switches.B]\nchannel = 9\nrests = [1000, 2000]\n";

#[test]
fn a_card_is_looked_for_at_the_root_as_well() {
    let sandbox = collection();
    let bound = "require props off\nfind switch B\nbind arm to switch B position 2\nkeep\ntest arm\n";
    sandbox
        .write("all/quadjig.toml", "edition = 1\n")
        .write("all/radios/shelf.toml", CARD)
        .write("all/crafts/wren.jig", &craft(bound));
    for name in ["shelf", "Shelf", "all/radios/shelf.toml"] {
        let shown = sandbox.run(&["check", "--radio", name, "all/crafts/wren.jig"]);
        assert!(shown.contains("by the card of Shelf switch B has no position 2"), "{name}: {shown}");
    }
    sandbox.write("all/radios/other.toml", &CARD.replace("channel = 9", "channel = 8"));
    let shown = sandbox.run(&["check", "--radio", "Shelf", "all/crafts/wren.jig"]);
    assert!(shown.contains("exit code: 1") && shown.contains("two radio cards are called `Shelf`"), "{shown}");
}
