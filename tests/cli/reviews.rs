//! Reviews of recipes from outside, held against OpenSSH's own `ssh-keygen -Y`; where there is none, nothing is held.

use super::Sandbox;
use serde_json::Value;
use std::path::PathBuf;
use std::process::{Command, Output, Stdio};

const RECIPE: &str = "recipe \"Wren 95\"
edition 1
craft quad x
board \"Finch\"
use \"common.jig\"
channels roll, pitch, throttle, yaw
switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged
bind arm to switch B position 2
keep
";

const COMMON: &str =
    "recipe \"Common\"\nedition 1\nrequire props off\nrequire battery out\nfailsafe cut motors after 500 ms\n";

struct Desk {
    sandbox: Sandbox,
}

impl Desk {
    /// A recipe, and keys of several kinds; nothing where there is no `ssh-keygen`.
    fn new() -> Option<Self> {
        let sandbox = Sandbox::new();
        sandbox.write("wren.jig", RECIPE);
        sandbox.write("common.jig", COMMON);
        let desk = Self { sandbox };
        let kinds = [("ed", "ed25519", ""), ("other", "ed25519", ""), ("ec", "ecdsa", ""), ("rsa", "rsa", "")];
        for (name, kind, passphrase) in kinds.into_iter().chain([("locked", "ed25519", "a secret")]) {
            let made = desk.ssh(&["-q", "-t", kind, "-N", passphrase, "-C", name, "-f", name], "")?;
            assert!(made.status.success(), "{made:?}");
        }
        desk.trust(&[("alba", "", "ed"), ("bo", "", "ec")]);
        Some(desk)
    }

    fn ssh(&self, arguments: &[&str], input: &str) -> Option<Output> {
        let mut command = Command::new("ssh-keygen");
        self.sandbox.surround(&mut command);
        command.env("PATH", "/usr/local/bin:/usr/bin:/bin").args(arguments);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut process = command.spawn().ok()?;
        std::io::Write::write_all(&mut process.stdin.take().unwrap(), input.as_bytes()).unwrap();
        Some(process.wait_with_output().unwrap())
    }

    /// The operator's own file: who, options, key.
    fn trust(&self, lines: &[(&str, &str, &str)]) {
        let line = |(who, options, key): &(&str, &str, &str)| {
            let key = std::fs::read_to_string(self.sandbox.path(&format!("{key}.pub"))).unwrap();
            format!("{who} {options} {key}")
        };
        let text: String = lines.iter().map(line).collect();
        self.sandbox.write("config/quadjig/allowed_signers", &format!("# Mine.\n\n{text}"));
    }

    fn run(&self, arguments: &[&str]) -> String {
        self.sandbox.run(arguments)
    }

    fn sign(&self, reviewer: &str, key: &str) -> String {
        self.run(&["review", "sign", "wren.jig", "--reviewer", reviewer, "--key", key, "--read", "--rehearsed", "100"])
    }

    /// Exit code and what is told.
    fn show(&self) -> (i32, Value) {
        let output = self.sandbox.command(&["review", "show", "wren.jig", "--format", "json"]).output().unwrap();
        let told = serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{output:?}"));
        (output.status.code().unwrap(), told)
    }

    /// The statements, the first one first.
    fn statements(&self) -> Vec<PathBuf> {
        let entries = std::fs::read_dir(self.sandbox.path("wren.jig.reviews")).unwrap();
        let mut files: Vec<PathBuf> = entries.map(|entry| entry.unwrap().path()).collect();
        files.retain(|path| path.extension().is_some_and(|ending| ending == "toml"));
        files.sort();
        files
    }

    /// What `ssh-keygen` thinks of a statement by this reviewer.
    fn verified(&self, reviewer: &str, statement: &std::path::Path) -> bool {
        let text = std::fs::read_to_string(statement).unwrap();
        let (signers, signature) = ("config/quadjig/allowed_signers", format!("{}.sig", statement.display()));
        let verify = ["-Y", "verify", "-f", signers, "-I", reviewer, "-n", "quadjig-review", "-s", &signature];
        self.ssh(&verify, &text).unwrap().status.success()
    }
}

