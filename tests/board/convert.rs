//! Recipe values to board numbers by the Finch's sheet, and back in the recipe's terms.

use proptest::prelude::*;
use quadjig::board::convert::{
    ConvertError, PerCell, decode, encode, encode_idle, encode_typed, encode_unlisted, idle_pulse, show,
};
use quadjig::board::effect::Effect;
use quadjig::board::sheet::{Form, SettingEntry, Sheet};
use quadjig::board::shipped;
use quadjig::board::value::{Number, SettingName};
use quadjig::language::recipe::{Idle, Value};
use quadjig::language::units::{Angle, Decimal, Frequency, Percent, Pulse, Quantity, Voltage};
use std::fmt::Write as _;
use std::time::Duration;

fn finch() -> Sheet {
    shipped::sheet("Finch").unwrap().unwrap()
}

/// A value as a recipe writes it: a quantity, a bare number or a word.
fn value(text: &str) -> Value {
    match text.parse::<Quantity>() {
        Ok(Quantity { number, unit: None }) => Value::Number(number),
        Ok(quantity) => Value::Quantity(quantity),
        Err(_) => Value::Word(text.to_owned()),
    }
}

fn entry_of(sheet: &Sheet, word: &str) -> SettingEntry {
    let raw = || sheet.raw[&SettingName::new(word).unwrap()].clone();
    sheet.settings.get(word).cloned().unwrap_or_else(raw)
}

fn try_out(word: &str, text: &str) -> Result<Number, ConvertError> {
    encode(word, &entry_of(&finch(), word), &value(text))
}

fn whole(unit: &str, range: Option<(f64, f64)>) -> SettingEntry {
    SettingEntry {
        name: SettingName::new("X").unwrap(),
        form: Form::Whole { unit: unit.to_owned(), only: vec![] },
        range,
        restart: false,
        craft_own: false,
        effect: Effect::Writes,
    }
}

fn real(unit: &str) -> SettingEntry {
    SettingEntry { form: Form::Real { unit: unit.to_owned() }, ..whole("", None) }
}

#[test]
fn values_become_the_boards_numbers_and_are_shown_in_the_recipes_terms() {
    let table = [
        ("idle", "1120 us", 1120, "1120 us"),
        ("idle", "1120", 1120, "1120 us"),
        ("idle", "1.12 ms", 1120, "1120 us"),
        ("zero-throttle", "spin", 1, "spin"),
        ("signal", "dshot600", 4, "dshot600"),
        ("loop-rate", "4 kHz", 4000, "4 kHz"),
        ("loop-rate", "8000 Hz", 8000, "8 kHz"),
        ("link-loss-wait", "0.5 s", 500, "500 ms"),
        ("link-loss-wait", "500 ms", 500, "500 ms"),
        ("link-loss-wait", "2000 ms", 2000, "2000 ms"),
        ("battery-warn", "3.6 V per cell", 3600, "3.6 V per cell"),
        ("battery-land", "3400 mV per cell", 3400, "3.4 V per cell"),
        ("battery-cells", "2", 2, "2"),
        ("board-turn", "90 deg", 90, "90 deg"),
        ("receiver-port", "2", 2, "2"),
        ("ROTOR_TRIM", "-3", -3, "-3"),
    ];
    for (word, text, number, shown) in table {
        assert_eq!(try_out(word, text), Ok(Number::Whole(number)), "{word} {text}");
        assert_eq!(show(&entry_of(&finch(), word), Number::Whole(number)), shown, "{word}");
    }
}

#[test]
fn reals_are_the_nearest_number_and_shown_short() {
    assert_eq!(try_out("voltage-ratio", "11.02"), Ok(Number::Real(11.02)));
    assert_eq!(try_out("level-roll", "-0.35 deg"), Ok(Number::Real(-0.35)));
    let as_the_board_holds_it = Number::Real(f64::from(11.02_f32));
    assert_eq!(show(&entry_of(&finch(), "voltage-ratio"), as_the_board_holds_it), "11.02");
    assert_eq!(show(&entry_of(&finch(), "level-roll"), Number::Real(f64::from(-0.35_f32))), "-0.35 deg");
    assert_eq!(show(&entry_of(&finch(), "level-roll"), Number::Whole(2)), "2 deg");
}

