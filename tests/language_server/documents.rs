//! Board sheets and radio cards that are open in an editor.
//!
//! The reference is the reader of such files itself, which `check` and every command on a board use.

use super::{begin, messages, notification};
use quadjig::board::document::DocumentError;
use quadjig::board::{radio_card_file, sheet_file};
use quadjig::language_server::{Setup, serve};
use serde_json::{Value, json};
use std::collections::VecDeque;
use std::io::Read;

const SHEET: &str = include_str!("../../recipes/boards/finch.toml");
const CARD: &str = "edition = 1\nradio = \"Shelf\"\n\n[switches.B]\nchannel = 9\nrests = [1000, 2000]\n";

fn open(uri: &str, text: &str) -> Vec<u8> {
    let document = json!({ "uri": uri, "languageId": "toml", "version": 1, "text": text });
    notification("textDocument/didOpen", &json!({ "textDocument": document }))
}

fn change(uri: &str, version: i32, text: &str) -> Vec<u8> {
    let document = json!({ "uri": uri, "version": version });
    notification("textDocument/didChange", &json!({ "textDocument": document, "contentChanges": [{ "text": text }] }))
}

/// Messages that come one at a time, as a hand types: what comes together is answered once.
struct OneByOne(VecDeque<Vec<u8>>);

impl Read for OneByOne {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let Some(mut next) = self.0.pop_front() else { return Ok(0) };
        let now = next.len().min(into.len());
        into[..now].copy_from_slice(&next[..now]);
        if now < next.len() {
            self.0.push_front(next.split_off(now));
        }
        Ok(now)
    }
}

/// What was told of a file, each time.
fn told(uri: &str, bytes: &[Vec<u8>]) -> Vec<Value> {
    let mut output = Vec::new();
    let input = OneByOne([begin()].into_iter().chain(bytes.iter().cloned()).collect());
    serve(input, &mut output, Setup::default()).unwrap();
    let published = messages(&output).into_iter().filter(|message| message["params"]["uri"] == uri);
    published.map(|message| message["params"]["diagnostics"].clone()).collect()
}

fn same(diagnostics: &Value, wrong: &DocumentError, code: &str) {
    let all = diagnostics.as_array().unwrap();
    assert_eq!(all.len(), wrong.faults.len(), "{diagnostics:#}\n{wrong}");
    for fault in &wrong.faults {
        let at = |one: &&Value| {
            one["range"]["start"]["line"] == json!(fault.line - 1)
                && one["range"]["start"]["character"] == json!(fault.column - 1)
        };
        let one = all.iter().find(at).unwrap_or_else(|| panic!("nothing at {fault}: {diagnostics:#}"));
        assert!(one["message"].as_str().unwrap().contains(&fault.problem.to_string()), "{one} for {fault}");
        assert_eq!((&one["code"], &one["severity"]), (&json!(code), &json!(1)));
    }
}

#[test]
fn a_sheet_is_judged_while_it_is_written() {
    let uri = "file:///bench/boards/siskin.toml";
    let broken = SHEET.replace("[storing]", "[storage]").replace("edition = 1", "edition = 7");
    let wrong = sheet_file::read("siskin.toml", &broken).unwrap_err();
    let all = told(uri, &[open(uri, &broken), change(uri, 2, SHEET), change(uri, 3, "board = \n")]);
    same(&all[0], &wrong, "BD1");
    assert_eq!(all[1], json!([]), "mended, it is cleared");
    same(&all[2], &sheet_file::read("siskin.toml", "board = \n").unwrap_err(), "BD1");
}

#[test]
fn a_card_is_judged_while_it_is_written() {
    let uri = "file:///bench/cards/shelf.toml";
    let broken = CARD.replace("channel = 9", "channel = 99").replace("rests", "rest");
    let all = told(uri, &[open(uri, &broken), change(uri, 2, CARD)]);
    same(&all[0], &radio_card_file::read("shelf.toml", &broken).unwrap_err(), "KD1");
    assert_eq!(all[1], json!([]));
}

#[test]
fn of_other_files_nothing_is_told() {
    let uri = "file:///bench/quadjig.toml";
    assert_eq!(told(uri, &[open(uri, "edition = 1\n"), change(uri, 2, "= =\n")]), [] as [Value; 0]);
    // What is no document any more is cleared.
    let uri = "file:///bench/shelf.toml";
    let all = told(uri, &[open(uri, "radio = 7\n"), change(uri, 2, "name = 7\n")]);
    assert!(!all[0].as_array().unwrap().is_empty(), "{all:?}");
    assert_eq!(all[1..], [json!([])]);
}
