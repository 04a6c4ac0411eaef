//! Every fault that a sheet can have is told with its place, and all of them at once.

use quadjig::board::document::load::LoadError;
use quadjig::board::document::{DocumentError, MOST_FAULTS};
use quadjig::board::effect::Effect;
use quadjig::board::sheet::{Form, Sheet};
use quadjig::board::sheet_file;
use quadjig::board::shipped::SHEETS;
use std::fmt::Write as _;

fn finch() -> String {
    SHEETS[0].text.to_owned()
}

fn read(text: &str) -> Result<Sheet, DocumentError> {
    sheet_file::read("try.toml", text)
}

/// The Finch with one passage replaced; the passage must stand there exactly once.
fn with(from: &str, to: &str) -> String {
    assert_eq!(finch().matches(from).count(), 1, "{from:?} stands once");
    finch().replace(from, to)
}

/// Every case: what was changed, and all that the reader says of it.
fn told(cases: &[(&str, &str)], base: fn(&str, &str) -> String) -> String {
    let mut all = String::new();
    for (from, to) in cases {
        let error = read(&base(from, to)).expect_err(to);
        writeln!(all, "{from:?} -> {to:?}\n{error}\n").unwrap();
    }
    all
}

const IDLE: &str = "name = \"IDLE_US\"\nunit = \"us\"\nleast = 1000\nmost = 1250";

#[test]
fn faults_of_keys_and_types() {
    let told = told(
        &[
            ("edition = 1", "edition = 2"),
            ("edition = 1", ""),
            ("board = \"Finch\"", "board = \"Finch"),
            ("board = \"Finch\"", "board = \"Fin\\u200bch\""),
            ("board = \"Finch\"", "board = \"Fin\\u001b[2Jch\""),
            ("board = \"Finch\"", "board = 7"),
            ("link = \"mavlink\"", "link = \"mavlnk\""),
            ("link = \"mavlink\"", "link = \"mavlink\"\nbaords = 1"),
            ("link = \"mavlink\"", "link = \"mavlink\"\n\"a\\u001bb\" = 1"),
            ("[usb]\nreceiver = true", "[usb]\nreciever = true"),
            ("[storing]\nat-once = false", "[storing]\nat-once = \"no\""),
            ("throttle-below = \"1050 us\"", "throttle-below = \"1050 V\""),
            ("throttle-below = \"1050 us\"", "throttle-below = \"50 us\""),
            ("throttle-below = \"1050 us\"", "throttle-below = \"low\""),
            ("longest = \"3 s\"", "longest = \"3\""),
            ("longest = \"3 s\"", "longest = \"0 s\""),
            ("stops-by = \"disarm\"\n", ""),
            ("sticks-can-arm", "position-0-disarms-by = \"level\"\nsticks-can-arm"),
            ("count = 4", "count = 3"),
            ("\"front left\", \"front right\"", "\"front left\", \"front left\""),
            ("kv = 11500", "kv = 11500.5"),
            ("most-current = \"6 A\"", "most-current = \"6 V\""),
            ("must-have = [\"IDLE_US\", \"SPIN_AT_ZERO\",", "must-have = [\"IDLE US\", \"IDLE_US\", \"IDLE_US\","),
            ("[raw.LIGHT_LEVEL]", "[raw.\"LIGHT LEVEL\"]"),
            ("[raw.LIGHT_LEVEL]", "[raw.SEVENTEEN_LETTERS]"),
        ],
        with,
    );
    insta::assert_snapshot!(told);
}

#[test]
fn faults_of_settings() {
    let told = told(
        &[
            ("[settings.loop-rate]", "[settings.loop-rat]"),
            ("[settings.loop-rate]", "[settings.propeller-pitch]"),
            (IDLE, "unit = \"us\""),
            (IDLE, "name = \"IDLE_US\"\nleast = 1000\nmost = 1250"),
            (IDLE, "name = \"IDLE_US\"\nunit = \"V\"\nleast = 1000\nmost = 1250"),
            (IDLE, "name = \"IDLE_US\"\nunit = \"furlong\""),
            (IDLE, "name = \"IDLE_US\"\nunit = \"0 us\""),
            (IDLE, "name = \"IDLE_US\"\nunit = \"10\""),
            (IDLE, "name = \"IDLE_US\"\nunit = \"us\"\nleast = 1250\nmost = 1000"),
            (IDLE, "name = \"IDLE_US\"\nunit = \"us\"\nleast = 1250"),
            (IDLE, "name = \"IDLE_US\"\nunit = \"us\"\nleast = 1000.5\nmost = 1250"),
            (IDLE, "name = \"IDLE_US\"\nunit = \"us\"\nleast = -3000000000\nmost = 1250"),
            (IDLE, "name = \"IDLE_US\"\nunit = \"us\"\neffect = \"writes\""),
            (IDLE, "name = \"IDLE_US\"\nunit = \"us\"\neffect = \"spins\""),
            (IDLE, "name = \"IDLE_US\"\nwords = { low = 0 }"),
            (IDLE, "name = \"IDLE_US\"\nunit = \"us\"\nreal = \"yes\""),
            (IDLE, "name = \"IDLÉ_US\"\nunit = \"us\""),
            ("name = \"LOOP_HZ\"", "name = \"IDLE_US\""),
            ("only = [1000, 2000, 4000, 8000]", "only = [1000, 1000, 2000]\nleast = 1\nmost = 2"),
            ("only = [1000, 2000, 4000, 8000]", "only = []"),
            ("words = { rest = 0, spin = 1 }", "words = { rest = 0, spinn = 1 }"),
            ("words = { rest = 0, spin = 1 }", "words = { rest = 0, spin = 0 }"),
            ("words = { rest = 0, spin = 1 }", "words = {}"),
            ("words = { rest = 0, spin = 1 }", "words = { rest = 0, spin = 1 }\nunit = \"us\""),
            ("words = { rest = 0, spin = 1 }", "least = 0\nmost = 1"),
            ("words = { hold = 0, cut = 1 }", "words = { Hold = 0, cut = 1 }"),
            ("real = true\nleast = 5.0", "real = true\nleast = nan"),
            ("real = true\nleast = 5.0", "real = true\nleast = -1e39"),
        ],
        with,
    );
    insta::assert_snapshot!(told);
}

