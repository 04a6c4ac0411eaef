//! A client that does not mean well: it is answered or refused, and the server lives.

use super::{URI, answer, begin, findings, framed, messages, notification, open, request, said};
use crate::cli::Sandbox;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::io::{Read, Write};
use std::process::Stdio;

const HEAD: &str = "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\n";

fn hover(id: u64, line: u64, character: u64) -> Vec<u8> {
    let position = json!({ "line": line, "character": character });
    request(id, "textDocument/hover", &json!({ "textDocument": { "uri": URI }, "position": position }))
}

/// An open recipe, something odd, and a question that is answered as if nothing had been.
fn lives_through(odd: &[u8]) -> Vec<Value> {
    let bytes = [&begin()[..], &open(HEAD), odd, &hover(7, 1, 1)].concat();
    let (said, _) = said(&bytes);
    let told = answer(&said, 7)["result"]["contents"]["value"].as_str().unwrap();
    assert!(told.contains("edition"), "{told}");
    said
}

fn code(message: &Value) -> i64 {
    message["error"]["code"].as_i64().unwrap()
}

/// Codes of JSON-RPC 2.0, section 5.1, and of the protocol's "Response Message".
#[test]
fn what_is_no_message_is_refused_by_its_code() {
    let nested = "[".repeat(100_000);
    let parse: [Vec<u8>; 6] = [
        framed("{"),
        framed("{\"jsonrpc\": \"2.0\", \"id\": 5, \"method\": \"textDocument/hover\""),
        framed("\u{0}\u{1}"),
        framed(&nested),
        framed(""),
        b"Content-Length: 4\r\n\r\n\xff\xfe\xfd\xfc".to_vec(),
    ];
    for odd in parse {
        let said = lives_through(&odd);
        let refused: Vec<&Value> = said.iter().filter(|message| message.get("error").is_some()).collect();
        assert_eq!(refused.len(), 1, "{said:#?}");
        assert_eq!((code(refused[0]), &refused[0]["id"]), (-32700, &Value::Null));
    }
    for odd in
        ["[]", "3", "null", "\"initialize\"", "{}", "{\"id\": null, \"method\": \"shutdown\"}", "{\"method\": 3}"]
    {
        let said = lives_through(&framed(odd));
        let refused: Vec<&Value> = said.iter().filter(|message| message.get("error").is_some()).collect();
        assert_eq!(refused.iter().map(|message| code(message)).collect::<Vec<_>>(), [-32600], "{odd}: {said:#?}");
    }
}

#[test]
fn wrong_headers_and_lengths_hide_nothing_behind_them() {
    let message = json!({ "jsonrpc": "2.0", "id": 5, "method": "none/such", "params": {} }).to_string();
    let told = |length: &str| format!("Content-Length: {length}\r\n\r\n{message}").into_bytes();
    let odd = [
        told(&(message.len() - 9).to_string()),
        told("0"),
        told("-5"),
        told("many"),
        told("99999999999999999999999999"),
        b"\r\n\r\n\r\n".to_vec(),
        b"no header at all\r\n\r\n".to_vec(),
        b"Content-Type: application/vscode-jsonrpc; charset=utf-8\r\n".to_vec(),
        vec![b'x'; 100_000],
        (0..=255).collect(),
    ];
    for odd in odd {
        lives_through(&odd);
    }
    // A length that is too long takes the next message for its own rest, and no further one.
    let next = hover(8, 1, 1);
    let swallowed = [told(&(message.len() + next.len()).to_string()), next].concat();
    let said = lives_through(&swallowed);
    assert!(said.iter().all(|message| message["id"] != json!(8)), "{said:#?}");
}

#[test]
fn a_message_beyond_all_bounds_is_passed_over() {
    let length = (16 << 20) + 1;
    let odd = [format!("Content-Length: {length}\r\n\r\n").into_bytes(), vec![b' '; length]].concat();
    let said = lives_through(&odd);
    let refused = said.iter().find(|message| message.get("error").is_some()).unwrap();
    assert!(refused["error"]["message"].as_str().unwrap().contains("16 MiB"), "{refused}");
    // A recipe beyond the language's own bound is a finding.
    let long = format!("{HEAD}{}", "# long\n".repeat(200_000));
    let said = said_to(&long);
    assert!(findings(&said)[0]["message"].as_str().unwrap().contains("longer than 1 MiB"));
}

fn said_to(text: &str) -> Vec<Value> {
    said(&[begin(), open(text)].concat()).0
}

#[test]
fn requests_out_of_place_are_refused() {
    let (before, _) = said(&[hover(1, 0, 0), notification("textDocument/didOpen", &json!({})), begin()].concat());
    assert_eq!(code(answer(&before, 1)), -32002, "before `initialize`");
    assert!(answer(&before, 0)["result"]["capabilities"].is_object());
    let ending = [
        begin(),
        request(1, "initialize", &json!({ "capabilities": {} })),
        request(2, "none/such", &json!({})),
        request(3, "$/none", &json!({})),
        request(4, "textDocument/hover", &json!({ "position": "here" })),
        hover(5, 0, 0),
        notification("$/cancelRequest", &json!({ "id": 5 })),
        notification("none/such", &json!([1, 2])),
        request(6, "shutdown", &Value::Null),
        hover(7, 0, 0),
        notification("exit", &Value::Null),
        hover(8, 0, 0),
    ]
    .concat();
    let (said, well) = said(&ending);
    assert!(well);
    let codes: Vec<i64> = [1, 2, 3, 4, 5, 7].map(|id| code(answer(&said, id))).to_vec();
    assert_eq!(codes, [-32600, -32601, -32601, -32602, -32602, -32600]);
    assert_eq!(answer(&said, 6)["result"], Value::Null);
    assert!(said.iter().all(|message| message["id"] != json!(8)), "nothing is answered behind `exit`");
    let (_, well) = super::said(&[begin(), notification("exit", &Value::Null)].concat());
    assert!(!well, "an `exit` without `shutdown` is told by the exit code");
}

