//! What is written is read back; what can't be read is refused with its file and line.

use quadjig::board::signals::Identity;
use quadjig::board::value::{Number, SettingName};
use quadjig::record::folder::{self, Contents};
use quadjig::record::journal::Journal;
use quadjig::record::link_loss::LinkLoss;
use quadjig::record::{
    ChannelOnLoss, CraftRecord, JournalLine, LossSeen, Proof, ProofSubject, RecordError, Snapshot, StorePlace, proof,
};
use std::path::Path;

pub(super) fn board() -> Identity {
    Identity { id: "00000000000000a7".to_owned(), firmware: "2.4.1".to_owned(), kind: "Finch".to_owned() }
}

fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

#[test]
fn a_snapshot_is_read_as_it_was_written() {
    let settings = [(name("OUT_IDLE"), Number::Whole(1050)), (name("PACK_RATIO"), Number::Real(10.0))].into();
    let snapshot = Snapshot::new("2026-03-01T10:15:00Z".to_owned(), board(), settings);
    let job = snapshot.store().unwrap();
    assert_eq!(job.place, StorePlace::Craft("snapshots/20260301T101500Z.json".into()));
    assert!(!job.append);
    assert_eq!(Snapshot::parse(Path::new("s.json"), &job.bytes), Ok(snapshot));
}

#[test]
fn a_snapshot_of_another_schema_is_refused_with_its_line() {
    let file = Path::new("s.json");
    let other =
        br#"{"schema":"quadjig.snapshot/2","taken":"","board":{"id":"","firmware":"","kind":""},"settings":{}}"#;
    for (bytes, why) in
        [(&other[..], "its schema is not quadjig.snapshot/1"), (b"{\n\"schema\": 7\n}", "line 2"), (b"", "line 1")]
    {
        let said = Snapshot::parse(file, bytes).unwrap_err().to_string();
        assert!(said.starts_with("s.json is no snapshot") && said.contains(why), "{said}");
    }
}

/// RFC 8259, section 4: names should be unique, and what a reader makes of others is unpredictable.
#[test]
fn a_name_that_stands_twice_and_what_is_no_number_are_refused() {
    for (settings, why) in [
        (r#""IDLE_US": 1100, "IDLE_US": 1200"#, "IDLE_US stands twice"),
        (r#""IDLE_US": 1100, "IDLE\u005fUS": 1100"#, "IDLE_US stands twice"),
        (r#""IDLE US": 1"#, "\"IDLE US\""),
        (r#""A\u001b[2J": 1"#, "u{1b}"),
        (r#""IDLE_US": 1e999"#, "line 1"),
        (r#""IDLE_US": null"#, "line 1"),
        (r#""IDLE_US": NaN"#, "line 1"),
    ] {
        let text = format!(
            r#"{{"schema":"quadjig.snapshot/1","taken":"","board":{{"id":"","firmware":"","kind":""}},"settings":{{{settings}}}}}"#
        );
        let said = Snapshot::parse(Path::new("s.json"), text.as_bytes()).expect_err(settings).to_string();
        assert!(said.contains(why), "{settings}: {said}");
    }
}

#[test]
fn proofs_are_read_in_order_and_a_torn_one_counts_as_not_given() {
    let given = |least_ms| Proof {
        schema: proof::SCHEMA.to_owned(),
        at: "2026-03-01T10:15:00Z".to_owned(),
        subject: ProofSubject::Cut { least_ms, most_ms: 61.0 },
        board: board(),
        depends_on: [(name("ARM_FROM"), Number::Whole(1700))].into(),
        volts: Some(4.1),
    };
    let mut bytes = given(40.0).store().unwrap().bytes;
    bytes.extend(given(45.5).store().unwrap().bytes);
    assert_eq!(proof::parse(Path::new("p"), &bytes), Ok(vec![given(40.0), given(45.5)]));
    let torn = &bytes[..bytes.len() - 1];
    assert_eq!(proof::parse(Path::new("p"), torn), Ok(vec![given(40.0)]));
}

#[test]
fn a_journal_line_of_another_schema_is_refused_with_file_and_line() {
    let good = JournalLine::End { at: "t".to_owned(), outcome: "done".to_owned() }.store().unwrap().bytes;
    let begin = |schema: &str| JournalLine::Begin {
        schema: schema.to_owned(),
        run: "r1".to_owned(),
        at: "t".to_owned(),
        recipe: "wren95.jig".to_owned(),
        fingerprint: "f".to_owned(),
        snapshot: "s".to_owned(),
        board: board(),
    };
    let mut bytes = begin("quadjig.journal/1").store().unwrap().bytes;
    bytes.extend(&good);
    assert_eq!(Journal::parse(Path::new("j"), &bytes).unwrap().lines.len(), 2);
    let refused = Err(RecordError::Unreadable { file: "j".into(), line: 3 });
    for bad in [begin("quadjig.journal/2").store().unwrap().bytes, b"{\"event\":\"later\"}\n".to_vec(), b"\n".to_vec()]
    {
        let bytes = [bytes.clone(), bad, good.clone()].concat();
        assert_eq!(Journal::parse(Path::new("j"), &bytes), refused);
    }
}

#[test]
fn a_record_is_what_its_files_say() {
    let channels = vec![ChannelOnLoss { channel: 3, does: LossSeen::Fixed(990) }];
    let loss = LinkLoss::new("t".to_owned(), channels.clone());
    let contents = Contents { link_loss: Some(loss.store().unwrap().bytes), ..Contents::default() };
    let folder = Path::new("/crafts/00000000000000a7");
    let record = CraftRecord::from_contents(folder, &contents).unwrap();
    assert_eq!(record, CraftRecord { folder: folder.to_owned(), link_loss: channels, ..CraftRecord::default() });
}

#[test]
fn an_id_never_leads_out_of_the_data_folder() {
    let crafts = Path::new("/data/quadjig/crafts");
    assert_eq!(folder::of_craft(crafts, "76697274000000a1"), Ok(crafts.join("76697274000000a1")));
    assert_eq!(folder::of_craft(crafts, "0000000000000000"), Err(RecordError::Unnamed));
    for id in ["", "../../../../etc/x", "76697274000000A1", "76697274000000a", "76697274000000a1a"] {
        assert_eq!(folder::of_craft(crafts, id), Err(RecordError::BadId(id.to_owned())), "{id}");
    }
    assert!(RecordError::Unnamed.to_string().contains("must be named"));
}

/// XDG Base Directory Specification 0.8: relative paths in the variable are to be ignored.
#[test]
fn the_data_folder_follows_the_environment() {
    let with = |xdg: Option<&'static str>, home: Option<&'static str>| {
        folder::crafts(move |name| match name {
            "XDG_DATA_HOME" => xdg.map(Into::into),
            _ => home.map(Into::into),
        })
    };
    assert_eq!(with(Some("/d"), Some("/h")), Ok("/d/quadjig/crafts".into()));
    assert_eq!(with(Some("d"), Some("/h")), Ok("/h/.local/share/quadjig/crafts".into()));
    assert_eq!(with(None, None), Err(RecordError::Nowhere));
}
