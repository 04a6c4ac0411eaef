//! What is refused, each with its code and place; nothing is left out silently.

use super::{Bench, HEAD, recipe, text};
use proptest::prelude::*;
use quadjig::board::signals::Identity;
use quadjig::board::value::Number;
use quadjig::language::recipe::Switch;
use quadjig::language::units::Pulse;
use quadjig::plan::checks::with_sheet;
use quadjig::plan::problem::PlanError;
use quadjig::report::plan_text;

const READY: &str = "require props off\nrequire battery out\nat zero throttle spin\nfind switch B\n\
                     bind arm to switch B position 2\nkeep\n";

#[test]
fn every_refusal_is_collected_and_each_has_a_hint() {
    let recipe = super::recipe(
        "bind arm to switch Z position 1\nbind buzzer to switch Y position 1\nset \"NONE\" to 1\nset \"NEITHER\" to 2",
    );
    let errors = Bench::finch().compile(&recipe).unwrap_err();
    assert_eq!(errors.len(), 4);
    for PlanError { problem, .. } in errors {
        assert!(problem.hint().ends_with('.'), "{}", problem.hint());
        assert!(!problem.to_string().ends_with('.'), "{problem}");
    }
}

#[test]
fn a_frame_that_the_sheet_does_not_have_is_refused() {
    for (frame, code) in [("hex x", "plan-motor-count"), ("octo x", "plan-motor-count"), ("quad plus", "plan-layout")] {
        let recipe = text(&HEAD.replace("quad x", frame));
        let errors = Bench::finch().compile(&recipe).unwrap_err();
        assert_eq!((errors[0].problem.code(), errors[0].at.line), (code, 3));
    }
}

#[test]
fn another_board_or_firmware_is_refused_at_the_line_that_asks() {
    let mut bench = Bench::finch();
    bench.identity = Identity { firmware: "2.40.1".to_owned(), ..bench.identity };
    assert_eq!(bench.refused("require firmware \"2.4\"\nkeep"), ["plan-firmware 6:18"]);
    bench.identity.firmware = "2.4".to_owned();
    bench.plan("require firmware \"2.4\"\nkeep");
    bench.identity.firmware = "2.4.7".to_owned();
    bench.plan("require firmware \"2.4\"\nkeep");
    assert_eq!(bench.refused("require firmware \"2.4.1\"\nkeep"), ["plan-firmware 6:18"]);
    bench.identity.kind = "Wren".to_owned();
    assert_eq!(bench.refused("keep"), ["plan-sheet-mismatch 4:7"]);
    bench.sheet.board = "Wren".to_owned();
    assert!(bench.refused("keep").contains(&"plan-other-board 4:7".to_owned()));
}

#[test]
fn a_parameter_without_a_value_is_named() {
    let recipe = text(&format!(
        "{HEAD}given idle-floor from 1050 us to 1150 us\nrequire props off\nidle start at idle-floor step 10 until all spin\n"
    ));
    let errors = Bench::finch().compile(&recipe).unwrap_err();
    let PlanError { at, problem } = &errors[0];
    assert_eq!((problem.code(), at.line), ("plan-waiting", 8));
    assert!(problem.to_string().contains("`idle-floor`") && problem.hint().contains("--with idle-floor="));
}

/// A value that is missing is told once, and so is nothing that only follows from it.
#[test]
fn a_missing_value_is_one_refusal() {
    let lines = "switch B on channel 6 rests at 1000, 1500, 2000\nbind arm to switch arm-switch position 2\n\
        bind buzzer to switch arm-switch position 1\nkeep\ntest arm\ntest buzzer\n";
    let recipe = text(&format!("{HEAD}given arm-switch switch\nrequire props off\n{lines}"));
    let errors = Bench::finch().compile(&recipe).unwrap_err();
    let told: Vec<(&str, usize)> = errors.iter().map(|error| (error.problem.code(), error.at.line)).collect();
    assert_eq!(told, [("plan-waiting", 9)]);
}

