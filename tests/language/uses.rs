//! `use`: what stands in place of the line, whose files may be read, and parameters across files.

use super::{HEAD, WORDS, told};
use quadjig::language::recipe::{Idle, Recipe, StatementKind};
use quadjig::language::sources::{Disk, Memory};
use quadjig::language::turning::{turns_motors, turns_motors_with_battery};
use quadjig::language::units::Pulse;
use quadjig::language::{Reading, read};
use std::fs;
use std::path::Path;

fn in_memory(files: &[(&str, String)], with: &[(&str, &str)]) -> Reading {
    let with: Vec<(String, String)> = with.iter().map(|(n, q)| ((*n).to_owned(), (*q).to_owned())).collect();
    read(&Memory::of(files.iter().cloned()), Path::new("test.jig"), &with, WORDS)
}

fn well(reading: Reading) -> Recipe {
    assert!(reading.findings.is_empty(), "{}", told(&reading));
    reading.recipe.unwrap()
}

fn head(more: &str) -> String {
    format!("{HEAD}{more}")
}

fn notes(recipe: &Recipe) -> Vec<&str> {
    let note = |what: &'_ StatementKind| matches!(what, StatementKind::Note(_));
    recipe
        .statements
        .iter()
        .filter(|statement| note(&statement.what))
        .map(|statement| if let StatementKind::Note(text) = &statement.what { text.as_str() } else { "" })
        .collect()
}

#[test]
fn statements_stand_in_place_of_the_line() {
    let recipe = well(in_memory(
        &[
            ("test.jig", head("use \"a/one.jig\"\nuse \"two.jig\"\nnote \"top\"\n")),
            ("a/one.jig", head("use \"../b/three.jig\"\nnote \"one\"\n")),
            ("b/three.jig", head("note \"three\"\n")),
            ("two.jig", head("use \"./b/../b/three.jig\"\nnote \"two\"\n")),
        ],
        &[],
    ));
    assert_eq!(notes(&recipe), ["three", "one", "two", "top"], "a file is taken once");
    let names: Vec<_> = recipe.files.iter().map(|file| file.name.as_str()).collect();
    assert_eq!(names, ["test.jig", "a/one.jig", "b/three.jig", "two.jig"]);
    let place = recipe.place(&recipe.statements[0].span);
    assert_eq!((place.file.as_str(), place.line), ("b/three.jig", 5));
    assert_eq!(recipe.title.value, "Test");
}

#[test]
fn boards_and_firmware_are_what_all_share() {
    let recipe = well(in_memory(
        &[
            (
                "test.jig",
                head(
                    "board \"Finch R\"\nboard \"Own\"\nrequire firmware \"2.4\"\nrequire firmware \"3.0.1\"\nuse \"a.jig\"\n",
                ),
            ),
            (
                "a.jig",
                head("board \"Finch R\"\nboard \"Else\"\nrequire firmware \"2.4.7\"\nrequire firmware \"3.0\"\n"),
            ),
        ],
        &[],
    ));
    assert_eq!(recipe.boards.iter().map(|board| board.value.as_str()).collect::<Vec<_>>(), ["Finch", "Finch R"]);
    assert_eq!(recipe.firmware.iter().map(|f| f.value.0.as_str()).collect::<Vec<_>>(), ["2.4.7", "3.0.1"]);
}

#[test]
fn a_value_comes_from_with_then_use_then_default() {
    let files = |with: &str| {
        [
            ("test.jig", head(&format!("given top default 1200 us\nuse \"a.jig\"{with}\nidle at top\n"))),
            ("a.jig", head("given floor default 1100 from 1050 us to 1250 us \"lowest\"\nidle at floor\n")),
        ]
    };
    let idles =
        |reading: Reading| -> Vec<StatementKind> { well(reading).statements.into_iter().map(|s| s.what).collect() };
    let at = |first: i32| {
        vec![StatementKind::IdleAt(Idle::Pulse(Pulse(first))), StatementKind::IdleAt(Idle::Pulse(Pulse(1200)))]
    };
    assert_eq!(idles(in_memory(&files(""), &[])), at(1100));
    assert_eq!(idles(in_memory(&files(" with floor 1.12 ms"), &[])), at(1120));
    assert_eq!(idles(in_memory(&files(", with floor top"), &[])), at(1200));
    assert_eq!(idles(in_memory(&files(" with floor 1120"), &[])), at(1120), "a bare value is a pulse, as it is used");
}

