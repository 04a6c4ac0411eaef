//! Mutants of the safety core: one build of a copy of the tree in which every mutant stands beside what it replaces.
//!
//!     cargo mutants --list --json -f 'src/interlock/*.rs' >/tmp/list.json
//!     cargo run --target-dir target/mutants --manifest-path tests/planted/mutants/Cargo.toml -- \
//!         /tmp/list.json /tmp/copy interlock::
//!
//! Given the list, a folder for the copy, and the beginnings of names of tests. Each of those runs once by itself, to be
//! told which mutants it reaches and how long it takes; then each mutant that is not dead yet runs what reaches it, first
//! what killed others of its file, then the quickest, up to the first that fails or does not end. `killed.tsv` keeps who
//! killed what, `skipped.tsv` what cannot stand there. `QUADJIG_SECONDS` bounds what is spent on one mutant;
//! `QUADJIG_EACH` takes one in so many.
//! Must not be here: what a survivor means.

#![allow(clippy::unwrap_used, reason = "a tool of the tests: what breaks is told as it is")]

mod plant;

use plant::Mutant;
use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

fn main() {
    let mut given = std::env::args().skip(1);
    let (list, copy) = (given.next().unwrap(), PathBuf::from(given.next().unwrap()));
    let named: Vec<String> = given.collect();
    let number = |name: &str| std::env::var(name).ok().map(|told| told.parse::<u32>().unwrap());
    let longest = Duration::from_secs(number("QUADJIG_SECONDS").unwrap_or(600).into());
    let each = number("QUADJIG_EACH").unwrap_or(1);
    let mutants = plant::read(&fs::read_to_string(list).unwrap());
    let tests = build(&copy, &mutants);
    let skipped = names(&copy.join("skipped.tsv"));
    let mut dead = names(&copy.join("killed.tsv"));
    let known: Vec<Known> = tests.into_iter().flat_map(|tests| Tree { copy: &copy, tests }.seen(&named)).collect();
    let there: Vec<&Mutant> = mutants.iter().filter(|mutant| !skipped.contains_key(&mutant.name)).collect();
    for mutant in there.iter().filter(|mutant| mutant.id.is_multiple_of(each)) {
        if dead.contains_key(&mutant.name) {
            continue;
        }
        let began = Instant::now();
        let mut reach: Vec<_> = known.iter().filter(|test| test.reached.contains(&mutant.id)).collect();
        let file = |name: &str| name.split(':').next().map(str::to_owned);
        let beside = |test: &Known| {
            let by = dead.iter().filter(|(name, by)| **by == test.name && file(name) == file(&mutant.name));
            by.count()
        };
        reach.sort_by_key(|test| (std::cmp::Reverse(beside(test)), test.takes));
        let killer = reach.iter().take_while(|_| began.elapsed() < longest).find(|test| {
            let limit = Duration::from_secs(20) + test.takes * 10;
            !passes(&copy, &test.of, &test.name, &[("QUADJIG_MUTANT", &mutant.id.to_string())], limit)
        });
        if let Some(test) = killer {
            note(&copy.join("killed.tsv"), &mutant.name, &test.name);
            dead.insert(mutant.name.clone(), test.name.clone());
        } else {
            println!("{} of {} reach {}: {}", reach.len(), known.len(), mutant.id, mutant.name);
        }
    }
    let killed = there.iter().filter(|mutant| dead.contains_key(&mutant.name)).count();
    println!("{} mutants, {} skipped, {killed} killed so far", mutants.len(), mutants.len() - there.len());
}

/// Lines of a name and what is said of it.
fn names(file: &Path) -> BTreeMap<String, String> {
    let told = fs::read_to_string(file).unwrap_or_default();
    told.lines().filter_map(|line| line.split_once('\t')).map(|(name, of)| (name.to_owned(), of.to_owned())).collect()
}

fn note(file: &Path, name: &str, of: &str) {
    let mut file = OpenOptions::new().create(true).append(true).open(file).unwrap();
    writeln!(file, "{name}\t{of}").unwrap();
}

