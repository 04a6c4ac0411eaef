//! Boards that are met in the middle of a run: says yes and does nothing, answers for another setting, becomes
//! another board, restarts for ever.

use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};
use super::between::{Alter, Between, Passes};
use super::script::{accepted, identity, name};
use super::{changes, ending, sandbox};
use mavlink::dialects::common::{MavCmd, MavMessage, MavSeverity, PARAM_VALUE_DATA, STATUSTEXT_DATA};
use mavlink::types::CharArray;
use std::time::{Duration, Instant};

/// How a run on an altered board ended.
struct Ended {
    code: Option<i32>,
    /// Everything on the screen.
    screen: String,
    /// From the words `Not finished` on.
    ending: String,
    /// What of its frames was more than asking.
    sent: Vec<String>,
}

impl Ended {
    /// Checks the code, and words of the ending.
    fn says(&self, code: i32, words: &[&str]) -> &Self {
        assert_eq!(self.code, Some(code), "{}", self.screen);
        assert!(words.iter().all(|words| self.ending.contains(words)), "{}", self.ending);
        self
    }
}

const STORE: &str = "MAV_CMD_PREFLIGHT_STORAGE";
const RESTART: &str = "MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN";

fn run(board: &mut Board, alter: impl Alter, within: u64) -> Ended {
    let (sandbox, began) = (sandbox(), Instant::now());
    let between = Between::new(board, alter);
    let arguments = ["run", "wren.jig", "--port", &between.port, "--records", "crafts"];
    let ended = Attended::start(&sandbox, board, &arguments).end(willing);
    assert!(began.elapsed() < Duration::from_secs(within), "{:?}: {}", began.elapsed(), ended.screen);
    let sent = changes(&between.sent());
    Ended { code: ended.code, ending: ending(&ended.screen), screen: ended.screen, sent }
}

/// What the settings of a board are at work and in its memory.
fn settings(board: &mut Board) -> String {
    board.settings().to_string()
}

/// Confirms every write with the value that was wanted, and writes nothing.
struct SaysYes;

impl Alter for SaysYes {
    fn program_says(&mut self, message: &MavMessage) -> Passes {
        let MavMessage::PARAM_SET(set) = message else { return Passes::On };
        Passes::Answered(MavMessage::PARAM_VALUE(PARAM_VALUE_DATA {
            param_value: set.param_value,
            param_count: 80,
            param_index: u16::MAX,
            param_id: set.param_id,
            param_type: set.param_type,
        }))
    }

    /// And says so in words that would clear the screen.
    fn board_says(&mut self, message: &mut MavMessage, _: u32) {
        let MavMessage::ATTITUDE(_) = message else { return };
        let mut text = [0; 50];
        text[..12].copy_from_slice(b"done\x1b[2J\x1b[0m");
        *message = MavMessage::STATUSTEXT(STATUSTEXT_DATA {
            severity: MavSeverity::MAV_SEVERITY_NOTICE,
            text: CharArray::new(text),
            ..Default::default()
        });
    }
}

#[test]
fn says_yes_and_does_nothing() {
    let mut board = Board::on_tcp();
    let before = settings(&mut board);
    let ended = run(&mut board, SaysYes, 60);
    let Ended { screen, sent, .. } = ended.says(6, &["ARM_CHANNEL reads 5 on the board, 6 was written"]);
    assert!(screen.contains("done\\u{1b}[2J\\u{1b}[0m"), "{screen}");
    assert!(!sent.is_empty() && sent.iter().all(|change| change.starts_with("set ")), "{sent:?}");
    assert_eq!(settings(&mut board), before);
}

/// Tells one setting otherwise as all are read at the end.
#[derive(Default)]
struct ChangesAtTheEnd(u32);

impl Alter for ChangesAtTheEnd {
    fn program_says(&mut self, message: &MavMessage) -> Passes {
        self.0 += u32::from(matches!(message, MavMessage::PARAM_REQUEST_LIST(_)));
        Passes::On
    }

    fn board_says(&mut self, message: &mut MavMessage, _: u32) {
        if let (2.., MavMessage::PARAM_VALUE(value)) = (self.0, message)
            && value.param_id.to_str().unwrap() == "CELLS"
        {
            value.param_value = f32::from_bits(3);
        }
    }
}

#[test]
fn tells_another_value_at_the_end() {
    let mut board = Board::on_tcp();
    let ended = run(&mut board, ChangesAtTheEnd::default(), 60);
    let screen = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(screen.contains("NOT SHOWN: CELLS kept 2, and reads 3 at the end."), "{}", ended.screen);
    assert_ne!(ended.code, Some(0));
}

/// Lists one setting under another name as all are read at the end.
#[derive(Default)]
struct GoneAtTheEnd(u32);

impl Alter for GoneAtTheEnd {
    fn program_says(&mut self, message: &MavMessage) -> Passes {
        self.0 += u32::from(matches!(message, MavMessage::PARAM_REQUEST_LIST(_)));
        Passes::On
    }

    fn board_says(&mut self, message: &mut MavMessage, _: u32) {
        if let (2.., MavMessage::PARAM_VALUE(value)) = (self.0, message)
            && value.param_id.to_str().unwrap() == "BOOT_TONE"
        {
            value.param_id = CharArray::new(name(b"BOOT_TUNE"));
        }
    }
}

