//! Radio cards are read strictly and written back with the user's own comments, order and spacing.

use proptest::prelude::*;
use quadjig::board::radio_card::{RadioCard, StickEntry, SwitchEntry};
use quadjig::board::radio_card_file::{create, read, update};
use quadjig::board::shipped::RADIOS;
use quadjig::language::recipe::{OnLoss, Stick, Switch};
use quadjig::language::units::Pulse;
use std::fmt::Write as _;

const CARD: &str = r#"# My radio.
edition = 1     # the only one
radio = "Sender für Übungen" # the old one

[switches.C]
rests = [ 1000,2000 ]# snaps
channel=7       # right shoulder

# The sticks come last here.
[sticks]
throttle = { reversed = false, channel = 3 } # stiff
roll = { channel = 1 }

[switches.B]      # left shoulder
channel = 6 # do not change
rests = [
    1000, # down
    1500, # middle
    2000, # up
] # measured twice
noise = 1.25 # good
on-link-loss = "hold" # set in the radio

# The end.
"#;

fn card() -> RadioCard {
    read("card.toml", CARD).unwrap_or_else(|error| panic!("{error}"))
}

fn switch(card: &mut RadioCard, name: &str) -> SwitchEntry {
    card.switches[&Switch(name.to_owned())].clone()
}

fn put(card: &mut RadioCard, name: &str, entry: SwitchEntry) {
    card.switches.insert(Switch(name.to_owned()), entry);
}

/// Lines that differ, old and new.
fn changed(old: &str, new: &str) -> String {
    let (old, new): (Vec<_>, Vec<_>) = (old.lines().collect(), new.lines().collect());
    let mut all = String::new();
    for line in old.iter().filter(|line| !new.contains(line)) {
        writeln!(all, "-{line}").unwrap();
    }
    for line in new.iter().filter(|line| !old.contains(line)) {
        writeln!(all, "+{line}").unwrap();
    }
    all
}

#[test]
fn a_card_is_read() {
    let card = card();
    assert_eq!(card.radio, "Sender für Übungen");
    assert_eq!(card.sticks[&Stick::Throttle], StickEntry { channel: 3, reversed: false });
    let b = &card.switches[&Switch("B".to_owned())];
    assert_eq!(b.rests, [Pulse(1000), Pulse(1500), Pulse(2000)]);
    assert_eq!((b.channel, b.noise, b.on_loss), (6, Some(1.25), Some(OnLoss::Holds)));
    assert!(!card.is_virtual);
}

#[test]
fn a_card_that_says_nothing_new_stays_byte_for_byte() {
    assert_eq!(update("card.toml", CARD, &card()).unwrap(), CARD);
    for shipped in RADIOS {
        let card = read(shipped.stem, shipped.text).unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(update(shipped.stem, shipped.text, &card).unwrap(), shipped.text);
    }
}

#[test]
fn a_changed_value_keeps_every_byte_around_it() {
    let mut card = card();
    let mut b = switch(&mut card, "B");
    b.channel = 9;
    b.rests[1] = Pulse(1510);
    b.noise = Some(2.5);
    b.on_loss = Some(OnLoss::Rests(Pulse(988)));
    put(&mut card, "B", b);
    card.sticks.insert(Stick::Throttle, StickEntry { channel: 4, reversed: true });
    let expected = CARD
        .replace("channel = 6 #", "channel = 9 #")
        .replace("1500, #", "1510, #")
        .replace("noise = 1.25 #", "noise = 2.5 #")
        .replace("on-link-loss = \"hold\" #", "on-link-loss = 988 #")
        .replace("{ reversed = false, channel = 3 } #", "{ reversed = true, channel = 4 } #");
    assert_eq!(update("card.toml", CARD, &card).unwrap(), expected);
}

#[test]
fn what_is_new_stands_behind_what_was_there() {
    let mut card = card();
    let entry = SwitchEntry {
        channel: 10,
        rests: vec![Pulse(2000), Pulse(1000)],
        noise: Some(0.5),
        momentary: false,
        on_loss: None,
    };
    put(&mut card, "left-rear", entry);
    card.sticks.insert(Stick::Yaw, StickEntry { channel: 4, reversed: true });
    card.sticks.insert(Stick::Roll, StickEntry { channel: 1, reversed: true });
    let mut c = switch(&mut card, "C");
    c.rests.insert(1, Pulse(1400));
    c.on_loss = Some(OnLoss::Flagged);
    put(&mut card, "C", c);
    let mut b = switch(&mut card, "B");
    b.noise = None;
    put(&mut card, "B", b);
    card.is_virtual = true;
    let text = update("card.toml", CARD, &card).unwrap();
    assert_eq!(read("card.toml", &text).unwrap(), card);
    insta::assert_snapshot!(text);
}

