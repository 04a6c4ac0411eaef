//! Parameters: three kinds, each its file's own, handed on by `use … with` and filled from outside only in the named recipe.

use super::{HEAD, WORDS, told};
use quadjig::language::canonical::{filled, open};
use quadjig::language::recipe::{GivenKind, Idle, Recipe, Require, Setting, StatementKind, Switch, Value};
use quadjig::language::sources::Memory;
use quadjig::language::units::Pulse;
use quadjig::language::{Reading, read};
use quadjig::measure::signal_timing::MotorSignal;
use std::path::Path;

fn of(files: &[(&str, &str)], with: &[(&str, &str)]) -> Reading {
    let with: Vec<(String, String)> = with.iter().map(|(n, v)| ((*n).to_owned(), (*v).to_owned())).collect();
    let files = files.iter().map(|(name, text)| (*name, format!("{HEAD}{text}\n")));
    read(&Memory::of(files), Path::new("test.jig"), &with, WORDS)
}

fn well(reading: Reading) -> Recipe {
    assert!(reading.findings.is_empty(), "{}", told(&reading));
    reading.recipe.unwrap()
}

fn kinds(reading: Reading) -> Vec<StatementKind> {
    well(reading).statements.into_iter().map(|statement| statement.what).collect()
}

fn switch(name: &str) -> Switch {
    Switch(name.to_owned())
}

const ALL: &str = "given arm-switch switch default B \"which switch arms\"
given protocol one of crsf, sbus, default crsf, \"what the receiver speaks\"
given kind one of dshot300, dshot600
given stop one of rest, spin default rest
find switch arm-switch with 3 positions
require switch arm-switch position 0
bind arm to switch arm-switch position 2
switch F on channel 9 rests at 1000, 2000
receiver protocol on port 2
signal kind at 2 kHz
set zero-throttle to stop
expect zero-throttle is stop
";

#[test]
fn a_parameter_stands_for_a_switch_or_a_word_wherever_one_may() {
    let reading = of(&[("test.jig", ALL)], &[("arm-switch", "left-Rear"), ("kind", "dshot600")]);
    let recipe = well(reading.clone());
    assert_eq!(recipe.givens[0].kind, GivenKind::Switch);
    assert_eq!(recipe.givens[1].kind, GivenKind::Word(vec!["crsf".into(), "sbus".into()]));
    assert_eq!(recipe.givens[1].about.as_deref(), Some("what the receiver speaks"));
    let all = kinds(reading);
    let left = switch("left-Rear");
    assert!(matches!(&all[0], StatementKind::FindSwitch { switch, .. } if *switch == left), "{all:?}");
    let at_rest = Require::SwitchPosition { switch: left.clone(), position: 0 };
    assert_eq!(all[1], StatementKind::Require(at_rest));
    assert!(matches!(&all[2], StatementKind::Bind { switch, .. } if *switch == left), "{all:?}");
    assert_eq!(all[4], StatementKind::Receiver { protocol: "crsf".into(), port: 2 });
    assert!(matches!(all[5], StatementKind::Signal { signal: MotorSignal::Dshot600, .. }), "{all:?}");
    let rest = (Setting::Word("zero-throttle".into()), Value::Word("rest".into()));
    assert_eq!(all[6], StatementKind::Set { setting: rest.0.clone(), value: rest.1.clone() });
    assert_eq!(all[7], StatementKind::Expect { setting: rest.0, value: rest.1 });
}

#[test]
fn what_waits_for_a_switch_or_a_word_is_no_error() {
    let reading = of(&[("test.jig", &ALL.replace(" default B", ""))], &[]);
    let waiting = reading.recipe.as_ref().unwrap().statements.iter().filter_map(|one| match &one.what {
        StatementKind::Waiting { form, names, .. } => Some(format!("{}: {}", form.words(), names.join(" "))),
        _ => None,
    });
    let waiting: Vec<String> = waiting.collect();
    let expected = ["find switch: arm-switch", "require switch: arm-switch", "bind: arm-switch", "signal: kind"];
    assert_eq!(waiting, expected);
    assert_eq!(reading.findings.iter().map(|one| one.code).collect::<Vec<_>>(), ["RG8", "RG8"], "{}", told(&reading));
}

