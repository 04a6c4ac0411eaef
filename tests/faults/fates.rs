//! What a kind of fault that falls seldom does to the world, each part after its time.
//!
//! Must not be here: how it is carried out (see `world`), when it falls (see `dice`).

use super::dice::{How, Kind};
use quadjig::seam::{Key, SystemSignal};
use std::time::Duration;

/// Something that befalls the whole world at a moment.
#[derive(Debug, Clone)]
pub enum Fate {
    Line(String),
    Key(Key),
    Signal(SystemSignal),
    /// A paste begins, and does not end.
    Paste,
    Leave,
    /// The wire is out for so long; whether another craft is at it then.
    Unplug(Duration, bool),
    /// Another craft is at the wire, which was never closed; silent before for so long.
    Swap(Duration),
    /// Another craft is on the same wire as well for so long.
    Beside(Duration),
    Back,
    Freeze(Duration),
    Suspend(Duration),
    /// The program ends without a word.
    Kill,
    /// All of it but its guardian is stopped for so long.
    Halt(Duration),
    GuardianKilled,
    GuardianStopped(Duration),
    Wire(Kind, Duration),
}

/// Ways in which the speeds that a board tells are not its motors'.
pub const FALSE_SPEEDS: [&str; 4] =
    ["falsify zeros 20%", "falsify lies 10%", "falsify dropped 40%", "freeze rear left 5000"];

/// What the operator does, rather than what happens.
pub fn of_hands(kind: Kind) -> bool {
    use Kind::{EarlyHand, FalseWord, LateHand, NoAnswer, TooSoon, WrongWord};
    matches!(kind, WrongWord | FalseWord | NoAnswer | EarlyHand | LateHand | TooSoon)
}

/// What becomes of the world, each after its time.
pub fn fates(kind: Kind, how: &mut How) -> Vec<(Duration, Fate)> {
    let line = |line: &str| Fate::Line(line.to_owned());
    let now = Duration::ZERO;
    let both = |after, one: &str, two: &str| vec![(now, line(one)), (after, line(two))];
    let deeds = ["write", "store", "restart", "disarm", "run"];
    let deed = |how: &mut How, what: &str| vec![(now, Fate::Line(format!("deed {} {what}", how.of(&deeds))))];
    match kind {
        Kind::Unplug => vec![(now, Fate::Unplug(how.ms(20, 12_000), false))],
        Kind::AnotherReplugged => {
            let mut all = vec![(now, Fate::Unplug(how.ms(20, 6_000), true))];
            if how.below(3) == 0 {
                all.push((Duration::from_secs(8) + how.ms(0, 20_000), Fate::Back));
            }
            all
        }
        Kind::Beside => vec![(now, Fate::Beside(how.ms(300, 20_000)))],
        Kind::SwappedQuietly => vec![(now, Fate::Swap(now))],
        Kind::SwappedInSilence => vec![(now, Fate::Swap(how.ms(700, 9_000)))],
        Kind::Restart => vec![(now, line("restart"))],
        Kind::BatteryFed => both(how.ms(300, 9_000), "power battery", "power either"),
        Kind::Leases => vec![(now, line(how.of(&["lease ignored", "lease unplugged"])))],
        Kind::Swallows => vec![(now, line(how.of(&["swallow 1", "swallow 4", "swallow 30"])))],
        Kind::Tilted => both(how.ms(60, 9_000), how.of(&["tilt 3 0", "tilt 0 12", "tilt 40 0"]), "tilt 0 0"),
        Kind::NoSpeeds => vec![(now, line("speeds off"))],
        Kind::FalseSpeeds => vec![(now, line(how.of(&FALSE_SPEEDS)))],
        Kind::WindsUp => vec![(now, line(how.of(&["windup 6 3 2", "windup 40 0 0"])))],
        Kind::Paste => vec![(now, Fate::Paste)],
        Kind::Hollow => deed(how, "hollow"),
        Kind::Unanswered => deed(how, "silent"),
        Kind::Late => {
            let late = how.ms(20, 8_000).as_millis().to_string();
            deed(how, &late)
        }
        Kind::StoresNot => vec![(now, line("deed store hollow"))],
        Kind::SlowFlag => vec![(now, line("flag slow"))],
        Kind::NoSensor => vec![(now, line("sensor off"))],
        Kind::NoId => vec![(now, line(how.of(&["id zero", "id refused", "id silent"])))],
        Kind::Clock => vec![(now, line(how.of(&["clock 0.98", "clock 1.02", "clock 0.9", "clock 1.1"])))],
        Kind::ClockJump => both(how.ms(20, 2000), "clock 1.3", "clock 1"),
        Kind::MotorStuck => vec![(now, line(how.of(&["threshold rear left 2000", "threshold front right 2000"])))],
        Kind::Rearms => vec![(now, line("rearms on"))],
        Kind::ByChange => vec![(now, line("switch change"))],
        Kind::Freeze => vec![(now, Fate::Freeze(how.ms(60, 4_000)))],
        Kind::Suspend => vec![(now, Fate::Suspend(how.ms(300, 60_000)))],
        Kind::Killed => vec![(now, Fate::Kill)],
        Kind::Halted => vec![(now, Fate::Halt(how.ms(60, 15_000)))],
        Kind::GuardianKilled => vec![(now, Fate::GuardianKilled)],
        Kind::GuardianStopped => vec![(now, Fate::GuardianStopped(how.ms(60, 6_000)))],
        Kind::Switch => {
            let flips = ["flip B 0", "flip B 1", "flip B 2"];
            both(how.ms(30, 6_000), how.of(&flips), how.of(&flips))
        }
        Kind::Throttle => {
            both(how.ms(30, 4_000), how.of(&["stick throttle -50%", "stick throttle 20%"]), "stick throttle -100%")
        }
        Kind::Battery => {
            let one = how.of(&["battery in", "battery out"]);
            let two = how.of(&["battery in", "battery out"]);
            both(how.ms(30, 8_000), one, two)
        }
        Kind::Radio => both(how.ms(100, 6_000), "radio off", "radio on"),
        Kind::Key => {
            vec![(now, Fate::Key(how.of(&[Key::Char('x'), Key::Char('y'), Key::Enter, Key::Other, Key::Escape])))]
        }
        Kind::Interrupt => vec![(
            now,
            if how.below(2) == 0 {
                Fate::Key(Key::Interrupt)
            } else {
                Fate::Signal(how.of(&[
                    SystemSignal::Terminate,
                    SystemSignal::HangUp,
                    SystemSignal::Quit,
                    SystemSignal::TerminalStop,
                ]))
            },
        )],
        Kind::Leaves => vec![(now, Fate::Leave)],
        Kind::Echo | Kind::Stall | Kind::Silence | Kind::OtherVehicle => {
            let most = if kind == Kind::Echo { 20_000 } else { 5_000 };
            vec![(now, Fate::Wire(kind, how.ms(60, most)))]
        }
        _ => Vec::new(),
    }
}
