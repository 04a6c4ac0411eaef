//! Boards whose packets are wrong: each ends in a sentence that says what came, in bounded time, and nothing is written.

use super::kit::{OnBoard, write};
use quadjig::board::signals::{Done, LinkEvent, Request};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, PacketFault, WorldConfig};

fn bench(board: BoardKind, packet_fault: PacketFault) -> OnBoard {
    let mut bench = OnBoard::new(WorldConfig { board, packet_fault, ..WorldConfig::default() });
    bench.wait(500);
    bench
}

fn says(done: Done, what: &str) {
    match done {
        Done::Refused(why) => assert!(why.contains(what), "{why}"),
        other => panic!("{what}: {other:?}"),
    }
}

#[test]
fn wrong_packets_of_settings_are_told_apart() {
    for board in [BoardKind::FinchP, BoardKind::FinchQ] {
        for (fault, what) in [
            (
                PacketFault::Length,
                "the board's answer has 11 bytes, and the layout in [packets.settings.motors-and-radio] has 12",
            ),
            (PacketFault::Sum, "what came was a packet "),
            (PacketFault::Endless, "what came was a packet "),
            (PacketFault::Other, "which is the answer to another question"),
        ] {
            let mut bench = bench(board, fault);
            let began = bench.now;
            let (done, heard) = bench.ask(Request::ListSettings, 10_000);
            says(done, what);
            assert!(bench.now.since(began).as_millis() < 2000, "{board:?} {fault:?}: {:?}", bench.now.since(began));
            assert!(!heard.iter().any(|heard| matches!(heard, LinkEvent::Setting { .. })), "{board:?} {fault:?}");
            // Nothing is written to a board that was not read, and the armed flag is heard all along.
            says(bench.ask(write("IDLE_US", 1105), 1000).0, "were not read yet");
            let heard = bench.wait(1000);
            let flags = heard.iter().filter(|heard| matches!(heard, LinkEvent::Alive { .. })).count();
            assert!(flags >= 3, "{board:?} {fault:?}: {flags}");
        }
    }
}

#[test]
fn a_neighbour_that_changes_with_a_write_is_told() {
    for board in [BoardKind::FinchP, BoardKind::FinchQ] {
        let mut bench = bench(board, PacketFault::Neighbour);
        assert_eq!(bench.ask(Request::ListSettings, 5000).0, Done::Ok);
        says(bench.ask(write("IDLE_US", 1105), 2000).0, "IDLE_US was written, and with it SPIN_AT_ZERO changed");
    }
}

/// As if another hand wrote in between.
#[test]
fn a_neighbour_that_changed_before_keeps_the_write_from_being_made() {
    for board in [BoardKind::FinchP, BoardKind::FinchQ] {
        let mut bench = bench(board, PacketFault::Sound);
        assert_eq!(bench.ask(Request::ListSettings, 5000).0, Done::Ok);
        bench.world.line(Time(bench.now.0), "set MOTOR_SIGNAL 3").unwrap();
        says(bench.ask(write("IDLE_US", 1105), 2000).0, "MOTOR_SIGNAL is not what it was when the settings were read");
        assert_eq!(bench.world.truth()["settings"]["IDLE_US"]["working"].as_f64(), Some(1050.0));
    }
}