#[test]
fn what_waits_for_a_value_is_no_error() {
    let text = "given floor\ngiven wait\ngiven number\nidle start at floor step floor until all spin\n\
                test cut within wait\nswitch B on channel number rests at 1000, 2000\nfind switch C with number positions\n\
                set \"RAW\" to number\nbind arm to switch B position number\nkeep\n";
    let reading = in_memory(&[("test.jig", head(text))], &[]);
    assert!(!reading.has_errors(), "{}", told(&reading));
    assert_eq!(reading.findings.iter().map(|finding| finding.code).collect::<Vec<_>>(), ["RG8", "RG8", "RG8"]);
    let recipe = reading.recipe.unwrap();
    let waiting: Vec<_> = recipe
        .statements
        .iter()
        .filter_map(|statement| match &statement.what {
            what @ StatementKind::Waiting { form, names, declares } => {
                let declares = declares.as_ref().map(|switch| switch.0.as_str());
                Some((form.words(), names.join(" "), declares, turns_motors(what), turns_motors_with_battery(what)))
            }
            _ => None,
        })
        .collect();
    assert_eq!(
        waiting,
        [
            ("idle start", "floor".to_owned(), None, true, true),
            ("test cut", "wait".to_owned(), None, true, true),
            ("switch", "number".to_owned(), Some("B"), false, false),
            ("find switch", "number".to_owned(), Some("C"), false, true),
            ("set", "number".to_owned(), None, false, true),
            ("bind", "number".to_owned(), None, false, true),
        ]
    );
    let filled = in_memory(&[("test.jig", head(text))], &[("floor", "1100"), ("wait", "250 ms"), ("number", "2")]);
    let recipe = well(filled);
    assert!(!recipe.statements.iter().any(|statement| matches!(statement.what, StatementKind::Waiting { .. })));
    assert_eq!(recipe.givens.iter().map(|given| given.uses.len()).collect::<Vec<_>>(), [2, 1, 4]);
}

/// Codes of reading `top.jig` in a folder of the disk.
fn codes(top: &Path) -> Vec<&'static str> {
    read(&Disk, top, &[], WORDS).findings.iter().map(|finding| finding.code).collect()
}

#[test]
fn the_disk_is_read_inside_the_folder_only() {
    let outside = tempfile::tempdir().unwrap();
    let folder = outside.path().join("recipes");
    fs::create_dir_all(folder.join("common/deep")).unwrap();
    fs::write(outside.path().join("secret.jig"), head("note \"secret\"\n")).unwrap();
    fs::write(folder.join("common/a.jig"), head("use \"deep/b.jig\"\nuse \"../c.jig\"\n")).unwrap();
    fs::write(folder.join("common/deep/b.jig"), head("note \"b\"\n")).unwrap();
    fs::write(folder.join("c.jig"), head("note \"c\"\n")).unwrap();
    let top = folder.join("top.jig");
    let of = |used: &str| {
        fs::write(&top, head(&format!("use \"{used}\"\n"))).unwrap();
        codes(&top)
    };
    assert_eq!(of("common/a.jig"), [] as [&str; 0]);
    assert_eq!(notes(&read(&Disk, &top, &[], WORDS).recipe.unwrap()), ["b", "c"]);
    assert_eq!(of("../secret.jig"), ["RU2"]);
    assert_eq!(of("common/../../secret.jig"), ["RU2"]);
    assert_eq!(of(outside.path().join("secret.jig").to_str().unwrap()), ["RU1"]);
    fs::create_dir(folder.join("folder.jig")).unwrap();
    assert_eq!(of("folder.jig"), ["RU3"], "a folder");
    assert_eq!(of("common"), ["RU1"], "no recipe's name");
    assert_eq!(of("missing.jig"), ["RU3"]);
    assert_eq!(of("top.jig"), ["RU4"]);
    fs::write(folder.join("bytes.jig"), b"recipe \"\xff\"\n").unwrap();
    assert_eq!(of("bytes.jig"), ["RT2"]);
    fs::write(folder.join("long.jig"), "\n".repeat(1024 * 1024 + 1)).unwrap();
    assert_eq!(of("long.jig"), ["RT3"]);
    assert_eq!(codes(&folder.join("long.jig")), ["RT3"]);
    assert_eq!(codes(&folder.join("bytes.jig")), ["RT2"]);
    assert_eq!(codes(&folder.join("none.jig")), ["RT1"]);
    assert_eq!(codes(&folder), ["RT1"]);
}