#[test]
fn faults_of_direct_bindings() {
    let told = told(
        &[
            ("way = \"direct\"", "way = \"rwos\""),
            ("most = 2150\ngranularity = 8", "most = 800\ngranularity = 0"),
            ("channel-unbound = 0", "channel-unbound = 5"),
            ("closed = [850, 850]", "closed = [850, 2150]"),
            ("closed = [850, 850]", "closed = [850]"),
            ("from = \"ARM_FROM\", to = \"ARM_TO\"", "from = \"ARM_FROM\""),
            ("from = \"ARM_FROM\", to = \"ARM_TO\"", "from = \"ARM_FROM\", to = \"ARM_FROM\""),
            ("from = \"ARM_FROM\", to = \"ARM_TO\"", "from = \"ARM_FROM\", to = \"ROTOR_TRIM\""),
            ("arm = {", "Arm = {"),
            ("arm = {", "disarm = {"),
            ("lights = {", "\"li\\u202eghts\" = {"),
        ],
        with,
    );
    insta::assert_snapshot!(told);
}

#[test]
fn faults_of_rows() {
    fn rows(from: &str, to: &str) -> String {
        let finch_r = SHEETS.iter().find(|sheet| sheet.stem == "finch-r").unwrap().text;
        assert_eq!(finch_r.matches(from).count(), 1, "{from:?} stands once");
        finch_r.replace(from, to)
    }
    let told = told(
        &[
            ("arm = 1\n", "arm = 0\n"),
            ("arm = 1\n", "arm = 2\n"),
            ("arm = 1\n", ""),
            ("free = 0 ", "fee = 0 "),
            ("count = 8", "count = 0"),
            ("function = \"ROW{row}_FUNC\"", "function = \"ROW_FUNC\""),
            ("function = \"ROW{row}_FUNC\"", "function = \"FUNCTION_OF_ROW_{row}\""),
            ("function = \"ROW{row}_FUNC\"", "function = \"ROW{row}_FROM\""),
            ("[binding.row]", "[binding.rows]"),
        ],
        rows,
    );
    insta::assert_snapshot!(told);
}

#[test]
fn all_faults_are_told_at_once_in_the_order_of_their_places() {
    let text = finch()
        .replace("motors = false", "motors = 0")
        .replace("most = 1250", "most = 900")
        .replace("granularity = 8", "granularity = 0")
        .replace("[raw.ROTOR_TRIM]", "[raw.ROTOR_TRIM]\ncolour = 3");
    let error = read(&text).unwrap_err();
    assert_eq!(error.faults.len(), 4, "{error}");
    assert!(error.faults.is_sorted_by_key(|fault| (fault.line, fault.column)), "{error}");
}

#[test]
fn columns_count_characters_not_bytes() {
    let text = with("edition = 1", "edition = 1\n\"µµµ\" = { x = 1 }");
    let fault = &read(&text).unwrap_err().faults[0];
    assert_eq!((fault.line, fault.column), (5, 1));
    let text = with("words = { hold = 0, cut = 1 }", "words = { \"wärme\" = 0, cut = true }");
    let error = read(&text).unwrap_err();
    let line = text.lines().nth(error.faults[1].line - 1).unwrap();
    let at: String = line.chars().skip(error.faults[1].column - 1).collect();
    assert_eq!(at, "true }");
}

#[test]
fn a_sheet_can_raise_an_effect() {
    let text = with("[raw.LIGHT_LEVEL]", "[raw.LIGHT_LEVEL]\neffect = \"turns-motors\"");
    let sheet = read(&text).unwrap();
    let effect = |name: &str| sheet.raw.iter().find(|(key, _)| key.as_str() == name).unwrap().1.effect;
    assert_eq!(effect("LIGHT_LEVEL"), Effect::TurnsMotors);
    assert_eq!(effect("ROTOR_TRIM"), Effect::Writes);
    assert_eq!(sheet.settings["idle"].effect, Effect::TurnsMotors, "of the word");
}

