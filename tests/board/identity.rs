//! A sheet that is for another board is refused, and says by what it was told.

use quadjig::board::identity::{ChooseError, Mismatch, choose, matches};
use quadjig::board::sheet::{Settings, Sheet};
use quadjig::board::shipped::sheet;
use quadjig::board::signals::Identity;
use quadjig::board::value::Number;

fn sheets() -> [Sheet; 2] {
    ["Finch", "Finch R"].map(|name| sheet(name).unwrap().unwrap())
}

fn board(kind: &str, like: &Sheet) -> (Identity, Settings) {
    let identity =
        Identity { id: "7669727400000001".to_owned(), firmware: "2.4.1".to_owned(), kind: kind.to_owned(), name: None };
    (identity, like.must_have.iter().map(|name| (name.clone(), Number::Whole(0))).collect())
}

#[test]
fn the_sheet_of_the_same_kind_with_its_settings_matches() {
    let all = sheets();
    for (own, other) in [(0, 1), (1, 0)] {
        let (identity, settings) = board(&all[own].board, &all[own]);
        assert_eq!(matches(&all[own], &identity, &settings), Ok(()));
        assert!(matches!(matches(&all[other], &identity, &settings), Err(Mismatch::Kind { .. })));
        assert_eq!(choose(&all, &identity, &settings).unwrap().board, all[own].board);
    }
}

#[test]
fn missing_settings_are_named() {
    let all = sheets();
    let (identity, settings) = board("Finch", &all[1]);
    let error = matches(&all[0], &identity, &settings).unwrap_err();
    assert_eq!(
        error.to_string(),
        "the sheet finch.toml is not for this board, which lacks what the sheet says must exist: \
         ARM_CHANNEL, ARM_FROM, ARM_TO"
    );
}

#[test]
fn none_and_several_are_told_apart() {
    let [finch, finch_r] = sheets();
    let (identity, settings) = board("Fin\u{1b}[2Jch", &finch);
    let none = choose(&[finch.clone(), finch_r], &identity, &settings).unwrap_err();
    let told = none.to_string();
    assert!(told.contains("finch.toml") && told.contains("finch-r.toml"), "{told}");
    assert!(told.contains("Fin\\u{1b}[2Jch") && !told.contains('\u{1b}'), "{told}");

    let (identity, settings) = board("Finch", &finch);
    let twice = [finch.clone(), finch.clone()];
    assert!(matches!(choose(&twice, &identity, &settings), Err(ChooseError::Several(names)) if names.len() == 2));
    let any_kind = Sheet { kind: None, ..finch };
    assert_eq!(matches(&any_kind, &Identity { kind: String::new(), ..identity }, &settings), Ok(()));
}

/// A board that tells a long id is as virtual as one that tells a short one, and stays one board's own.
#[test]
fn the_mark_of_a_virtual_board_outlives_the_shortening_of_its_id() {
    let of = |digits: &str| Identity { id: Identity::id_of(digits).unwrap(), ..Identity::unsaid() };
    let (one, other) = (of("766972740000002a00000000"), of("766972740000002b00000000"));
    assert!(one.is_virtual() && other.is_virtual() && one.id != other.id, "{} {}", one.id, other.id);
    assert!(!of("566972740000002a00000000").is_virtual());
}
