//! A virtual board from any sheet: the one recipe, unchanged, on every board that a sheet at hand describes.
//!
//! What the shipped sheets' own boards do is the measure: made in `virtual_board::finch`, which knows no sheet.

use super::every_board::{meaning, script};
use super::kit::{Play, play};
use quadjig::board::binding::bound_now;
use quadjig::board::sheet::Sheet;
use quadjig::board::value::{Number, SettingName};
use quadjig::board::{sheet_file, shipped};
use quadjig::language::recipe::Function;
use quadjig::language::setting_word::SettingWord;
use quadjig::rehearsal::played::{Unplayable, make_for, make_of};
use quadjig::virtual_board::{BoardKind, WorldConfig};

/// A template with every part taken in, and facts about a board that can do as much as the Finch can.
pub fn filled(template: &str) -> String {
    let file = format!("{}/recipes/boards/templates/{template}.toml", env!("CARGO_MANIFEST_DIR"));
    let text = std::fs::read_to_string(file).unwrap();
    let whole: Vec<&str> = text.lines().map(|line| line.strip_prefix("#= ").unwrap_or(line)).collect();
    let mut text = whole.join("\n");
    text = text.replace("arms-while-open = false", "arms-while-open = true");
    for (cautious, seen) in [
        ("receiver = false ", "receiver = true "),
        ("motors = true ", "motors = false "),
        ("sticks-can-arm = true", "sticks-can-arm = false"),
        ("arms-on-usb = false", "arms-on-usb = true"),
        ("buzzer-by = \"motors\"", "buzzer-by = \"buzzer\""),
        ("speed-telemetry = false", "speed-telemetry = true"),
        ("\"MY_CORNER_1\", \"MY_CORNER_2\"", "\"front left\", \"front right\""),
        ("\"MY_CORNER_3\", \"MY_CORNER_4\"", "\"rear right\", \"rear left\""),
        // Ends that a breath of the radio does not move: half-way between rests is no multiple of it.
        ("granularity = 1 ", "granularity = 20 "),
    ] {
        assert_eq!(text.matches(cautious).count(), 1, "{cautious}");
        text = text.replace(cautious, seen);
    }
    if template == "packets" {
        let last = "MY_BUZZ_TO = { at = 8, type = \"u16\" }\n";
        assert_eq!(text.matches(last).count(), 1);
        let level = [
            "CHANNEL = { at = 10, type = \"u8\" }",
            "FROM = { at = 11, type = \"u16\" }",
            "TO = { at = 13, type = \"u16\" }",
        ];
        let level: String = level.map(|field| format!("MY_LVL_{field}\n")).concat();
        text = text.replace(last, &format!("{last}{level}"));
    }
    let level = ["channel = \"MY_LVL_CHANNEL\"", "from = \"MY_LVL_FROM\"", "to = \"MY_LVL_TO\""].join("\n");
    format!("{text}\n[binding.functions.self-level]\n{level}\n")
}

fn played(sheet: &Sheet) -> (Vec<String>, Play) {
    let script = script(sheet.clone());
    let make = make_for(&script.sheets).unwrap();
    let play = play(&script, WorldConfig::default().made(make));
    (meaning(sheet, &play.rehearsed.settings), play)
}

/// 1150 us, at which a motor is run otherwise, is no multiple of four.
#[test]
fn a_motor_is_run_at_a_pulse_that_its_board_can_be_told() {
    let text = shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch-p").unwrap().text;
    let one = "put.pulse = { at = 1, type = \"u16\" }";
    assert_eq!(text.matches(one).count(), 1);
    let text = text.replace(one, "put.pulse = { at = 1, type = \"u16\", unit = \"4 us\" }");
    let (_, play) = played(&sheet_file::read("own.toml", &text).unwrap());
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines.last());
    assert!(play.told("Pulse(1152)"), "{:#?}", play.lines);
}

/// A sheet that takes one word of its board for the other: what the recipe has spin rests, whatever the idle.
#[test]
fn motors_that_the_board_leaves_at_rest_are_not_called_faulty() {
    let text = shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch").unwrap().text;
    let one = "words = { rest = 0, spin = 1 }";
    assert_eq!(text.matches(one).count(), 1);
    let sheet = sheet_file::read("own.toml", &text.replace(one, "words = { rest = 1, spin = 0 }")).unwrap();
    let play = play(&script(sheet), WorldConfig::default());
    let why = format!("{:?}", play.rehearsed.result);
    assert!(why.contains("the board drove no motor above"), "{why}");
    assert!(!why.contains("a bearing"), "{why}");
    let starts = play.lines.iter().filter(|line| line.contains("Start(StartSeen")).count();
    assert_eq!(starts, 1, "no other value is tried");
}

