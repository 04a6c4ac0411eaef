//! The fingerprint changes with every ingredient, and with nothing else.

use super::{Bench, HEAD, text};
use quadjig::board::value::Number;
use quadjig::language::units::Pulse;
use quadjig::plan::inputs::Battery;
use quadjig::record::{ChannelOnLoss, LossSeen};

const LINES: &str =
    "require battery out\nfind switch B\nbind arm to switch B position 2\nfailsafe cut motors after 500 ms\n";

fn of_motors(name: &str) -> bool {
    name.ends_with("_OUT") || name.ends_with("_REVERSED")
}

fn of(bench: &Bench, recipe: &str) -> String {
    bench.compile(&text(recipe)).unwrap().fingerprint
}

#[test]
fn it_is_sixty_four_hexadecimal_digits() {
    let print = of(&Bench::finch(), &format!("{HEAD}{LINES}"));
    assert_eq!(print.len(), 64);
    assert!(print.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b)));
}

/// Whoever approved a plan by its fingerprint with one version of the program finds it again with the next: nothing of
/// a type's own spelling is in it. The sheet's hash stands for the sheet, which may change.
#[test]
fn it_stays_the_same_over_versions_of_the_program() {
    let mut bench = Bench::finch();
    bench.sheet.hash = "a sheet".to_owned();
    // A board that has them not: each that is read is in it.
    bench.settings.retain(|name, _| !of_motors(name.as_str()));
    assert_eq!(
        of(&bench, &format!("{HEAD}{LINES}")),
        "0eb979321fa68a46258ce9f39dce17b715589a42e53a66ae5a1d7dcc52cc7aee"
    );
}

#[test]
fn title_comments_layout_and_spelling_of_units_do_not_change_it() {
    let bench = Bench::finch();
    let plain = of(&bench, &format!("{HEAD}{LINES}"));
    assert_eq!(plain, of(&bench, &format!("{HEAD}# A comment.\n\n{LINES}")));
    assert_eq!(plain, of(&bench, &format!("{HEAD}{}", LINES.replace("500 ms", "0.5 s # half a second"))));
    assert_eq!(plain, of(&bench, &format!("{HEAD}{}", LINES.replace("switch B position", "switch  B   position"))));
    assert_eq!(plain, of(&bench, &format!("{}{LINES}", HEAD.replace("\"Test\"", "\"Another\""))));
    let note = "note \"Front is where the camera looks.\"\n";
    assert_ne!(plain, of(&bench, &format!("{HEAD}{note}{LINES}")));
    assert_ne!(of(&bench, &format!("{HEAD}{note}{LINES}")), of(&bench, &format!("{HEAD}{LINES}{note}")));
}

#[test]
fn every_ingredient_changes_it() {
    let recipe = format!("{HEAD}{LINES}");
    let plain = of(&Bench::finch(), &recipe);
    let mut seen = vec![plain.clone()];
    let mut differs = |print: String| {
        assert!(!seen.contains(&print));
        seen.push(print);
    };
    differs(of(&Bench::finch(), &recipe.replace("500 ms", "600 ms")));
    differs(of(&Bench::finch(), &recipe.replace("position 2", "position 1")));
    differs(of(&Bench::finch(), &recipe.replace("quad x", "quad x turning inward")));
    let given = format!("{HEAD}given wait default 500 ms\n{}", LINES.replace("500 ms", "wait"));
    differs(of(&Bench::finch(), &given));
    differs(of(&Bench::finch(), &given.replace("default 500 ms", "default 400 ms")));

    let mut changed = |change: &dyn Fn(&mut Bench)| {
        let mut bench = Bench::finch();
        change(&mut bench);
        differs(of(&bench, &recipe));
    };
    changed(&|bench| bench.sheet.hash = "another".to_owned());
    changed(&|bench| bench.card.switches.values_mut().next().unwrap().rests[0] = Pulse(1001));
    changed(&|bench| bench.identity.id = "7669727400000002".to_owned());
    changed(&|bench| bench.identity.firmware = "2.4.2".to_owned());
    changed(&|bench| {
        bench.set("LIGHT_LEVEL", 41);
    });
    changed(&|bench| {
        bench.settings.insert(super::name("VOLT_RATIO"), Number::Real(10.91));
    });
    changed(&|bench| {
        bench.record.link_loss = vec![ChannelOnLoss { channel: 6, does: LossSeen::Flagged }];
    });
}

#[test]
fn where_a_run_stands_is_no_part_of_it() {
    let recipe = format!("{HEAD}{LINES}");
    let mut bench = Bench::finch();
    let plain = of(&bench, &recipe);
    bench.progress.battery = Battery::In;
    bench.progress.props_off = true;
    assert_eq!(of(&bench, &recipe), plain);
}

#[test]
fn a_switch_that_the_recipe_declares_is_not_the_cards_affair() {
    let recipe = format!("{HEAD}switch C on channel 9 rests at 1000, 2000\n{LINES}");
    let mut bench = Bench::finch();
    let plain = of(&bench, &recipe);
    bench.card.switches.retain(|switch, _| switch.0 != "C");
    assert_eq!(of(&bench, &recipe), plain);
}
