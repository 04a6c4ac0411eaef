//! What is written is read back; what can't be read is refused with its file and line.

use quadjig::board::craft_name::CraftName;
use quadjig::board::signals::Identity;
use quadjig::board::value::{NoValue, Number, SettingName};
use quadjig::record::folder::{self, Contents};
use quadjig::record::journal::Journal;
use quadjig::record::link_loss::LinkLoss;
use quadjig::record::{
    ChannelOnLoss, CraftRecord, Damage, Intent, JournalLine, LossSeen, Proof, ProofSubject, RecordError, Snapshot,
    StorePlace, proof,
};
use std::path::Path;

pub(super) fn board() -> Identity {
    Identity { id: "00000000000000a7".to_owned(), firmware: "2.4.1".to_owned(), kind: "Finch".to_owned(), name: None }
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
    assert_eq!(Snapshot::parse(Path::new("s.json"), &job.bytes), Ok(snapshot.clone()));
    assert_eq!(snapshot.not_whole(), None);
    let lacking =
        [(name("CRAFT"), NoValue::NoNumber), (name("TRIM"), NoValue::Twice), (name("WHO"), NoValue::NoNumber)];
    let lacking = Snapshot { lacking: lacking.into(), ..snapshot };
    let read = Snapshot::parse(Path::new("s.json"), &lacking.store().unwrap().bytes).unwrap();
    assert_eq!(read.not_whole().as_deref(), Some("no number is told of CRAFT, WHO; the board lists twice TRIM"));
}

