//! Every code's bad example raises it, and the good one does not.

use quadjig::board::radio_card::RadioCard;
use quadjig::board::sheet::Sheet;
use quadjig::board::{radio_card_file, sheet_file, shipped, vocabulary};
use quadjig::cli::documents::sheets_for;
use quadjig::language::checks::codes;
use quadjig::language::explain::{Example, all, explain};
use quadjig::language::finding::{Finding, bound};
use quadjig::language::limits;
use quadjig::language::sources::{Disk, Memory, Sources};
use quadjig::language::span::Span;
use quadjig::plan::checks::reading;
use quadjig::report::findings::of_document;
use std::fmt::Write;
use std::path::Path;

const HEAD: &str = "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\n";

/// The codes of what is found in a recipe, with a sheet and a card.
fn found(text: &str, with: &[(&str, &str)], sheet: &Sheet, card: Option<&RadioCard>) -> Vec<&'static str> {
    findings(text, with, sheet, card).1.into_iter().map(|finding| finding.code).collect()
}

/// Every check beside reading, with the line that its bad example is wrong in.
pub fn places() -> Vec<(&'static str, String)> {
    let recipes = all().filter_map(|(code, _)| Some((code, explain(code)?.bad))).filter(|(_, bad)| bad.is_recipe);
    let mut all = Vec::new();
    for (code, bad) in recipes.filter(|(code, _)| !code.starts_with('R')) {
        let (text, found) = findings(bad.text, &[], &sheet(code, true), card(code).as_ref());
        let finding = found.iter().find(|finding| finding.code == code).unwrap();
        let start = text[..finding.span.range.start].rfind('\n').map_or(0, |at| at + 1);
        all.push((code, text[start..].lines().next().unwrap().to_owned()));
    }
    all
}

fn findings(text: &str, with: &[(&str, &str)], sheet: &Sheet, card: Option<&RadioCard>) -> (String, Vec<Finding>) {
    let text = if text.starts_with("recipe") { text.to_owned() } else { format!("{HEAD}{text}\n") };
    let file = |more: &str| format!("{HEAD}{more}");
    let files = [
        ("test.jig", text.clone()),
        ("common/receiver.jig", file("receiver crsf on port 2\n")),
        ("untold.jig", file("given floor\nidle at floor\n")),
        ("notes.jig", "the camera tray is loose\n".to_owned()),
        ("asking.jig", file("require props off\n")),
        ("late.jig", file("given floor default 1100 us\nidle at floor\n")),
        ("circle.jig", file("use \"test.jig\"\n")),
        ("hex.jig", HEAD.replace("quad x", "hex x")),
        ("heron.jig", HEAD.replace("Finch", "Heron")),
        ("old.jig", file("require firmware \"2.4\"\n")),
    ];
    let with: Vec<(String, String)> =
        with.iter().map(|(name, value)| ((*name).to_owned(), (*value).to_owned())).collect();
    let read = vocabulary::read(&Memory::of(files), Path::new("test.jig"), &with);
    // Of a board that nothing at hand describes there is no sheet.
    let sheets = if text.contains("board \"Finsh\"") { &[] } else { std::slice::from_ref(sheet) };
    (text, reading(&read, sheets, card))
}

