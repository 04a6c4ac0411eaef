//! `quadjig craft list` of a thousand crafts with ten runs each, as a process.

use crate::spread::{Spread, beside};
use quadjig::board::signals::Identity;
use quadjig::board::value::{Number, SettingName};
use quadjig::record::provenance::{Input, Provenance};
use quadjig::record::{Intent, JournalLine, Proof, ProofSubject, Snapshot, StoreJob, WriteState, journal, proof};
use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const CRAFTS: usize = 1_000;
const RUNS: usize = 10;
const SETTINGS: usize = 80;
const GOAL: Duration = Duration::from_millis(200);

fn put(craft: &Path, job: &StoreJob) {
    let quadjig::record::StorePlace::Craft(file) = &job.place else { return };
    let path = craft.join(file);
    fs::create_dir_all(path.parent().unwrap()).unwrap();
    let mut file = OpenOptions::new().create(true).append(job.append).write(true).open(path).unwrap();
    file.write_all(&job.bytes).unwrap();
}

fn craft(folder: &Path, id: &str) {
    let board = Identity { id: id.to_owned(), firmware: "2.4.1".to_owned(), kind: "Finch".to_owned(), name: None };
    let name = |at: usize| SettingName::new(&format!("SETTING_{at}")).unwrap();
    let settings: std::collections::BTreeMap<_, _> =
        (0..SETTINGS).map(|at| (name(at), Number::Whole(i64::try_from(at).unwrap()))).collect();
    for run in 0..RUNS {
        let at = |minute: usize| format!("2026-03-{:02}T10:{minute:02}:00.000Z", run + 1);
        let (before, after) = (at(0), at(20));
        let copies = [&before, &after].map(|at| Snapshot::new(at.clone(), board.clone(), settings.clone()));
        for copy in &copies {
            put(folder, &copy.store().unwrap());
        }
        let input = |name: &str| Input { name: name.to_owned(), sha256: "0".repeat(64) };
        let provenance = Provenance {
            program: "0.1.0".to_owned(),
            operator: Some("Bench two".to_owned()),
            recipe_hash: Some("0".repeat(64)),
            filled_hash: Some("1".repeat(64)),
            files: vec![input("wren-95.jig"), input("common/receiver.jig")],
            sheet: input("finch.toml"),
            radio_card: Some(input("bench")),
            radio: None,
            with: vec!["idle-floor=1120us".to_owned()],
            series: None,
            log: format!("runs/{run}.jsonl"),
        };
        let mut lines = vec![JournalLine::Begin {
            schema: journal::SCHEMA.to_owned(),
            run: before.clone(),
            at: before.clone(),
            recipe: "Wren 95, first set-up".to_owned(),
            fingerprint: "2".repeat(64),
            snapshot: copies[0].file(),
            board: board.clone(),
            provenance: Some(Box::new(provenance)),
        }];
        for step in 0..8 {
            let write = |at: usize| Intent { name: name(at).to_string(), from: None, to: Number::Whole(1) };
            lines.push(JournalLine::Intent { at: at(step), step, writes: (0..4).map(write).collect() });
            lines.push(JournalLine::Outcome {
                at: at(step),
                step,
                state: WriteState::ReadBack,
                read: None,
                by_silence: false,
            });
        }
        lines.push(JournalLine::End { at: after, outcome: "done".to_owned(), snapshot: Some(copies[1].file()) });
        for line in &lines {
            put(folder, &line.store().unwrap());
        }
        let cut = || ProofSubject::Cut { least_ms: 30.0, most_ms: 50.0 };
        for subject in [ProofSubject::Arm, ProofSubject::Buzzer, cut()] {
            let depends_on = (0..3).map(|at| (name(at), settings[&name(at)])).collect();
            let (schema, board) = (proof::SCHEMA.to_owned(), board.clone());
            put(folder, &Proof { schema, at: at(15), subject, board, depends_on, volts: Some(8.1) }.store().unwrap());
        }
    }
}

pub fn figures(runs: usize) {
    println!("\nquadjig craft list, {CRAFTS} crafts with {RUNS} runs each, as a process");
    let records = tempfile::tempdir().unwrap();
    for number in 1..=CRAFTS {
        let id = format!("76697274{number:08x}");
        craft(&records.path().join(&id), &id);
    }
    let times = Spread::time(runs, || {
        let mut command = Command::new(env!("CARGO_BIN_EXE_quadjig"));
        command.args(["craft", "list", "--records"]).arg(records.path());
        let ended = command.stdout(Stdio::null()).stderr(Stdio::inherit()).status().unwrap();
        assert!(ended.success());
    });
    println!("  median {}", beside(times.median(), GOAL));
    println!("  least  {}", beside(times.least(), GOAL));
}