/// A shipped sheet with a remark is no longer the shipped one: its board is made from what it says alone.
#[test]
fn a_board_made_from_a_shipped_sheet_is_the_board_that_it_describes() {
    // The boards of the shipped sheets do alike: see `every_board`.
    let (known, finch) = played(&shipped::sheet("finch").unwrap().unwrap());
    let counts = |play: &Play| (play.rehearsed.restarts, play.rehearsed.questions);
    for kind in BoardKind::ALL {
        let stem = kind.name().to_lowercase().replace(' ', "-");
        let text = shipped::SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap().text;
        let sheet = sheet_file::read("own.toml", &format!("# My own.\n{text}")).unwrap();
        let (make, own) = (make_of(&sheet).unwrap(), kind.make());
        let looked_up = make.settings.len() == own.settings.len() && make.packets == own.packets;
        assert!(!looked_up, "{stem}: made from the sheet, not looked up");
        let (said, play) = played(&sheet);
        assert_eq!(play.rehearsed.result, Ok(()), "{stem}: {:#?}", play.lines.last());
        assert_eq!(said, known, "{stem}");
        assert_eq!(counts(&play), counts(&finch), "{stem}");
    }
}

#[test]
fn each_template_filled_in_is_a_board_that_plays_the_recipe_to_its_end() {
    let mut told = Vec::new();
    for template in ["mavlink", "console", "packets"] {
        let sheet = sheet_file::read("mine.toml", &filled(template)).unwrap();
        let (meaning, play) = played(&sheet);
        assert_eq!(play.rehearsed.result, Ok(()), "{template}: {:#?}", play.lines);
        told.push((meaning, play.rehearsed.restarts, play.rehearsed.questions));
    }
    assert_eq!(told[0], told[1], "MAVLink and a console");
    assert_eq!(told[0], told[2], "MAVLink and packets");
}

/// As it is copied, every fact cautious: nothing is heard of the radio without the battery, and nothing arms.
#[test]
fn a_cautious_template_is_a_cautious_board() {
    let text = filled("mavlink").replace("receiver = true ", "receiver = false ");
    let sheet = sheet_file::read("mine.toml", &text).unwrap();
    let mut world = quadjig::virtual_board::World::new(WorldConfig::default().made(make_of(&sheet).unwrap()));
    let heard = |world: &quadjig::virtual_board::World| world.truth()["receiver"]["heard"].as_bool().unwrap();
    let wait = |world: &mut quadjig::virtual_board::World, line: &str| {
        world.line(world.now(), line).unwrap();
        let now = world.now();
        world.advance(now + std::time::Duration::from_secs(3));
    };
    wait(&mut world, "radio on");
    assert!(!heard(&world), "USB feeds no receiver");
    wait(&mut world, "battery in");
    assert!(heard(&world));
    wait(&mut world, "battery out");
    assert!(!heard(&world));
    let text = filled("mavlink").replace("arms-on-usb = true", "arms-on-usb = false");
    let sheet = sheet_file::read("mine.toml", &text).unwrap();
    let mut world = quadjig::virtual_board::World::new(WorldConfig::default().made(make_of(&sheet).unwrap()));
    wait(&mut world, "set MY_ARM_CHANNEL 6");
    wait(&mut world, "flip B 2");
    assert!(!world.armed(), "the battery is out");
    wait(&mut world, "flip B 0");
    wait(&mut world, "battery in");
    wait(&mut world, "flip B 2");
    assert!(world.armed());
}

#[test]
fn what_cannot_be_played_is_said() {
    let six = filled("mavlink")
        .replace("count = 4", "count = 2")
        .replace("\"front left\", \"front right\", \"rear right\", \"rear left\"", "\"left\", \"right\"");
    let six = six
        .replace("[\"MY_MOTOR1_OUT\", \"MY_MOTOR2_OUT\", \"MY_MOTOR3_OUT\", \"MY_MOTOR4_OUT\"]", "[\"MY_A\", \"MY_B\"]")
        .replace(
            "[\"MY_OUT1_REVERSED\", \"MY_OUT2_REVERSED\", \"MY_OUT3_REVERSED\", \"MY_OUT4_REVERSED\"]",
            "[\"MY_C\", \"MY_D\"]",
        );
    let sheet = sheet_file::read("mine.toml", &six).unwrap();
    assert_eq!(make_of(&sheet).unwrap_err(), Unplayable::Corners("left, right".to_owned()));
    let text = filled("console").replace("(?<pulses>[0-9 ]+))'", "(?<pulses>[a-z ]+))'");
    let sheet = sheet_file::read("mine.toml", &text).unwrap();
    let error = make_of(&sheet).unwrap_err();
    assert!(matches!(&error, Unplayable::Answer { need: "channels", .. }), "{error}");
    let fault = make_for(&[sheet]).unwrap_err().to_string();
    assert!(fault.contains("mine.toml") && fault.contains("channels"), "{fault}");
}

