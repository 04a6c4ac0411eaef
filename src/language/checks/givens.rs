//! Parameters that nothing uses.

use super::codes;
use crate::language::finding::Finding;
use crate::language::recipe::Recipe;
use crate::language::span::FileId;
use std::collections::HashMap;

pub(super) fn check(recipe: &Recipe, found: &mut Vec<Finding>) {
    if recipe.givens.is_empty() {
        return;
    }
    let mut words: HashMap<&str, Vec<(FileId, usize)>> = HashMap::new();
    for (file, source) in recipe.files.iter().enumerate() {
        for (at, word) in words_used(&source.text) {
            words.entry(word).or_default().push((FileId(file), at));
        }
    }
    for given in &recipe.givens {
        let (name, own) = (given.name.value.as_str(), &given.name.span);
        let places = words.get(name).into_iter().flatten();
        if places.into_iter().any(|(file, at)| *file != own.file || !own.range.contains(at)) {
            continue;
        }
        let message = format!("nothing uses {name}: whoever fills it in would change nothing at the bench");
        found.push(
            Finding::error(codes::UNUSED_GIVEN, own, message)
                .hint("write the name where its value should stand, or leave the line out"),
        );
    }
}

/// The words of a recipe outside comments and strings, without the names that `use … with` fills.
fn words_used(text: &str) -> Vec<(usize, &str)> {
    let mut words = Vec::new();
    let (mut start, mut used) = (0, false);
    let mut continued = false;
    for line in text.split_inclusive('\n') {
        let tokens = tokens(line);
        if !continued {
            used = tokens.first().is_some_and(|(_, word)| *word == "use");
        }
        for (index, (at, word)) in tokens.iter().enumerate() {
            let before = index.checked_sub(1).map_or("", |i| tokens[i].1);
            let filled = used && (before == "with" || before == "," || (before.is_empty() && continued));
            if !filled {
                words.push((start + at, *word));
            }
        }
        // Lines that hold only a comment do not end what a comma left open.
        if let Some((_, last)) = tokens.last() {
            continued = *last == ",";
        }
        start += line.len();
    }
    words
}

/// Words and commas of a line, strings and comments left out.
fn tokens(line: &str) -> Vec<(usize, &str)> {
    let mut tokens = Vec::new();
    let mut chars = line.char_indices().peekable();
    while let Some((at, c)) = chars.next() {
        match c {
            '#' => break,
            '"' => {
                while let Some((_, c)) = chars.next() {
                    match c {
                        '\\' => {
                            chars.next();
                        }
                        '"' => break,
                        _ => {}
                    }
                }
            }
            ',' => tokens.push((at, &line[at..=at])),
            c if c.is_alphanumeric() || c == '-' => {
                let mut end = at + c.len_utf8();
                while let Some((next, c)) = chars.peek().copied() {
                    if !(c.is_alphanumeric() || c == '-') {
                        break;
                    }
                    end = next + c.len_utf8();
                    chars.next();
                }
                tokens.push((at, &line[at..end]));
            }
            _ => {}
        }
    }
    tokens
}