#[test]
fn notifications_that_make_no_sense_are_left_out() {
    let document = json!({ "uri": URI, "version": 2 });
    let odd = [
        notification(
            "textDocument/didChange",
            &json!({ "textDocument": { "uri": "file:///none.jig", "version": 2 }, "contentChanges": [{ "text": "x" }] }),
        ),
        notification("textDocument/didChange", &json!({ "textDocument": document, "contentChanges": "all" })),
        notification("textDocument/didClose", &json!({ "textDocument": { "uri": "file:///none.jig" } })),
        notification(
            "textDocument/didOpen",
            &json!({ "textDocument": { "uri": "not a uri", "languageId": "jig", "version": 1, "text": "" } }),
        ),
        notification("workspace/didChangeWorkspaceFolders", &json!({ "event": 3 })),
        framed(&json!({ "jsonrpc": "2.0", "id": "files", "error": { "code": -32601, "message": "no" } }).to_string()),
        framed(&json!({ "jsonrpc": "2.0", "id": 99, "result": [] }).to_string()),
    ];
    for odd in odd {
        lives_through(&odd);
    }
}

/// Every request at every kind of place, of a recipe that never reads.
#[test]
fn places_that_are_not_there_are_the_nearest_that_are() {
    let texts = [
        "",
        "\"",
        "recipe",
        "\r\r\r",
        "note \"𝛼",
        "use \"\n,,,,\n",
        &format!("{HEAD}given x\nuse \"wren.jig\"\nbind"),
        "\u{202e}\u{0}",
    ];
    let far = [0, 1, 5, 1000, u64::from(u32::MAX)];
    let methods = ["hover", "completion", "definition", "documentHighlight", "references", "prepareRename", "rename"];
    for text in texts {
        let mut bytes = [begin(), open(text)].concat();
        let mut id = 10;
        for (line, character) in far.iter().flat_map(|line| far.iter().map(move |character| (line, character))) {
            for method in methods {
                let params = json!({
                    "textDocument": { "uri": URI },
                    "position": { "line": line, "character": character },
                    "context": { "includeDeclaration": true },
                    "newName": "Q",
                });
                bytes.extend(request(id, &format!("textDocument/{method}"), &params));
                id += 1;
            }
            let range = json!({ "start": { "line": character, "character": line }, "end": { "line": line, "character": character } });
            let params = json!({ "textDocument": { "uri": URI }, "range": range, "context": { "diagnostics": [] } });
            bytes.extend(request(id, "textDocument/codeAction", &params));
            id += 1;
        }
        for method in ["documentSymbol", "formatting"] {
            let params = json!({ "textDocument": { "uri": URI }, "options": { "tabSize": 4, "insertSpaces": true } });
            bytes.extend(request(id, &format!("textDocument/{method}"), &params));
            id += 1;
        }
        let (said, _) = said(&bytes);
        for id in 10..id {
            answer(&said, id);
        }
    }
    // A number that no position has is refused, not taken for another.
    let (said, _) = said(&[begin(), open(HEAD), hover(3, u64::MAX, 0)].concat());
    assert_eq!(code(answer(&said, 3)), -32602);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 200, ..ProptestConfig::default() })]

    /// A whole session, damaged anywhere: no panic, and what is said stays messages.
    #[test]
    fn a_damaged_session_does_not_end_in_a_panic(
        damage in proptest::collection::vec((0usize..4000, any::<u8>(), 0usize..3), 1..6),
    ) {
        let text = format!("{HEAD}require props off\nbind arm to swich B position 2\n");
        let mut bytes = [begin(), open(&text), hover(1, 4, 4), hover(2, 5, 9), request(3, "shutdown", &Value::Null)].concat();
        for (at, byte, how) in damage {
            let at = at % bytes.len();
            match how {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                _ => drop(bytes.drain(at..(at + usize::from(byte)).min(bytes.len() - 1))),
            }
        }
        said(&bytes);
    }
}

/// The real program, over real pipes, with a reader that is slow to come.
#[test]
fn the_program_itself_lives_and_ends_as_asked() {
    let home = Sandbox::new();
    let mut child = home
        .command(&["language-server"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = child.stdin.take().unwrap();
    let bytes = [
        b"GET / HTTP/1.1\r\nHost: bench\r\n\r\n".to_vec(),
        begin(),
        framed("{"),
        open(HEAD),
        hover(7, 1, 1),
        request(8, "shutdown", &Value::Null),
        notification("exit", &Value::Null),
    ]
    .concat();
    input.write_all(&bytes).unwrap();
    let (mut output, mut errors) = (Vec::new(), String::new());
    child.stdout.take().unwrap().read_to_end(&mut output).unwrap();
    child.stderr.take().unwrap().read_to_string(&mut errors).unwrap();
    assert_eq!((child.wait().unwrap().code(), errors.as_str()), (Some(0), ""));
    let said = messages(&output);
    assert!(answer(&said, 7)["result"]["contents"].is_object());
    // An editor that is gone: the server goes as well.
    let output = home.command(&["language-server"]).stdin(Stdio::null()).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
}
