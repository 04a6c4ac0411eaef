//! `quadjig explain`: what a finding's code means, with a bad and a good example.

use super::completions;
use super::options::Reporting;
use super::output::{Format, Output};
use crate::language::explain::{Example, Explained, all, explain};
use crate::measure::nearest::nearest;
use crate::plan::explained as refusals;
use crate::seam::exit::Exit;
use clap_complete::engine::ArgValueCompleter;
use serde::Serialize;

/// Say what the code of a finding or a refusal means, with a bad and a good example.
///
/// Without a code, all codes are listed with a line each.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig explain CF1\n  quadjig explain\n  quadjig explain --format json RQ2")]
pub struct Explain {
    /// The code, as a finding shows it in brackets, or a refusal behind its place.
    #[arg(value_name = "CODE", add = ArgValueCompleter::new(completions::codes))]
    code: Option<String>,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Report {
    schema: &'static str,
    codes: Vec<Explained>,
}

impl Explain {
    /// Explains one code, or lists all.
    pub fn run(self, out: &mut Output) -> Exit {
        let codes: Vec<Explained> = match &self.code {
            None => all()
                .filter_map(|(code, _)| explain(code))
                .chain(refusals::codes().filter_map(refusals::explain))
                .collect(),
            Some(code) => explain(code).or_else(|| refusals::explain(code)).into_iter().collect(),
        };
        if let ([], Some(code)) = (codes.as_slice(), &self.code) {
            let near = nearest(code, all().map(|(known, _)| known).chain(refusals::codes()));
            let hint = near.map(|near| format!("did you mean `{near}`?"));
            let hint = hint.unwrap_or_else(|| "`quadjig explain` lists all codes".to_owned());
            out.error(&format!("no finding has the code `{code}`"), Some(&hint));
            return Exit::Usage;
        }
        match (self.reporting.format, self.code) {
            (Format::Json, _) => out.json(&Report { schema: "quadjig.explain/1", codes }),
            (Format::Text, None) => {
                for one in &codes {
                    out.report(&format!("{:<5} {}\n", one.code, one.about));
                }
            }
            (Format::Text, Some(_)) => {
                for one in &codes {
                    let Explained { code, about, bad, good } = one;
                    out.report(&format!("{code}: {about}\n\nBad:\n{}\nGood:\n{}", shown(*bad), shown(*good)));
                }
            }
        }
        Exit::Done
    }
}

fn shown(example: Example) -> String {
    example.text.lines().fold(String::new(), |text, line| text + "  " + line + "\n")
}