#[test]
fn what_the_board_cannot_hold_is_refused_with_what_would_do() {
    let cases = [
        ("idle", "999 us"),
        ("idle", "1251"),
        ("idle", "1120.5 us"),
        ("idle", "5.5 %"),
        ("idle", "0.001 s"),
        ("idle", "spin"),
        ("zero-throttle", "spinn"),
        ("zero-throttle", "2"),
        ("signal", "dshot1200"),
        ("loop-rate", "3 kHz"),
        ("loop-rate", "4000"),
        ("loop-rate", "4 V"),
        ("loop-rate", "4000.5 Hz"),
        ("link-loss-wait", "3 s"),
        ("link-loss-wait", "100.5 ms"),
        ("battery-warn", "7.2 V"),
        ("battery-warn", "2.9 V per cell"),
        ("battery-cells", "2 V"),
        ("battery-cells", "7"),
        ("voltage-ratio", "4.99"),
        ("level-roll", "11 deg"),
        ("level-roll", "1"),
        ("ROTOR_TRIM", "51"),
        ("ROTOR_TRIM", "1 us"),
    ];
    let mut told = String::new();
    for (word, text) in cases {
        let error = try_out(word, text).expect_err(text);
        writeln!(told, "{word} {text}: {error}").unwrap();
        if let Some(hint) = error.hint() {
            writeln!(told, "  hint: {hint}").unwrap();
        }
    }
    insta::assert_snapshot!(told);
}

#[test]
fn a_setting_without_a_range_holds_32_bits_and_no_more() {
    let entry = whole("us", None);
    assert_eq!(encode("idle", &entry, &value("4294967295")), Ok(Number::Whole(4_294_967_295)));
    assert!(matches!(encode("idle", &entry, &value("4294967296")), Err(ConvertError::TooLarge { .. })));
    assert_eq!(encode("idle", &entry, &value("-2147483648")), Ok(Number::Whole(-2_147_483_648)));
    assert!(matches!(encode("idle", &entry, &value("-2147483649")), Err(ConvertError::TooLarge { .. })));
}

#[test]
fn a_board_may_count_in_steps() {
    let idle = whole("0.01 %", Some((0.0, 2000.0)));
    assert_eq!(encode("idle", &idle, &value("5.5 %")), Ok(Number::Whole(550)));
    assert_eq!(show(&idle, Number::Whole(550)), "5.5 %");
    assert_eq!(show(&idle, Number::Whole(555)), "5.55 %");
    assert!(matches!(encode("idle", &idle, &value("5.555 %")), Err(ConvertError::BetweenSteps { .. })));
    let wait = whole("10 ms", None);
    assert_eq!(encode("link-loss-wait", &wait, &value("0.5 s")), Ok(Number::Whole(50)));
    assert_eq!(
        encode("link-loss-wait", &wait, &value("505 ms")).unwrap_err().to_string(),
        "`link-loss-wait` cannot be 505 ms: this board counts it in steps of 10 ms"
    );
    let ratio = whole("0.01", None);
    assert_eq!(encode("voltage-ratio", &ratio, &value("11.02")), Ok(Number::Whole(1102)));
    assert_eq!(show(&ratio, Number::Whole(1102)), "11.02");
}

/// In quotes a bare number is the board's own, whatever the sheet says that it counts.
#[test]
fn bare_numbers_in_quotes_are_the_boards_own() {
    let entry = whole("10 ms", None);
    assert_eq!(encode("SOME_WAIT", &entry, &value("7")), Ok(Number::Whole(7)));
    assert_eq!(encode("SOME_WAIT", &entry, &value("70 ms")), Ok(Number::Whole(7)));
}

#[test]
fn a_setting_that_no_sheet_lists_takes_the_type_that_the_board_holds() {
    let (whole, real) = (Number::Whole(4), Number::Real(0.5));
    assert_eq!(encode_unlisted("X", &value("-3"), whole), Ok(Number::Whole(-3)));
    assert_eq!(encode_unlisted("X", &value("-3"), real), Ok(Number::Real(-3.0)));
    assert_eq!(encode_unlisted("X", &value("0.25"), real), Ok(Number::Real(0.25)));
    assert!(matches!(encode_unlisted("X", &value("0.25"), whole), Err(ConvertError::BetweenSteps { .. })));
    assert!(matches!(encode_unlisted("X", &value("1 us"), whole), Err(ConvertError::WrongUnit { .. })));
    assert!(matches!(encode_unlisted("X", &value("on"), real), Err(ConvertError::NotANumber { .. })));
    assert!(matches!(encode_unlisted("X", &value("4294967296"), whole), Err(ConvertError::TooLarge { .. })));
}

