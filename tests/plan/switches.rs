//! Switches and bindings: known and unknown ones, bands, link loss, both ways of binding.

use super::{Bench, guards, step, told, written};
use quadjig::board::effect::Effect;
use quadjig::language::recipe::{OnLoss, Switch};
use quadjig::language::units::Pulse;
use quadjig::plan::inputs::Battery;
use quadjig::plan::step::Action;
use quadjig::record::{ChannelOnLoss, LossSeen};

const BIND: &str = "require battery out\nfind switch B\nbind arm to switch B position 2";

#[test]
fn a_switch_on_the_card_is_confirmed_and_its_band_is_computed() {
    let plan = Bench::finch().plan(BIND);
    let find = step(&plan, |act| matches!(act, Action::FindSwitch { known: true, .. }));
    assert_eq!(find.effect, Effect::Looks);
    // Rests 1000, 1500, 2000: half the distance is 250, rounded inwards to the steps of 8 from 850.
    assert_eq!(written(&plan), ["ARM_TO=850", "ARM_FROM=850", "ARM_CHANNEL=6", "ARM_FROM=1754", "ARM_TO=2146"]);
}

#[test]
fn a_switch_that_nobody_knows_leaves_its_binding_open_with_a_range() {
    let mut bench = Bench::finch();
    bench.card.switches.clear();
    let plan = bench.plan(BIND);
    assert_eq!(
        told(&plan),
        [
            "asks: Battery out",
            "asks: Find switch B",
            "writes: Later: bind arm to switch B position 2",
            "stores: Store",
            "restarts: Restart",
        ]
    );
    let open: Vec<String> =
        plan.unknown.iter().map(|u| format!("{} {} {} {}", u.setting, u.least, u.most, u.unit)).collect();
    assert_eq!(open, ["arm: channel 1 16 ", "arm: from 850 2150 us", "arm: to 850 2150 us"]);
    assert!(plan.changes.is_empty() && !plan.is_satisfied());
}

#[test]
fn find_anew_does_not_trust_the_card() {
    let plan = Bench::finch().plan("require battery out\nfind switch B anew\nbind arm to switch B position 2");
    assert!(plan.steps.iter().any(|step| matches!(step.act, Action::FindSwitch { known: false, .. })));
    assert_eq!(plan.unknown.len(), 3);
}

#[test]
fn a_declared_switch_needs_no_find() {
    let plan = Bench::finch()
        .plan("require battery out\nswitch E on channel 9 rests at 1000, 2000\nbind buzzer to switch E position 1");
    assert_eq!(written(&plan), ["BUZZ_CHANNEL=9", "BUZZ_FROM=1754", "BUZZ_TO=2146"]);
}

#[test]
fn working_a_switch_can_turn_motors_where_something_can_arm_and_the_battery_may_be_in() {
    let mut bench = Bench::finch();
    bench.card.switches.clear();
    let mut effect = |battery: Battery| {
        bench.progress.battery = battery;
        let found =
            step(&bench.plan("require props off\nfind switch B"), |act| matches!(act, Action::FindSwitch { .. }));
        assert_eq!(guards(&found).contains("confirmed"), found.effect == Effect::TurnsMotors);
        found.effect
    };
    assert_eq!(effect(Battery::Out), Effect::Asks);
    assert_eq!(effect(Battery::Unknown), Effect::TurnsMotors);
    // The run refuses it, and so the plan does.
    bench.progress.battery = Battery::In;
    assert_eq!(bench.refused("require props off\nfind switch B"), ["plan-battery-in 7:1"]);
}

#[test]
fn arm_is_not_bound_where_link_loss_would_arm() {
    let mut held = Bench::finch();
    held.card.switches.get_mut(&Switch("B".to_owned())).unwrap().on_loss = Some(OnLoss::Holds);
    assert_eq!(held.refused(BIND), ["plan-arm-on-link-loss 8:31"]);

    let mut fixed = Bench::finch();
    fixed.record.link_loss = vec![ChannelOnLoss { channel: 6, does: LossSeen::Fixed(1995) }];
    assert_eq!(fixed.refused(BIND), ["plan-arm-on-link-loss 8:31"]);

    let mut elsewhere = Bench::finch();
    elsewhere.record.link_loss = vec![
        ChannelOnLoss { channel: 6, does: LossSeen::Fixed(1000) },
        ChannelOnLoss { channel: 7, does: LossSeen::Holds },
    ];
    assert!(!written(&elsewhere.plan(BIND)).is_empty());
    // Another function may well come on there.
    assert!(!written(&fixed.plan("require battery out\nfind switch B\nbind buzzer to switch B position 2")).is_empty());
}

