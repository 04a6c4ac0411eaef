//! The facts of a sheet that no answer of a board tells by itself: what each says, and how to see whether it is so.
//!
//! Guards believe these lines. Must not be here: what is tried by the program itself (see `bench::monitor::sheet_trial` and
//! `bench::procedures::tried_claims`).

use crate::board::sheet::Sheet;
use serde::Serialize;

/// One fact.
#[derive(Debug, Serialize)]
pub struct Fact {
    /// Its line in the sheet.
    pub line: &'static str,
    /// What this sheet says.
    pub says: String,
    /// How to see whether it is so: propellers off, and the battery out unless it is named.
    pub see: &'static str,
}

/// All of them, in the order of a sheet.
pub fn facts(sheet: &Sheet) -> Vec<Fact> {
    let yes = |so: bool| so.to_string();
    let fact = |line, says, see| Fact { line, says, see };
    let run = sheet.motor_run.as_ref();
    let binding = &sheet.binding;
    vec![
        fact("usb.receiver", yes(sheet.usb_feeds_receiver), "radio on: --port shows whether channels are heard"),
        fact(
            "usb.motors",
            yes(sheet.usb_feeds_motors),
            "measure at a motor's plug of the controller: under 0.5 V on USB alone is false; `--try usb` sees one that turns",
        ),
        fact(
            "arming.throttle-below",
            sheet.throttle_below.to_string(),
            "arm with the throttle a little up, and read what the board says; `test arm` raises it too",
        ),
        fact(
            "arming.sticks-can-arm",
            yes(sheet.sticks_can_arm),
            "throttle down, hold yaw right for 3 s, then left, beside `quadjig watch`: armed at either is true",
        ),
        fact(
            "arming.arms-on-usb",
            yes(sheet.arms_on_usb),
            "`--try usb`, or the arm switch on beside `quadjig watch`: armed is true",
        ),
        fact(
            "arming.buzzer-by",
            if sheet.motors_sound_buzzer { "motors" } else { "buzzer" }.to_owned(),
            "buzzer's switch on: heard without the battery is buzzer; else leave motors",
        ),
        fact(
            "storing.at-once",
            yes(sheet.stores_at_once),
            "change a light by the maker's means without keeping it, pull the cable, read it: still changed is true",
        ),
        fact(
            "storing.restart-needed",
            yes(sheet.store_restarts),
            "keep a changed light and look: it shines as before until a restart, then true",
        ),
        fact(
            "motor-run",
            run.map_or("none".to_owned(), |run| format!("up to {} ms", run.longest.as_millis())),
            "battery in: `--try cable` runs it in silence, then has the cable pulled out: a motor that goes on at either is none",
        ),
        fact(
            "motors.corners",
            sheet.corners.iter().map(|corner| corner.0.as_str()).collect::<Vec<_>>().join(", "),
            "battery in: `test motors` asks which corner turned",
        ),
        fact(
            "motors.speed-telemetry",
            yes(sheet.speed_telemetry),
            "--port shows speeds where they come; some come with the battery in alone",
        ),
        fact(
            "binding.from-inside, to-inside",
            format!("{}, {}", binding.from_inside, binding.to_inside),
            "bind a light to a stick's channel, put the stick's pulse on an end: on is inside",
        ),
        fact(
            "binding.closed",
            format!("{} to {}", binding.closed.0, binding.closed.1),
            "write both ends to a light so: it is off at every position of its switch",
        ),
    ]
}