#[test]
fn what_the_sheet_lacks_or_the_board_does_not_take_is_refused() {
    let mut bench = Bench::finch();
    bench.sheet.settings.remove("board-turn");
    assert_eq!(bench.refused("board turned 90 deg"), ["plan-no-word 6:1"]);
    let bench = Bench::finch();
    assert_eq!(bench.refused("set loop-rate to 3 kHz"), ["plan-value 6:18"]);
    assert_eq!(bench.refused("receiver morse on port 2")[0], "plan-value 6:10");
    assert_eq!(bench.refused("set \"IDLE_US\" to 1100"), ["plan-covered 6:5"]);
    assert_eq!(bench.refused("set \"ARM_FROM\" to 850"), ["plan-covered 6:5"]);
    assert_eq!(bench.refused("set \"WHAT\" to 1"), ["plan-not-on-board 6:5"]);
    assert_eq!(bench.refused("find switch B\nbind parachute to switch B position 1"), ["plan-binding 7:6"]);
}

#[test]
fn a_built_in_ceiling_stands_whatever_the_sheet_allows() {
    let mut bench = Bench::finch();
    assert_eq!(bench.refused("idle at 1260"), ["plan-value 6:9"]);
    for word in ["idle", "link-loss-wait"] {
        bench.sheet.settings.get_mut(word).unwrap().range = None;
    }
    assert_eq!(bench.refused("idle at 1260"), ["plan-above-ceiling 6:9"]);
    assert_eq!(bench.refused("failsafe cut motors after 2001 ms"), ["plan-too-long 6:27"]);
}

#[test]
fn switches_are_known_before_use_and_have_the_position() {
    let bench = Bench::finch();
    assert_eq!(bench.refused("bind arm to switch B position 1"), ["plan-no-switch 6:20"]);
    assert_eq!(bench.refused("find switch C\nbind arm to switch C position 2"), ["plan-no-position 7:31"]);
    assert_eq!(bench.refused("find switch C\nrequire switch C position 2"), ["plan-no-position 7:27"]);
    assert_eq!(bench.refused("find switch B\nbind arm to switch B positions 0, 1"), ["plan-arm-at-rest 7:32"]);
    assert_eq!(bench.refused("find switch B with 2 positions"), ["plan-position-count 6:20"]);
}

#[test]
fn searches_end_and_stay_under_the_ceiling() {
    let bench = Bench::finch();
    let refused = |line: &str| bench.refused(&format!("{READY}{line}"));
    assert_eq!(refused("idle start at 1100 step 25 by hand"), ["plan-search-by-hand 12:1"]);
    assert_eq!(refused("idle start at 1100 step 0 until all spin"), ["plan-no-step 12:25"]);
    assert_eq!(refused("idle start at 1240 step 20 until all spin"), ["plan-no-values 12:15"]);
    assert_eq!(refused("idle start at 1000 step 5 until all spin, at most 1250"), ["plan-too-many-values 12:25"]);
    assert_eq!(refused("idle start at 1100 step 25 until all spin, at most 1260"), ["plan-above-ceiling 12:52"]);
    assert_eq!(refused("idle start at 1100 step 25 until all spin, for 5 s"), ["plan-too-long 12:48"]);
    assert_eq!(refused("idle start at 1100 step 25 until all spin, in 21 starts"), ["plan-too-many-starts 12:47"]);
}

#[test]
fn motor_steps_need_propellers_off_a_throttle_an_arm_switch_and_motors_that_spin() {
    let bench = Bench::finch();
    let line = "idle start at 1100 step 25 until all spin";
    assert_eq!(bench.refused(&READY.replace("require props off\n", "").replace("keep\n", line)), ["plan-props 10:1"]);
    assert_eq!(bench.refused(&format!("{}{line}", READY.replace("spin", "rest"))), ["plan-motors-rest 12:1"]);
    assert_eq!(bench.refused(&format!("require props off\nat zero throttle spin\n{line}")), ["plan-arm-not-bound 8:1"]);
    let mut blind = Bench::finch();
    blind.sheet.settings.remove("throttle-channel");
    assert!(blind.refused(&format!("{READY}{line}")).contains(&"plan-no-throttle 12:1".to_owned()));
}