#[cfg(unix)]
#[test]
fn links_are_followed_inside_the_folder_and_not_out_of_it() {
    use std::os::unix::fs::symlink;
    let outside = tempfile::tempdir().unwrap();
    let folder = outside.path().join("recipes");
    fs::create_dir(&folder).unwrap();
    fs::write(outside.path().join("secret.jig"), head("note \"secret\"\n")).unwrap();
    fs::write(folder.join("a.jig"), head("note \"a\"\n")).unwrap();
    symlink(folder.join("a.jig"), folder.join("inside.jig")).unwrap();
    symlink("../secret.jig", folder.join("out.jig")).unwrap();
    symlink(outside.path(), folder.join("up")).unwrap();
    symlink("/dev/zero", folder.join("zero.jig")).unwrap();
    symlink("loop.jig", folder.join("loop.jig")).unwrap();
    rustix::fs::mkfifoat(rustix::fs::CWD, folder.join("pipe.jig"), rustix::fs::Mode::RUSR).unwrap();
    let top = folder.join("top.jig");
    let of = |used: &str| {
        let lines = used.split(' ').map(|used| format!("use \"{used}\"")).collect::<Vec<_>>().join("\n");
        fs::write(&top, head(&lines)).unwrap();
        codes(&top)
    };
    assert_eq!(of("inside.jig a.jig"), [] as [&str; 0]);
    assert_eq!(notes(&read(&Disk, &top, &[], WORDS).recipe.unwrap()), ["a"], "one file under two names");
    assert_eq!(of("out.jig"), ["RU2"]);
    assert_eq!(of("up/secret.jig"), ["RU2"]);
    assert_eq!(of("zero.jig"), ["RU2"]);
    assert_eq!(of("loop.jig"), ["RU3"]);
    assert_eq!(of("pipe.jig"), ["RU3"], "a pipe is not waited for");
}

#[test]
fn use_stands_anywhere_below_edition() {
    let part = |title: &str, more: &str| format!("recipe \"{title}\"\nedition 1\n{more}");
    let recipe = well(in_memory(
        &[
            (
                "test.jig",
                "recipe \"Test\"\nedition 1\nuse \"first.jig\"\ncraft quad x\nboard \"Finch\"\nnote \"top\"\nuse \"last.jig\"\nkeep\n"
                    .to_owned(),
            ),
            ("first.jig", part("First", "require props off\nnote \"first\"\n")),
            ("last.jig", part("Last", "require firmware \"2.4\"\nnote \"last\"\n")),
        ],
        &[],
    ));
    assert_eq!(notes(&recipe), ["first", "top", "last"]);
    assert_eq!(recipe.firmware.len(), 1, "what a used file is for counts from the top");
    assert!(!recipe.is_part);
}

#[test]
fn craft_and_board_may_come_from_a_used_file_and_must_agree() {
    let top = |craft: &str| format!("recipe \"Test\"\nedition 1\n{craft}use \"a.jig\"\nkeep\n");
    let used =
        |line: &str| format!("recipe \"Wren\"\nedition 1\n{line}board \"Finch\"\nboard \"Finch R\"\nnote \"a\"\n");
    let read = |craft: &str, line: &str| in_memory(&[("test.jig", top(craft)), ("a.jig", used(line))], &[]);
    let recipe = well(read("", "craft quad x turning inward\n"));
    assert_eq!(recipe.craft.unwrap().value.frame.words(), "quad x");
    assert_eq!(recipe.boards.len(), 2);
    let recipe = well(read("craft quad x\n", "craft quad x turning outward\n"));
    assert!(recipe.craft.unwrap().value.turning.is_some(), "turning left out agrees with either");
    let codes = |reading: Reading| reading.findings.iter().map(|one| one.code).collect::<Vec<_>>();
    assert_eq!(codes(read("craft quad x turning inward\n", "craft quad x turning outward\n")), ["RU7"]);
    assert_eq!(codes(read("", "")), ["RH6"]);
}

/// Checked by itself, what others may bring is one hint; whatever no other can bring is told as ever.
#[test]
fn a_part_is_judged_as_a_part() {
    use quadjig::language::finding::Severity;
    use quadjig::plan::checks;
    let found = |text: &str| checks::reading(&in_memory(&[("test.jig", text.to_owned())], &[]), &[], None);
    let part = "recipe \"Part\"\nedition 1\nswitch C on channel 7 rests at 1000, 2000\n\
                bind arm to switch B position 2\nat zero throttle spin\n\
                require battery at least 3.7 V per cell\ntest cut\n";
    let all = found(part);
    let told: Vec<_> = all.iter().map(|one| (one.code, one.severity)).collect();
    assert_eq!(told, [("RH6", Severity::Hint), ("CS9", Severity::Hint)], "{all:?}");
    let words: Vec<&str> = all[0].also.iter().map(|(_, words)| words.as_str()).collect();
    for expected in ["where this switch is", "a test of this", "how many cells the pack has"] {
        assert!(words.contains(&expected), "{words:?}");
    }
    let worse = found(&part.replace("position 2", "position 0"));
    assert!(worse.iter().any(|one| one.code == "CF1" && one.severity == Severity::Error), "{worse:?}");
    let whole = found(&part.replace("edition 1\n", "edition 1\ncraft quad x\nboard \"Finch\"\n"));
    assert!(whole.iter().any(|one| one.code == "CS1" && one.severity == Severity::Error), "{whole:?}");
}