#[test]
fn a_snapshot_of_another_schema_is_refused_with_its_line() {
    let file = Path::new("s.json");
    let other =
        br#"{"schema":"quadjig.snapshot/2","taken":"2026-03-01T10:15:00Z","board":{"id":"","firmware":"","kind":""},"settings":{}}"#;
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
        (r#""IDLE_US": "1100""#, "line 1"),
        (r#"}, "lacking": {"A": "twice", "A": "no-number""#, "A stands twice"),
        (r#"}, "lacking": {"A": "perhaps""#, "perhaps"),
        (r#"}, "lack": {"A": "twice""#, "lack"),
        (r#"}, "settings": {"#, "duplicate field `settings`"),
    ] {
        let text = format!(
            r#"{{"schema":"quadjig.snapshot/1","taken":"2026-03-01T10:15:00Z","board":{{"id":"","firmware":"","kind":""}},"settings":{{{settings}}}}}"#
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
    assert_eq!(proof::parse(Path::new("p"), &bytes), Ok((vec![(0, given(40.0)), (1, given(45.5))], vec![])));
    let torn = &bytes[..bytes.len() - 1];
    assert_eq!(proof::parse(Path::new("p"), torn), Ok((vec![(0, given(40.0))], vec![Damage::Torn(proof::FILE)])));
    // 40 ms become 41 ms: what was not measured is not given.
    let other = String::from_utf8(bytes).unwrap().replacen("40.0", "41.0", 1);
    let damage = vec![Damage::Line { file: proof::FILE, line: 1 }];
    assert_eq!(proof::parse(Path::new("p"), other.as_bytes()), Ok((vec![(1, given(45.5))], damage)));
}

/// Behind a line with a checksum each has one, however few of the lines are looked at.
#[test]
fn a_proof_without_its_checksum_behind_one_that_has_it_is_no_proof_at_a_glance_either() {
    let given = |subject| Proof {
        schema: proof::SCHEMA.to_owned(),
        at: "2026-03-01T10:15:00Z".to_owned(),
        subject,
        board: board(),
        depends_on: [].into(),
        volts: None,
    };
    let (arm, buzzer) = (given(ProofSubject::Arm), given(ProofSubject::Buzzer));
    let bare = |proof: &Proof| [serde_json::to_vec(proof).unwrap(), b"\n".to_vec()].concat();
    let of = |bytes: &[u8]| proof::last_of_each(Path::new("p"), bytes).unwrap();
    let before = [bare(&arm), buzzer.store().unwrap().bytes].concat();
    assert_eq!(of(&before), [(1, buzzer.clone()), (0, arm.clone())]);
    let behind = [buzzer.store().unwrap().bytes, bare(&arm)].concat();
    assert_eq!(of(&behind), [(0, buzzer)]);
    assert_eq!(proof::parse(Path::new("p"), &behind).unwrap().1.len(), 1);
}

fn begin(schema: &str) -> JournalLine {
    JournalLine::Begin {
        schema: schema.to_owned(),
        run: "r1".to_owned(),
        at: "t".to_owned(),
        recipe: "wren95.jig".to_owned(),
        fingerprint: "f".to_owned(),
        snapshot: "s".to_owned(),
        board: board(),
        provenance: None,
    }
}

fn end() -> JournalLine {
    JournalLine::End { at: "t".to_owned(), outcome: "done".to_owned(), snapshot: None }
}

/// As the version before wrote it: without a checksum.
fn plain(line: &JournalLine) -> Vec<u8> {
    let mut bytes = serde_json::to_vec(line).unwrap();
    bytes.push(b'\n');
    bytes
}

#[test]
fn a_journal_of_another_version_is_refused_with_file_and_line_and_never_called_damaged() {
    let mut bytes = begin("quadjig.journal/2").store().unwrap().bytes;
    bytes.extend(end().store().unwrap().bytes);
    assert_eq!(Journal::parse(Path::new("j"), &bytes).unwrap().lines, [begin("quadjig.journal/2"), end()]);
    let later = begin("quadjig.journal/3");
    // A whole line with its checksum, of an event that this version does not know.
    let unknown = {
        use sha2::{Digest, Sha256};
        let line = "{\"event\":\"later\"}";
        let sum = u64::from_be_bytes(Sha256::digest(line)[..8].try_into().unwrap());
        format!("{},\"sum\":\"{sum:016x}\"}}\n", &line[..line.len() - 1]).into_bytes()
    };
    for foreign in [later.store().unwrap().bytes, plain(&later), unknown] {
        let bytes = [bytes.clone(), foreign, end().store().unwrap().bytes].concat();
        let refused = Err(RecordError::Unreadable { file: "j".into(), line: 3 });
        assert_eq!(Journal::parse(Path::new("j"), &bytes), refused);
    }
    let hint = RecordError::Unreadable { file: "j".into(), line: 3 }.hint().unwrap();
    assert!(hint.contains("do not move it away"), "{hint}");
}

/// Written by the version before: no checksums, and an old value that is always a number.
#[test]
fn lines_from_before_there_were_checksums_are_read() {
    let old = concat!(
        r#"{"event":"begin","schema":"quadjig.journal/1","run":"r1","at":"t","recipe":"wren95.jig","fingerprint":"f","#,
        r#""snapshot":"s","board":{"id":"00000000000000a7","firmware":"2.4.1","kind":"Finch"}}"#,
        "\n",
        r#"{"event":"intent","at":"t","step":1,"writes":[{"name":"OUT_IDLE","from":1050,"to":1120}]}"#,
        "\n",
    );
    let writes = vec![Intent { name: "OUT_IDLE".into(), from: Some(Number::Whole(1050)), to: Number::Whole(1120) }];
    let intent = JournalLine::Intent { at: "t".into(), step: 1, writes };
    let read = |bytes: &[u8]| Journal::parse(Path::new("j"), bytes).unwrap().lines;
    assert_eq!(read(old.as_bytes()), [begin("quadjig.journal/1"), intent.clone()]);
    // Behind a line with a checksum each has one: this one was made, or lost its own.
    let bytes = [old.as_bytes(), &end().store().unwrap().bytes, &plain(&end())].concat();
    assert_eq!(read(&bytes), [begin("quadjig.journal/1"), intent, end(), JournalLine::Damaged { line: 4 }]);
}

#[test]
fn a_line_that_was_changed_anywhere_is_told_from_a_whole_one_and_the_others_are_read() {
    let lines = [begin("quadjig.journal/2"), end(), end()];
    let bytes: Vec<u8> = lines.iter().flat_map(|line| line.store().unwrap().bytes).collect();
    let middle = lines[0].store().unwrap().bytes.len()..bytes.len() - lines[2].store().unwrap().bytes.len();
    for at in middle {
        for to in [0, b' ', b'"', b'}', b'0', b'~', bytes[at] ^ 1, bytes[at] ^ 0x20, b'\n'] {
            let mut hit = bytes.clone();
            hit[at] = to;
            if hit == bytes {
                continue;
            }
            let read = Journal::parse(Path::new("j"), &hit).unwrap().lines;
            assert_eq!(read[0], lines[0], "{at}");
            assert!(read[1..].iter().any(|line| matches!(line, JournalLine::Damaged { line: 2.. })), "{at} {to}");
            // The middle line's own content never counts once it was hit.
            let whole = read.iter().filter(|line| **line == end()).count();
            assert!(whole <= 1, "{at} {to}: {read:?}");
        }
    }
}

#[test]
fn a_damaged_file_locks_no_craft_out() {
    let contents = Contents {
        journal: Some(b"\x00\x00\x00\n{\"event\":\"en".to_vec()),
        proofs: Some(b"}\n".to_vec()),
        link_loss: Some(b"{\"schema\":\"quadjig.li".to_vec()),
        repairs: None,
        radio_card: None,
    };
    let record = CraftRecord::from_contents(Path::new("c"), &contents).unwrap();
    assert_eq!(record.journal, [JournalLine::Damaged { line: 1 }]);
    let said: Vec<_> = record.damage.iter().map(ToString::to_string).collect();
    assert_eq!(said.len(), 3, "{said:?}");
    assert!(said[0].starts_with("the last line of journal.jsonl was cut off"), "{said:?}");
    assert!(said[1].starts_with("line 1 of measurements/proofs.jsonl is damaged"), "{said:?}");
    assert_eq!(said[2], "measurements/link-loss.json is damaged and was left out");
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

#[test]
fn a_board_without_an_id_is_found_by_its_name_and_no_other() {
    let crafts = Path::new("/data/quadjig/crafts");
    let of = |id: &str, name: Option<&str>| {
        let name = name.map(|name| CraftName::read(name).unwrap());
        folder::of_board(crafts, &Identity { id: id.to_owned(), name, ..board() })
    };
    let (own, zero, blank) = ("76697274000000a1", "0000000000000000", "ffffffffffffffff");
    assert_eq!(of(own, None), Ok(crafts.join(own)));
    // What its own id tells is told by nothing else.
    assert_eq!(of(own, Some("wren")), Ok(crafts.join(own)));
    for id in [zero, blank] {
        assert_eq!(of(id, None), Err(RecordError::Unnamed));
        for one in ["Wren 95", "wren-95", "WREN 95", " wren 95 "] {
            assert_eq!(of(id, Some(one)), Ok(crafts.join("named-wren-95")), "{one}");
        }
        assert_eq!(of(id, Some("wren 96")), Ok(crafts.join("named-wren-96")));
        // A name like an id is no id.
        assert_eq!(of(id, Some(own)), Ok(crafts.join(format!("named-{own}"))));
    }
}

/// A journal or a copy of settings that somebody wrote by hand can't name what a hand can't type.
#[test]
fn a_name_in_a_file_is_read_as_one_that_is_typed() {
    let text = |name: &str| format!(r#"{{"id":"0000000000000000","firmware":"","kind":"","name":"{name}"}}"#);
    let read = |name: &str| serde_json::from_str::<Identity>(&text(name));
    assert_eq!(read("wren-95").unwrap().name.unwrap().folder(), "named-wren-95");
    for name in ["../x", "a/b", "", "virtual"] {
        assert!(read(name).is_err(), "{name}");
    }
    let own = serde_json::to_string(&board()).unwrap();
    assert!(!own.contains("name"), "{own}");
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
