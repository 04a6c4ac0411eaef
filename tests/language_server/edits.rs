//! Whatever is edited where: the server has the text that the client has.

use super::{URI, begin, findings, notification, open, said};
use proptest::prelude::*;
use serde_json::json;

/// A text as units of 16 bits, line by line: LSP 3.17, "Text Documents" (LF, CR LF and CR end a line) and "Position"
/// (beyond a line's end is its end).
fn unit(text: &[u16], line: u32, character: u32) -> usize {
    let (cr, lf) = (u16::from(b'\r'), u16::from(b'\n'));
    let mut at = 0;
    for _ in 0..line {
        while at < text.len() && text[at] != cr && text[at] != lf {
            at += 1;
        }
        if at == text.len() {
            return at;
        }
        at += if text[at] == cr && text.get(at + 1) == Some(&lf) { 2 } else { 1 };
    }
    let end = text[at..].iter().position(|unit| *unit == cr || *unit == lf).map_or(text.len(), |found| at + found);
    let at = end.min(at + character as usize);
    // A place between the two units of one character is before it.
    let inside = at < text.len() && (0xDC00..0xE000).contains(&text[at]);
    if inside { at - 1 } else { at }
}

fn piece() -> impl Strategy<Value = String> {
    let pieces = [
        "keep\n",
        "note \"𝛼µ\"\r\n",
        "\r",
        "\n",
        "bind arm to switch B position 2\n",
        "idle at 1900",
        ", ",
        "#",
        "\"",
        "é",
        "𝛼",
        "set loop-rate to 9000 kHz",
        "",
        "require props off\n",
        "recipe \"x\"\nedition 1\ncraft quad x\nboard \"Finch\"\n",
    ];
    prop::sample::select(pieces.map(str::to_owned).to_vec())
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, cases: 200, ..ProptestConfig::default() })]

    #[test]
    fn the_text_is_the_clients(
        start in proptest::collection::vec(piece(), 0..12),
        edits in proptest::collection::vec((0u32..14, 0u32..40, 0u32..14, 0u32..40, piece()), 1..8),
    ) {
        let start = start.concat();
        let mut model: Vec<u16> = start.encode_utf16().collect();
        let mut bytes = [begin(), open(&start)].concat();
        for (number, (line, character, end_line, end_character, text)) in edits.iter().enumerate() {
            let (from, to) = (unit(&model, *line, *character), unit(&model, *end_line, *end_character));
            model.splice(from.min(to)..from.max(to), text.encode_utf16());
            let range = json!({
                "start": { "line": line, "character": character },
                "end": { "line": end_line, "character": end_character },
            });
            let document = json!({ "uri": URI, "version": number + 2 });
            let changes = json!([{ "range": range, "text": text }]);
            bytes.extend(notification("textDocument/didChange", &json!({ "textDocument": document, "contentChanges": changes })));
        }
        let model = String::from_utf16(&model).unwrap();
        // The whole text in one string of a note that was never closed shows in no finding, but its statements do.
        let outline = |bytes: &[u8]| {
            let document = json!({ "textDocument": { "uri": URI } });
            let (said, _) = said(&[bytes, &super::request(1, "textDocument/documentSymbol", &document)].concat());
            (findings(&said).clone(), super::answer(&said, 1)["result"].clone())
        };
        let edited = outline(&bytes);
        let fresh = outline(&[begin(), open(&model)].concat());
        prop_assert_eq!(edited, fresh, "{:?}", model);
    }
}
