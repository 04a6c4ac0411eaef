//! Templates of board sheets: what they offer is read, and what they leave as it stands is cautious.

use super::text;
use quadjig::board::sheet::Sheet;
use quadjig::board::sheet_file;
use quadjig::board::vocabulary::WORDS;

const TEMPLATES: [&str; 1] = ["recipes/boards/templates/mavlink.toml"];

fn read(name: &str, text: &str) -> Sheet {
    sheet_file::read(name, text).unwrap_or_else(|error| panic!("{error}"))
}

/// A template is a sheet, both bare and with every part taken in that it offers, and offers every word there is.
#[test]
fn templates_are_sheets_bare_and_whole() {
    for name in TEMPLATES {
        let bare = text(name);
        let sheet = read(name, &bare);
        assert_eq!(sheet.motor_run, None, "{name}: no motor is run by command until its reader says so");
        let cautious = sheet.usb_feeds_motors && sheet.sticks_can_arm && sheet.motors_sound_buzzer;
        assert!(cautious && !sheet.usb_feeds_receiver && !sheet.arms_on_usb && !sheet.disarms_by_level, "{name}");
        let whole: Vec<&str> = bare.lines().map(|line| line.strip_prefix("#= ").unwrap_or(line)).collect();
        let sheet = read(name, &whole.join("\n"));
        assert!(sheet.motor_run.is_some());
        let missing: Vec<_> = WORDS.iter().filter(|word| !sheet.settings.contains_key(word.word)).collect();
        assert!(missing.is_empty(), "{name} offers no {missing:?}");
        // A name that was forgotten is found on no board.
        let names = sheet.settings.values().chain(sheet.raw.values()).map(|entry| &entry.name).chain(&sheet.must_have);
        for setting in names {
            assert!(setting.as_str().starts_with("MY_"), "{name}: {setting}");
        }
    }
}
