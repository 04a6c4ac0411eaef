//! World lines about how the craft and its radio are put together: what a set-up finds and puts right.
//!
//! Must not be here: what moves while it is used (see `lines`), how the board departs from one that means well (see
//! `deeds`).

use super::config::Mix;
use super::lines::{Said, WorldLineError, stick_of, within};
use super::radio::STICKS;
use super::world::World;

impl World {
    /// A world line about what is fitted how; `None` where the verb is another.
    pub(super) fn fitted_line(&mut self, verb: &str, said: Said<'_>) -> Result<Option<String>, WorldLineError> {
        Ok(Some(match verb {
            "cross" => self.cross(said)?,
            "reverse" => {
                let [stick] = said.all()?;
                let stick = stick_of(stick)?;
                let turned = self.radio.stick_config(stick).map(|config| {
                    config.reversed = !config.reversed;
                    config.reversed
                });
                format!("stick {} is {}", STICKS[stick], if turned == Some(true) { "reversed" } else { "not reversed" })
            }
            "trim" => self.trim(said)?,
            "mix" => self.mix(said)?,
            "mount" => {
                let [turned] = said.all()?;
                self.config.mounted.turned = within("how far a board is turned", said.number(turned)?, -360.0, 360.0)?;
                format!("the board sits turned by {turned} deg")
            }
            "seat" => {
                let [roll, pitch] = said.all()?;
                let angle = |word| within("how far a board sits out of level", said.number(word)?, -30.0, 30.0);
                self.config.mounted.out_of_level = [angle(roll)?, angle(pitch)?];
                format!("the board sits out of level by roll {roll} deg, pitch {pitch} deg")
            }
            "divider" => {
                let [ratio] = said.all()?;
                self.pack.config.true_ratio = within("a divider's ratio", said.number(ratio)?, 1.0, 100.0)?;
                format!("the voltage divider is {ratio}")
            }
            "windup" => {
                let [roll, pitch, yaw] = said.all()?;
                let rate = |word| within("how fast a stabiliser winds up", said.number(word)?, -200.0, 200.0);
                self.config.stabiliser.wind_up = [rate(roll)?, rate(pitch)?, rate(yaw)?];
                format!("the stabiliser winds up by {roll}, {pitch} and {yaw} us a second")
            }
            "charge" => {
                let [volts] = said.all()?;
                let cells = f64::from(self.pack.config.cells);
                let volts = within("a pack's voltage", said.number(volts)?, 2.5 * cells, 4.35 * cells)?;
                self.pack.charge(volts);
                format!("the pack has {volts} V without load")
            }
            _ => return Ok(None),
        }))
    }

    fn cross(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [one, other] = said.all()?;
        let (one, other) = (stick_of(one)?, stick_of(other)?);
        let channel = |radio: &mut super::radio::Radio, stick| radio.stick_config(stick).map(|config| config.channel);
        if let (Some(first), Some(second)) = (channel(&mut self.radio, one), channel(&mut self.radio, other)) {
            for (stick, to) in [(one, second), (other, first)] {
                if let Some(config) = self.radio.stick_config(stick) {
                    config.channel = to;
                }
            }
        }
        Ok(format!("sticks {} and {} have exchanged their channels", STICKS[one], STICKS[other]))
    }

    fn trim(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [stick, by] = said.all()?;
        let (stick, by) = (stick_of(stick)?, within("a trim", said.number(by)?, -200.0, 200.0)?);
        if let Some(config) = self.radio.stick_config(stick) {
            config.travel[1] += by;
        }
        Ok(format!("stick {} rests {by} us further up", STICKS[stick]))
    }

    fn mix(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let [from, to, share] = said.all()?;
        let (from, to) = (stick_of(from)?, stick_of(to)?);
        let percent = said.number(share.strip_suffix('%').unwrap_or(share))?;
        let share = within("a mix", percent, -100.0, 100.0)? / 100.0;
        let channels = [from, to].map(|stick| self.radio.stick_config(stick).map(|config| config.channel));
        if let [Some(from), Some(to)] = channels {
            self.radio.mix(Mix { from, to, share });
        }
        Ok(format!("stick {} moves {} along by {percent} %", STICKS[from], STICKS[to]))
    }
}