/// The template without some of its tables.
fn without(text: &str, tables: &[&str]) -> String {
    let mut left = Vec::new();
    let mut out = false;
    for line in text.lines() {
        if line.starts_with('[') {
            out = tables.iter().any(|table| line.starts_with(&format!("[settings.{table}]")));
        }
        left.extend((!out).then_some(line));
    }
    left.join("\n")
}

/// A board that takes its sticks in one order, has no word of the battery, counts idle in steps of ten and the upper end of
/// a band in: everything is set up by the same recipe, and the pack is judged by the cells that the recipe gives.
pub fn unlike() -> String {
    let sticks = ["roll-channel", "pitch-channel", "throttle-channel", "yaw-channel"];
    let battery = ["battery-cells", "battery-chemistry", "battery-warn", "battery-land"];
    let text = without(&filled("mavlink"), &[sticks, battery].concat());
    let text = text.replace(
        "link = \"mavlink\"",
        "link = \"mavlink\"\nchannel-order = [\"roll\", \"pitch\", \"throttle\", \"yaw\"]",
    );
    let text = text
        .replace("unit = \"us\"  ", "unit = \"10 us\"")
        .replace("least = 1000\nmost = 1250", "least = 100\nmost = 125");
    text.replace("to-inside = false", "to-inside = true").replace("closed = [900, 900]", "closed = [910, 900]")
}

#[test]
fn a_board_that_can_be_told_less_is_set_up_by_the_same_recipe() {
    let sheet = sheet_file::read("mine.toml", &unlike()).unwrap();
    assert!(sheet.entry(SettingWord::ThrottleChannel).is_none() && sheet.entry(SettingWord::BatteryCells).is_none());
    let (meaning, play) = played(&sheet);
    assert_eq!(play.rehearsed.result, Ok(()), "{:#?}", play.lines.last());
    assert!(meaning.iter().any(|line| line.starts_with("idle 11")), "in tens: {meaning:?}");
    assert!(play.told("in steps of 10 us"), "what is tried instead is said");
    // The board itself arms where its ends say, the upper one included.
    let settings = &play.rehearsed.settings;
    let band = bound_now(&sheet, settings, &Function::arm()).unwrap()[0];
    assert_eq!(
        i64::from(band.to.0),
        1 + match settings[&SettingName::new("MY_ARM_TO").unwrap()] {
            Number::Whole(to) => to,
            Number::Real(_) => panic!("a whole end"),
        }
    );
}

/// Two cells at 3.5 V are 7 V, which would pass for one.
#[test]
fn a_low_pack_is_seen_by_the_cells_of_the_recipe() {
    let script = script(sheet_file::read("mine.toml", &unlike()).unwrap());
    let mut config = WorldConfig::default();
    config.pack.volts = 7.0;
    let play = play(&script, config.made(make_for(&script.sheets).unwrap()));
    let fault = play.rehearsed.result.unwrap_err().to_string();
    assert!(fault.contains("3.7 V"), "{fault}");
}

#[test]
fn another_order_than_the_boards_own_is_found_at_the_desk() {
    let sheet = sheet_file::read("mine.toml", &unlike()).unwrap();
    let text = "recipe \"Order\"\nedition 1\ncraft quad x\nboard \"My board\"\nchannels throttle, roll, pitch, yaw\n";
    let files = quadjig::language::sources::Memory::of([("order.jig", text.to_owned())]);
    let reading = quadjig::board::vocabulary::read(&files, std::path::Path::new("order.jig"), &[]);
    let found = quadjig::plan::checks::reading(&reading, &[sheet], None);
    let said: Vec<String> = found.iter().map(|finding| finding.message.clone()).collect();
    assert!(
        said.iter().any(|said| said.contains("takes its first four channels as roll, pitch, throttle, yaw")),
        "{said:?}"
    );
}
