//! Who is on the wire: by the board's own word; where that tells it from no other craft, by the name that is typed.
//!
//! A session that only looks asks nobody. Promises: a name is asked in every session and after every contact that was
//! lost, since it alone tells the craft. Must not be here: what a name may be (see `craft_name`), where its record lies.

use crate::bench::session::context::SessionContext;
use crate::board::signals::Identity;
use crate::interlock::Answer;
use crate::seam::PortName;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Reply};

impl SessionContext {
    /// Who the board is, so that it is told from every other: asked of it, and of the operator where it can't tell.
    ///
    /// # Errors
    /// Silent, declined, or in a session that only looks no answer.
    pub async fn who_is_it(&self, port: &PortName) -> Result<Identity, Fault> {
        let standing = self.interlock().who().filter(|who| who.name.is_some()).cloned();
        if let Some(named) = standing {
            return Ok(named);
        }
        let identity = match self.identify().await {
            Ok(identity) if identity.is_unique() || self.interlock().is_only_looking() => return Ok(identity),
            Err(fault) if self.interlock().is_only_looking() => return Err(fault),
            Ok(identity) => identity,
            // It is there, and does not say who it is.
            Err(Fault::Board { .. }) if self.link_up() && self.shows_life() => Identity::unsaid(),
            Err(fault) => return Err(fault),
        };
        let named = Identity { name: Some(self.ask_name(port).await?), ..identity };
        self.interlock_mut().named(&named);
        Ok(named)
    }

    async fn ask_name(&self, port: &PortName) -> Result<crate::board::craft_name::CraftName, Fault> {
        let lines = vec![
            "This board gives no id that tells it from others, so only its name does: its record is found by it."
                .to_owned(),
            "Give each such craft a name of its own, write it on the craft, and type the same one each time."
                .to_owned(),
        ];
        let mut question = self.question(About::Name, "What is this craft called?", lines, Reply::Name);
        if question.craft.is_empty() {
            question.craft = format!("the board on {port}");
        }
        let what = question.title.clone();
        match self.ask_text(question).await? {
            Answer::Named(name) => Ok(name),
            Answer::Typed(_) | Answer::Entered | Answer::Chosen(_) | Answer::Volts(_) | Answer::Declined(_) => {
                Err(Fault::Declined { what, why: crate::seam::ui::Declined::EnterAlone })
            }
        }
    }
}
