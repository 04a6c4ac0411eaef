//! Every document that comes with the tool reads without a fault, under the name it is found by.

use quadjig::board::sheet::Way;
use quadjig::board::shipped::{SHEETS, sheet};
use quadjig::board::vocabulary::WORDS;

#[test]
fn every_shipped_sheet_reads_and_is_found_by_name_and_stem() {
    for shipped in SHEETS {
        let by_name = sheet(shipped.name).unwrap().unwrap_or_else(|error| panic!("{error}"));
        let by_stem = sheet(shipped.stem).unwrap().unwrap();
        assert_eq!(by_name, by_stem);
        assert_eq!(by_name.board, shipped.name);
        assert_eq!(by_name.origin, format!("{}.toml", shipped.stem));
    }
    assert!(sheet("finch r").is_none(), "names are matched exactly");
}

#[test]
fn the_two_finches_differ_in_their_binding_alone() {
    let (direct, rows) = (sheet("Finch").unwrap().unwrap(), sheet("Finch R").unwrap().unwrap());
    assert_eq!(direct.settings, rows.settings);
    assert_eq!(direct.raw, rows.raw);
    assert_eq!(direct.corners, rows.corners);
    let (Way::Direct(bands), Way::Rows { functions, free, rows }) = (&direct.binding.way, &rows.binding.way) else {
        panic!("one is direct, the other has rows");
    };
    assert!(bands.keys().eq(functions.keys()), "the same functions");
    assert_eq!((*free, rows.len()), (0, 8));
    assert_eq!(rows[7].channel.as_str(), "ROW8_CHANNEL");
}

#[test]
fn the_finch_covers_the_whole_vocabulary() {
    let finch = sheet("Finch").unwrap().unwrap();
    let missing: Vec<_> = WORDS.iter().filter(|word| !finch.settings.contains_key(word.word)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}