#[test]
fn what_is_signed_here_is_verified_by_openssh_and_told_wherever_the_recipe_is() {
    let Some(desk) = Desk::new() else { return };
    assert_eq!(
        desk.show(),
        (
            3,
            serde_json::json!({
                "schema": "quadjig.review-show/1", "recipe": "wren.jig", "reviews": [], "unreadable": [],
            })
        )
    );
    for (reviewer, key) in [("alba", "ed"), ("bo", "ec")] {
        let signed = desk.sign(reviewer, key);
        assert!(signed.starts_with("exit code: 0\n--- stdout\nSigned: wren.jig.reviews/"), "{signed}");
        assert!(signed.contains("A review removes no question at the bench."), "{signed}");
    }
    let (code, told) = desk.show();
    assert_eq!(code, 0, "{told}");
    let reviewers: Vec<&str> =
        told["reviews"].as_array().unwrap().iter().map(|one| one["reviewer"].as_str().unwrap()).collect();
    assert_eq!(reviewers.len(), 2, "{told}");
    for statement in desk.statements() {
        let text = std::fs::read_to_string(&statement).unwrap();
        let reviewer = if text.contains("reviewer = \"alba\"") { "alba" } else { "bo" };
        assert!(desk.verified(reviewer, &statement), "{}", statement.display());
        assert!(!desk.verified("carla", &statement));
    }
    let checked = desk.run(&["check", "wren.jig"]);
    assert!(
        checked.contains("  Reviewed by alba on 20") && checked.contains(": read, rehearsed on a fleet of 100."),
        "{checked}"
    );
    // `run` says so too, before it finds that nobody sits there.
    let run = desk.run(&["run", "wren.jig", "--port", "virtual"]);
    assert!(run.starts_with("exit code: 4\n") && run.contains("Reviewed by bo on 20"), "{run}");
    // A folder is checked without what was reviewed of it.
    let folder = desk.run(&["check", "."]);
    assert!(folder.contains("1 recipe") || folder.contains("2 recipes"), "{folder}");
    assert!(!folder.contains(".reviews/texts"), "{folder}");
}

#[test]
fn what_openssh_signs_counts_here() {
    let Some(desk) = Desk::new() else { return };
    let written = desk.run(&["review", "sign", "wren.jig", "--reviewer", "alba", "--read"]);
    assert!(
        written.contains("It is not signed yet. Sign it: `ssh-keygen -Y sign -n quadjig-review -f KEY"),
        "{written}"
    );
    let told = desk.show();
    assert_eq!((told.0, &told.1["reviews"][0]["why"]), (3, &"it is not signed".into()));
    let statement = desk.statements().pop().unwrap().display().to_string();
    let sign = |key: &str, namespace: &str| {
        let _ = std::fs::remove_file(format!("{statement}.sig"));
        let signed = desk.ssh(&["-Y", "sign", "-q", "-n", namespace, "-f", key, &statement], "").unwrap();
        assert!(signed.status.success(), "{signed:?}");
        desk.show()
    };
    assert_eq!(sign("ed", "quadjig-review").0, 0);
    let why = |told: (i32, Value)| {
        assert_eq!(told.0, 3, "{}", told.1);
        told.1["reviews"][0]["why"].as_str().unwrap().to_owned()
    };
    assert!(why(sign("ed", "file")).contains("made for another purpose: file"));
    assert!(why(sign("rsa", "quadjig-review")).contains("RSA keys are not taken here"));
    assert!(why(sign("other", "quadjig-review")).contains("does not trust this key for alba: SHA256:"));
    assert!(why(sign("ec", "quadjig-review")).contains("does not trust this key for alba"), "bo's key");
    let checked = desk.run(&["check", "wren.jig"]);
    assert!(checked.contains("A review by alba counts for nothing, "), "{checked}");
    std::fs::remove_file(desk.sandbox.path("config/quadjig/allowed_signers")).unwrap();
    assert!(why(sign("ed", "quadjig-review")).contains("you trust nobody yet"));
}

#[test]
fn keys_that_are_not_taken_are_refused_before_anything_is_written() {
    let Some(desk) = Desk::new() else { return };
    for (key, words) in [
        ("rsa", "RSA keys are not taken here; make another one: ssh-keygen -t ed25519"),
        ("locked", "this key has a passphrase"),
        ("ed.pub", "this is no private key in OpenSSH's format"),
    ] {
        let refused = desk.sign("alba", key);
        assert!(refused.starts_with("exit code: 2\n") && refused.contains(words), "{key}: {refused}");
    }
    for name in ["two words", "a,b", "*", ""] {
        assert!(desk.sign(name, "ed").starts_with("exit code: 2\n"), "{name}");
    }
    desk.sandbox.write("wren.jig", "recipe \"Wren 95\"\nedition 1\nboard \"Finch\"\nbind arm to nothing\n");
    assert!(desk.sign("alba", "ed").contains("A recipe with errors is not signed."));
    assert!(!desk.sandbox.path("wren.jig.reviews").exists());
}