#[test]
fn positions_come_and_go_and_their_comments_stay() {
    let mut card = card();
    let mut b = switch(&mut card, "B");
    b.rests = [1000, 1400, 1800, 2000].map(Pulse).to_vec();
    put(&mut card, "B", b.clone());
    let four = update("card.toml", CARD, &card).unwrap();
    assert_eq!(read("card.toml", &four).unwrap(), card);
    b.rests.truncate(2);
    put(&mut card, "B", b);
    let two = update("card.toml", &four, &card).unwrap();
    assert_eq!(read("card.toml", &two).unwrap(), card);
    let told = format!("{}{}", changed(CARD, &four), changed(&four, &two));
    insta::assert_snapshot!(told);
}

#[test]
fn a_card_between_braces_stays_between_braces() {
    let text = "edition = 1\nradio = \"R\"\nswitches = { B = { channel = 5, rests = [1000, 2000] } } # mine\n";
    let mut card = read("r", text).unwrap();
    let mut b = switch(&mut card, "B");
    b.noise = Some(1.5);
    put(&mut card, "B", b.clone());
    b.channel = 6;
    put(&mut card, "D", b);
    let text = update("r", text, &card).unwrap();
    assert_eq!(read("r", &text).unwrap(), card);
    let expected = "edition = 1\nradio = \"R\"\nswitches = { B = { channel = 5, rests = [1000, 2000], noise = 1.5 }, \
                    D = { channel = 6, rests = [1000, 2000], noise = 1.5 } } # mine\n";
    assert_eq!(text, expected);
}

#[test]
fn line_ends_of_the_other_kind_stay() {
    let text = CARD.replace('\n', "\r\n");
    let mut card = read("r", &text).unwrap();
    assert_eq!(update("r", &text, &card).unwrap(), text);
    card.sticks.insert(Stick::Yaw, StickEntry { channel: 4, reversed: false });
    let text = update("r", &text, &card).unwrap();
    assert_eq!(text.matches('\n').count(), text.matches("\r\n").count());
    assert_eq!(read("r", &text).unwrap(), card);
}

#[test]
fn a_card_is_made_from_nothing() {
    let mut card = RadioCard { radio: "Second \"radio\"".to_owned(), is_virtual: true, ..RadioCard::default() };
    card.sticks.insert(Stick::Pitch, StickEntry { channel: 2, reversed: true });
    let entry = SwitchEntry {
        channel: 6,
        rests: vec![Pulse(988), Pulse(1500), Pulse(2012)],
        noise: Some(0.75),
        momentary: true,
        on_loss: Some(OnLoss::Rests(Pulse(900))),
    };
    put(&mut card, "B", entry);
    let text = create(&card);
    assert_eq!(read("new", &text).unwrap(), card);
    insta::assert_snapshot!(text);
}

#[test]
fn every_fault_is_told() {
    let cases = [
        ("radio = \"Sender für Übungen\"", "radio = \"a\\u202eb\""),
        ("radio = \"Sender für Übungen\"", "radio = \"\""),
        ("edition = 1", "edition = 1\nradoi = \"x\""),
        ("channel = 6", "channel = 19"),
        ("channel = 6", "channel = 0"),
        ("channel = 6", "channel = 3"),
        ("channel = 6", "channel = 7"),
        ("channel = 6", "chanel = 6"),
        ("[ 1000,2000 ]", "[1000]"),
        ("[ 1000,2000 ]", "[1000, 1100, 1200, 1300, 1400, 1500, 1600]"),
        ("[ 1000,2000 ]", "[1000, 2000, 1500]"),
        ("[ 1000,2000 ]", "[1000, 1000]"),
        ("[ 1000,2000 ]", "[799, 2000]"),
        ("[ 1000,2000 ]", "[1000, 2201]"),
        ("[ 1000,2000 ]", "[1000.5, 2000]"),
        ("[ 1000,2000 ]", "[\"1000 Hz\", \"2 ms\"]"),
        ("noise = 1.25", "noise = 100"),
        ("noise = 1.25", "noise = -0.1"),
        ("noise = 1.25", "noise = nan"),
        ("noise = 1.25", "noise = inf"),
        ("noise = 1.25", "noise = \"1 us\""),
        ("\"hold\"", "\"holds\""),
        ("\"hold\"", "\"900 V\""),
        ("\"hold\"", "700"),
        ("[switches.B] ", "[switches.\"B \\u001b[2J\"] "),
        ("[switches.B] ", "[switches.\"В\"] "),
        ("throttle = {", "rudder = {"),
        ("roll = { channel = 1 }", "roll = { channel = 3 }"),
        ("roll = { channel = 1 }", "roll = 1"),
    ];
    let mut told = String::new();
    for (from, to) in cases {
        assert_eq!(CARD.matches(from).count(), 1, "{from:?} stands once");
        let error = read("card.toml", &CARD.replace(from, to)).expect_err(to);
        writeln!(told, "{from:?} -> {to:?}\n{error}\n").unwrap();
    }
    insta::assert_snapshot!(told);
}

