//! Where the battery goes in and out, what is asked again because of it, and what it does to effects.

use super::{Bench, guards, step, told};
use quadjig::board::effect::Effect;
use quadjig::board::radio_card::RadioCard;
use quadjig::plan::inputs::Battery;
use quadjig::plan::step::Action;

const READY: &str = "require props off\nrequire battery out\nat zero throttle spin\n\
                     find switch B\nbind arm to switch B position 2\nkeep\n";

#[test]
fn the_battery_is_asked_in_before_the_first_step_that_needs_it_and_once() {
    let plan = Bench::finch().plan(&format!("{READY}test arm\ntest idle\ntest cut"));
    let acts = told(&plan);
    let at = |what: &str| acts.iter().position(|line| line.contains(what)).unwrap();
    assert!(at("Test arm") < at("Battery in"), "{acts:#?}");
    assert_eq!(at("Battery in") + 1, at("Test the idle"), "{acts:#?}");
    assert_eq!(plan.plug_ins(), 1);
}

#[test]
fn a_board_that_does_not_arm_on_usb_needs_the_battery_for_test_arm() {
    let mut bench = Bench::finch();
    bench.sheet.arms_on_usb = false;
    let plan = bench.plan(&format!("{READY}test arm"));
    let test = step(&plan, |act| matches!(act, Action::TestArm { powered: true, .. }));
    assert_eq!(test.effect, Effect::TurnsMotors);
    assert_eq!(plan.plug_ins(), 1);
}

#[test]
fn test_arm_with_the_battery_out_turns_nothing() {
    let plan = Bench::finch().plan(&format!("{READY}test arm"));
    let test = step(&plan, |act| matches!(act, Action::TestArm { powered: false, .. }));
    assert_eq!(test.effect, Effect::Asks);
    assert!(guards(&test).contains("battery out"));
}

#[test]
fn plugging_in_is_guarded_by_all_that_is_measured_and_by_the_propellers() {
    let plan = Bench::finch().plan(&format!("require antenna on\n{READY}require battery in"));
    let plug = step(&plan, |act| matches!(act, Action::BatteryIn));
    assert_eq!(plug.effect, Effect::TurnsMotors);
    assert_eq!(
        guards(&plug),
        "props off, antenna on, disarmed, throttle low, arm switch off, outputs at rest, signals fresh"
    );
}

#[test]
fn a_power_cycle_is_out_and_in_and_the_propellers_are_asked_again() {
    let plan = Bench::finch()
        .plan(&format!("{READY}require battery in\nsignal dshot300 at 2 kHz\nkeep\npower cycle\ntest idle"));
    let acts = told(&plan);
    let out = acts.iter().rposition(|line| line == "asks: Battery out").unwrap();
    assert_eq!(
        acts[out..out + 4],
        [
            "asks: Battery out",
            "asks: Propellers off, and no other craft on this radio",
            "turns motors: Battery in",
            "turns motors: Run each of 4 motors once by command, to test the signal dshot300",
        ]
    );
}

#[test]
fn a_power_cycle_with_the_battery_out_only_brings_it_in() {
    let plan = Bench::finch().plan(&format!("{READY}signal dshot300 at 2 kHz\npower cycle"));
    assert_eq!(told(&plan).iter().filter(|line| line.contains("Battery out")).count(), 1);
    assert_eq!(plan.plug_ins(), 1);
}

#[test]
fn link_loss_takes_the_battery_out_and_a_recipe_that_causes_a_needless_plug_in_is_told() {
    let plan = Bench::finch().plan(&format!("{READY}test idle\nfind link loss\ntest cut"));
    assert_eq!(plan.plug_ins(), 2);
    assert!(plan.remarks.iter().any(|remark| remark.text.contains("2 times (lines 12, 14)")), "{:#?}", plan.remarks);
    let once = Bench::finch().plan(&format!("{READY}find link loss\ntest idle\ntest cut"));
    assert_eq!(once.plug_ins(), 1);
    assert!(!once.remarks.iter().any(|remark| remark.text.contains("battery")), "{:#?}", once.remarks);
}

#[test]
fn idle_signal_zero_throttle_and_channels_turn_motors_only_where_the_battery_may_be_in() {
    for line in ["idle at 1120", "signal dshot300", "at zero throttle spin", "channels pitch, roll, throttle, yaw"] {
        for (battery, effect) in [
            (Battery::Out, Effect::Writes),
            (Battery::In, Effect::TurnsMotors),
            (Battery::Unknown, Effect::TurnsMotors),
        ] {
            let mut bench = Bench::finch();
            bench.progress.battery = battery;
            let plan = bench.plan(&format!("require props off\n{line}"));
            let write = step(&plan, |act| matches!(act, Action::Write(_)));
            assert_eq!(write.effect, effect, "{line} {battery:?}");
            assert_eq!(guards(&write).contains("confirmed"), effect == Effect::TurnsMotors);
            assert_eq!(guards(&write).contains("battery out"), battery == Battery::Out);
        }
    }
}

#[test]
fn what_no_sheet_lists_turns_motors_with_the_battery_out_as_well() {
    let plan = Bench::finch().plan("require battery out\nset \"BOOT_TONE\" to 0");
    assert_eq!(step(&plan, |act| matches!(act, Action::Write(_))).effect, Effect::TurnsMotors);
    assert!(told(&plan).contains(&"asks: Propellers off, and no other craft on this radio".to_owned()));
}

#[test]
fn a_restart_turns_motors_where_the_battery_may_be_in_and_something_can_arm() {
    let line = "require props off\nfailsafe cut motors after 500 ms";
    let restart = |bench: &Bench| step(&bench.plan(line), |act| matches!(act, Action::Restart { .. })).effect;
    let mut bench = Bench::finch();
    assert_eq!(restart(&bench), Effect::TurnsMotors);
    bench.progress.battery = Battery::Out;
    assert_eq!(restart(&bench), Effect::Restarts);
    bench.progress.battery = Battery::In;
    bench.set("ARM_CHANNEL", 0);
    assert_eq!(restart(&bench), Effect::Restarts);
    bench.sheet.sticks_can_arm = true;
    assert_eq!(restart(&bench), Effect::TurnsMotors);
}

#[test]
fn a_receiver_that_usb_does_not_feed_needs_the_battery_for_what_reads_it() {
    let mut bench = Bench::finch();
    bench.sheet.usb_feeds_receiver = false;
    bench.card = RadioCard::default();
    let lines = "require props off\nrequire battery out\nswitch B on channel 6 rests at 1000, 1500, 2000\n";
    assert_eq!(bench.plan(&format!("{lines}require switch B position 0")).plug_ins(), 1);
    // No switch is worked, and no radio lost, with the battery in.
    for finds in ["find switch C", "find sticks", "test sticks", "find link loss"] {
        assert!(bench.refused(&format!("{lines}{finds}"))[0].starts_with("plan-receiver-unfed"), "{finds}");
    }
}
