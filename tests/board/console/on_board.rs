//! The link and the virtual board's console understand each other: quick, slow, paced, cut off and left.

use super::kit::{OnBoard, name};
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Stream};
use quadjig::board::value::Number;
use quadjig::virtual_board::{ConsoleConfig, WireConfig, WorldConfig};
use std::collections::BTreeMap;
use std::time::Duration;

fn console(answers_after: u64, baud: Option<u32>) -> WorldConfig {
    let console = ConsoleConfig { answers_after: Duration::from_millis(answers_after), ..ConsoleConfig::default() };
    let wire = WireConfig { baud, ..WireConfig::default() };
    WorldConfig { console, wire, seed: 42, ..WorldConfig::default() }
}

fn settings(heard: &[LinkEvent]) -> BTreeMap<String, Number> {
    heard
        .iter()
        .filter_map(|heard| match heard {
            LinkEvent::Setting { name, value, .. } => Some((name.to_string(), *value)),
            _ => None,
        })
        .collect()
}

#[test]
fn identify_list_write_store_restart() {
    for (answers_after, rate) in [(0, None), (30, None), (0, Some(115_200)), (5, Some(20_000))] {
        let mut bench = OnBoard::new(console(answers_after, rate));
        let heard = bench.wait(1000);
        assert!(heard.iter().any(|heard| matches!(heard, LinkEvent::Alive { armed: false, .. })), "{heard:?}");
        let (done, heard) = bench.ask(Request::Identify, 1000);
        assert_eq!(done, Done::Ok);
        assert!(heard.iter().any(|heard| matches!(
            heard,
            LinkEvent::Identity(who) if who.id == "766972740000002a" && who.kind == "Finch C" && who.firmware == "2.4.1"
        )));

        let (done, heard) = bench.ask(Request::ListSettings, 4000);
        assert_eq!(done, Done::Ok, "{answers_after} ms, {rate:?}");
        let truth = bench.world.truth();
        let listed = settings(&heard);
        let all = listed.keys().map(|listed| name(listed)).collect();
        assert!(heard.contains(&LinkEvent::Listed(all)), "{heard:?}");
        let known = truth["settings"].as_object().unwrap();
        assert_eq!(listed.len(), known.len());
        for (setting, value) in &listed {
            let real = known[setting]["working"].as_f64().unwrap();
            assert!(value.same(Number::Real(real)), "{setting}: {value:?} {real}");
        }

        let write = Request::WriteSetting(name("IDLE_US"), Number::Whole(1105));
        assert_eq!(bench.ask(write, 1000).0, Done::Ok);
        let too_high = Request::WriteSetting(name("IDLE_US"), Number::Whole(2000));
        let (done, _) = bench.ask(too_high, 1000);
        assert_eq!(done, Done::Refused("the board answered: IDLE_US takes 1000 to 1250".to_owned()));
        assert_eq!(bench.ask(Request::Store, 1000).0, Done::Ok);
        assert_eq!(bench.ask(Request::Restart, 6000).0, Done::Ok);
        let (done, heard) = bench.ask(Request::ReadSetting(name("IDLE_US")), 1000);
        assert_eq!((done, settings(&heard)["IDLE_US"]), (Done::Ok, Number::Whole(1105)), "after the restart");
    }
}

/// Armed flag at 10 Hz and the rest as asked, over a wire that is fast enough; as many as it carries over a slow one.
#[test]
fn signals_come_as_often_as_the_wire_allows() {
    let rates = [
        (Stream::Alive, 10),
        (Stream::Channels, 50),
        (Stream::Outputs, 50),
        (Stream::Attitude, 20),
        (Stream::Power, 10),
        (Stream::Speeds, 20),
    ];
    for (config, least) in [(console(0, None), 48), (console(0, Some(115_200)), 40), (console(10, None), 15)] {
        let mut bench = OnBoard::new(config);
        bench.world.line(bench.now, "battery in").unwrap();
        bench.wait(500);
        for (stream, rate) in rates {
            assert_eq!(bench.ask(Request::Stream(stream, Some(rate)), 200).0, Done::Ok);
        }
        let heard = bench.wait(2000);
        let asked = String::from_utf8_lossy(&bench.sent).matches("channels\r").count();
        let count = |is: fn(&LinkEvent) -> bool| heard.iter().filter(|heard| is(heard)).count() / 2;
        assert!(count(|heard| matches!(heard, LinkEvent::Alive { .. })) >= 9);
        assert!(count(|heard| matches!(heard, LinkEvent::Channels { .. })) >= least, "{least}: {asked} asked");
        assert!(count(|heard| matches!(heard, LinkEvent::Outputs { .. })) >= least, "{least}");
        assert!(count(|heard| matches!(heard, LinkEvent::Speeds { .. })) >= 3);
        let left = rates.map(|(stream, _)| bench.ask(Request::Stream(stream, None), 300).0);
        assert!(left.iter().all(|done| *done == Done::Ok));
        assert!(String::from_utf8_lossy(&bench.sent).ends_with("leave\r"), "left as it was found");
        let quiet = bench.sent.len();
        bench.wait(2000);
        assert_eq!(bench.sent.len(), quiet, "nothing is asked in a console that was left");
        assert_eq!(bench.ask(Request::Identify, 1000).0, Done::Ok, "and it opens again");
    }
}

/// A motor that is run by command stops within one answer's time, whatever is half said on the wire.
#[test]
fn a_stop_works_at_any_moment() {
    for at in 0..40 {
        let mut bench = OnBoard::new(console(at % 3 * 15, Some(50_000)));
        bench.world.line(bench.now, "battery in").unwrap();
        bench.wait(3000);
        assert_eq!(bench.ask(Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 3000 }, 300).0, Done::Ok);
        let mut out = Vec::new();
        bench.link.send(bench.now, quadjig::board::signals::Ticket(900), Request::ListSettings, &mut out);
        bench.put(&out);
        bench.wait(1 + at * 7);
        assert!(bench.world.outputs().iter().any(|pulse| *pulse > 1100), "it turns: {:?}", bench.world.outputs());
        let stop = bench.link.stop_bytes(false).unwrap();
        bench.put(&stop);
        bench.wait(60);
        assert!(bench.world.outputs().iter().all(|pulse| *pulse <= 1000), "{at}: {:?}", bench.world.outputs());
    }
}

/// Bytes cut off, by a fault or a plug, end in an answer or in words; never in a half-read value.
#[test]
fn what_is_cut_off_is_asked_again() {
    for cut in 0..60_usize {
        let mut bench = OnBoard::new(console(0, None));
        bench.wait(500);
        let (mut out, mut heard) = (Vec::new(), Vec::new());
        bench.link.send(bench.now, quadjig::board::signals::Ticket(900), Request::ListSettings, &mut out);
        bench.world.receive(bench.now, &out);
        let said = bench.world.take_output();
        bench.link.receive(bench.now, &said[..said.len() * cut / 60], &mut heard);
        heard.extend(bench.wait(3000));
        let truth = bench.world.truth();
        for (setting, value) in settings(&heard) {
            let real = truth["settings"][&setting]["working"].as_f64().unwrap_or_else(|| panic!("{setting}"));
            assert!(value.same(Number::Real(real)), "{cut}: {setting} {value}");
        }
        assert_eq!(super::kit::done(&heard, 900), Some(Done::Ok), "{cut}");
    }
}
