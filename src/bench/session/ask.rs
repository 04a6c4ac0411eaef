//! Questions to the operator, and what was typed to them.
//!
//! Must not be here: how an answer is told from a slip (see `interlock/prompt.rs`), what a question is about.

use crate::bench::session::context::SessionContext;
use crate::interlock::{Answer, Prompt, TypedWord};
use crate::language::characters::capital;
use crate::measure::time::Time;
use crate::seam::Effect;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Declined, Question, Reply, Tone};
use std::time::Duration;

impl SessionContext {
    /// A question that carries the craft's name.
    #[must_use]
    pub fn question(&self, about: About, title: &str, lines: Vec<String>, reply: Reply) -> Question {
        let facts = self.facts().ok();
        Question {
            about,
            craft: facts.as_ref().map_or_else(String::new, |f| f.craft.clone()),
            is_virtual: facts.as_ref().is_some_and(|f| f.is_virtual),
            title: title.to_owned(),
            lines,
            reply,
            before: None,
        }
    }

    /// Asks a question and waits for its end. Only one question is open at a time.
    pub async fn ask(&self, question: Question) -> Answer {
        self.open_question(question);
        let answer = self.until(Time::NEVER, |bench| bench.dialogue().answer.take()).await;
        answer.unwrap_or(Answer::Declined(Declined::EndOfInput))
    }

    /// Asks for one of the choices of a question; `what` says in words what was asked.
    ///
    /// # Errors
    /// [`Fault::Declined`].
    pub async fn ask_choice(&self, question: Question, what: &str) -> Result<char, Fault> {
        let why = match self.ask(question).await {
            Answer::Chosen(key) => return Ok(key),
            Answer::Declined(why) => why,
            Answer::Typed(_) | Answer::Entered | Answer::Named(_) | Answer::Volts(_) => Declined::Refused,
        };
        Err(Fault::Declined { what: what.to_owned(), why })
    }

    /// Opens a question; its answer comes into the dialogue.
    fn open_question(&self, question: Question) {
        if self.dialogue().terminal_gone {
            self.dialogue().answered(Answer::Declined(Declined::EndOfInput));
            return;
        }
        self.dialogue().ahead.clear();
        let before = self.dialogue().asks_again(&question);
        self.act(Effect::Ask(Box::new(Question { before, ..question.clone() })));
        let mut dialogue = self.dialogue();
        dialogue.answer = None;
        dialogue.prompt = Some(Prompt::open(question, self.now()));
    }

    /// Asks for a word; a wrong one, none or a paste is asked again twice, saying why.
    ///
    /// # Errors
    /// [`Fault::Declined`].
    pub async fn ask_word(&self, question: Question) -> Result<TypedWord, Fault> {
        let what = question.title.clone();
        let typed = self.ask_word_while(question, None, |_| None).await?;
        typed.ok_or(Fault::Declined { what, why: Declined::Refused })
    }

    /// As [`SessionContext::ask_word`], while something is looked at at least so often: once `ends` gives an end the
    /// question is closed, and `None` is the answer unless that end is a fault.
    ///
    /// # Errors
    /// [`Fault::Declined`], or that of the end.
    pub async fn ask_word_while(
        &self,
        question: Question,
        every: Option<Duration>,
        ends: impl FnMut(&Self) -> Option<Result<(), Fault>>,
    ) -> Result<Option<TypedWord>, Fault> {
        let what = question.title.clone();
        match self.ask_text_while(question, every, ends).await? {
            None => Ok(None),
            Some(Answer::Typed(typed)) => Ok(Some(typed)),
            Some(Answer::Entered | Answer::Chosen(_) | Answer::Named(_) | Answer::Volts(_) | Answer::Declined(_)) => {
                Err(Fault::Declined { what, why: Declined::Refused })
            }
        }
    }

    /// As [`SessionContext::ask_word`], for a name or a voltage.
    ///
    /// # Errors
    /// [`Fault::Declined`].
    pub async fn ask_text(&self, question: Question) -> Result<Answer, Fault> {
        let what = question.title.clone();
        let answer = self.ask_text_while(question, None, |_| None).await?;
        answer.ok_or(Fault::Declined { what, why: Declined::Refused })
    }

    async fn ask_text_while(
        &self,
        question: Question,
        every: Option<Duration>,
        mut ends: impl FnMut(&Self) -> Option<Result<(), Fault>>,
    ) -> Result<Option<Answer>, Fault> {
        let what = question.title.clone();
        let mut tries = 0;
        self.open_question(question.clone());
        loop {
            let by = every.map_or(Time::NEVER, |every| self.now() + every);
            let answer = self.until(by, |bench| bench.dialogue().answer.take()).await;
            // What ends it comes before an answer of the same moment.
            if let Some(end) = ends(self) {
                if self.dialogue().close_prompt() {
                    self.act(Effect::Asked(false));
                }
                return end.map(|()| None);
            }
            match answer {
                None => {}
                Some(yes @ (Answer::Typed(_) | Answer::Entered | Answer::Named(_) | Answer::Volts(_))) => {
                    return Ok(Some(yes));
                }
                // A slip of the hand; Escape is the way to say no.
                Some(Answer::Declined(why)) if tries < 2 && why.is_a_slip() => {
                    tries += 1;
                    self.line(Tone::Warning, format!("{}. Nothing was done. Asked again.", capital(&why.to_string())));
                    self.open_question(question.clone());
                }
                Some(Answer::Declined(why)) => return Err(Fault::Declined { what, why }),
                Some(Answer::Chosen(_)) => return Err(Fault::Declined { what, why: Declined::Refused }),
            }
        }
    }
}
