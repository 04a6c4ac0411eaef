//! The order of single writes: no prefix arms over a rest, arm comes last, and what only closes comes first.

use super::{Bench, step, writes, written};
use quadjig::board::binding::bound_now;
use quadjig::board::effect::Effect;
use quadjig::board::value::Number;
use quadjig::language::recipe::Function;
use quadjig::plan::step::Action;

fn arm() -> Function {
    Function("arm".to_owned())
}

/// Rests of the shipped radio card's switches, by channel.
const RESTS: [(u32, &[i32]); 3] = [(6, &[1000, 1500, 2000]), (7, &[1000, 2000]), (8, &[1000, 1500, 2000])];

/// Rests at which arm is on.
fn armed(bench: &Bench) -> Vec<(u32, i32)> {
    let bands = bound_now(&bench.sheet, &bench.settings, &arm()).unwrap();
    let all = RESTS.iter().flat_map(|(channel, rests)| rests.iter().map(|rest| (*channel, *rest)));
    all.filter(|(channel, rest)| bands.iter().any(|b| b.channel == *channel && b.from.0 <= *rest && *rest < b.to.0))
        .collect()
}

#[test]
fn no_prefix_of_the_writes_arms_over_a_rest_that_is_neither_old_nor_wanted() {
    let channels = [0, 5, 6, 7, 8];
    let ends = [(850, 850), (850, 2146), (850, 1250), (1258, 1746), (1754, 2146), (2146, 850)];
    let targets = ["B position 1", "B position 2", "B positions 1, 2", "C position 1", "D position 2"];
    for rows in [false, true] {
        for channel in channels {
            for (from, to) in ends {
                for target in targets {
                    let mut bench = if rows { Bench::finch_r() } else { Bench::finch() };
                    let prefix = if rows { "ROW1" } else { "ARM" };
                    bench.set(&format!("{prefix}_CHANNEL"), channel);
                    bench.set(&format!("{prefix}_FROM"), from).set(&format!("{prefix}_TO"), to);
                    let plan = bench.plan(&format!(
                        "require battery out\nfind switch B\nfind switch C\nfind switch D\nbind arm to switch {target}"
                    ));
                    let old = armed(&bench);
                    let mut done = bench.clone();
                    done.carry_out(&plan);
                    let wanted = armed(&done);
                    assert!(!wanted.is_empty());
                    for write in writes(&plan) {
                        bench.settings.insert(write.name, write.to);
                        for rest in armed(&bench) {
                            assert!(
                                old.contains(&rest) || wanted.contains(&rest),
                                "{target} from {channel} {from} {to}: {:?} arms at {rest:?}",
                                written(&plan)
                            );
                        }
                    }
                    let write = plan.steps.iter().find(|step| matches!(step.act, Action::Write(_)));
                    assert!(write.is_none_or(|step| step.effect == Effect::Writes), "{:?}", written(&plan));
                }
            }
        }
    }
}

#[test]
fn arm_is_closed_first_in_its_batch_and_opened_last() {
    let plan = Bench::finch().plan(
        "require battery out\nfind switch B\nfind switch C\nbind arm to switch B position 2\n\
         bind buzzer to switch C position 1\nidle at 1100",
    );
    assert_eq!(
        written(&plan),
        [
            "ARM_TO=850",
            "IDLE_US=1100",
            "BUZZ_CHANNEL=7",
            "BUZZ_FROM=1754",
            "BUZZ_TO=2146",
            "ARM_FROM=850",
            "ARM_CHANNEL=6",
            "ARM_FROM=1754",
            "ARM_TO=2146",
        ]
    );
}

#[test]
fn a_batch_that_breaks_off_leaves_a_craft_that_cannot_arm() {
    let mut bench = Bench::finch();
    let plan = bench.plan("require battery out\nfind switch B\nidle at 1100\nbind arm to switch B position 2");
    let all = writes(&plan);
    for (at, write) in all.iter().enumerate() {
        bench.settings.insert(write.name.clone(), write.to);
        let bound = bound_now(&bench.sheet, &bench.settings, &arm()).unwrap();
        assert_eq!(bound.is_empty(), at + 1 < all.len(), "{:?}", written(&plan));
    }
}

#[test]
fn without_a_safe_order_the_step_turns_motors_with_the_battery_out_as_well() {
    // A closed pair that lies open over every rest cannot close anything, nor is there a channel that is none.
    let mut bench = Bench::finch();
    bench.sheet.binding.channel_unbound = i64::MAX;
    bench.sheet.binding.closed = (850, 2146);
    bench.set("ARM_CHANNEL", 6).set("ARM_FROM", 1258).set("ARM_TO", 1746);
    let plan = bench.plan("require battery out\nfind switch B\nbind arm to switch B position 2");
    assert_eq!(step(&plan, |act| matches!(act, Action::Write(_))).effect, Effect::TurnsMotors);
    bench.carry_out(&plan);
    assert_eq!(bench.settings[&super::name("ARM_TO")], Number::Whole(2146));
}
