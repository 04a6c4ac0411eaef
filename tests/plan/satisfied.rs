//! The law of the second run: what a plan has written, a plan of the same recipe does not write again.

use super::{Bench, told};
use proptest::prelude::*;

/// Statements that a generated recipe is put together from; each sets a thing of its own.
fn statements() -> impl Strategy<Value = Vec<String>> {
    let idle = (1000..=1250).prop_map(|pulse| format!("idle at {pulse}"));
    let zero = prop_oneof![Just("at zero throttle spin"), Just("at zero throttle rest")].prop_map(str::to_owned);
    let signal =
        prop_oneof![Just("signal dshot600 at 8 kHz"), Just("signal dshot300 at 4 kHz")].prop_map(str::to_owned);
    let wait = (100..=2000).prop_map(|ms| format!("failsafe cut motors after {ms} ms"));
    let turn = (0..=7).prop_map(|n| format!("board turned {} deg", n * 45));
    let trim = (-50..=50).prop_map(|n| format!("set \"ROTOR_TRIM\" to {n}"));
    let arm = (1..=2).prop_map(|n| format!("bind arm to switch B position {n}"));
    let buzzer = (0..=1).prop_map(|n| format!("bind buzzer to switch C position {n}"));
    let level = prop_oneof![Just("0"), Just("1, 2"), Just("0, 1")]
        .prop_map(|positions| format!("bind self-level to switch D positions {positions}"));
    let order = Just("channels throttle, yaw, roll, pitch".to_owned());
    let battery = (1..=6).prop_map(|n| format!("battery {n} cells lihv warn at 3.6 V per cell land at 3.4 V per cell"));
    let all = (idle, zero, signal, wait, turn, trim, arm, buzzer, level, order, battery);
    (all, prop::collection::vec(any::<bool>(), 11), any::<bool>()).prop_map(|(all, taken, keeps)| {
        let (a, b, c, d, e, f, g, h, i, j, k) = all;
        let mut lines = Vec::new();
        for (line, take) in [a, b, c, d, e, f, g, h, i, j, k].into_iter().zip(taken) {
            if take {
                lines.push(line);
                if keeps {
                    lines.push("keep".to_owned());
                }
            }
        }
        lines
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_was_written_is_satisfied(lines in statements().prop_shuffle(), rows in any::<bool>()) {
        let recipe = format!(
            "require battery out\nfind switch B\nfind switch C\nfind switch D\n{}", lines.join("\n")
        );
        let mut bench = if rows { Bench::finch_r() } else { Bench::finch() };
        let first = bench.plan(&recipe);
        bench.carry_out(&first);
        let second = bench.plan(&recipe);
        prop_assert!(second.is_satisfied(), "{:#?}", told(&second));
        prop_assert!(second.changes.is_empty());
        let mut third = bench.clone();
        third.carry_out(&second);
        prop_assert_eq!(third.settings, bench.settings);
    }

    #[test]
    fn what_changes_is_what_the_writes_leave_behind(lines in statements()) {
        let recipe = format!(
            "require battery out\nfind switch B\nfind switch C\nfind switch D\n{}", lines.join("\n")
        );
        let before = Bench::finch();
        let plan = before.plan(&recipe);
        let mut after = before.clone();
        after.carry_out(&plan);
        for (name, number) in &after.settings {
            let change = plan.changes.iter().find(|change| change.on_board == *name);
            prop_assert_eq!(change.map_or(before.settings[name], |change| change.to), *number);
        }
    }
}