/// Makes the copy, leaves out what the compiler refuses, and builds the tests.
fn build(copy: &Path, mutants: &[Mutant]) -> Vec<PathBuf> {
    let skipped = copy.join("skipped.tsv");
    loop {
        let out = names(&skipped);
        let planted = plant::copy(copy, mutants, &out.keys().map(String::as_str).collect());
        let unfit: Vec<u32> = planted.values().flat_map(|file| file.unfit.clone()).collect();
        for mutant in mutants.iter().filter(|mutant| unfit.contains(&mutant.id)) {
            note(&skipped, &mutant.name, "unfit");
        }
        let (built, messages) = cargo(copy, &["test", "--lib", "--test", "all", "--no-run"]);
        if built {
            let made = messages.iter().filter(|message| message["profile"]["test"] == true);
            return made.filter_map(|message| message["executable"].as_str()).map(PathBuf::from).collect();
        }
        let mut refused = BTreeMap::new();
        let errors = || messages.iter().filter(|error| error["message"]["level"] == "error");
        for error in errors() {
            let (message, code) = (&error["message"], error["message"]["code"]["code"].as_str().unwrap_or("?"));
            let spans = message["spans"].as_array().unwrap().iter().filter(|span| span["is_primary"] == true);
            for span in spans {
                let (file, at) = (span["file_name"].as_str().unwrap(), span["byte_start"].as_u64().unwrap());
                for id in planted.get(file).map(|file| file.at(usize::try_from(at).unwrap())).unwrap_or_default() {
                    refused.insert(id, code.to_owned());
                }
            }
        }
        let told = || errors().filter_map(|error| error["message"]["rendered"].as_str()).collect::<String>();
        assert!(!refused.is_empty(), "{}", told());
        println!("{} do not fit", refused.len());
        for (id, code) in refused {
            note(&skipped, &mutants.iter().find(|mutant| mutant.id == id).unwrap().name, &code);
        }
    }
}

fn cargo(copy: &Path, does: &[&str]) -> (bool, Vec<serde_json::Value>) {
    let mut cargo = Command::new("cargo");
    cargo.args(does).args(["--locked", "--message-format=json"]).current_dir(copy.join("tree"));
    cargo.env("CARGO_PROFILE_DEV_DEBUG", "0");
    let done = cargo.env("CARGO_TARGET_DIR", copy.join("build")).stderr(Stdio::null()).output().unwrap();
    let told = String::from_utf8_lossy(&done.stdout);
    (done.status.success(), told.lines().filter_map(|line| serde_json::from_str(line).ok()).collect())
}

/// The copy, built.
struct Tree<'c> {
    copy: &'c Path,
    tests: PathBuf,
}

/// One test: of which binary, how long it takes, and which mutants it reaches.
struct Known {
    of: PathBuf,
    name: String,
    takes: Duration,
    reached: BTreeSet<u32>,
}

impl Tree<'_> {
    /// The tests whose names begin so. One that is not there with nothing switched on counts for nothing.
    fn seen(&self, named: &[String]) -> Vec<Known> {
        let listed = Command::new(&self.tests).args(["--list", "--format=terse"]).output().unwrap();
        let listed = String::from_utf8(listed.stdout).unwrap();
        let all = listed.lines().filter_map(|line| line.strip_suffix(": test"));
        let wanted = all.filter(|name| named.iter().any(|named| name.starts_with(named.as_str())));
        let folder = self.copy.join("seen");
        fs::create_dir_all(&folder).unwrap();
        let built = fs::metadata(&self.tests).unwrap().modified().unwrap();
        let mut known = Vec::new();
        for name in wanted {
            let (file, took) = (folder.join(name.replace("::", "-")), folder.join(name.replace("::", "-") + ".ms"));
            let old = fs::metadata(&took).is_ok_and(|told| told.modified().unwrap() > built);
            if !old {
                let _none_yet = fs::remove_file(&file);
                let began = Instant::now();
                let seen = file.to_string_lossy();
                let passes =
                    passes(self.copy, &self.tests, name, &[("QUADJIG_MUTANTS_SEEN", &seen)], Duration::from_mins(15));
                let ms = if passes { began.elapsed().as_millis().to_string() } else { String::new() };
                fs::write(&took, ms).unwrap();
            }
            let Ok(ms) = fs::read_to_string(&took).unwrap().parse() else {
                println!("{name} does not pass with nothing switched on");
                continue;
            };
            let reached = fs::read_to_string(&file).unwrap_or_default();
            let reached = reached.lines().map(|id| id.parse().unwrap()).collect();
            known.push(Known {
                of: self.tests.clone(),
                name: name.to_owned(),
                takes: Duration::from_millis(ms),
                reached,
            });
        }
        known
    }
}

/// Whether one test passes within its time.
fn passes(copy: &Path, tests: &Path, name: &str, env: &[(&str, &str)], limit: Duration) -> bool {
    let mut test = Command::new(tests);
    test.args([name, "--exact"]).current_dir(copy.join("tree"));
    test.envs(env.iter().copied()).env("INSTA_UPDATE", "no").env("INSTA_WORKSPACE_ROOT", copy.join("tree"));
    let mut child = test.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    let began = Instant::now();
    loop {
        if let Some(status) = child.try_wait().unwrap() {
            return status.success();
        }
        if began.elapsed() > limit {
            child.kill().unwrap();
            child.wait().unwrap();
            return false;
        }
        std::thread::sleep(Duration::from_millis(2));
    }
}
