//! Builds the copy once, and runs named tests of it with one defect switched on.
//!
//! A test that has not ended in its time has found the defect too: what should have stopped went on. Must not be here:
//! what a result means.

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// How long the tests of one defect may take together.
const LONGEST: Duration = Duration::from_secs(300);

/// The copy, built.
pub struct Built {
    tree: PathBuf,
    tests: PathBuf,
}

/// Builds the copy, with a target folder of its own.
pub fn build(copy: &Path) -> Built {
    let tree = copy.join("tree");
    let _none_yet = fs::remove_file(tree.join("planted"));
    let built = Command::new(env!("CARGO"))
        .args(["test", "--test", "all", "--no-run", "--locked", "--message-format=json"])
        .current_dir(&tree)
        .env("CARGO_TARGET_DIR", copy.join("build"))
        .env("CARGO_INCREMENTAL", "1")
        .stderr(Stdio::inherit())
        .output()
        .unwrap();
    let messages = String::from_utf8_lossy(&built.stdout);
    let messages: Vec<serde_json::Value> =
        messages.lines().filter_map(|line| serde_json::from_str(line).ok()).collect();
    let errors = messages.iter().filter(|message| message["message"]["level"] == "error");
    let errors: Vec<_> = errors.filter_map(|message| message["message"]["rendered"].as_str()).collect();
    assert!(built.status.success(), "the copy does not build:\n{}", errors.join("\n"));
    let mut made = messages.iter().filter(|message| message["target"]["name"] == "all");
    let tests = made.find_map(|message| message["executable"].as_str());
    Built { tree, tests: tests.expect("no test binary was built").into() }
}

impl Built {
    /// Runs these with one defect switched on, or with none where the name is empty. Gives those that did not pass.
    pub fn failing(&self, defect: &str, tests: &BTreeSet<String>) -> BTreeSet<String> {
        if tests.is_empty() {
            return BTreeSet::new();
        }
        fs::write(self.tree.join("planted"), defect).unwrap();
        let output = self.tree.join("planted.out");
        let mut child = Command::new(&self.tests)
            .args(tests)
            .args(["--exact", "--test-threads=2"])
            .current_dir(&self.tree)
            .env("INSTA_UPDATE", "no")
            .env("INSTA_WORKSPACE_ROOT", &self.tree)
            .stdin(Stdio::null())
            .stdout(fs::File::create(&output).unwrap())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let (began, longest) = (Instant::now(), if defect.is_empty() { LONGEST * 6 } else { LONGEST });
        while child.try_wait().unwrap().is_none() {
            if began.elapsed() > longest {
                child.kill().unwrap();
                child.wait().unwrap();
                break;
            }
            std::thread::sleep(Duration::from_millis(50));
        }
        let told = String::from_utf8_lossy(&fs::read(&output).unwrap()).into_owned();
        let not_passed = |test: &&String| !told.contains(&format!("test {test} ... ok\n"));
        tests.iter().filter(not_passed).cloned().collect()
    }

    /// Plays seeds of the world under faults with one defect switched on, up to the first that finds it: what it found, and
    /// within how many.
    pub fn seeds(&self, defect: &str, seeds: &str) -> String {
        fs::write(self.tree.join("planted"), defect).unwrap();
        let told = Command::new(&self.tests)
            .args(["faults::many::many", "--exact", "--nocapture"])
            .current_dir(&self.tree)
            .envs([("QUADJIG_FAULTS", seeds), ("QUADJIG_FAULTS_FIRST", "yes")])
            .output()
            .unwrap();
        let told = [told.stdout, told.stderr].concat();
        let told = String::from_utf8_lossy(&told);
        told.lines().find_map(|line| line.strip_prefix("first: ")).unwrap_or("nothing").to_owned()
    }

    /// Explores the model with one defect switched on, within these bounds: what it found first, and by which way.
    pub fn model(&self, defect: &str, bounds: &str) -> String {
        fs::write(self.tree.join("planted"), defect).unwrap();
        let told = Command::new(&self.tests)
            .args(["model::whole", "--exact", "--nocapture"])
            .current_dir(&self.tree)
            .env("QUADJIG_MODEL", bounds)
            .output()
            .unwrap();
        let told = String::from_utf8_lossy(&told.stdout).into_owned();
        let broken = told.lines().find_map(|line| line.trim().strip_prefix("BROKEN "));
        broken.unwrap_or(if told.contains("states\n") { "nothing" } else { "it did not end" }).to_owned()
    }
}
