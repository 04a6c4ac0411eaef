//! Colours for editors: what stands under `grammar/editors/` is made from the keyword rules of the grammar and the units.
//!
//! With `QUADJIG_WRITE_DOCS=1` in the environment the files are written anew instead; then read the difference. That real
//! editors and engines take them as meant is tested in `tests/peers/`.

use super::{project, text};
use quadjig::language::complete::complete;
use quadjig::language::known::Known;
use quadjig::language::units::Unit;
use serde_json::json;
use std::collections::BTreeSet;

/// Characters that words are made of: where one stands right before or behind, it is another word.
const IN_WORD: &str = "A-Za-z0-9_-";

/// Words that a statement begins with, all other keywords, and the spellings of units, longest first.
fn words() -> (Vec<String>, Vec<String>, Vec<String>) {
    let known = Known { head: true, ..Known::default() };
    let starts: BTreeSet<String> = complete("", &known).1.into_iter().map(|candidate| candidate.text).collect();
    let grammar = text("grammar/edition_1.pest");
    let keywords = grammar.lines().filter_map(|line| line.strip_prefix("kw_")?.split_once([' ', '=']));
    let keywords: BTreeSet<String> = keywords.map(|(word, _)| word.to_owned()).collect();
    assert!(starts.len() > 20 && starts.is_subset(&keywords), "{starts:?}");
    let mut units: Vec<String> =
        Unit::SPELLINGS.iter().flat_map(|(_, all)| *all).map(|&unit| unit.to_owned()).collect();
    units.sort_by_key(|unit| std::cmp::Reverse(unit.len()));
    (starts.into_iter().collect(), keywords.into_iter().collect(), units)
}

fn vim() -> String {
    let (starts, keywords, units) = words();
    let any = |all: &[String]| all.join("\\|").replace(' ', "\\s\\+");
    format!(
        "\" Colours of the recipe language, edition 1.\n\
         \" Made from grammar/edition_1.pest: QUADJIG_WRITE_DOCS=1 cargo test --test all docs::editors\n\n\
         if exists('b:current_syntax')\n  finish\nendif\n\n\
         \" What stands below wins.\n\
         syn match jigKeyword \"[{IN_WORD}]\\@<!\\%({}\\)[{IN_WORD}]\\@!\"\n\
         syn match jigStatement \"^\\s*\\zs\\%({}\\)[{IN_WORD}]\\@!\"\n\
         syn match jigNumber \"[{IN_WORD}]\\@<!-\\=\\d\\+\\%(\\.\\d\\+\\)\\=\" nextgroup=jigUnit skipwhite\n\
         syn match jigUnit \"\\%({}\\)[{IN_WORD}]\\@!\" contained\n\
         syn match jigEscape +\\\\[\"\\\\]+ contained\n\
         syn region jigString start=+\"+ skip=+\\\\[\"\\\\]+ end=+\"+ end=+$+ oneline contains=jigEscape\n\
         syn match jigComment \"#.*$\" contains=@Spell\n\n\
         hi def link jigKeyword Keyword\n\
         hi def link jigStatement Statement\n\
         hi def link jigNumber Number\n\
         hi def link jigUnit Type\n\
         hi def link jigEscape SpecialChar\n\
         hi def link jigString String\n\
         hi def link jigComment Comment\n\n\
         let b:current_syntax = 'jig'\n",
        any(&keywords),
        any(&starts),
        any(&units)
    )
}

fn detect() -> String {
    "\" Recipes are told by the ending of their names.\nau BufNewFile,BufRead *.jig setfiletype jig\n".to_owned()
}

/// Source: the manual of `TextMate`, "Language Grammars"; scopes are those of its "Naming Conventions".
fn text_mate() -> String {
    let (starts, keywords, units) = words();
    let any = |all: &[String]| all.join("|").replace(' ', "\\s+");
    let grammar = json!({
        "comment": "Made from grammar/edition_1.pest: QUADJIG_WRITE_DOCS=1 cargo test --test all docs::editors",
        "name": "Quadjig recipe",
        "scopeName": "source.jig",
        "fileTypes": ["jig"],
        "patterns": [
            { "name": "comment.line.number-sign.jig", "match": "#.*$" },
            {
                "name": "string.quoted.double.jig",
                "begin": "\"",
                "end": "\"|$",
                "patterns": [
                    { "name": "constant.character.escape.jig", "match": "\\\\[\"\\\\]" },
                    { "name": "invalid.illegal.escape.jig", "match": "\\\\." },
                ],
            },
            {
                "match": format!("^\\s*({})(?![{IN_WORD}])", any(&starts)),
                "captures": { "1": { "name": "keyword.control.jig" } },
            },
            {
                "match": format!("(?<![{IN_WORD}])(-?\\d+(?:\\.\\d+)?)(?:\\s*({})(?![{IN_WORD}]))?", any(&units)),
                "captures": { "1": { "name": "constant.numeric.jig" }, "2": { "name": "keyword.other.unit.jig" } },
            },
            { "name": "keyword.other.jig", "match": format!("(?<![{IN_WORD}])(?:{})(?![{IN_WORD}])", any(&keywords)) },
        ],
    });
    format!("{}\n", serde_json::to_string_pretty(&grammar).unwrap())
}

#[test]
fn colours_are_what_the_grammar_says() {
    let files = [
        ("grammar/editors/vim/syntax/jig.vim", vim()),
        ("grammar/editors/vim/ftdetect/jig.vim", detect()),
        ("grammar/editors/jig.tmLanguage.json", text_mate()),
    ];
    for (name, made) in files {
        if std::env::var_os("QUADJIG_WRITE_DOCS").is_some() {
            let path = project().join(name);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(path, made).unwrap();
        } else {
            assert!(text(name) == made, "{name} is not what the grammar says: QUADJIG_WRITE_DOCS=1 writes it anew");
        }
    }
}
