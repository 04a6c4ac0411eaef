//! `quadjig explain` from outside.

use super::Sandbox;
use quadjig::language::explain::all;
use quadjig::plan::explained::codes as refusals;

#[test]
fn a_code_is_explained_with_both_examples() {
    let sandbox = Sandbox::new();
    insta::assert_snapshot!("one", sandbox.run(&["explain", "CF1"]));
    assert_eq!(sandbox.run(&["explain", "cf1"]), sandbox.run(&["explain", "CF1"]));
    insta::assert_snapshot!("refusal", sandbox.run(&["explain", "plan-no-switch"]));
    insta::assert_snapshot!("unknown", sandbox.run(&["explain", "CF11"]));
    insta::assert_snapshot!("help", sandbox.run(&["explain", "--help"]));
}

#[test]
fn without_a_code_all_are_listed() {
    let sandbox = Sandbox::new();
    let listed = sandbox.run(&["explain"]);
    for (code, about) in all() {
        assert!(listed.contains(&format!("\n{code:<5} {about}\n")), "{code}");
    }
    assert!(refusals().all(|code| listed.contains(&format!("\n{code} "))), "{listed}");
    let json = sandbox.command(&["explain", "--format", "json"]).output().unwrap();
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    assert_eq!(json["schema"], "quadjig.explain/1");
    assert_eq!(json["codes"].as_array().unwrap().len(), all().count() + refusals().count());
    assert_eq!(json["codes"][0]["bad"]["is_recipe"], false);
}
