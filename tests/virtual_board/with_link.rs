//! The project's own link and the virtual board understand each other, on both boards and in both encodings.

use quadjig::board::mavlink::MavlinkLink;
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Stream, Ticket};
use quadjig::board::value::{Number, SettingName};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, Encoding, World, WorldConfig};
use std::collections::BTreeMap;

/// A world and a link to it, with one clock.
pub struct Bench {
    pub world: World,
    pub link: MavlinkLink,
    pub now: Time,
    tickets: u32,
}

impl Bench {
    pub fn new(config: WorldConfig) -> Self {
        Self::with(config, MavlinkLink::new(None))
    }

    pub fn with(config: WorldConfig, link: MavlinkLink) -> Self {
        Self { world: World::new(config), link, now: Time(0), tickets: 0 }
    }

    /// Lets time pass; what was heard.
    pub fn wait(&mut self, milliseconds: u64) -> Vec<LinkEvent> {
        let end = Time(self.now.0 + milliseconds * 1000);
        let mut heard = Vec::new();
        while self.now < end {
            self.now = self.world.wake().min(self.link.wake()).min(end).max(Time(self.now.0 + 1));
            self.world.advance(self.now);
            self.link.receive(self.now, &self.world.take_output(), &mut heard);
            let mut out = Vec::new();
            self.link.work(self.now, &mut out, &mut heard);
            self.world.receive(self.now, &out);
        }
        heard
    }

    /// Sends a request and waits; how it ended, and what was heard meanwhile.
    pub fn ask(&mut self, request: Request, milliseconds: u64) -> (Done, Vec<LinkEvent>) {
        self.tickets += 1;
        let ticket = Ticket(self.tickets);
        let mut out = Vec::new();
        self.link.send(self.now, ticket, request, &mut out);
        self.world.receive(self.now, &out);
        let heard = self.wait(milliseconds);
        let done = heard.iter().find_map(|heard| match heard {
            LinkEvent::Done { ticket: ended, result } if *ended == ticket => Some(result.clone()),
            _ => None,
        });
        (done.expect("the request ends"), heard)
    }
}

pub fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

#[test]
fn identify_list_write_store_restart() {
    for (board, encoding) in [(BoardKind::Finch, Encoding::Bytewise), (BoardKind::FinchR, Encoding::Cast)] {
        let mut bench = Bench::new(WorldConfig { board, encoding, seed: 42, ..WorldConfig::default() });
        bench.wait(1500);
        let (done, heard) = bench.ask(Request::Identify, 2000);
        assert_eq!(done, Done::Ok);
        let identity = heard.iter().find_map(|heard| match heard {
            LinkEvent::Identity(identity) => Some(identity.clone()),
            _ => None,
        });
        let identity = identity.unwrap();
        assert_eq!((identity.id.as_str(), identity.firmware.as_str()), ("766972740000002a", "2.4.1"));
        assert_eq!(identity.kind, board.name());
        assert!(identity.is_virtual());

        let (done, heard) = bench.ask(Request::ListSettings, 3000);
        assert_eq!(done, Done::Ok);
        let settings: BTreeMap<String, f64> = heard
            .iter()
            .filter_map(|heard| match heard {
                LinkEvent::Setting { name, value, .. } => Some((name.as_str().to_owned(), value.real())),
                _ => None,
            })
            .collect();
        let truth = bench.world.truth();
        let really = truth["settings"].as_object().unwrap();
        assert_eq!(settings.len(), really.len());
        for (name, value) in &settings {
            let exact = really[name]["working"].as_f64().unwrap();
            assert!((value - exact).abs() <= exact.abs() * 1e-7, "{name}: {value} for {exact}");
        }
        assert!(bench.link.encoding_proved());

        let idle = name("IDLE_US");
        assert_eq!(bench.ask(Request::WriteSetting(idle.clone(), Number::Whole(1123)), 500).0, Done::Ok);
        let refused = bench.ask(Request::WriteSetting(idle, Number::Whole(1300)), 500).0;
        assert!(matches!(refused, Done::Differs(_) | Done::Refused(_)), "{refused:?}");
        assert_eq!(bench.ask(Request::Store, 500).0, Done::Ok);
        assert_eq!(bench.ask(Request::Restart, 30).0, Done::Ok);
        bench.wait(3000);
        assert_eq!(bench.world.truth()["settings"]["IDLE_US"]["working"], 1123);
    }
}

#[test]
fn streams_motor_run_and_stop() {
    let mut bench = Bench::new(WorldConfig::default());
    bench.wait(1500);
    for stream in [Stream::Channels, Stream::Outputs] {
        assert_eq!(bench.ask(Request::Stream(stream, Some(50)), 500).0, Done::Ok);
    }
    let heard = bench.wait(1000);
    let channels = heard.iter().filter(|heard| matches!(heard, LinkEvent::Channels { count: 16, .. })).count();
    assert!((49..=51).contains(&channels), "{channels}");
    bench.world.line(bench.now, "battery in").unwrap();
    let run = Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 2000 };
    let (done, heard) = bench.ask(run, 800);
    assert_eq!(done, Done::Ok);
    assert!(
        heard
            .iter()
            .any(|heard| matches!(heard, LinkEvent::Outputs { pulses, .. } if pulses[..4] == [1000, 1150, 1000, 1000]))
    );
    let spinning = heard.iter().any(|heard| matches!(heard, LinkEvent::Speeds { rpm, .. } if rpm[1] > 5000));
    assert!(spinning);
    let stop = bench.link.stop_bytes(false).expect("the board is known");
    bench.world.receive(bench.now, &stop);
    assert_eq!(bench.world.outputs(), [1000; 4]);
}
