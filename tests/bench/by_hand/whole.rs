//! A whole session: find a switch, bind arm, step the idle, keep, test, take one thing back, write it out, leave.

use super::kit::session;

#[test]
fn a_session_from_a_switch_to_a_recipe() {
    let sat = session(&[
        "require props off",
        "require antenna on",
        "require battery out",
        "find switch B with 3 positions",
        "bind arm to switch B position 2",
        "at zero throttle spin",
        "bind buzzer to switch C position 1",
        "find switch C",
        "bind buzzer to switch C position 1",
        "keep",
        "idle start at 1100 step 25",
        "keep",
        "test idle",
        "test cut",
        "look",
        "look switches",
        "look changes",
        "require battery out",
        "failsafe cut motors after 1 s",
        "undo",
        "look journal",
        "recipe",
        "write wren-95.jig",
        "leave",
    ])
    .answers(&[
        ("Which idle next", 'h'),
        ("Which idle next", 'h'),
        ("Which idle next", 'l'),
        ("Which idle next", 'h'),
        ("Which idle next", 't'),
    ])
    .sit();
    println!("{}", sat.text);
    println!("{:?}", sat.prompts);
    sat.result.as_ref().unwrap();
    println!("{}", sat.file("wren-95.jig"));
}
