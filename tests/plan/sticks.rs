//! `find sticks` and `test sticks`: known and unknown ones, what they can do, and from where the board takes them.

use super::{Bench, guards, step};
use quadjig::board::effect::Effect;
use quadjig::plan::inputs::Battery;
use quadjig::plan::step::Action;

const SAFE: &str = "require props off\nchannels roll, pitch, throttle, yaw\n";

#[test]
fn sticks_on_the_card_are_confirmed_and_others_are_moved() {
    let mut bench = Bench::finch();
    let known = bench.plan("require battery out\nfind sticks");
    let confirm = &step(&known, |act| matches!(act, Action::FindSticks { known: true }));
    assert_eq!((confirm.effect, guards(confirm)), (Effect::Looks, "signals fresh".to_owned()));
    let anew = bench.plan("require battery out\nfind sticks anew");
    assert_eq!(step(&anew, |act| matches!(act, Action::FindSticks { known: false })).effect, Effect::Asks);
    // Three of four are not all.
    let first = *bench.card.sticks.keys().next().unwrap();
    bench.card.sticks.remove(&first);
    let partly = bench.plan("require battery out\nfind sticks");
    assert_eq!(step(&partly, |act| matches!(act, Action::FindSticks { known: false })).effect, Effect::Asks);
}

/// What `safety.md` says under *Effects*: sticks that are moved on a board that binds arm, or arms by sticks.
#[test]
fn moving_sticks_can_turn_motors_where_something_can_arm_and_the_battery_may_be_in() {
    for line in ["find sticks anew", "test sticks"] {
        let mut bench = Bench::finch();
        let moved = |bench: &Bench| {
            let plan = bench.plan(&format!("{SAFE}{line}"));
            let found = plan
                .steps
                .iter()
                .find(|step| matches!(step.act, Action::FindSticks { known: false } | Action::TestSticks(_)));
            let found = found.unwrap();
            (found.effect, guards(found).contains("confirmed"))
        };
        assert_eq!(moved(&bench), (Effect::TurnsMotors, true), "{line}: arm is bound");
        bench.set("ARM_CHANNEL", 0);
        assert_eq!(moved(&bench), (Effect::Asks, false), "{line}: nothing arms");
        bench.sheet.sticks_can_arm = true;
        assert_eq!(moved(&bench), (Effect::TurnsMotors, true), "{line}: sticks arm");
        bench.progress.battery = Battery::Out;
        assert_eq!(moved(&bench), (Effect::Asks, false), "{line}: nothing has power");
        bench.progress.battery = Battery::In;
        assert!(bench.refused(&format!("{SAFE}{line}"))[0].starts_with("plan-battery-in"), "{line}");
    }
}

#[test]
fn a_test_knows_from_where_the_board_will_take_the_sticks() {
    let plan = Bench::finch().plan("require battery out\nchannels throttle, roll, pitch, yaw\nkeep\ntest sticks");
    let test = step(&plan, |act| matches!(act, Action::TestSticks(_)));
    let Action::TestSticks(asked) = &test.act else { unreachable!() };
    assert_eq!(asked.channels, [Some(2), Some(3), Some(1), Some(4)], "of roll, pitch, throttle, yaw");
    assert_eq!((asked.centre.0.0, asked.ends.0.0, asked.ends.1.0), (1500, 1000, 2000), "as the language has it");
}
