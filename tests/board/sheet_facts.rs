//! What sheets say of boards that are unlike the Finch: where the ends of bands lie, and sticks in a fixed order.
//!
//! Bands are held to what their words mean, pulse by pulse, and to the virtual board that is made of the sheet.

use crate::rehearsal::any_board::filled;
use quadjig::board::binding::bound_now;
use quadjig::board::convert::IdleScale;
use quadjig::board::sheet::{Settings, Sheet};
use quadjig::board::sheet_file;
use quadjig::board::value::{Number, SettingName};
use quadjig::language::recipe::{Function, Stick};
use quadjig::language::setting_word::SettingWord;
use quadjig::language::units::Pulse;
use quadjig::plan::facts::throttle_channel;
use quadjig::rehearsal::played::make_of;
use quadjig::virtual_board::{World, WorldConfig};

fn read(text: &str) -> Sheet {
    sheet_file::read("mine.toml", text).unwrap_or_else(|error| panic!("{error}"))
}

fn faults(text: &str) -> String {
    sheet_file::read("mine.toml", text).unwrap_err().to_string()
}

fn ends(from: bool, to: bool, closed: &str) -> String {
    let text = filled("mavlink").replace("closed = [900, 900]", &format!("closed = {closed}"));
    let text = text.replace("from-inside = true", &format!("from-inside = {from}"));
    text.replace("to-inside = false", &format!("to-inside = {to}"))
}

#[test]
fn ends_of_bands_lie_inside_or_not_each_side() {
    for (from, to) in [(true, false), (true, true), (false, false), (false, true)] {
        let sheet = read(&ends(from, to, "[910, 900]"));
        let mut config = WorldConfig::default();
        config.radio.jitter = 0.0;
        let mut world = World::new(config.made(make_of(&sheet).unwrap()));
        let mut settings = Settings::new();
        for (name, number) in [("MY_BUZZ_CHANNEL", 1), ("MY_BUZZ_FROM", 1300), ("MY_BUZZ_TO", 1500)] {
            settings.insert(SettingName::new(name).unwrap(), Number::Whole(number));
            world.line(world.now(), &format!("set {name} {number}")).unwrap();
        }
        let [band] = bound_now(&sheet, &settings, &Function("buzzer".to_owned())).unwrap()[..] else {
            panic!("a band")
        };
        for pulse in [1299, 1300, 1301, 1400, 1499, 1500, 1501] {
            let meant = (pulse > 1300 || from && pulse == 1300) && (pulse < 1500 || to && pulse == 1500);
            assert_eq!(band.from.0 <= pulse && pulse < band.to.0, meant, "{from} {to} {pulse}");
            world.line(world.now(), &format!("stick roll {pulse}")).unwrap();
            let soon = world.now() + std::time::Duration::from_millis(100);
            world.advance(soon);
            assert_eq!(world.truth()["functions"]["buzzer"], meant, "{from} {to} {pulse}");
        }
    }
}

/// A pair that leaves a pulse in between closes nothing.
#[test]
fn what_closes_a_band_has_no_pulse_in_it() {
    for (from, to, closed) in [
        (true, false, "[900, 900]"),
        (false, false, "[900, 900]"),
        (false, true, "[900, 900]"),
        (true, true, "[910, 900]"),
    ] {
        assert_eq!(read(&ends(from, to, closed)).binding.from_inside, from, "{closed}");
    }
    let said = faults(&ends(true, true, "[900, 900]"));
    assert!(said.contains("binding.closed"), "{said}");
}

#[test]
fn sticks_may_stand_in_a_fixed_order() {
    let order = "link = \"mavlink\"\nchannel-order = [\"throttle\", \"roll\", \"pitch\", \"yaw\"]";
    let said = faults(&filled("mavlink").replace("link = \"mavlink\"", order));
    assert!(said.contains("settings.pitch-channel") || said.contains("settings.roll-channel"), "{said}");
    let fixed = crate::rehearsal::any_board::unlike();
    let sheet = read(
        &fixed.replace("[\"roll\", \"pitch\", \"throttle\", \"yaw\"]", "[\"throttle\", \"roll\", \"pitch\", \"yaw\"]"),
    );
    assert_eq!(sheet.channel_order, Some([Stick::Throttle, Stick::Roll, Stick::Pitch, Stick::Yaw]));
    assert_eq!(throttle_channel(&sheet, &Settings::new()), Some(1));
    let said = faults(&fixed.replace("\"throttle\", \"yaw\"]", "\"roll\", \"yaw\"]"));
    assert!(said.contains("channel-order") && said.contains("roll"), "{said}");
}

/// Pulses and numbers of boards that count idle otherwise: by hand, from what the units mean.
#[test]
fn idle_is_counted_in_a_boards_own_steps() {
    let scale = |unit: &str| {
        let text = filled("mavlink").replacen("unit = \"us\"", &format!("unit = \"{unit}\""), 1);
        IdleScale::of(read(&text).entry(SettingWord::Idle).unwrap())
    };
    for (unit, pulse, up, number) in [
        ("us", 1125, 1125, 1125),
        ("10 us", 1125, 1130, 113),
        ("25 us", 1126, 1150, 46),
        ("%", 1125, 1130, 13),
        ("0.1 %", 1125, 1125, 125),
        ("0.5 us", 1125, 1125, 2250),
    ] {
        let scale = scale(unit).unwrap();
        assert_eq!(scale.up(Pulse(pulse)), Pulse(up), "{unit}");
        assert_eq!(scale.number(Pulse(up)), Number::Whole(number), "{unit}");
        assert_eq!(scale.pulse(Number::Whole(number)), Some(Pulse(up)), "{unit}");
        assert!(scale.down(Pulse(pulse)) <= Pulse(pulse) && scale.down(Pulse(up)) == Pulse(up), "{unit}");
    }
    assert_eq!(scale("3.7 us"), None, "whole pulses and such steps meet in no way");
}
