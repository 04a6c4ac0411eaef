//! `quadjig craft name`.

use super::super::options::{RecordsOption, Reporting};
use super::super::output::{Format, Output};
use super::{craft, crafts, told};
use crate::record::crafts::find::named;
use crate::record::crafts::glance::{folders, glance};
use crate::record::crafts::label::Label;
use crate::seam::exit::Exit;
use crate::world::files;
use serde::Serialize;

/// Give a craft a name, beside its board's id. Its record stays where it is.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig craft name 7669727400000001 wren-1\n  quadjig craft name wren-1 \"Wren, red arms\""
)]
pub(super) struct Name {
    /// The craft: its name now, or its board's id.
    #[arg(value_name = "NAME")]
    craft: String,
    /// Its name from now on.
    #[arg(value_name = "NEW")]
    new: String,
    #[command(flatten)]
    records: RecordsOption,
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Named<'a> {
    schema: &'static str,
    id: String,
    name: &'a str,
}

impl Name {
    pub(super) fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let crafts = crafts(&self.records, out)?;
        let folder = craft(&crafts, &self.craft, out)?;
        let label = Label::new(&self.new, jiff::Timestamp::now().to_string()).map_err(|error| {
            out.error(&error.to_string(), None);
            Exit::Usage
        })?;
        let taken = folders(&crafts).map_err(|error| told(&error, out))?;
        if let Some(other) =
            taken.iter().find(|other| **other != folder && named(other).is_some_and(|one| one.is(&label.name)))
        {
            let words = format!("another craft is called {} already: {}", label.name, other.display());
            out.error(&words, Some("give another name"));
            return Err(Exit::Usage);
        }
        let job = label.store().map_err(|error| told(&error, out))?;
        files::keep(&folder, |_| Ok(vec![job])).map_err(|error| told(&error, out))?;
        let id = glance(&folder).map_or_else(|_| self.craft.clone(), |craft| craft.id());
        match self.reporting.format {
            Format::Json => out.json(&Named { schema: "quadjig.craft-name/1", id, name: &label.name }),
            Format::Text => out.report(&format!("{id} is called {} from now on.\n", label.name)),
        }
        Ok(Exit::Done)
    }
}
