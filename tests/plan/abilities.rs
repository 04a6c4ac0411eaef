//! What recipes can and cannot do on a board, by its sheet.

use quadjig::board::sheet_file;
use quadjig::board::shipped::{self, SHEETS};
use quadjig::language::read_statement;
use quadjig::language::recipe::StatementKind;
use quadjig::language::reference::parts;
use quadjig::language::turning::{Purpose, purpose};
use quadjig::plan::abilities::abilities;
use std::mem::discriminant;

fn cannot(text: &str) -> Vec<(String, String)> {
    let sheet = sheet_file::read("mine.toml", text).unwrap();
    abilities(&sheet).into_iter().filter_map(|ability| Some((ability.statement, ability.lacks?))).collect()
}

fn finch() -> String {
    SHEETS.iter().find(|sheet| sheet.stem == "finch").unwrap().text.to_owned()
}

#[test]
fn the_boards_that_are_shipped_can_do_everything() {
    for one in SHEETS {
        let sheet = shipped::sheet(one.stem).unwrap().unwrap();
        let lacks: Vec<_> = abilities(&sheet).into_iter().filter(|ability| ability.lacks.is_some()).collect();
        assert_eq!(lacks, [], "{}", one.stem);
    }
}

/// Of what sets, finds or tests something, all but what is there on every board and what is set by a name of its own.
#[test]
fn no_statement_of_the_grammar_is_forgotten() {
    let sheet = shipped::sheet("finch").unwrap().unwrap();
    let tried: Vec<StatementKind> =
        abilities(&sheet).iter().filter_map(|one| Some(read_statement(&one.statement).ok()?.what)).collect();
    let head = ["recipe", "edition", "craft", "board", "require firmware", "given", "use"];
    let statements = parts().iter().flat_map(|part| &part.statements);
    let below = statements.filter(|statement| !head.contains(&statement.heading.as_str()));
    let examples: Vec<&String> = below.flat_map(|statement| &statement.examples).collect();
    assert!(examples.len() > 40, "{examples:?}");
    for example in examples {
        let what = match read_statement(example) {
            Ok(statement) => statement.what,
            // A parameter that no header of its own declares.
            Err(found) if found.iter().all(|finding| finding.code == "RG3") => continue,
            Err(found) => panic!("{example} means nothing: {found:?}"),
        };
        let everywhere = match purpose(&what) {
            Purpose::Requires | Purpose::Asks | Purpose::Says => true,
            Purpose::Sets | Purpose::Prepares | Purpose::Tests => matches!(
                what,
                StatementKind::DeclareSwitch { .. }
                    | StatementKind::Unbind(_)
                    | StatementKind::IdleAt(_)
                    | StatementKind::Set { .. }
                    | StatementKind::Waiting { .. }
            ),
        };
        let is_tried = tried.iter().any(|tried| discriminant(tried) == discriminant(&what));
        assert!(everywhere || is_tried, "nobody is told whether a board can do {what:?}");
    }
}

#[test]
fn what_a_sheet_leaves_out_is_what_recipes_cannot_do() {
    let start = finch().find("[motor-run]").unwrap();
    let text = finch();
    let end = start + text[start..].find("\n\n").unwrap();
    let no_run = format!("{}{}", &text[..start], &text[end..]);
    let told = cannot(&no_run);
    assert!(told.iter().any(|(what, why)| what == "test motors" && why.contains("by command")), "{told:?}");
    assert!(!told.iter().any(|(what, _)| what == "test arm"), "{told:?}");
    let start = finch().find("[settings.link-loss-action]").unwrap();
    let end = start + text[start..].find("\n\n").unwrap();
    let told = cannot(&format!("{}{}", &text[..start], &text[end..]));
    let told: Vec<&str> = told.iter().map(|(what, _)| what.as_str()).collect();
    assert_eq!(told, ["failsafe cut motors after 500 ms", "test failsafe"]);
    let console = SHEETS.iter().find(|sheet| sheet.stem == "finch-c").unwrap().text;
    let start = console.find("[console.attitude]").unwrap();
    let end = start + console[start..].find("\n\n").unwrap();
    let told = cannot(&format!("{}{}", &console[..start], &console[end..]));
    assert!(told.iter().any(|(what, why)| what == "test attitude" && why.contains("gives no attitude")), "{told:?}");
    let unfed = cannot(&text.replace("receiver = true", "receiver = false"));
    assert_eq!(unfed.iter().map(|(what, _)| what.as_str()).collect::<Vec<_>>(), ["find link loss"]);
    let line = "buzzer = { channel = \"BUZZ_CHANNEL\", from = \"BUZZ_FROM\", to = \"BUZZ_TO\" }\n";
    assert!(text.contains(line));
    let silent = cannot(&text.replace(line, ""));
    assert!(
        silent.iter().any(|(what, why)| what == "test buzzer" && why.contains("no function `buzzer`")),
        "{silent:?}"
    );
    let sounded = cannot(&text.replace("buzzer-by = \"buzzer\"", "buzzer-by = \"motors\""));
    assert_eq!(sounded, [], "a motor step, as others are");
    // A value that the board does not take is no lack of it.
    assert_eq!(
        cannot(&text.replace("most = 2000\n\n[settings.battery-cells]", "most = 300\n\n[settings.battery-cells]")),
        []
    );
}
