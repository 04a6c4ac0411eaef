//! Boards that give signs of life and answer, but not what they were asked: another question, 65,535 settings
//! announced and none sent, names with escape characters.

use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};
use super::between::{Alter, Between};
use super::script::{Character, Scripted, Signs, accepted, honest, name, setting};
use super::{changes, port, sandbox, says};
use mavlink::dialects::common::{ATTITUDE_DATA, MavCmd, MavMessage};
use mavlink::types::CharArray;
use std::time::Duration;

/// Signs of life, and answers as this function has them.
struct Answers<F>(Signs, F);

impl<F: FnMut(&MavMessage) -> Vec<MavMessage> + Send + 'static> Character for Answers<F> {
    fn unasked(&mut self, at: Duration) -> Vec<u8> {
        self.0.due(at)
    }

    fn answer(&mut self, message: &MavMessage) -> Vec<MavMessage> {
        (self.1)(message)
    }
}

fn board(answers: impl FnMut(&MavMessage) -> Vec<MavMessage> + Send + 'static) -> Scripted {
    Scripted::new(Answers(Signs::default(), answers))
}

/// What is said of a board, and that nothing but questions reached it; how many frames did.
fn meets(board: &Scripted, arguments: &[&str], within: u64, why: &str) -> usize {
    let said = says(&sandbox(), arguments, &board.port, Duration::from_secs(within));
    let expected = format!("exit code: 5\n--- stderr\nerror: {why}\nNothing was written to the board.\n");
    assert_eq!(said, expected);
    let sent = board.sent();
    assert_eq!(changes(&sent), Vec::<String>::new());
    port::frames(&sent).0.len()
}

#[test]
fn answers_another_question() {
    let board = board(|message| match message {
        MavMessage::COMMAND_LONG(_) => {
            let attitude = MavMessage::ATTITUDE(ATTITUDE_DATA::default());
            vec![accepted(MavCmd::MAV_CMD_DO_SET_HOME), attitude]
        }
        MavMessage::PARAM_REQUEST_LIST(_) => vec![setting(name(b"ASKED_NOBODY"), 1.0, 0, 1)],
        _ => Vec::new(),
    });
    let why = "asking who the board is: it gives signs of life, but does not say who it is; without that its settings \
               are not read, as they could not be told from another board's";
    meets(&board, &["dry-run", "wren.jig"], 20, why);
}

/// Once announced by a setting that stands outside of the list, once by the first of the list.
#[test]
fn announces_more_settings_than_it_sends() {
    let checked = "check the cable, then start again";
    let first =
        "the board announced 65535 settings and sent 1 of them, then no more: check the cable, then read them again";
    for (index, why) in [(u16::MAX, format!("the board did not answer; {checked}")), (0, first.to_owned())] {
        let board = board(move |message| match message {
            MavMessage::COMMAND_LONG(command) => honest(command),
            MavMessage::PARAM_REQUEST_LIST(_) => vec![setting(name(b"FIRST"), 1.0, index, u16::MAX)],
            _ => Vec::new(),
        });
        let why = format!("reading all settings: {why}");
        let frames = meets(&board, &["snapshot", "--output", "copy.json"], 60, &why);
        assert!(frames < 500, "{frames} frames for one setting");
    }
}

/// Such a name can stand in no copy of the settings: nothing is copied, and what is shown is visible.
#[test]
fn names_with_escape_characters() {
    for (raw, shown) in
        [(&b"ID\x1b[31mRED\x07"[..], "ID\\x1b[31mRED\\x07"), (b"A\xe2\x80\xaeB", "A\\xe2\\x80\\xaeB"), (b"A B", "A B")]
    {
        let raw = name(raw);
        let board = board(move |message| match message {
            MavMessage::COMMAND_LONG(command) => honest(command),
            MavMessage::PARAM_REQUEST_LIST(_) => {
                vec![setting(name(b"FIRST"), 1.0, 0, 3), setting(raw, 2.0, 1, 3), setting(name(b"LAST"), 3.0, 2, 3)]
            }
            _ => Vec::new(),
        });
        let why = format!(
            "reading all settings: the board tells a setting by a name that is none, `{shown}`: names \
             have 1 to 16 printable characters; no copy of its settings would be whole"
        );
        meets(&board, &["snapshot", "--output", "copy.json"], 14, &why);
    }
}

/// Of two settings with one name neither can be brought back: the copy is taken, says so, and is no way back.
#[test]
fn tells_one_name_twice_and_a_value_that_is_no_number() {
    let board = board(move |message| match message {
        MavMessage::COMMAND_LONG(command) => honest(command),
        MavMessage::PARAM_REQUEST_LIST(_) => vec![
            setting(name(b"TRIM"), 1.0, 0, 5),
            setting(name(b"CRAFT"), f32::NAN, 1, 5),
            setting(name(b"TRIM"), 2.0, 2, 5),
            setting(name(b"NEXT"), 2.5, 3, 5),
            setting(name(b"LAST"), 3.0, 4, 5),
        ],
        _ => Vec::new(),
    });
    let sandbox = sandbox();
    let said = says(&sandbox, &["snapshot", "--output", "copy.json"], &board.port, Duration::from_secs(14));
    let expected = "exit code: 5\n--- stdout\n2 settings copied into `copy.json`\n--- stderr\nerror: the copy is not whole, \
                    and no way back: no number is told of CRAFT; the board lists twice TRIM\n  do: it can be compared and \
                    planned against; `quadjig restore` refuses it\n";
    assert_eq!(said, expected);
    let copy = std::fs::read_to_string(sandbox.path("copy.json")).unwrap();
    let copy: serde_json::Value = serde_json::from_str(&copy).unwrap();
    assert_eq!(copy["settings"], serde_json::json!({ "LAST": 3.0, "NEXT": 2.5 }));
    assert_eq!(copy["lacking"], serde_json::json!({ "CRAFT": "no-number", "TRIM": "twice" }));
    assert_eq!(changes(&board.sent()), Vec::<String>::new());
}

/// Two settings whose names are one on the wire: the second bears a name that the recipe sets.
struct OneName;

impl Alter for OneName {
    fn board_says(&mut self, message: &mut MavMessage, _: u32) {
        if let MavMessage::PARAM_VALUE(value) = message
            && value.param_id.to_str().unwrap() == "BOOT_TONE"
        {
            value.param_id = CharArray::new(name(b"WARN_CELL_MV"));
        }
    }
}

/// Which of two values is the setting's is not known: nothing is planned by either, and nothing written.
#[test]
fn a_setting_that_is_listed_twice_is_none_for_a_run() {
    let mut board = Board::on_tcp();
    let before = board.settings().to_string();
    let between = Between::new(&board, OneName);
    let arguments = ["run", "wren.jig", "--port", &between.port, "--records", "crafts"];
    let ended = Attended::start(&sandbox(), &mut board, &arguments).end(willing);
    assert_ne!(ended.code, Some(0), "{}", ended.screen);
    let said = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    for words in ["the board lists twice WARN_CELL_MV", "the board has no setting `WARN_CELL_MV`"] {
        assert!(said.contains(words), "{words}: {}", ended.screen);
    }
    assert_eq!(changes(&between.sent()), Vec::<String>::new());
    assert_eq!(board.settings().to_string(), before);
}