/// The Finch's sheet, or what the bad example of a code says of it.
fn sheet(code: &str, bad: bool) -> Sheet {
    let text = |stem: &str| shipped::SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap().text.to_owned();
    let console = || text("finch-c").replace("\"Finch C\"", "\"Finch\"");
    let without = |text: String, from: &str| {
        let start = text.find(from).unwrap();
        let end = text[start + 1..].find("\n[").map_or(text.len(), |at| start + 1 + at + 1);
        text[..start].to_owned() + &text[end..]
    };
    let text = match code {
        "BW4" if bad => without(text("finch"), "[settings.loop-rate]"),
        "BB1" if bad => text("finch").replace("board = \"Finch\"", "board = \"Heron\""),
        "BB2" if bad => {
            let fewer = without(without(text("finch"), "[motors.order]"), "[motors.reversal]");
            fewer.replace("count = 4\n", "count = 3\n").replace(", \"rear left\"]", "]")
        }
        "BB14" if bad => without(text("finch"), "[settings.battery-warn]"),
        "BB13" if bad => text("finch").replace("speed-telemetry = true", "speed-telemetry = false"),
        "BB12" if bad => text("finch").replace("turning = \"inward\" ", "#"),
        "BB6" | "BB7" => without(text("finch"), "[motor-run]"),
        "BB8" => without(console(), "[console.channels]"),
        "BB9" => console().replace("arms-while-open = true ", "arms-while-open = false "),
        _ => text("finch"),
    };
    sheet_file::read("finch.toml", &text).unwrap()
}

fn card(code: &str) -> Option<RadioCard> {
    let switches = match code {
        "KS1" => "",
        "KS2" => "[switches.B]\nchannel = 6\nrests = [1000, 1500, 2000]\n",
        "KS3" => {
            "[switches.B]\nchannel = 6\nrests = [1000, 1200, 2000]\nnoise = 18.0\n\
             [switches.C]\nchannel = 7\nrests = [1000, 2000]\nnoise = 0.3\n"
        }
        _ => return None,
    };
    Some(radio_card_file::read("card.toml", &format!("edition = 1\nradio = \"Mine\"\n{switches}")).unwrap())
}

/// What is found in what an example has words for.
fn described(code: &str, bad: bool, text: &str) -> Vec<&'static str> {
    let finch = sheet(code, bad);
    let plain = |recipe: &str| found(recipe, &[], &finch, None);
    let past = usize::from(bad);
    match code {
        "RT1" => {
            let folder = tempfile::tempdir().unwrap();
            std::fs::write(folder.path().join("wren-95.jig"), HEAD).unwrap();
            on_disk(&folder.path().join(text.rsplit(' ').next().unwrap()))
        }
        "RT2" => {
            let file = tempfile::NamedTempFile::new().unwrap();
            let recipe = format!("{HEAD}note \"in µs\"\n");
            let bytes = if bad { recipe.chars().map(|c| c as u8).collect() } else { recipe.into_bytes() };
            std::fs::write(file.path(), bytes).unwrap();
            on_disk(file.path())
        }
        "RT3" => {
            let file = tempfile::NamedTempFile::new().unwrap();
            let line = "# as much as a file may hold\n";
            let recipe = HEAD.to_owned() + &line.repeat((1 << 20) / line.len() - 10);
            let rest = (1 << 20) - recipe.len() - 1 + past;
            std::fs::write(file.path(), format!("{recipe}#{}", " ".repeat(rest))).unwrap();
            on_disk(file.path())
        }
        "RT4" => plain(&format!("note \"{}\"\n", "x".repeat(limits::LINE_BYTES - "note \"\"".len() + past))),
        "RT5" => plain(&"keep\n".repeat(limits::STATEMENTS - 4 + past)),
        "RT6" => plain(if bad { "note \"zero\u{200B}width\"\n" } else { "note \"zero width\"\n" }),
        "RT11" => {
            let mut findings: Vec<Finding> =
                (0..limits::FINDINGS + past).map(|at| Finding::error("RS1", Span::default(), at.to_string())).collect();
            bound(&mut findings);
            findings.into_iter().map(|finding| finding.code).collect()
        }
        "RG9" => {
            let (name, value) = text.rsplit(' ').next().unwrap().split_once('=').unwrap();
            found("given floor default 1100 us\nidle at floor\n", &[(name, value)], &finch, None)
        }
        "RU5" => chain((0..limits::FILES - 1 + past).map(|at| (at, None))),
        "RU6" => chain((0..limits::USE_LEVELS + past).map(|at| (at, Some(at + 1)))),
        "RU12" => {
            let files = [("quadjig.toml", text.to_owned()), ("test.jig", HEAD.to_owned())];
            codes_of(&Memory::of(files), Path::new("test.jig"))
        }
        "BB11" => {
            let folder = tempfile::tempdir().unwrap();
            let sheet = shipped::SHEETS[0].text;
            std::fs::create_dir(folder.path().join("boards")).unwrap();
            let text = if bad { format!("{sheet}# ours\n") } else { sheet.to_owned() };
            std::fs::write(folder.path().join("boards/finch.toml"), text).unwrap();
            let recipe = vocabulary::read(&Memory::of([("test.jig", HEAD)]), Path::new("test.jig"), &[]);
            let (_, found) = sheets_for(&recipe.recipe.unwrap(), folder.path(), &[]).unwrap();
            found.into_iter().map(|finding| finding.code).collect()
        }
        "BD1" if !bad => {
            sheet_file::read("own.toml", shipped::SHEETS[0].text).map_or(vec![codes::SHEET_WRONG], |_| vec![])
        }
        "BD1" => document(codes::SHEET_WRONG, text, sheet_file::read("own.toml", text).err()),
        "KD1" => document(codes::CARD_WRONG, text, radio_card_file::read("own.toml", text).err()),
        other => panic!("{other}: {text}"),
    }
}