#[test]
fn an_expectation_that_cannot_hold_is_refused_before_anything_is_touched() {
    let bench = Bench::finch();
    assert_eq!(bench.refused("expect idle is 1120 us"), ["plan-expect-fails 6:16"]);
    bench.plan("require battery out\nexpect idle is 1050 us\nidle at 1120\nexpect idle is 1120 us");
}

#[test]
fn a_voltage_per_cell_needs_the_cells_and_a_signal_must_carry_the_rate() {
    let bench = Bench::finch();
    assert_eq!(bench.refused("require battery at least 3.7 V per cell"), ["plan-no-cells 6:26"]);
    assert_eq!(bench.refused("require battery out\nsignal pwm\nset loop-rate to 8 kHz"), ["plan-signal-too-slow 8:1"]);
    bench.plan("require battery out\nset loop-rate to 8 kHz\nkeep\nsignal dshot600");
}

#[test]
fn a_card_made_on_a_virtual_board_is_refused_on_a_real_one() {
    let mut bench = Bench::finch();
    bench.card.is_virtual = true;
    bench.plan("keep");
    bench.identity.id = "0123456789abcdef".to_owned();
    assert_eq!(bench.refused("keep"), ["plan-virtual-card 1:8"]);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 300, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn no_reading_of_a_board_and_no_card_brings_the_plan_down(
        numbers in prop::collection::vec(number(), 64),
        missing in prop::collection::vec(0..40_usize, 0..3),
        rests in prop::collection::vec(any::<i32>(), 0..8),
        channel in any::<u32>(),
        rows in any::<bool>(),
    ) {
        let mut bench = if rows { Bench::finch_r() } else { Bench::finch() };
        for (held, number) in bench.settings.values_mut().zip(&numbers) {
            *held = number.unwrap_or(*held);
        }
        for at in missing {
            let name = bench.settings.keys().nth(at).cloned();
            name.and_then(|name| bench.settings.remove(&name));
        }
        let entry = bench.card.switches.get_mut(&Switch("B".to_owned())).unwrap();
        (entry.channel, entry.rests) = (channel, rests.into_iter().map(Pulse).collect());
        let recipe = super::recipe(&format!(
            "{READY}unbind lights\nfind switch C\nbind buzzer to switch C position 1\nsignal dshot300 at 4 kHz\n\
             failsafe cut motors after 500 ms\nset \"BOOT_TONE\" to 0\nexpect loop-rate is 4 kHz\nkeep\n\
             power cycle\nidle start at 1100 step 25 until all spin\ntest idle\ntest arm\ntest cut\ntest buzzer"
        ));
        if let Ok(plan) = bench.compile(&recipe) {
            prop_assert!(!plan_text::page(&plan, 100).is_empty());
        }
    }
}

fn number() -> impl Strategy<Value = Option<Number>> {
    prop_oneof![
        3 => Just(None),
        1 => any::<i64>().prop_map(|n| Some(Number::Whole(n))),
        1 => (-40..3000_i64).prop_map(|n| Some(Number::Whole(n))),
        1 => (-1e30..1e30).prop_map(|n| Some(Number::Real(n))),
    ]
}

/// Lipo is what a recipe means where it names no chemistry, so a board that knows none will do.
#[test]
fn check_and_plan_say_the_same_of_a_board_that_knows_no_chemistry() {
    let mut bench = Bench::finch();
    bench.sheet.settings.remove("battery-chemistry");
    let battery = |kind: &str| format!("battery 2 cells{kind} warn at 3.6 V per cell land at 3.4 V per cell");
    assert_eq!(with_sheet(&recipe(&battery("")), &bench.sheet), []);
    bench.plan(&battery(""));
    assert_eq!(with_sheet(&recipe(&battery(" lihv")), &bench.sheet).len(), 1);
    assert_eq!(bench.refused(&battery(" lihv")).len(), 1);
}
