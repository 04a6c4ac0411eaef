//! What stands on the board of all that was written, in words: the one place where old, new and unknown are said.
//!
//! Promises: nothing is called kept that was not read after a restart, and what was not read is called unknown.
//! Must not be here: what is known (see `record::ledger`).

use crate::bench::attended::job::{RunJob, Task};
use crate::bench::session::context::SessionContext;
use crate::board::binding;
use crate::board::sheet::{Settings, Sheet};
use crate::board::value::{Number, SettingName};
use crate::language::recipe::Function;
use crate::plan::naming::Naming;
use crate::plan::step::{Action, Plan};
use crate::record::ledger::{Entry, Keeping, Stands};
use crate::seam::ui::Tone;
use std::collections::BTreeSet;
use std::rc::Rc;

/// Names and numbers as they are shown.
struct Words {
    sheet: Option<Rc<Sheet>>,
    now: Settings,
}

impl Words {
    fn of(&self, name: &SettingName, value: Option<Number>) -> (String, String) {
        let Some(sheet) = &self.sheet else {
            return (name.to_string(), value.map_or_else(|| "unknown".to_owned(), |value| value.to_string()));
        };
        let naming = Naming { sheet, then: &self.now, now: &self.now };
        (naming.describe(name), value.map_or_else(|| "unknown".to_owned(), |value| naming.show(name, value)))
    }

    fn stands(&self, name: &SettingName, value: Option<Number>) -> String {
        let (name, value) = self.of(name, value);
        format!("{name} = {value}")
    }

    fn unknown(&self, name: &SettingName, entry: &Entry) -> String {
        let (words, before) = self.of(name, entry.before());
        let steps: Vec<String> = entry.unread().iter().map(|value| self.of(name, Some(*value)).1).collect();
        format!("{words} (was {before}, was to become {})", steps.join(", then "))
    }
}

impl SessionContext {
    fn words(&self) -> Words {
        Words { sheet: self.sheet(), now: self.look(|live| live.settings.clone()) }
    }

    /// Settings with their values, in the recipe's words.
    pub(in crate::bench) fn stand(&self, values: &[(SettingName, Number)]) -> String {
        let words = self.words();
        values.iter().map(|(name, value)| words.stands(name, Some(*value))).collect::<Vec<_>>().join("; ")
    }

    /// Everything that is not settled, each as `setting = value` where it was read.
    pub(in crate::bench) fn unsettled(&self) -> Vec<String> {
        let words = self.words();
        self.ledger.borrow().open().map(|(name, entry)| words.stands(name, entry.read())).collect()
    }

    /// What is not settled, a sentence for each way of it; nothing where all is.
    pub(in crate::bench) fn what_is_open(&self) -> Vec<String> {
        let words = self.words();
        let ledger = self.ledger.borrow();
        let mut lines = Vec::new();
        let mut say = |what: &str, is: &dyn Fn(&Entry) -> bool, show: &dyn Fn(&SettingName, &Entry) -> String| {
            let all: Vec<String> =
                ledger.open().filter(|(_, entry)| is(entry)).map(|(name, entry)| show(name, entry)).collect();
            if !all.is_empty() {
                lines.push(format!("{what}: {}.", all.join("; ")));
            }
        };
        let read = |keeping: Keeping| move |entry: &Entry| entry.read().is_some() && entry.keeping() == keeping;
        let stands = |name: &SettingName, entry: &Entry| words.stands(name, entry.read());
        // Where every write outlives a restart by itself, so does this one; that was only not seen.
        let at_once = words.sheet.as_ref().is_some_and(|sheet| sheet.stores_at_once);
        let not_kept = if at_once {
            "Written, and not seen after a restart"
        } else {
            "Written and not kept, so gone after a restart"
        };
        say(not_kept, &read(Keeping::Old), &stands);
        say(
            "Written, and stored as the board says, but not seen again after a restart",
            &read(Keeping::BoardSays),
            &stands,
        );
        say(
            "A store of these did not come to an end that was seen, so what a restart brings is unknown",
            &read(Keeping::Unknown),
            &|name, entry| {
                let mut known: Vec<Number> = entry.old().into_iter().chain(entry.written().iter().copied()).collect();
                known.retain(|value| entry.read().is_none_or(|read| !read.same(*value)));
                known.dedup_by(|a, b| a.same(*b));
                let others: Vec<String> = known.into_iter().map(|value| words.of(name, Some(value)).1).collect();
                let or = if others.is_empty() { String::new() } else { format!(" now, or {}", others.join(" or ")) };
                format!("{}{or}", words.stands(name, entry.read()))
            },
        );
        lines.extend(self.what_is_unread());
        lines
    }

