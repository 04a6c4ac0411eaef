//! Packets by a sheet, against a reader and a builder of other hands, both ways: Python's `struct` and `tomllib`, and the
//! checksums of another library.

use super::{project, python, run, script};
use quadjig::board::packets::PacketLink;
use quadjig::board::shipped;
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Ticket};
use quadjig::board::value::{Number, SettingName};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, World, WorldConfig};
use serde_json::Value;
use std::io::{BufRead, BufReader, ErrorKind, Read, Write};
use std::net::TcpStream;
use std::process::Stdio;
use std::time::{Duration, Instant};

fn sheet(stem: &str) -> String {
    project().join("recipes/boards").join(format!("{stem}.toml")).display().to_string()
}

#[test]
fn another_hand_reads_and_writes_the_virtual_boards() {
    let Some(python) = python("peers::packets as a client") else { return };
    for (stem, board) in [("finch-p", BoardKind::FinchP), ("finch-q", BoardKind::FinchQ)] {
        let arguments = ["client", env!("CARGO_BIN_EXE_quadjig"), &sheet(stem), stem];
        let output = run(&python, "packets.py", &arguments, Duration::from_secs(60));
        let found: Value = serde_json::from_slice(&output.stdout).unwrap();
        let world = World::new(WorldConfig { board, ..WorldConfig::default() });
        assert_eq!(found["id"], world.config().board_id());
        assert_eq!((&found["kind"], &found["armed"]), (&Value::from(board.name()), &Value::from(0)));
        let truth = world.truth();
        let (found, known) = (found["settings"].as_object().unwrap(), truth["settings"].as_object().unwrap());
        assert_eq!(found.len(), known.len(), "{stem}");
        for (name, value) in found {
            let real = Number::Real(known[name]["working"].as_f64().unwrap());
            assert!(Number::Real(value.as_f64().unwrap()).same(real), "{stem}: {name} {value} {real}");
        }
    }
}

/// Asks over a real wire; what was heard until the request ended.
fn ask(wire: &mut TcpStream, link: &mut PacketLink, began: Instant, ticket: u32, request: Request) -> Vec<LinkEvent> {
    let now = || Time(u64::try_from(began.elapsed().as_micros()).unwrap());
    let (mut out, mut heard) = (Vec::new(), Vec::new());
    link.send(now(), Ticket(ticket), request, &mut out);
    while !heard.iter().any(|heard| matches!(heard, LinkEvent::Done { ticket: of, .. } if of.0 == ticket)) {
        assert!(began.elapsed() < Duration::from_secs(30), "{heard:?}");
        link.work(now(), &mut out, &mut heard);
        wire.write_all(&std::mem::take(&mut out)).unwrap();
        let mut bytes = [0; 4096];
        match wire.read(&mut bytes) {
            Ok(count) => link.receive(now(), &bytes[..count], &mut heard),
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {}
            Err(error) => panic!("{error}"),
        }
    }
    heard
}

fn done(heard: &[LinkEvent]) -> &Done {
    heard.iter().find_map(|heard| if let LinkEvent::Done { result, .. } = heard { Some(result) } else { None }).unwrap()
}

#[test]
fn a_board_of_another_hand_is_read_and_written() {
    let Some(python) = python("peers::packets as a board") else { return };
    for stem in ["finch-p", "finch-q"] {
        let mut board = script(&python, "packets.py", &["board", &sheet(stem)]).stdout(Stdio::piped()).spawn().unwrap();
        let mut says = BufReader::new(board.stdout.take().unwrap()).lines();
        let first: Value = serde_json::from_str(&says.next().unwrap().unwrap()).unwrap();
        let mut wire =
            TcpStream::connect(("127.0.0.1", u16::try_from(first["port"].as_u64().unwrap()).unwrap())).unwrap();
        wire.set_read_timeout(Some(Duration::from_millis(2))).unwrap();
        let mut link = PacketLink::new(shipped::sheet(stem).unwrap().unwrap().packets().unwrap().clone());
        let began = Instant::now();

        let heard = ask(&mut wire, &mut link, began, 1, Request::Identify);
        let who = heard.iter().find_map(|heard| if let LinkEvent::Identity(who) = heard { Some(who) } else { None });
        let who = who.unwrap();
        assert_eq!((&who.id[..], &who.kind[..], &who.firmware[..]), ("00c0ffee00112233", "Sandpiper", "1.2.3"));

        let heard = ask(&mut wire, &mut link, began, 2, Request::ListSettings);
        assert_eq!(done(&heard), &Done::Ok);
        let mut count = 0;
        for heard in &heard {
            if let LinkEvent::Setting { name, value, .. } = heard {
                let holds = Number::Real(first["settings"][name.as_str()].as_f64().unwrap());
                assert!(value.same(holds), "{stem}: {name} {value} {holds}");
                count += 1;
            }
        }
        assert_eq!(count, first["settings"].as_object().unwrap().len());

        let name = |name: &str| SettingName::new(name).unwrap();
        for (ticket, setting, value) in [
            (3, "IDLE_US", Number::Whole(1111)),
            (4, "LEVEL_ROLL", Number::Real(-1.25)),
            (5, "ACCEL_OFF_X", Number::Whole(-70_000)),
        ] {
            let heard = ask(&mut wire, &mut link, began, ticket, Request::WriteSetting(name(setting), value));
            assert_eq!(done(&heard), &Done::Ok, "{stem}: {setting}");
        }
        drop(wire);
        let last: Value = serde_json::from_str(&says.next().unwrap().unwrap()).unwrap();
        let mut wanted = first["settings"].clone();
        wanted["IDLE_US"] = 1111.into();
        wanted["LEVEL_ROLL"] = (-1.25).into();
        wanted["ACCEL_OFF_X"] = (-70_000).into();
        assert_eq!(last["settings"], wanted, "{stem}: all else is as it was");
        assert!(board.wait().unwrap().success());
    }
}