fn document(
    code: &'static str,
    text: &str,
    error: Option<quadjig::board::document::DocumentError>,
) -> Vec<&'static str> {
    let file = quadjig::language::recipe::File { name: "own.toml".into(), text: text.into() };
    error.map_or(vec![], |error| of_document(code, &file, &error.into()).iter().map(|one| one.code).collect())
}

fn on_disk(path: &Path) -> Vec<&'static str> {
    assert!(Disk.read(path).is_ok() || !path.ends_with("wren-95.jig"));
    codes_of(&Disk, path)
}

fn codes_of(sources: &dyn Sources, path: &Path) -> Vec<&'static str> {
    vocabulary::read(sources, path, &[]).findings.iter().map(|finding| finding.code).collect()
}

/// A recipe that uses all these files, or the first of them, each of which uses the next.
fn chain(files: impl Iterator<Item = (usize, Option<usize>)>) -> Vec<&'static str> {
    let mut all: Vec<(String, String)> = Vec::new();
    let mut top = HEAD.to_owned();
    let files: Vec<_> = files.collect();
    let last = files.len();
    for (at, next) in files {
        if next.is_none() || at == 0 {
            top = top + "use \"f" + &at.to_string() + ".jig\"\n";
        }
        let more = next.filter(|next| *next < last).map_or(String::new(), |next| format!("use \"f{next}.jig\"\n"));
        all.push((format!("f{at}.jig"), format!("{HEAD}{more}")));
    }
    all.push(("test.jig".into(), top));
    codes_of(&Memory::of(all), Path::new("test.jig"))
}

#[test]
fn every_code_has_a_bad_example_that_raises_it_and_a_good_one_that_does_not() {
    let mut wrong = String::new();
    for (code, about) in all() {
        let explained = explain(code).unwrap_or_else(|| panic!("{code} has no examples"));
        assert_eq!((explained.code, &*explained.about), (code, about));
        let raised = |Example { is_recipe, text }: Example, bad: bool| {
            if is_recipe {
                found(text, &[], &sheet(code, bad), card(code).as_ref())
            } else {
                described(code, bad, text)
            }
        };
        let (bad, good) = (raised(explained.bad, true), raised(explained.good, false));
        if !bad.contains(&code) || good.contains(&code) {
            writeln!(wrong, "{code}: bad raises {bad:?}, good raises {good:?}").unwrap();
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    let page = include_str!("../../grammar/findings.md");
    assert_eq!(page.matches("\n## ").count(), all().count(), "no section without a code");
}
