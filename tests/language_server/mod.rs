//! The language server at its stream of bytes; an editor's whole side of it is played in `tests/peers/`.

mod documents;
mod edits;
mod hostile;

use quadjig::language_server::{Setup, serve};
use serde_json::{Value, json};

/// A message with its header.
pub fn framed(message: &str) -> Vec<u8> {
    format!("Content-Length: {}\r\n\r\n{message}", message.len()).into_bytes()
}

pub fn request(id: u64, method: &str, params: &Value) -> Vec<u8> {
    framed(&json!({ "jsonrpc": "2.0", "id": id, "method": method, "params": params }).to_string())
}

pub fn notification(method: &str, params: &Value) -> Vec<u8> {
    framed(&json!({ "jsonrpc": "2.0", "method": method, "params": params }).to_string())
}

/// `initialize` with the id 0, and `initialized`.
pub fn begin() -> Vec<u8> {
    [request(0, "initialize", &json!({ "capabilities": {} })), notification("initialized", &json!({}))].concat()
}

pub const URI: &str = "file:///bench/wren.jig";

pub fn open(text: &str) -> Vec<u8> {
    let document = json!({ "uri": URI, "languageId": "jig", "version": 1, "text": text });
    notification("textDocument/didOpen", &json!({ "textDocument": document }))
}

/// What a server says to these bytes, and whether it ended as the protocol asks.
pub fn said(bytes: &[u8]) -> (Vec<Value>, bool) {
    let mut output = Vec::new();
    let ended = serve(bytes, &mut output, Setup::default()).unwrap();
    (messages(&output), ended)
}

/// Takes messages apart, by the lengths that they tell.
pub fn messages(mut bytes: &[u8]) -> Vec<Value> {
    let mut found = Vec::new();
    while !bytes.is_empty() {
        let end = bytes.windows(4).position(|four| four == b"\r\n\r\n").unwrap();
        let header = std::str::from_utf8(&bytes[..end]).unwrap();
        let length: usize = header.strip_prefix("Content-Length: ").unwrap().parse().unwrap();
        let body = &bytes[end + 4..end + 4 + length];
        found.push(serde_json::from_slice(body).unwrap());
        bytes = &bytes[end + 4 + length..];
    }
    found
}

/// The answer to a request.
pub fn answer(said: &[Value], id: u64) -> &Value {
    let mut answers = said.iter().filter(|message| message["id"] == json!(id) && message.get("method").is_none());
    let answer = answers.next().unwrap_or_else(|| panic!("no answer to {id}: {said:#?}"));
    assert!(answers.next().is_none(), "two answers to {id}: {said:#?}");
    answer
}

/// The findings that were told last of a file.
pub fn findings(said: &[Value]) -> &Value {
    let told =
        |message: &&Value| message["method"] == "textDocument/publishDiagnostics" && message["params"]["uri"] == URI;
    &said.iter().rev().find(told).unwrap()["params"]["diagnostics"]
}