#[test]
fn a_parameter_wins_over_a_word_of_its_name() {
    let text = "given crsf one of crsf, sbus default sbus\nreceiver crsf on port 1";
    assert_eq!(kinds(of(&[("test.jig", text)], &[]))[0], StatementKind::Receiver { protocol: "sbus".into(), port: 1 });
}

/// Whoever fills in one file's `floor` fills in no other's.
#[test]
fn a_parameter_is_its_files_own() {
    let files = [
        ("test.jig", "given floor default 1100 us\nuse \"a.jig\"\nuse \"b.jig\" with floor 1150\nidle at floor"),
        ("a.jig", "given floor default 1120 us\nidle at floor"),
        ("b.jig", "given floor default 1130 us\nidle at floor"),
    ];
    let at = |pulses: [i32; 3]| pulses.map(|pulse| StatementKind::IdleAt(Idle::Pulse(Pulse(pulse)))).to_vec();
    assert_eq!(kinds(of(&files, &[])), at([1120, 1150, 1100]));
    assert_eq!(kinds(of(&files, &[("floor", "1.2 ms")])), at([1120, 1150, 1200]), "only the named recipe's");
}

/// What moved arm past a `use … with` that had fixed it.
#[test]
fn nothing_from_outside_passes_a_use_that_fixed_a_value() {
    let files = [
        ("test.jig", "use \"common/arm.jig\" with place 2"),
        (
            "common/arm.jig",
            "given place default 1 from 1 to 2 \"where arm is\"\nswitch B on channel 6 rests at 1000, 1500, 2000\nbind arm to switch B position place",
        ),
    ];
    let bound = |reading: &Reading| match &reading.recipe.as_ref().unwrap().statements[1].what {
        StatementKind::Bind { positions, .. } => positions.clone(),
        other => panic!("{other:?}"),
    };
    assert_eq!(bound(&of(&files, &[])), [2]);
    let moved = of(&files, &[("place", "1")]);
    assert!(moved.has_errors());
    assert_eq!(bound(&moved), [2]);
    let finding = &moved.findings[0];
    assert_eq!(finding.code, "RG9");
    assert_eq!(
        finding.hints,
        [
            "in `test.jig` write `given place default 1 from 1 to 2 \"where arm is\"`, and `use \"common/arm.jig\" with place place`"
        ]
    );
}

#[test]
fn values_of_every_kind_are_handed_on() {
    let files = [
        (
            "test.jig",
            "given idle-floor default 1110 from 1050 to 1200\ngiven switch-for-arm switch default C\ngiven speaks one of crsf, sbus default sbus\n\
             use \"a.jig\" with floor idle-floor, arm-switch switch-for-arm, protocol speaks",
        ),
        (
            "a.jig",
            "given floor\ngiven arm-switch switch\ngiven protocol one of crsf, sbus\n\
             use \"b.jig\" with lowest floor\nfind switch arm-switch\nreceiver protocol on port 1",
        ),
        ("b.jig", "given lowest\nidle start at lowest step 10 until all spin"),
    ];
    let recipe = well(of(&files, &[]));
    assert!(
        filled(&recipe, &[]).unwrap().contains("idle start at 1110 us "),
        "a bare default is what its last use says"
    );
    let form = open(&recipe);
    let expected = "given idle-floor quantity default 1110 us from 1050 us to 1200 us\n\
                    given speaks one of crsf, sbus default sbus\ngiven switch-for-arm switch default C\n";
    assert!(form.contains(expected), "{form}");
    for line in ["idle start at idle-floor ", "find switch switch-for-arm\n", "receiver speaks on port 1\n"] {
        assert!(form.contains(line), "{form}");
    }
    let other = [("idle-floor", "1150"), ("switch-for-arm", "D"), ("speaks", "crsf")];
    let told = well(of(&files, &other));
    assert_eq!(open(&told), form, "what is filled in changes nothing that was signed");
    let by_hand = kinds(of(&files, &other));
    assert!(matches!(&by_hand[1], StatementKind::FindSwitch { switch, .. } if switch.0 == "D"), "{by_hand:?}");
}

