//! `quadjig format` from outside.

use super::Sandbox;

const UNTIDY: &str =
    "recipe   \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\nidle at   1120us   # found on the bench\n";

fn untidy() -> (Sandbox, String) {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", UNTIDY);
    let tidy = quadjig::language::format::format(UNTIDY).unwrap();
    assert_ne!(tidy, UNTIDY);
    (sandbox, tidy)
}

fn content(sandbox: &Sandbox) -> String {
    std::fs::read_to_string(sandbox.path("wren.jig")).unwrap()
}

#[test]
fn a_recipe_is_rewritten_once() {
    let (sandbox, tidy) = untidy();
    insta::assert_snapshot!("rewritten", sandbox.run(&["format", "wren.jig"]));
    assert_eq!(content(&sandbox), tidy);
    insta::assert_snapshot!("again", sandbox.run(&["format", "wren.jig"]));
    assert_eq!(content(&sandbox), tidy);
}

#[test]
fn check_writes_nothing_and_says_what_is_pending() {
    let (sandbox, tidy) = untidy();
    sandbox.write("tidy.jig", &tidy);
    insta::assert_snapshot!("pending", sandbox.run(&["format", "--check", "wren.jig", "tidy.jig"]));
    insta::assert_snapshot!(
        "pending-json",
        sandbox.run(&["format", "--check", "--format", "json", "wren.jig", "tidy.jig"])
    );
    assert_eq!(content(&sandbox), UNTIDY);
}

#[test]
fn a_recipe_that_cannot_be_read_stays_as_it_is() {
    let sandbox = Sandbox::new();
    let wrong = format!("{UNTIDY}idle att 1120\n");
    sandbox.write("wren.jig", &wrong);
    insta::assert_snapshot!("wrong", sandbox.run(&["format", "wren.jig", "nowhere.jig"]));
    assert_eq!(content(&sandbox), wrong);
}

/// A link to a recipe stays a link, and the file's permissions stay its own.
#[cfg(unix)]
#[test]
fn links_and_permissions_stay() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let (sandbox, tidy) = untidy();
    symlink("wren.jig", sandbox.path("link.jig")).unwrap();
    std::fs::set_permissions(sandbox.path("wren.jig"), std::fs::Permissions::from_mode(0o640)).unwrap();
    sandbox.run(&["format", "link.jig"]);
    assert_eq!(content(&sandbox), tidy);
    assert!(std::fs::symlink_metadata(sandbox.path("link.jig")).unwrap().is_symlink());
    assert_eq!(std::fs::metadata(sandbox.path("wren.jig")).unwrap().permissions().mode() & 0o777, 0o640);
    let left: Vec<_> = std::fs::read_dir(sandbox.path("")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert_eq!(left.len(), 2, "nothing is left behind: {left:?}");
}

#[test]
fn help_has_an_example() {
    insta::assert_snapshot!("help", Sandbox::new().run(&["format", "--help"]));
}
