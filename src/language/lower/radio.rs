//! The radio and what its switches do: `receiver`, `channels`, `switch`, `find`, `bind`.

use super::Lower;
use crate::language::codes;
use crate::language::finding::Finding;
use crate::language::grammar::Rule;
use crate::language::quantity_kind::QuantityKind;
use crate::language::recipe::{Function, OnLoss, Part, StatementKind, Stick};
use crate::language::tree::{Pair, Pairs};

impl<'a> Lower<'_, 'a> {
    pub(super) fn receiver(&mut self, mut inner: Pairs<'a>) -> Option<StatementKind> {
        let protocol = inner.nth(1)?;
        self.part(Part::Subject, protocol);
        let word = protocol.into_inner().next()?;
        let protocol = self.word(QuantityKind::Word, word);
        let port = self.count(Part::Value, inner.nth(2)?);
        Some(StatementKind::Receiver { protocol: protocol?, port: port? })
    }

    pub(super) fn channels(&mut self, inner: Pairs<'a>) -> Option<StatementKind> {
        let pairs: Vec<_> = inner.skip(1).filter(|pair| pair.as_rule() != Rule::comma).collect();
        let mut sticks = Vec::with_capacity(4);
        for (index, pair) in pairs.iter().enumerate() {
            if let Some(first) = pairs[..index].iter().find(|first| first.as_rule() == pair.as_rule()) {
                let message = format!("`{}` stands twice: two channels cannot carry one stick", pair.as_str());
                let finding = Finding::error(codes::REPEATED_ITEM, self.place(*pair), message)
                    .also(self.place(*first), "the first")
                    .hint("name each of roll, pitch, throttle and yaw once");
                self.fail(finding);
            }
            sticks.push(match pair.as_rule() {
                Rule::kw_roll => Stick::Roll,
                Rule::kw_pitch => Stick::Pitch,
                Rule::kw_throttle => Stick::Throttle,
                _ => Stick::Yaw,
            });
        }
        Some(StatementKind::Channels(sticks.try_into().ok()?))
    }

    pub(super) fn declare_switch(&mut self, inner: Pairs<'a>) -> Option<StatementKind> {
        let switch = self.switch(inner.clone().nth(1)?);
        let mut clauses = self.clauses(inner, &[Rule::on_channel, Rule::rests, Rule::on_loss, Rule::momentary]);
        let (channel, rests) = (clauses.value(Rule::on_channel), clauses.take(Rule::rests));
        if channel.is_none() {
            self.missing("the channel that the switch drives", "on channel 6");
        }
        if rests.is_none() {
            self.missing("the pulse widths at which the switch rests, from position 0 on", "rests at 1000, 2000");
        }
        let channel = channel.and_then(|pair| self.count(Part::Channel, pair));
        let rests = rests.and_then(|pair| self.rests(pair));
        let on_loss = match clauses.take(Rule::on_loss) {
            None => None,
            Some(pair) => {
                let last = pair.into_inner().last()?;
                Some(match last.as_rule() {
                    Rule::kw_hold | Rule::kw_flagged => {
                        self.part(Part::Loss, last);
                        if last.as_rule() == Rule::kw_hold { OnLoss::Holds } else { OnLoss::Flagged }
                    }
                    _ => OnLoss::Rests(self.pulse(Part::Loss, last)?),
                })
            }
        };
        let momentary = clauses.take(Rule::momentary).is_some();
        Some(StatementKind::DeclareSwitch { switch: switch?, channel: channel?, rests: rests?, momentary, on_loss })
    }

    /// All rest pulses; the first part is the place of the whole list, then one for each.
    fn rests(&mut self, pair: Pair<'a>) -> Option<Vec<crate::language::units::Pulse>> {
        let pulses: Vec<_> = pair.into_inner().filter(|inner| inner.as_rule() == Rule::pulse).collect();
        self.list(Part::Rests, &pulses);
        let all: Vec<_> = pulses.iter().map(|pair| self.pulse(Part::Rests, *pair)).collect();
        all.into_iter().collect()
    }

    /// Notes the place of a list from its first to its last item.
    fn list(&mut self, part: Part, items: &[Pair<'a>]) {
        if let (Some(first), Some(last)) = (items.first(), items.last()) {
            let mut span = self.place(*first);
            span.range.end = self.place(*last).range.end;
            self.parts.push((part, span));
        }
    }

    pub(super) fn find(&mut self, pair: Pair<'a>) -> Option<StatementKind> {
        let rule = pair.as_rule();
        let inner = pair.into_inner();
        let mut clauses = self.clauses(inner.clone(), &[Rule::with_positions, Rule::momentary, Rule::anew]);
        let anew = clauses.take(Rule::anew).is_some();
        let momentary = clauses.take(Rule::momentary).is_some();
        Some(match rule {
            Rule::find_sticks => StatementKind::FindSticks { anew },
            Rule::find_link_loss => StatementKind::FindLinkLoss { anew },
            _ => {
                let switch = self.switch(inner.clone().nth(1)?);
                let positions = match clauses.value(Rule::with_positions) {
                    Some(pair) => Some(self.count(Part::Positions, pair)?),
                    None => None,
                };
                StatementKind::FindSwitch { switch: switch?, positions, momentary, anew }
            }
        })
    }

    pub(super) fn function(&mut self, pair: Pair<'a>) -> Function {
        self.part(Part::Function, pair);
        if pair.as_str() == "disarm" {
            let message =
                "nothing is bound to disarming: a craft is disarmed wherever its switch is not in a position of `arm`";
            self.fail(
                Finding::error(codes::UNEXPECTED, self.place(pair), message)
                    .hint("bind arm to the positions in which it is armed: `bind arm to switch B position 2`"),
            );
        }
        Function(pair.as_str().to_owned())
    }

    pub(super) fn bind(&mut self, mut inner: Pairs<'a>) -> Option<StatementKind> {
        let function = self.function(inner.nth(1)?);
        let switch = self.switch(inner.nth(2)?);
        let mut list = inner.next()?.into_inner();
        let word = list.next()?;
        let pairs: Vec<_> = list.collect();
        if word.as_rule() == Rule::kw_position && pairs.len() > 1 {
            let place = self.place(word);
            self.findings.push(
                Finding::error(codes::ONE_POSITION, place.clone(), "`position` takes one position, and several follow")
                    .hint("write `positions`")
                    .replace("write `positions`", place, "positions"),
            );
        }
        self.list(Part::Positions, &pairs);
        let all: Vec<_> = pairs.iter().map(|pair| self.count(Part::Positions, *pair)).collect();
        let mut positions = all.into_iter().collect::<Option<Vec<u32>>>()?;
        for (index, position) in positions.iter().enumerate() {
            if let Some(first) = positions[..index].iter().position(|earlier| earlier == position) {
                let finding = Finding::error(
                    codes::REPEATED_ITEM,
                    self.place(pairs[index]),
                    format!("position {position} stands twice"),
                )
                .also(self.place(pairs[first]), "the first")
                .hint("name each position once");
                self.fail(finding);
                break;
            }
        }
        positions.sort_unstable();
        Some(StatementKind::Bind { function, switch: switch?, positions })
    }
}
