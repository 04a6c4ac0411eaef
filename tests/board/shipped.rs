//! Every document that comes with the tool reads without a fault, under the name it is found by.

use quadjig::board::sheet::BindingLayout;
use quadjig::board::shipped::{RADIOS, SHEETS, radio_card, sheet};
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
    let (BindingLayout::Direct(bands), BindingLayout::Rows { functions, free, rows }) =
        (&direct.binding.way, &rows.binding.way)
    else {
        panic!("one is direct, the other has rows");
    };
    assert!(bands.keys().eq(functions.keys()), "the same functions");
    assert_eq!((*free, rows.len()), (0, 8));
    assert_eq!(rows[7].channel.as_str(), "ROW8_CHANNEL");
}

/// One table of settings, whatever the link: what a recipe means does not depend on it.
#[test]
fn the_finch_c_differs_from_the_finch_r_in_its_link_alone() {
    let (rows, console) = (sheet("Finch R").unwrap().unwrap(), sheet("Finch C").unwrap().unwrap());
    assert!(rows.console().is_none() && console.console().is_some());
    assert_eq!((&rows.settings, &rows.raw, &rows.binding), (&console.settings, &console.raw, &console.binding));
    assert_eq!((&rows.must_have, &rows.motor_run), (&console.must_have, &console.motor_run));
}

#[test]
fn the_finch_covers_the_whole_vocabulary() {
    let finch = sheet("Finch").unwrap().unwrap();
    let missing: Vec<_> = WORDS.iter().filter(|word| !finch.settings.contains_key(word.word)).collect();
    assert!(missing.is_empty(), "{missing:?}");
}

#[test]
fn every_shipped_radio_card_reads_and_is_found_by_name_and_stem() {
    for shipped in RADIOS {
        let by_name = radio_card(shipped.name).unwrap().unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(by_name, radio_card(shipped.stem).unwrap().unwrap());
        assert_eq!(by_name.radio, shipped.name);
        assert_eq!(by_name.sticks.len(), 4);
        assert!(!by_name.switches.is_empty());
    }
    assert!(radio_card("none").is_none());
}

/// No document lies in the folders that is not shipped; templates have a folder of their own.
#[test]
fn every_document_of_the_folders_is_compiled_in() {
    for (folder, shipped) in [("boards", SHEETS), ("radios", RADIOS)] {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("recipes").join(folder);
        let mut stems: Vec<_> = std::fs::read_dir(path)
            .unwrap()
            .map(|entry| entry.unwrap().path())
            .filter(|path| path.extension().is_some_and(|extension| extension == "toml"))
            .map(|path| path.file_stem().unwrap().to_str().unwrap().to_owned())
            .collect();
        stems.sort();
        assert_eq!(stems, shipped.iter().map(|shipped| shipped.stem).collect::<Vec<_>>());
    }
}