    /// Before anything is stored, what else that keeps: all that was written before and is not settled, unless to keep is
    /// all that the plan does; then what earlier runs left.
    pub(in crate::bench) fn say_what_is_kept_as_well(&self, job: &RunJob, plan: &Plan) {
        let is = |act: fn(&Action) -> bool| plan.steps.iter().any(|step| act(&step.act));
        let (stores, restarts) = (is(|act| *act == Action::Store), is(|act| matches!(act, Action::Restart { .. })));
        let writes = is(|act| act.changes_board() && !matches!(act, Action::Store | Action::Restart { .. }));
        if writes && restarts && matches!(job.task, Task::Statement(_)) {
            let what = if stores {
                "This has the board store all its settings and restart."
            } else {
                "This restarts the board."
            };
            self.line(Tone::Warning, what);
        }
        let written: BTreeSet<&SettingName> = plan.changes.iter().map(|change| &change.on_board).collect();
        let words = self.words();
        let ledger = self.ledger.borrow();
        let of_before: BTreeSet<&SettingName> = ledger.left_before().map(|(name, _)| name).collect();
        let as_well = ledger.open().filter(|(name, _)| !written.contains(name) && (writes || of_before.contains(name)));
        let as_well: Vec<String> = as_well.map(|(name, entry)| words.stands(name, entry.read())).collect();
        if stores && !as_well.is_empty() {
            let text = format!("What was written before and not kept is kept as well: {}.", as_well.join("; "));
            self.line(Tone::Warning, text);
        }
    }

    /// What was to be written and was not read since.
    pub(in crate::bench) fn what_is_unread(&self) -> Option<String> {
        let words = self.words();
        let ledger = self.ledger.borrow();
        let unread = ledger.open().filter(|(_, entry)| entry.read().is_none());
        let unread: Vec<String> = unread.map(|(name, entry)| words.unknown(name, entry)).collect();
        let said = || format!("Not read since it was to be written, so unknown: {}.", unread.join("; "));
        (!unread.is_empty()).then(said)
    }

    /// Reads what was being written when something broke off, as far as the board still answers, and says of each
    /// setting whether it is old, new or unknown.
    pub(in crate::bench) async fn read_what_broke_off(&self) -> Vec<String> {
        let broken: Vec<(SettingName, Entry)> = {
            let ledger = self.ledger.borrow();
            ledger.open().filter(|(_, entry)| entry.read().is_none()).map(|(n, e)| (n.clone(), e.clone())).collect()
        };
        if broken.is_empty() {
            return Vec::new();
        }
        let read = self.read_if_there(&broken).await;
        let _settled = self.ledger.borrow_mut().saw(&read);
        let words = self.words();
        let mut lines = Vec::new();
        for (stands, called) in [
            (Stands::New, "Broken off; on the board now as it was to be written"),
            (Stands::Old, "Broken off; on the board now as it was before"),
            (Stands::OnItsWay, "Broken off on its way"),
            (Stands::Neither, "Broken off, and neither as before nor as it was to be"),
        ] {
            let all = broken.iter().filter(|(name, entry)| entry.stands(read.get(name).copied()) == stands);
            let all: Vec<String> = all.map(|(name, _)| words.stands(name, read.get(name).copied())).collect();
            if !all.is_empty() {
                lines.push(format!("{called}: {}.", all.join("; ")));
            }
        }
        lines.extend(self.arm_may_be_open(&broken, &read));
        lines
    }

    /// What these are read as now; nothing where nobody is there who may be asked.
    async fn read_if_there(&self, names: &[(SettingName, Entry)]) -> Settings {
        if !self.interlock().is_sure() {
            return Settings::new();
        }
        // Whatever came is known; what did not is unknown.
        let _some_silent = self.read_anew(names.iter().map(|(name, _)| name)).await;
        self.look(|live| names.iter().filter_map(|(name, _)| Some((name.clone(), *live.settings.get(name)?))).collect())
    }

    /// A warning where what broke off is of the arm band, unless it was read and is closed.
    fn arm_may_be_open(&self, broken: &[(SettingName, Entry)], read: &Settings) -> Option<String> {
        let sheet = self.sheet()?;
        let arm = Function("arm".to_owned());
        let of_arm = binding::settings_of(&sheet, &arm);
        if !broken.iter().any(|(name, _)| of_arm.contains(name)) {
            return None;
        }
        let mut settings = self.look(|live| live.settings.clone());
        // What a write was answered with is no reading.
        settings.retain(|name, _| !broken.iter().any(|(broken, _)| broken == name));
        settings.extend(read.iter().map(|(name, value)| (name.clone(), *value)));
        let known = of_arm.iter().all(|name| settings.contains_key(name));
        if known && binding::bound_now(&sheet, &settings, &arm).is_ok_and(|bands| bands.is_empty()) {
            return None;
        }
        let what = if known { "An arm band is open" } else { "An arm band may be open" };
        Some(format!(
            "{what}, perhaps not where anybody expects it: keep the battery out. To close it, type `unbind arm` and \
             then `keep` at the prompt of `quadjig bench`."
        ))
    }
}