/// The copy of the end holds what was read at the end, and nothing else.
#[test]
fn a_setting_that_is_gone_at_the_end_is_in_no_copy() {
    let (sandbox, mut board) = (sandbox(), Board::on_tcp());
    let between = Between::new(&board, GoneAtTheEnd::default());
    let arguments = ["run", "wren.jig", "--port", &between.port, "--records", "crafts"];
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let craft = std::fs::read_dir(sandbox.path("crafts")).unwrap().next().unwrap().unwrap().path();
    let mut copies: Vec<_> =
        std::fs::read_dir(craft.join("snapshots")).unwrap().map(|copy| copy.unwrap().path()).collect();
    copies.sort();
    let names = copies.iter().map(|copy| {
        let copy: serde_json::Value = serde_json::from_str(&std::fs::read_to_string(copy).unwrap()).unwrap();
        ["BOOT_TONE", "BOOT_TUNE"].map(|name| copy["settings"].get(name).is_some())
    });
    assert_eq!(names.collect::<Vec<_>>(), [[true, false], [false, true]]);
}

/// Confirms that all is stored, and stores nothing.
struct StoresNothing;

impl Alter for StoresNothing {
    fn program_says(&mut self, message: &MavMessage) -> Passes {
        match message {
            MavMessage::COMMAND_LONG(command) if command.command == MavCmd::MAV_CMD_PREFLIGHT_STORAGE => {
                Passes::Answered(accepted(command.command))
            }
            _ => Passes::On,
        }
    }
}

#[test]
fn says_that_it_stored_and_did_not() {
    let mut board = Board::on_tcp();
    let before = settings(&mut board);
    let ended = run(&mut board, StoresNothing, 60);
    let Ended { sent, .. } = ended.says(6, &["ARM_CHANNEL reads 5 on the board, 6 was written"]);
    assert_eq!(sent[sent.len() - 2..], [STORE, RESTART], "{sent:?}");
    assert_eq!(settings(&mut board), before, "after its restart the board holds what it held");
}

/// Answers a reading of one setting with another one.
struct AnotherSetting;

impl Alter for AnotherSetting {
    fn program_says(&mut self, message: &MavMessage) -> Passes {
        match message {
            MavMessage::PARAM_REQUEST_READ(read) if read.param_index < 0 => {
                let mut other = [0; 16];
                other[..4].copy_from_slice(b"ELSE");
                Passes::Answered(super::script::setting(other, 1.0, u16::MAX, 80))
            }
            _ => Passes::On,
        }
    }
}

#[test]
fn answers_for_another_setting() {
    let mut board = Board::on_tcp();
    let ended = run(&mut board, AnotherSetting, 60);
    let Ended { sent, .. } = ended.says(5, &["Reading ARM_CHANNEL: the board did not answer"]);
    assert!(sent.iter().all(|change| change.starts_with("set ")), "{sent:?}");
}

/// After its restart another board answers at the same place.
struct AnotherAfterRestart;

impl Alter for AnotherAfterRestart {
    fn board_says(&mut self, message: &mut MavMessage, starts: u32) {
        if let MavMessage::AUTOPILOT_VERSION(version) = message
            && starts > 1
        {
            version.uid ^= 1;
        }
    }
}

#[test]
fn becomes_another_board_in_its_restart() {
    let mut board = Board::on_tcp();
    let ended = run(&mut board, AnotherAfterRestart, 60);
    let words = ["Another board answers now: ", "see which board is plugged in", "stored as the board says"];
    let Ended { sent, .. } = ended.says(5, &words);
    assert_eq!(sent[sent.len() - 2..], [STORE, RESTART], "{sent:?}");
}

/// Says in the middle of the first batch of writes that it is another board.
struct AnotherAtOnce;

impl Alter for AnotherAtOnce {
    fn program_says(&mut self, message: &MavMessage) -> Passes {
        match message {
            MavMessage::PARAM_SET(_) => Passes::OnAnd(identity(0xbad)),
            _ => Passes::On,
        }
    }
}

#[test]
fn becomes_another_board_in_the_middle_of_writing() {
    let mut board = Board::on_tcp();
    let ended = run(&mut board, AnotherAtOnce, 60);
    let Ended { sent, .. } = ended.says(5, &["Another board answers now: 0000000000000bad"]);
    assert_eq!(sent.len(), 1, "nothing is written to it once that was said: {sent:?}");
}

/// Takes the restart, and is never seen again.
struct RestartsForEver;

impl Alter for RestartsForEver {
    fn program_says(&mut self, message: &MavMessage) -> Passes {
        match message {
            MavMessage::COMMAND_LONG(command) if command.command == MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN => {
                Passes::Gone
            }
            _ => Passes::On,
        }
    }
}

#[test]
fn restarts_for_ever() {
    let mut board = Board::on_tcp();
    let ended = run(&mut board, RestartsForEver, 90);
    let words = [
        "The board did not come back within 30 s after its restart",
        "check the cable and the port, then start again",
        "Written, and stored as the board says, but not seen again after a restart: ",
    ];
    let Ended { sent, .. } = ended.says(5, &words);
    assert_eq!(sent[sent.len() - 2..], [STORE, RESTART], "{sent:?}");
}
