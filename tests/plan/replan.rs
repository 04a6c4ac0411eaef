//! Planning the rest again: after a find or a search, and what a run has done already.

use super::{Bench, name, told, written};
use quadjig::board::radio_card::SwitchEntry;
use quadjig::language::recipe::Switch;
use quadjig::language::units::Pulse;
use quadjig::plan::inputs::{Battery, Progress};
use quadjig::plan::step::Action;
use quadjig::record::{ChannelOnLoss, LossSeen};

#[test]
fn once_a_switch_is_found_its_binding_is_planned() {
    let mut bench = Bench::finch();
    bench.card.switches.clear();
    let lines = "require battery out\nfind switch B\nbind arm to switch B position 2\nkeep\ntest arm";
    let first = bench.plan(lines);
    assert_eq!(first.unknown.len(), 3);

    let found = SwitchEntry {
        channel: 9,
        rests: vec![Pulse(1000), Pulse(1500), Pulse(2000)],
        noise: Some(1.0),
        momentary: false,
        on_loss: None,
    };
    bench.card.switches.insert(Switch("B".to_owned()), found);
    bench.progress =
        Progress { next: 2, battery: Battery::Out, found: [Switch("B".to_owned())].into(), ..Progress::start() };
    let rest = bench.plan(lines);
    assert!(rest.unknown.is_empty());
    assert_eq!(written(&rest).last().unwrap(), "ARM_TO=2146");
    assert!(written(&rest).contains(&"ARM_CHANNEL=9".to_owned()));
    assert!(!rest.steps.iter().any(|step| matches!(step.act, Action::FindSwitch { .. } | Action::BatteryOut { .. })));
    assert_eq!(rest.steps[0].statement, 2);
}

#[test]
fn a_switch_found_anew_by_this_run_is_known_for_the_rest() {
    let mut bench = Bench::finch();
    bench.progress = Progress { next: 2, battery: Battery::Out, ..Progress::start() };
    let rest = bench.plan("require battery out\nfind switch B anew\nbind arm to switch B position 2");
    assert!(rest.unknown.is_empty() && !rest.changes.is_empty());
}

#[test]
fn after_a_search_its_value_is_stored_and_read_back_by_the_last_keep() {
    let lines = "require props off\nrequire battery out\nat zero throttle spin\nfind switch B\n\
                 bind arm to switch B position 2\nkeep\nidle start at 1100 step 25 until all spin\ntest idle";
    let mut bench = Bench::finch();
    bench.carry_out(&bench.clone().plan(lines));
    bench.set("IDLE_US", 1150);
    bench.progress = Progress {
        next: 7,
        battery: Battery::In,
        unsaved: [name("IDLE_US")].into(),
        props_off: true,
        ..Progress::start()
    };
    let rest = bench.plan(lines);
    assert_eq!(
        told(&rest),
        [
            "turns motors: Test the idle in 3 starts of 2 s",
            "stores: Store",
            "turns motors: Restart, and read 1 setting back",
        ]
    );
    let Action::TestIdle { pulse, .. } = rest.steps[0].act else { unreachable!() };
    assert_eq!(pulse, Pulse(1150));
    let Action::Restart { expect } = &rest.steps[2].act else { unreachable!() };
    assert_eq!((expect[0].setting.as_str(), expect[0].shown.as_str()), ("idle", "1150 us"));
}

#[test]
fn requires_that_were_tested_still_guard_what_follows() {
    let lines = "require props off\nrequire antenna on\nrequire battery out\nat zero throttle spin\nfind switch B\n\
                 bind arm to switch B position 2\nkeep\nrequire level within 2 deg\ntest idle";
    let mut bench = Bench::finch();
    bench.carry_out(&bench.clone().plan(lines));
    bench.progress = Progress { next: 8, battery: Battery::In, props_off: true, antenna_on: true, ..Progress::start() };
    let rest = bench.plan(lines);
    let [test] = rest.steps.as_slice() else { panic!("{:#?}", told(&rest)) };
    assert!(super::guards(test).contains("props off, antenna on"));
    assert!(super::guards(test).contains("level within 2 deg"));
}

#[test]
fn a_signal_written_before_the_search_still_waits_for_its_power_cycle() {
    let lines = "require props off\nrequire battery out\nat zero throttle spin\nfind switch B\n\
                 bind arm to switch B position 2\nsignal dshot300 at 4 kHz\nkeep\nfind link loss\ntest idle";
    let mut bench = Bench::finch();
    bench.set("MOTOR_SIGNAL", 3).set("LOOP_HZ", 4000);
    bench.progress = Progress { next: 8, battery: Battery::Out, signal_changed: true, ..Progress::start() };
    assert!(bench.refused(lines).contains(&"plan-no-power-cycle 14:1".to_owned()));
}

#[test]
fn link_loss_that_is_found_after_arm_was_bound_still_stops_what_it_would_arm() {
    let lines = "require props off\nrequire battery out\nat zero throttle spin\nfind switch B\n\
                 bind arm to switch B position 2\nkeep\nfind link loss\ntest idle\ntest cut";
    let mut bench = Bench::finch();
    bench.carry_out(&bench.clone().plan(lines));
    bench.progress = Progress { next: 7, battery: Battery::Out, props_off: true, ..Progress::start() };
    for (does, refused) in [
        (LossSeen::Fixed(1000), false),
        (LossSeen::Flagged, false),
        (LossSeen::Fixed(1900), true),
        (LossSeen::Holds, true),
    ] {
        bench.record.link_loss = vec![ChannelOnLoss { channel: 6, does }];
        if refused {
            assert_eq!(bench.refused(lines), ["plan-arm-on-link-loss 13:1", "plan-arm-on-link-loss 14:1"]);
        } else {
            bench.plan(lines);
        }
    }
}

#[test]
fn the_shipped_first_recipe_is_planned_with_nothing_known_of_radio_and_craft() {
    let mut bench = Bench::finch();
    bench.card.switches.clear();
    let plan = bench.compile(&super::text(include_str!("../../recipes/first-craft.jig"))).unwrap();
    let open: Vec<&str> = plan.unknown.iter().map(|unknown| unknown.setting.as_str()).collect();
    let bands =
        ["arm", "buzzer", "self-level"].iter().flat_map(|f| ["channel", "from", "to"].map(|p| format!("{f}: {p}")));
    assert_eq!(open, bands.chain(["idle".to_owned()]).collect::<Vec<_>>());
    assert_eq!(plan.plug_ins(), 1);
    assert!(plan.remarks.is_empty(), "{:#?}", plan.remarks);
}

#[test]
fn the_same_inputs_give_the_same_plan() {
    let lines = "require battery out\nfind switch B\nfind switch C\nbind arm to switch B position 2\n\
                 bind buzzer to switch C position 1\nsignal dshot300 at 4 kHz\nfailsafe cut motors after 500 ms";
    assert_eq!(Bench::finch().plan(lines), Bench::finch().plan(lines));
}
