//! `require`, `expect`, `set` and `battery`: conditions, settings, the pack.

use super::{Lower, text::unquote};
use crate::language::grammar::Rule;
use crate::language::quantity_kind::QuantityKind;
use crate::language::recipe::{Chemistry, Part, Require, Setting, StatementKind, Value};
use crate::language::tree::{Pair, Pairs};

impl<'a> Lower<'_, 'a> {
    pub(super) fn require(&mut self, pair: Pair<'a>) -> Option<Require> {
        let rule = pair.as_rule();
        let mut inner = pair.into_inner();
        Some(match rule {
            Rule::require_props => Require::PropsOff,
            Rule::require_antenna => Require::AntennaOn,
            Rule::require_battery => Require::Battery { inside: inner.nth(1)?.as_rule() == Rule::kw_in },
            Rule::require_battery_least => Require::BatteryAtLeast(self.cell_voltage(Part::Value, inner.nth(3)?)?),
            Rule::require_throttle => Require::ThrottleLow,
            Rule::require_disarmed => Require::Disarmed,
            Rule::require_level => Require::Level(self.angle(Part::Value, inner.nth(2)?)?),
            Rule::require_switch => {
                let switch = self.switch(inner.nth(1)?);
                let position = self.count(Part::Positions, inner.nth(1)?);
                Require::SwitchPosition { switch: switch?, position: position? }
            }
            Rule::require_text => Require::Attest(self.text(pair)),
            // `require firmware` belongs to the header.
            _ => return None,
        })
    }

    /// Of `set` and `expect`.
    pub(super) fn setting_and_value(&mut self, inner: Pairs<'a>) -> Option<(Setting, Value)> {
        let mut found = inner.filter(|pair| matches!(pair.as_rule(), Rule::setting | Rule::setting_value));
        let (named, valued) = (found.next()?, found.next()?);
        self.part(Part::Subject, named);
        self.part(Part::Value, valued);
        let name = named.into_inner().next()?;
        let setting = if name.as_rule() == Rule::string {
            if unquote(name.as_str()).is_empty() {
                self.text(name);
            }
            Setting::Raw(unquote(name.as_str()))
        } else {
            Setting::Word(name.as_str().to_owned())
        };
        let value = valued.into_inner().next()?;
        let of_words = !self.table.words(self.parsed.file, value.as_str()).is_empty();
        let named = self.table.has(self.parsed.file, value.as_str());
        let value = if value.as_rule() == Rule::word && (of_words || !named) {
            Value::Word(self.word(QuantityKind::Any, value)?)
        } else {
            let quantity = self.any(valued)?;
            if quantity.unit.is_some() { Value::Quantity(quantity) } else { Value::Number(quantity.number) }
        };
        Some((setting, value))
    }

    pub(super) fn battery(&mut self, inner: Pairs<'a>) -> Option<StatementKind> {
        let cells = inner.clone().nth(1)?;
        let cells = self.count(Part::Cells, cells);
        let mut clauses = self.clauses(inner, &[Rule::chemistry, Rule::warn_at, Rule::land_at]);
        let chemistry = match clauses.take(Rule::chemistry).and_then(|pair| pair.into_inner().next()) {
            Some(word) if word.as_rule() == Rule::kw_lihv => Chemistry::Lihv,
            Some(word) if word.as_rule() == Rule::kw_liion => Chemistry::Liion,
            _ => Chemistry::Lipo,
        };
        let (warn, land) = (clauses.value(Rule::warn_at), clauses.value(Rule::land_at));
        if warn.is_none() {
            self.missing("`warn at`: the voltage at which the alarm sounds", "warn at 3.6 V per cell");
        }
        if land.is_none() {
            self.missing("`land at`: the voltage at which to land", "land at 3.4 V per cell");
        }
        let warn = warn.and_then(|pair| self.cell_voltage(Part::Warn, pair));
        let land = land.and_then(|pair| self.cell_voltage(Part::Land, pair));
        Some(StatementKind::Battery { cells: cells?, chemistry, warn: warn?, land: land? })
    }
}
