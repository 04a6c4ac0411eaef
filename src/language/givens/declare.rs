//! The declaration of a parameter: its name, its kind, what stands for it if nobody says otherwise.
//!
//! Must not be here: what others say of it.

use super::{Entry, Table};
use crate::language::codes;
use crate::language::finding::{Finding, Fix, repeated_clause};
use crate::language::grammar::{Rule, keywords};
use crate::language::lower::text::unquote;
use crate::language::quantity_kind::written;
use crate::language::recipe::{Given, GivenKind, GivenValue, Switch};
use crate::language::span::{FileId, Span, Spanned};
use crate::language::syntax::Parsed;
use crate::language::units::Unit;
use std::collections::HashMap;

impl Table {
    /// Takes a `given` statement in.
    pub fn declare(&mut self, parsed: &Parsed<'_>, index: usize, words: &[&str], findings: &mut Vec<Finding>) {
        let mut inner = parsed.root().into_inner().skip(1);
        let (Some(named), Some(body)) = (inner.next(), inner.next()) else { return };
        let span = parsed.place(named);
        let name = named.as_str().to_owned();
        let rule = body.as_rule();
        let (mut default, mut range, mut about) = (None, None, None);
        let mut list: Vec<(String, Span)> = Vec::new();
        let mut seen: Vec<(Rule, Span)> = Vec::new();
        let (mut bad, mut repeated) = (false, false);
        for pair in body.into_inner() {
            let place = parsed.place(pair);
            match pair.as_rule() {
                Rule::word => {
                    let word = pair.as_str().to_owned();
                    if let Some((_, first)) = list.iter().find(|(known, _)| *known == word) {
                        let message = format!("`{word}` stands twice in the list");
                        findings.push(Finding::error(codes::REPEATED_ITEM, place, message).also(first, "the first"));
                    } else {
                        list.push((word, place));
                    }
                    continue;
                }
                Rule::kw_switch | Rule::kw_one | Rule::kw_of => continue,
                clause => {
                    if let Some((_, first)) = seen.iter().find(|(rule, _)| *rule == clause) {
                        if !repeated {
                            findings.push(repeated_clause(place, first.clone()));
                        }
                        repeated = true;
                        continue;
                    }
                    seen.push((clause, place));
                }
            }
            let mut quantities = pair.into_inner().filter(|q| q.as_rule() == Rule::quantity).map(|q| {
                let place = parsed.place(q);
                match written(q, place.clone()) {
                    Ok(quantity) => Some((quantity, place)),
                    Err(finding) => {
                        findings.push(*finding);
                        bad = true;
                        None
                    }
                }
            });
            let literal = pair.into_inner().last().map(|last| (last.as_str().to_owned(), parsed.place(last)));
            match pair.as_rule() {
                Rule::default_number => {
                    default = quantities.next().flatten().map(|(q, place)| (GivenValue::Quantity(q), place));
                }
                Rule::default_switch => default = literal.map(|(text, at)| (GivenValue::Switch(Switch(text)), at)),
                Rule::default_word => default = literal.map(|(text, at)| (GivenValue::Word(text), at)),
                Rule::given_range => range = quantities.next().flatten().zip(quantities.next().flatten()),
                _ => about = Some(unquote(pair.as_str())),
            }
        }
        if let Some(finding) = taken(&name, &span, words) {
            findings.push(finding);
        }
        if let Some(first) = self.declared(parsed.file, &name) {
            findings.push(
                Finding::error(codes::DUPLICATE_GIVEN, span, format!("`{name}` is declared a second time"))
                    .also(first, "the first")
                    .hint("give one of them another name"),
            );
            return;
        }
        let kind = match rule {
            Rule::given_switch => GivenKind::Switch,
            Rule::given_words => GivenKind::Word(list.into_iter().map(|(word, _)| word).collect()),
            _ => GivenKind::Quantity,
        };
        let given = Given {
            name: Spanned { value: name.clone(), span: span.clone() },
            kind,
            value: None,
            default: None,
            stands_for: (parsed.file == FileId(0)).then(|| name.clone()),
            range: range.map(|((least, _), (most, _))| (least, most)),
            about,
            uses: Vec::new(),
        };
        if self.by_name.len() <= parsed.file.0 {
            self.by_name.resize_with(parsed.file.0 + 1, HashMap::new);
        }
        self.by_name[parsed.file.0].insert(name, self.entries.len());
        self.entries.push(Entry { given, index, value_at: span, default, told: None, uses: Vec::new(), bad });
    }
}

/// Why a name cannot be a parameter's.
fn taken(name: &str, span: &Span, words: &[&str]) -> Option<Finding> {
    let what = if keywords().any(|word| word == name) {
        "a keyword of the language"
    } else if Unit::of(name).is_some() || name == "per" {
        "a unit"
    } else if words.contains(&name) {
        "a word of the vocabulary"
    } else {
        return None;
    };
    let message = format!("`{name}` is {what}, so no parameter can have that name");
    let fix = Fix { title: format!("write `my-{name}`"), span: span.clone(), replacement: format!("my-{name}") };
    Some(Finding::error(codes::BAD_NAME, span.clone(), message).hint("choose another name").fix(fix))
}