/// What was vouched for wrongly can be found again: until then the record is not what arm is judged by.
#[test]
fn link_loss_that_is_to_be_found_anew_takes_the_records_place() {
    let mut bench = Bench::finch();
    bench.record.link_loss = vec![ChannelOnLoss { channel: 6, does: LossSeen::Holds }];
    let anew = BIND.replace("find switch B", "find switch B\nfind link loss anew");
    assert!(!written(&bench.plan(&anew)).is_empty());
    // Found after it, or not anew, it is still the record that counts.
    assert_eq!(bench.refused(&format!("{BIND}\nfind link loss anew")), ["plan-arm-on-link-loss 8:31"]);
    assert_eq!(bench.refused(&anew.replace(" anew", "")), ["plan-arm-on-link-loss 9:31"]);
}

#[test]
fn a_fixed_pulse_beside_the_band_narrows_it() {
    let mut bench = Bench::finch();
    bench.record.link_loss = vec![ChannelOnLoss { channel: 6, does: LossSeen::Fixed(1800) }];
    // 1800 lies inside 1754 to 2146: half way to the rest is 1900, up to the grid 1906.
    assert!(written(&bench.plan(BIND)).contains(&"ARM_FROM=1906".to_owned()));
}

#[test]
fn neighbouring_positions_are_one_band_and_positions_apart_need_rows() {
    let lines = "require battery out\nfind switch D\nbind self-level to switch D positions 0, 1";
    assert_eq!(written(&Bench::finch().plan(lines)), ["SELFLVL_CHANNEL=8", "SELFLVL_TO=1746"]);
    let apart = "require battery out\nfind switch D\nbind lights to switch D positions 0, 2";
    assert_eq!(Bench::finch().refused(apart), ["plan-binding 8:35"]);
    assert_eq!(
        written(&Bench::finch_r().plan(apart)),
        [
            "ROW2_CHANNEL=8",
            "ROW2_TO=1250",
            "ROW2_FUNC=4",
            "ROW3_CHANNEL=8",
            "ROW3_FROM=1754",
            "ROW3_TO=2146",
            "ROW3_FUNC=4"
        ]
    );
}

#[test]
fn unbind_closes_and_a_second_unbind_has_nothing_to_do() {
    let mut bench = Bench::finch();
    bench.set("LIGHT_CHANNEL", 8).set("LIGHT_FROM", 1754).set("LIGHT_TO", 2146);
    let plan = bench.plan("require battery out\nunbind lights");
    assert_eq!(written(&plan).last().unwrap(), "LIGHT_CHANNEL=0");
    bench.carry_out(&plan);
    assert!(bench.plan("require battery out\nunbind lights").is_satisfied());
}

#[test]
fn a_proof_carries_the_switch_that_it_works() {
    let plan = Bench::finch().plan(&format!("{BIND}\nkeep\ntest arm"));
    let Action::TestArm { arm, .. } = step(&plan, |act| matches!(act, Action::TestArm { .. })).act else {
        unreachable!()
    };
    let at = arm.at.unwrap();
    assert_eq!((arm.switch.0.as_str(), arm.positions, at.channel), ("B", vec![2], 6));
    assert_eq!(at.rests, [Pulse(1000), Pulse(1500), Pulse(2000)]);
}

#[test]
fn without_a_binding_in_the_recipe_the_board_tells_which_switch_arms() {
    let mut bench = Bench::finch();
    bench.set("ARM_CHANNEL", 7);
    let plan = bench.plan("require battery out\ntest arm");
    let Action::TestArm { arm, .. } = step(&plan, |act| matches!(act, Action::TestArm { .. })).act else {
        unreachable!()
    };
    assert_eq!((arm.switch.0.as_str(), arm.positions), ("C", vec![1]));
    // Nothing known is on channel 5.
    assert_eq!(Bench::finch().refused("require battery out\ntest arm"), ["plan-arm-not-bound 7:1"]);
}