#[test]
fn the_languages_types_need_no_unit_by_hand() {
    let sheet = finch();
    let of = |word: &str| entry_of(&sheet, word);
    assert_eq!(encode_typed("idle", &of("idle"), Pulse(1150)), Ok(Number::Whole(1150)));
    assert_eq!(encode_typed("loop-rate", &of("loop-rate"), Frequency(2000)), Ok(Number::Whole(2000)));
    let wait = Duration::from_millis(700);
    assert_eq!(encode_typed("link-loss-wait", &of("link-loss-wait"), wait), Ok(Number::Whole(700)));
    assert_eq!(encode_typed("battery-warn", &of("battery-warn"), PerCell(Voltage(3550))), Ok(Number::Whole(3550)));
    assert_eq!(encode_typed("board-turn", &of("board-turn"), Angle(45_000)), Ok(Number::Whole(45)));
    assert_eq!(encode_typed("level-pitch", &of("level-pitch"), Angle(-1250)), Ok(Number::Real(-1.25)));
    assert_eq!(encode_typed("battery-cells", &of("battery-cells"), 3), Ok(Number::Whole(3)));
    assert_eq!(encode_typed("signal", &of("signal"), "oneshot125"), Ok(Number::Whole(1)));
    let ratio = Decimal { millionths: 10_500_000 };
    assert_eq!(encode_typed("voltage-ratio", &of("voltage-ratio"), ratio), Ok(Number::Real(10.5)));
    let angle = encode_typed("board-turn", &of("board-turn"), Angle(45_500));
    assert!(matches!(angle, Err(ConvertError::BetweenSteps { .. })), "{angle:?}");
}

#[test]
fn idle_is_a_pulse_width_or_a_share_of_1000_to_2000_us() {
    let share = whole("0.1 %", Some((0.0, 200.0)));
    assert_eq!(encode_idle(&share, Idle::Percent(Percent(550))), Ok(Number::Whole(55)));
    assert_eq!(encode_idle(&share, Idle::Pulse(Pulse(1055))), Ok(Number::Whole(55)));
    assert_eq!(idle_pulse(&share, Number::Whole(55)), Some(Pulse(1055)));
    // 5.55 % is 1055.5 us: never said to be less than it is.
    assert_eq!(idle_pulse(&whole("0.01 %", None), Number::Whole(555)), Some(Pulse(1056)));
    let width = entry_of(&finch(), "idle");
    assert_eq!(encode_idle(&width, Idle::Pulse(Pulse(1120))), Ok(Number::Whole(1120)));
    assert_eq!(idle_pulse(&width, Number::Whole(1120)), Some(Pulse(1120)));
    // Up, so that no idle is told lower than it is.
    assert_eq!(idle_pulse(&whole("0.5 us", None), Number::Whole(2801)), Some(Pulse(1401)));
    assert_eq!(idle_pulse(&whole("1 ms", None), Number::Whole(2)), Some(Pulse(2000)));
    let real = SettingEntry { form: Form::Real { unit: "us".to_owned() }, ..width.clone() };
    for (number, pulse) in [(1400.0, 1400), (1400.001, 1401), (1400.5, 1401), (1400.999, 1401)] {
        assert_eq!(idle_pulse(&real, Number::Real(number)), Some(Pulse(pulse)), "{number}");
    }
    let refused = encode_idle(&width, Idle::Percent(Percent(550))).unwrap_err();
    assert_eq!(refused.hint().unwrap(), "units allowed: us, ms");
}

#[test]
fn numbers_that_no_recipe_would_give_are_shown_as_they_are() {
    assert_eq!(show(&entry_of(&finch(), "zero-throttle"), Number::Whole(7)), "7");
    assert_eq!(show(&entry_of(&finch(), "idle"), Number::Real(1120.5)), "1120.5");
    assert_eq!(show(&entry_of(&finch(), "idle"), Number::Real(1120.0)), "1120 us");
    assert_eq!(decode(&entry_of(&finch(), "signal"), Number::Whole(-1)), None);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// What is shown of a whole setting is what sets it again, as far as a recipe's ten digits reach.
    #[test]
    fn whole_numbers_shown_set_themselves(
        number in -900_000_000i64..=900_000_000,
        (word, unit) in prop_oneof![
            Just(("idle", "us")), Just(("idle", "0.01 %")), Just(("loop-rate", "Hz")), Just(("loop-rate", "kHz")),
            Just(("link-loss-wait", "10 ms")), Just(("battery-warn", "mV per cell")), Just(("battery-warn", "0.01 V per cell")),
            Just(("board-turn", "0.1 deg")), Just(("battery-cells", "")), Just(("voltage-ratio", "0.001")), Just(("X", "")),
        ],
    ) {
        let entry = whole(unit, None);
        let shown = show(&entry, Number::Whole(number));
        prop_assert_eq!(encode(word, &entry, &value(&shown)), Ok(Number::Whole(number)), "{}", shown);
    }

    /// What is shown of a real of up to six places sets the same 32-bit real again.
    #[test]
    fn reals_shown_set_themselves(thousandths in -10_000i16..=10_000) {
        let board = Number::Real(f64::from(f32::from(thousandths) / 1000.0));
        let entry = real("deg");
        let again = encode("level-roll", &entry, &value(&show(&entry, board))).unwrap();
        prop_assert!(again.same(board), "{} {}", again, board);
    }
}