#[test]
fn a_file_is_taken_again_only_with_the_values_that_it_has() {
    let part = (
        "a.jig",
        "given floor default 1.1 ms\ngiven arm-switch switch default B\nidle at floor\nfind switch arm-switch\n",
    );
    let codes = |first: &str, second: &str| {
        let text = format!("given top default 1120 us\nuse \"a.jig\"{first}\nuse \"a.jig\"{second}\nidle at top");
        let reading = of(&[("test.jig", &text), part], &[]);
        reading.findings.iter().map(|one| one.code).collect::<Vec<_>>()
    };
    assert_eq!(codes("", ""), [] as [&str; 0]);
    assert_eq!(codes(" with floor 1100 us", ""), [] as [&str; 0], "compared as filled");
    assert_eq!(codes(" with floor top, arm-switch B", " with floor 1.12 ms"), [] as [&str; 0]);
    assert_eq!(codes("", " with floor 1120 us"), ["RU10"]);
    assert_eq!(codes(" with floor 1120", ""), ["RU10"], "left out is the default");
    assert_eq!(codes(" with arm-switch C", " with arm-switch D"), ["RU10"]);
}

#[test]
fn a_used_files_parameter_without_a_default_is_told_one() {
    let files = |with: &str| {
        of(&[("test.jig", &format!("use \"a.jig\"{with}")), ("a.jig", "given place switch\nfind switch place")], &[])
    };
    let reading = files("");
    assert_eq!(reading.findings.iter().map(|one| one.code).collect::<Vec<_>>(), ["RG12"], "{}", told(&reading));
    assert_eq!(well(files(" with place C")).statements.len(), 1);
}

/// A range is the used file's word, and holds against every way in which a value comes to it.
#[test]
fn no_value_passes_the_range_that_the_used_file_set() {
    let files = |top: &'static str| {
        [("test.jig", top), ("floor.jig", "given floor default 1100 us from 1050 us to 1150 us\nidle at floor")]
    };
    let codes = |reading: Reading| reading.findings.iter().map(|finding| finding.code).collect::<Vec<_>>();
    let told = "use \"floor.jig\" with floor 1151 us";
    assert_eq!(codes(of(&files(told), &[])), ["RG5"]);
    assert_eq!(codes(of(&files("use \"floor.jig\" with floor 1.15 ms"), &[])), [""; 0]);
    let handed = "given mine default 1100 us\nuse \"floor.jig\" with floor mine\nidle at mine";
    assert_eq!(codes(of(&files(handed), &[("mine", "1049")])), ["RG5"]);
    assert_eq!(codes(of(&files(handed), &[("mine", "1050")])), [""; 0]);
}

/// The built-in ceilings (`safety.md`: 1250 us, steps of 50 us) know nothing of where a value was written.
#[test]
fn no_value_that_is_handed_on_passes_a_ceiling() {
    let used = "given pulse\ngiven up default 10\nrequire props off\nidle at pulse\n\
                idle start at 1100 step up until all spin, at most pulse, then add 10\n";
    let found = |top: &str, with: &[(&str, &str)]| {
        let reading = of(&[("test.jig", top), ("high.jig", used)], with);
        assert!(!reading.has_errors(), "{:#?}", reading.findings);
        let found = quadjig::language::checks::check(reading.recipe.as_ref().unwrap());
        found.iter().filter(|finding| finding.code == "CI5").count()
    };
    assert_eq!(found("use \"high.jig\" with pulse 1250", &[]), 0);
    assert_eq!(found("use \"high.jig\" with pulse 1251, up 51", &[]), 3);
    let handed = "given mine default 1200\nuse \"high.jig\" with pulse mine\nidle at mine";
    assert_eq!(found(handed, &[("mine", "1250")]), 0);
    assert_eq!(found(handed, &[("mine", "1.251 ms")]), 3);
}
