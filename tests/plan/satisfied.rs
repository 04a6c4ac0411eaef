//! The law of the second run: what a plan has written, a plan of the same recipe does not write again.

use super::{Bench, name, told};
use proptest::prelude::*;
use quadjig::plan::facts;
use quadjig::plan::inputs::{Battery, Progress};
use quadjig::plan::step::Action;
use quadjig::record::{ChannelOnLoss, LossSeen, Proof, ProofSubject};

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
    let taken = |line: BoxedStrategy<String>| prop::option::of(line).boxed();
    let all = [
        idle.boxed(),
        zero.boxed(),
        signal.boxed(),
        wait.boxed(),
        turn.boxed(),
        trim.boxed(),
        arm.boxed(),
        buzzer.boxed(),
        level.boxed(),
        order.boxed(),
        battery.boxed(),
    ];
    (all.map(taken).to_vec(), any::<bool>()).prop_map(|(lines, keeps)| {
        let lines = lines.into_iter().flatten();
        if keeps { lines.flat_map(|line| [line, "keep".to_owned()]).collect() } else { lines.collect() }
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

const WHOLE: &str = "require props off\nrequire antenna on\nrequire battery out\nfind switch B\nfind switch C\n\
find link loss\nat zero throttle spin\nsignal dshot300 at 4 kHz\nfailsafe cut motors after 500 ms\n\
bind buzzer to switch C position 1\nbind arm to switch B position 2\nkeep\npower cycle\n\
idle start at 1100 step 25 until all spin\ntest idle\ntest arm\ntest cut\ntest buzzer";

/// Carries a plan out as a bench would, up to and with the first step after which the rest is planned again.
fn carry_out(bench: &mut Bench, lines: &str) -> usize {
    let mut wrote = 0;
    'planned: loop {
        for step in bench.plan(lines).steps {
            match step.act {
                Action::Write(writes) => {
                    for write in writes {
                        wrote += 1;
                        bench.progress.signal_changed |= write.name == name("MOTOR_SIGNAL");
                        bench.progress.unsaved.insert(write.name.clone());
                        bench.settings.insert(write.name, write.to);
                    }
                }
                Action::Restart { expect } => {
                    for write in expect {
                        assert!(bench.settings[&write.name].same(write.to), "{write:?}");
                    }
                    wrote += 1;
                    bench.progress.unsaved.clear();
                }
                Action::Store => wrote += 1,
                Action::AttestPropsOff => bench.progress.props_off = true,
                Action::AttestAntenna => bench.progress.antenna_on = true,
                Action::BatteryOut { .. } => bench.progress.battery = Battery::Out,
                Action::BatteryIn => {
                    bench.progress.battery = Battery::In;
                    bench.progress.signal_changed = false;
                }
                Action::FindLinkLoss => {
                    bench.record.link_loss = vec![ChannelOnLoss { channel: 6, does: LossSeen::Flagged }];
                    bench.progress.next = step.statement + 1;
                    continue 'planned;
                }
                Action::IdleSearch(search) => {
                    let found = search.values[2];
                    let kept = found.0 + search.margin.0;
                    wrote += 1;
                    bench.set("IDLE_US", kept.into());
                    bench.progress.unsaved.insert(search.name);
                    let subject = ProofSubject::Idle {
                        pulse: kept,
                        start: Some(1100),
                        step: Some(25),
                        at_most: Some(search.at_most.0),
                        margin: Some(search.margin.0),
                        dwell_ms: 2000,
                        starts: search.starts,
                    };
                    let depends = facts::idle_depends_on(&bench.sheet);
                    bench.record.proofs.push(Proof {
                        schema: "quadjig.proof/1".to_owned(),
                        at: "2030-01-01T00:00:00Z".to_owned(),
                        subject,
                        board: bench.identity.clone(),
                        depends_on: depends.into_iter().map(|n| (n.clone(), bench.settings[&n])).collect(),
                        volts: None,
                    });
                    bench.progress.next = step.statement + 1;
                    continue 'planned;
                }
                _ => {}
            }
        }
        bench.progress = Progress::start();
        return wrote;
    }
}

#[test]
fn the_second_and_the_third_run_of_a_whole_set_up_write_nothing_and_test_everything() {
    let mut bench = Bench::finch();
    assert!(carry_out(&mut bench, WHOLE) > 0);
    for run in 2..=3 {
        let plan = bench.plan(WHOLE);
        assert!(plan.is_satisfied(), "run {run}: {:#?}", told(&plan));
        let tests = plan.steps.iter().filter(|step| {
            matches!(
                step.act,
                Action::TestIdle { .. } | Action::TestArm { .. } | Action::TestCut { .. } | Action::TestBuzzer { .. }
            )
        });
        assert_eq!(tests.count(), 4, "run {run}");
        assert_eq!(carry_out(&mut bench, WHOLE), 0, "run {run}");
    }
}
