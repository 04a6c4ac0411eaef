//! What stands where in a file: every word of every statement, with what it is.

use quadjig::language::outline::{Role, begun, outline};
use quadjig::language::recipe::GivenKind;
use quadjig::language::reference::{parts, statement};

fn examples() -> impl Iterator<Item = &'static String> {
    parts().iter().flat_map(|part| &part.statements).flat_map(|statement| &statement.examples)
}

#[test]
fn no_word_of_any_example_is_left_out() {
    let text: Vec<String> = examples().map(|example| format!("  {example}   # said\n\n")).collect();
    let text = text.concat();
    let found = outline(&text);
    assert_eq!(found.len(), examples().count());
    for (outlined, example) in found.iter().zip(examples()) {
        assert_eq!((outlined.text.as_str(), &text[outlined.range.clone()]), (example.as_str(), example.as_str()));
        let words: String = outlined.words.iter().map(|word| &text[word.range.clone()]).collect();
        let bare = |text: &str| text.replace([' ', ','], "");
        assert_eq!(bare(&words), bare(example));
    }
}

#[test]
fn names_are_told_from_other_words() {
    let text = "given floor default 1100 us\ngiven side switch default D\ngiven link one of crsf, sbus default crsf\nuse \"a \\\"b\\\".jig\" with lowest floor, highest 3\nswitch B on channel 6,\n  \
                rests at floor, 2000\nbind arm to switch B position 1\nset \"RAW\" to 3\nbnd arm\nboard \"Finch\"\n";
    let found = outline(text);
    let named: Vec<(Role, &str)> = found
        .iter()
        .flat_map(|statement| &statement.words)
        .filter(|word| word.role != Role::Other)
        .map(|word| (word.role, word.text.as_str()))
        .collect();
    let expected = [
        (Role::NewParameter, "floor"),
        (Role::NewParameter, "side"),
        (Role::Switch, "D"),
        (Role::NewParameter, "link"),
        (Role::Listed, "crsf"),
        (Role::Listed, "sbus"),
        (Role::Listed, "crsf"),
        (Role::UsedFile, "a \"b\".jig"),
        (Role::Told, "lowest"),
        (Role::Value, "floor"),
        (Role::Told, "highest"),
        (Role::NewSwitch, "B"),
        (Role::Parameter, "floor"),
        (Role::Function, "arm"),
        (Role::Switch, "B"),
        (Role::RawSetting, "RAW"),
        (Role::Board, "Finch"),
    ];
    assert_eq!(named, expected);
    let unread: Vec<&str> = found.iter().filter(|one| !one.is_read).map(|one| one.text.as_str()).collect();
    assert_eq!(unread, ["bnd arm"]);
    let declared: Vec<_> = found.iter().filter_map(|statement| statement.parameter()).collect();
    let words = GivenKind::Word(vec!["crsf".to_owned(), "sbus".to_owned()]);
    assert_eq!(declared, [("floor", GivenKind::Quantity), ("side", GivenKind::Switch), ("link", words)]);
    // One line of text, wherever it was broken.
    assert!(found[4].text.starts_with("switch B on channel 6,   ") && !found[4].text.contains('\n'));
}

#[test]
fn a_statement_begins_where_its_first_line_does() {
    let begins = |before: &str| begun(before);
    assert_eq!(begins(""), 0);
    assert_eq!(begins("keep\n"), 5);
    assert_eq!(begins("keep\nidle at "), 5);
    assert_eq!(begins("keep\n  channels roll, # sticks\n\n  pit"), 7);
    assert_eq!(begins("keep\n  channels roll,\n"), 7);
    assert_eq!(begins("keep\nnote \"half"), 5);
    assert_eq!(begins("keep\nnote \"half,\n"), 17);
    assert_eq!(begins("keep\n# half"), 5);
    assert_eq!(begins("keep\n# half\n"), 12);
}

#[test]
fn every_example_is_explained_as_what_it_begins_as() {
    for part in parts() {
        for explained in &part.statements {
            for example in &explained.examples {
                let found = statement(example).map(|found| found.heading.as_str());
                assert_eq!(found, Some(explained.heading.as_str()), "{example}");
            }
        }
    }
    assert_eq!(statement("idling"), None);
}