/// A buzzer that the board has on a channel where nobody knows a switch is bound all the same.
#[test]
fn a_buzzer_that_is_bound_where_no_switch_is_known_is_refused_as_that() {
    let refused = |bench: &Bench, lines: &str| {
        let errors = bench.compile(&super::recipe(lines)).expect_err("a refusal");
        errors.iter().map(|error| format!("{}. {}", error.problem, error.problem.hint())).collect::<Vec<_>>().join("\n")
    };
    let mut bench = Bench::finch();
    assert!(refused(&bench, "test buzzer").starts_with("`buzzer` is bound to no switch at this point."));
    for (setting, to) in [("BUZZ_CHANNEL", 12), ("BUZZ_FROM", 1754), ("BUZZ_TO", 2146)] {
        bench.set(setting, to);
    }
    let words = refused(&bench, "test buzzer");
    assert!(
        words.starts_with("the board has `buzzer` on channel 12, where no switch that is known turns it on."),
        "{words}"
    );
    assert!(words.contains("`switch … on channel 12 rests at …`"), "{words}");
    let unbound = refused(&bench, "require battery out\nunbind buzzer\ntest buzzer");
    assert!(unbound.contains("`buzzer` is bound to no switch at this point"), "{unbound}");
    bench.plan("switch Z on channel 12 rests at 1000, 2000\ntest buzzer");
}

#[test]
fn a_band_goes_by_its_function_in_rows_as_well() {
    let plan = Bench::finch_r().plan("require battery out\nfind switch C\nbind buzzer to switch C position 1");
    let named: Vec<String> = plan.changes.iter().map(|c| format!("{} {}", c.setting, c.on_board)).collect();
    assert_eq!(
        named,
        ["buzzer: channel ROW2_CHANNEL", "buzzer: from ROW2_FROM", "row 2: function ROW2_FUNC", "buzzer: to ROW2_TO"]
    );
}

#[test]
fn arm_on_a_channel_whose_link_loss_nobody_knows_is_remarked_upon() {
    let remarked = |bench: &Bench, lines: &str| bench.plan(lines).remarks.iter().any(|r| r.text.contains("link loss"));
    let mut bench = Bench::finch();
    assert!(remarked(&bench, BIND));
    assert!(!remarked(&bench, "require battery out\nfind switch B\nfind link loss\nbind arm to switch B position 2"));
    bench.record.link_loss = vec![ChannelOnLoss { channel: 6, does: LossSeen::Flagged }];
    assert!(!remarked(&bench, BIND));
}

/// What a line says of link loss is held against what was seen on this craft with the radio off.
#[test]
fn a_link_loss_that_was_seen_otherwise_is_remarked_upon() {
    let mut bench = Bench::finch();
    let said = |bench: &Bench, loss: &str| {
        let line = format!("switch C on channel 7 rests at 1000, 2000 on link loss {loss}\nkeep");
        bench.plan(&line).remarks.iter().any(|remark| remark.line == Some(6) && remark.text.contains("it was seen"))
    };
    assert!(!said(&bench, "flagged"), "nothing was seen");
    bench.record.link_loss = vec![ChannelOnLoss { channel: 7, does: LossSeen::Fixed(1990) }];
    let losses = ["2000", "1000", "hold", "flagged"];
    assert_eq!(losses.map(|loss| said(&bench, loss)), [false, true, true, true]);
    bench.record.link_loss = vec![ChannelOnLoss { channel: 7, does: LossSeen::Holds }];
    assert_eq!(losses.map(|loss| said(&bench, loss)), [true, true, false, true]);
}

#[test]
fn link_loss_in_the_record_is_not_measured_again_unless_asked() {
    let mut bench = Bench::finch();
    bench.record.link_loss = vec![ChannelOnLoss { channel: 6, does: LossSeen::Flagged }];
    let finds = |line: &str| bench.plan(line).steps.iter().any(|step| matches!(step.act, Action::FindLinkLoss));
    assert!(!finds("find link loss") && finds("find link loss anew"));
}