#[test]
fn a_text_that_is_wrong_is_not_written() {
    let wrong = CARD.replace("noise = 1.25", "noise = 1000");
    assert!(update("card.toml", &wrong, &card()).is_err());
}

fn entries() -> impl Strategy<Value = SwitchEntry> {
    let rests = proptest::collection::btree_set(800..=2200, 2..=6).prop_flat_map(|set| {
        let rising: Vec<_> = set.into_iter().map(Pulse).collect();
        let falling = rising.iter().rev().copied().collect();
        prop_oneof![Just(rising), Just(falling)]
    });
    let loss = prop_oneof![
        Just(OnLoss::Holds),
        Just(OnLoss::Flagged),
        (800..=2200).prop_map(|pulse| OnLoss::Rests(Pulse(pulse)))
    ];
    (rests, proptest::option::of(0.0..100.0), proptest::bool::ANY, proptest::option::of(loss))
        .prop_map(|(rests, noise, momentary, on_loss)| SwitchEntry { channel: 1, rests, noise, momentary, on_loss })
}

fn cards() -> impl Strategy<Value = RadioCard> {
    let switches = proptest::collection::btree_map("[A-Za-z][A-Za-z0-9]{0,6}(-[a-z0-9]{1,4})?", entries(), 0..=8);
    let stick = prop_oneof![Just(Stick::Roll), Just(Stick::Pitch), Just(Stick::Throttle), Just(Stick::Yaw)];
    let sticks = proptest::collection::btree_map(stick, any::<bool>(), 0..=4);
    ("[a-zü]{1,9}( [0-9\"\\\\#]{1,3})?", any::<bool>(), switches, sticks).prop_map(
        |(radio, is_virtual, switches, sticks)| {
            let mut channels = 1..;
            let mut next = || channels.next().unwrap();
            let sticks =
                sticks.into_iter().map(|(stick, reversed)| (stick, StickEntry { channel: next(), reversed })).collect();
            let switches = switches
                .into_iter()
                .map(|(name, entry)| (Switch(name), SwitchEntry { channel: next(), ..entry }))
                .collect();
            RadioCard { radio, is_virtual, switches, sticks }
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// What is written reads back as what was meant, and writing it again changes nothing.
    #[test]
    fn reading_what_was_written_gives_the_card(card in cards(), other in cards()) {
        let text = create(&card);
        let back = read("card", &text).map_err(|error| TestCaseError::fail(format!("{error}\n{text}")))?;
        prop_assert_eq!(&back, &card);
        prop_assert_eq!(&update("card", &text, &card).unwrap(), &text);

        // Another card on top: only names of the new one, so that no channel is told twice.
        let on_top = RadioCard {
            switches: card.switches.keys().cloned().zip(other.switches.values().cloned())
                .map(|(name, entry)| { let channel = card.switches[&name].channel; (name, SwitchEntry { channel, ..entry }) })
                .collect(),
            sticks: card.sticks.clone(),
            ..other
        };
        let text = update("card", &text, &on_top).unwrap();
        let back = read("card", &text).unwrap();
        prop_assert_eq!(&back.radio, &on_top.radio);
        for (name, entry) in &on_top.switches {
            prop_assert_eq!(&back.switches[name], entry);
        }
    }
}