/// A character in the recipe, in a file that it uses, in the sheet, in what was stated.
#[test]
fn whatever_changes_after_a_review_is_said() {
    let Some(desk) = Desk::new() else { return };
    desk.sign("alba", "ed");
    let says = |what: &str, words: &[&str], counts: bool| {
        let checked = desk.run(&["check", "wren.jig"]);
        for words in words {
            assert!(checked.contains(words), "{what}: {checked}");
        }
        assert_eq!(desk.show().0, if counts { 0 } else { 3 }, "{what}");
    };
    says("as it was", &["Reviewed by alba on 20"], true);
    desk.sandbox.write("wren.jig", &RECIPE.replace("keep\n", "keep   # stored\n"));
    says("a comment", &["Reviewed by alba", "Changed since, in nothing that has a meaning: wren.jig."], true);
    desk.sandbox.write("wren.jig", &RECIPE.replace("position 2", "position 1"));
    let changed = "Changed since the review by alba of 20";
    says(
        "the recipe",
        &[
            changed,
            "in these points:",
            "changed  bind arm to switch B positions 2",
            "to       bind arm to switch B positions 1",
        ],
        false,
    );
    desk.sandbox.write("wren.jig", RECIPE);
    desk.sandbox.write("common.jig", &COMMON.replace("500", "900"));
    says("a used file", &[changed, "failsafe cut motors after 500 ms"], false);
    desk.sandbox.write("common.jig", COMMON);
    says("back again", &["Reviewed by alba"], true);

    let sheet = include_str!("../../recipes/boards/finch.toml");
    desk.sandbox.write("boards/finch.toml", &format!("{sheet}\n# Mine.\n"));
    let shown = desk.run(&["review", "show", "wren.jig", "--sheet", "boards/finch.toml"]);
    assert!(
        shown.starts_with("exit code: 3\n") && shown.contains("It was reviewed with another sheet of the board Finch."),
        "{shown}"
    );
    std::fs::remove_dir_all(desk.sandbox.path("boards")).unwrap();

    // The text that was reviewed is gone: that it changed is still said.
    desk.sandbox.write("wren.jig", &RECIPE.replace("position 2", "position 1"));
    std::fs::remove_dir_all(desk.sandbox.path("wren.jig.reviews/texts")).unwrap();
    says("no text", &["in which points is not known"], false);
    desk.sandbox.write("wren.jig", RECIPE);

    let statement = desk.statements().pop().unwrap();
    let text = std::fs::read_to_string(&statement).unwrap();
    for (from, to) in
        [("fleet of 100", "fleet of 900"), ("[\"read\", ", "["), ("reviewer = \"alba\"", "reviewer = \"bo\"")]
    {
        let other = text.replace(from, to);
        assert_ne!(other, text, "{from}");
        std::fs::write(&statement, other).unwrap();
        says(from, &["counts for nothing, it is not as it was signed"], false);
        assert!(!desk.verified("alba", &statement), "as OpenSSH has it");
    }
    std::fs::write(&statement, format!("approved = true\n{text}")).unwrap();
    says("another field", &["counts for nothing: it is no review that this version can read: unknown field"], false);
    std::fs::write(&statement, text).unwrap();
    says("whole again", &["Reviewed by alba"], true);
}

#[test]
fn a_withdrawal_is_shown_with_its_reason_if_its_signer_is_trusted() {
    let Some(desk) = Desk::new() else { return };
    desk.sign("alba", "ed");
    let withdraw = |reviewer: &str, key: &str| {
        let of = [
            "review",
            "withdraw",
            "wren.jig",
            "--of",
            "alba",
            "--reviewer",
            reviewer,
            "--key",
            key,
            "--reason",
            "too wide",
        ];
        desk.run(&of)
    };
    let none = desk.run(&["review", "withdraw", "wren.jig", "--reviewer", "bo", "--reason", "x", "--key", "ec"]);
    assert!(none.starts_with("exit code: 1\n") && none.contains("no review of this recipe by bo"), "{none}");
    assert!(withdraw("carla", "other").contains("Withdrawn: 1 review by alba"));
    assert_eq!(desk.show().0, 0, "a stranger withdraws nothing");
    assert!(withdraw("bo", "ec").contains("Withdrawn: 1 review by alba"));
    let (code, told) = desk.show();
    assert_eq!((code, &told["reviews"][0]["withdrawn"]["reason"]), (3, &"too wide".into()));
    let run = desk.run(&["run", "wren.jig", "--port", "virtual"]);
    assert!(run.contains("The review by alba of 20") && run.contains("was withdrawn by bo on 20"), "{run}");
    assert!(run.contains(": too wide") && !run.contains("Reviewed by"), "{run}");
}

/// Every line of an allowed-signers file means here what it means to OpenSSH.
#[test]
fn an_allowed_signers_file_is_read_as_openssh_reads_it() {
    let Some(desk) = Desk::new() else { return };
    desk.sign("alba", "ed");
    let statement = desk.statements().pop().unwrap();
    let mut taken = 0;
    for (who, options) in [
        ("alba", ""),
        ("al*", ""),
        ("?lba", ""),
        ("bo,alba", ""),
        ("*,!alba", ""),
        ("!bo,*", ""),
        ("bo", ""),
        ("\"bo,alba\"", ""),
        ("alba", "namespaces=\"quadjig-review\""),
        ("alba", "namespaces=\"file,quadjig-*\""),
        ("alba", "namespaces=\"file\""),
        ("alba", "valid-before=\"20200101\""),
        ("alba", "valid-after=\"20200101\""),
        ("alba", "valid-after=\"20200101Z\",valid-before=\"20990101000000Z\""),
        ("alba", "valid-after=\"20990101\""),
        ("alba", "cert-authority"),
        ("alba", "cert-authority,namespaces=\"quadjig-review\""),
    ] {
        desk.trust(&[(who, options, "ed")]);
        let openssh = desk.verified("alba", &statement);
        taken += usize::from(openssh);
        assert_eq!(desk.show().0 == 0, openssh, "{who} {options}");
    }
    assert!((5..15).contains(&taken), "both are met: {taken}");
}
