//! The example of a collection: what it says of itself holds, and its own check finds what does not.

use super::Sandbox;
use std::path::{Path, PathBuf};
use std::process::Command;

fn copied(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() {
            copied(&path, &target);
        } else {
            std::fs::copy(&path, &target).unwrap();
        }
    }
}

/// A copy that tests may change, away from the project's own folders.
fn collection() -> (Sandbox, PathBuf) {
    let sandbox = Sandbox::new();
    let folder = sandbox.path("recipes");
    copied(&Path::new(env!("CARGO_MANIFEST_DIR")).join("recipes/collection"), &folder);
    (sandbox, folder)
}

fn verify(sandbox: &Sandbox, folder: &Path) -> (bool, String) {
    let mut command = Command::new("sh");
    sandbox.surround(&mut command);
    let binary = Path::new(env!("CARGO_BIN_EXE_quadjig")).parent().unwrap();
    let path = format!("{}:/usr/bin:/bin", binary.display());
    let output = command.arg(folder.join("verify")).env("PATH", path).output().unwrap();
    (output.status.success(), sandbox.shown(&output))
}

#[test]
fn the_collection_passes_its_own_check() {
    let (sandbox, folder) = collection();
    let (good, shown) = verify(&sandbox, &folder);
    assert!(good && shown.contains("The collection holds."), "{shown}");
}

#[test]
fn the_check_of_a_collection_finds_what_does_not_hold() {
    let (sandbox, folder) = collection();
    // Only one of them: the others have nothing new to tell.
    for entry in std::fs::read_dir(folder.join("crafts")).unwrap() {
        let path = entry.unwrap().path();
        if !path.ends_with("wren-95-bench.jig") {
            std::fs::remove_file(path).unwrap();
        }
    }
    assert!(verify(&sandbox, &folder).0);
    let craft = folder.join("crafts/wren-95-bench.jig");
    let good = std::fs::read_to_string(&craft).unwrap();
    let changed = |from: &str, to: &str| {
        assert!(good.contains(from), "{from}");
        std::fs::write(&craft, good.replace(from, to)).unwrap();
        verify(&sandbox, &folder)
    };
    for (from, to, says) in [
        ("craft quad x", "craft  quad x", "wren-95-bench.jig"),
        ("position 2", "position 0", "CF1"),
        ("keep\n\ntest arm\n", "keep\n", "CP1"),
        ("../common/guards.jig", "../../guards.jig", "RU2"),
        ("board \"Finch\"\n", "board \"Finch\"\nrequire firmware \"300.9\"\n", "does not come to its end"),
    ] {
        let (held, shown) = changed(from, to);
        assert!(!held && shown.contains(says), "{to}: {shown}");
    }
}

/// Where a folder of the collection is spoken of, it is there.
#[test]
fn its_page_names_what_is_there() {
    let page = include_str!("../../recipes/collection/README.md");
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("recipes/collection");
    let mut named = 0;
    for link in page.split("](").skip(1).filter_map(|rest| rest.split(')').next()) {
        assert!(folder.join(link).exists(), "{link}");
        named += 1;
    }
    assert_eq!(named, std::fs::read_dir(&folder).unwrap().count() - 1, "the page itself is not named");
    let hooks = include_str!("../../.pre-commit-hooks.yaml");
    let config = include_str!("../../recipes/collection/.pre-commit-config.yaml");
    for id in ["quadjig-check", "quadjig-format"] {
        assert!(hooks.contains(&format!("id: {id}")) && config.contains(&format!("id: {id}")), "{id}");
    }
}