#[test]
fn a_unit_may_be_a_step() {
    let text = with(IDLE, "name = \"IDLE_PC\"\nunit = \"0.01 %\"\nleast = 0\nmost = 2000")
        .replace("must-have = [\"IDLE_US\", ", "must-have = [");
    let idle = &read(&text).unwrap().settings["idle"];
    assert_eq!(idle.form, Form::Whole { unit: "0.01 %".to_owned(), only: vec![] });
    assert_eq!(idle.range, Some((0.0, 2000.0)));
}

#[test]
fn a_sheet_may_leave_out_what_the_board_cannot_do() {
    let text = finch();
    let from = text.find("[motor-run]").unwrap();
    let to = text.find("[motors]").unwrap();
    assert_eq!(read(&format!("{}{}", &text[..from], &text[to..])).unwrap().motor_run, None);
}

#[test]
fn a_document_is_a_regular_file_of_at_most_a_mebibyte_of_text() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("sheet.toml");
    let load = |bytes: &[u8]| {
        std::fs::write(&path, bytes).unwrap();
        sheet_file::load(&path)
    };
    let padding = |to: usize| format!("{}#{}", finch(), " ".repeat(to - finch().len() - 1)).into_bytes();
    assert_eq!(load(&padding(1 << 20)).unwrap().board, "Finch");
    assert!(matches!(load(&padding((1 << 20) + 1)), Err(LoadError::TooLarge { .. })));
    assert!(matches!(load(b"edition = \"\xff\""), Err(LoadError::NotText { .. })));
    assert!(matches!(load(b"edition = 1"), Err(LoadError::Document(_))));
    assert!(matches!(sheet_file::load(folder.path()), Err(LoadError::NotAFile { .. })));
    assert!(matches!(sheet_file::load(&folder.path().join("none")), Err(LoadError::Unreadable { .. })));
}

#[test]
fn cutting_a_sheet_short_anywhere_never_panics_and_never_reads() {
    let text = finch();
    let whole = text.rfind("most = 100").unwrap();
    for end in (0..whole).filter(|end| text.is_char_boundary(*end)).step_by(7) {
        // A cut in front of the last table leaves a whole sheet with fewer raw names; eight of them are of the motors.
        if let Ok(sheet) = read(&text[..end]) {
            assert!(sheet.raw.len() < 10 || sheet.raw.values().any(|entry| entry.range.is_none()), "{end}");
        }
    }
}

/// The least that a sheet must say.
const SMALLEST: &str = r#"edition = 1
board = "Stub tail"
link = "mavlink"
identity = { must-have = ["ARM_CH"] }
usb = { receiver = false, motors = false }
arming = { throttle-below = 1050, sticks-can-arm = true, arms-on-usb = false, buzzer-by = "motors" }
storing = { at-once = true, restart-needed = false }
motors = { count = 1, corners = ["front"], speed-telemetry = false }
settings = {}
[binding]
way = "direct"
least = 900
most = "2100 us"
granularity = 25
channel-unbound = 0
closed = [900, 900]
functions.arm = { channel = "ARM_CH", from = "ARM_LO", to = "ARM_HI" }
"#;

#[test]
fn the_hash_is_the_sha_256_of_the_text() {
    let sheet = read(SMALLEST).unwrap();
    // Source: `sha256sum` (GNU coreutils 9) over the text above.
    assert_eq!(sheet.hash, "f8f42142e0f23067a30f7fee95616a36c03c68353c2f1ba817e7e57085c55f96");
    assert_ne!(read(&SMALLEST.replace("25", "20")).unwrap().hash, sheet.hash);
}

#[test]
fn tables_may_be_written_in_any_of_tomls_forms() {
    let sheet = read(SMALLEST).unwrap();
    assert!(sheet.sticks_can_arm && sheet.motors_sound_buzzer && sheet.stores_at_once);
    assert_eq!((sheet.binding.least.0, sheet.binding.most.0, sheet.binding.granularity), (900, 2100, 25));
    assert_eq!((sheet.kind, sheet.kv, sheet.settings.len()), (None, None, 0));
}

#[test]
fn a_hostile_text_is_bounded() {
    let many = |line: fn(usize) -> String| (0..40_000).map(line).collect::<String>();
    let unknown = read(&format!("{}{}", many(|n| format!("k{n} = 1\n")), finch())).unwrap_err();
    assert_eq!(unknown.faults.len(), MOST_FAULTS);
    let words = many(|n| format!("words.w{n} = {n}\n"));
    let error = read(&with("words = { rest = 0, spin = 1 }", &words)).unwrap_err();
    assert!(error.to_string().contains("40000; 1 to 256 are allowed"), "{error}");
    let functions = many(|n| format!("f{n} = 1\n"));
    let error = read(&with("[binding.functions]", &format!("[binding.functions]\n{functions}"))).unwrap_err();
    assert!(error.to_string().contains("40004; 1 to 64 are allowed"), "{error}");
    for deep in ["x = ".to_owned() + &"[".repeat(200_000), "a.".repeat(200_000) + "b = 1"] {
        assert!(read(&deep).is_err());
    }
}
