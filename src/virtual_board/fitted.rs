//! World lines about how the craft and its radio are put together: what a set-up finds and puts right.
//!
//! Must not be here: what moves while it is used (see `lines`), how the board departs from one that means well (see
//! `deeds`).

use super::config::Mix;
use super::lines::{WorldLineError, number, stick_of, two, within};
use super::radio::STICKS;
use super::world::World;

impl World {
    /// A world line about what is fitted how; `None` where the verb is another.
    pub(super) fn fitted_line(&mut self, verb: &str, words: &[&str]) -> Result<Option<String>, WorldLineError> {
        Ok(Some(match verb {
            "cross" => self.cross(words)?,
            "reverse" => {
                let [stick] = words else { return Err(WorldLineError::Form { form: "reverse STICK" }) };
                let stick = stick_of(stick)?;
                let turned = self.radio.stick_config(stick).map(|config| {
                    config.reversed = !config.reversed;
                    config.reversed
                });
                format!("stick {} is {}", STICKS[stick], if turned == Some(true) { "reversed" } else { "not reversed" })
            }
            "trim" => self.trim(words)?,
            "mix" => self.mix(words)?,
            "mount" => {
                const FORM: &str = "mount TURNED";
                let [turned] = words else { return Err(WorldLineError::Form { form: FORM }) };
                self.config.mounted.turned = within("how far a board is turned", number(turned, FORM)?, -360.0, 360.0)?;
                format!("the board sits turned by {turned} deg")
            }
            "seat" => {
                const FORM: &str = "seat ROLL PITCH";
                let [roll, pitch] = two(words, FORM)?;
                let angle = |word| within("how far a board sits out of level", number(word, FORM)?, -30.0, 30.0);
                self.config.mounted.out_of_level = [angle(roll)?, angle(pitch)?];
                format!("the board sits out of level by roll {roll} deg, pitch {pitch} deg")
            }
            "divider" => {
                const FORM: &str = "divider RATIO";
                let [ratio] = words else { return Err(WorldLineError::Form { form: FORM }) };
                self.pack.config.true_ratio = within("a divider's ratio", number(ratio, FORM)?, 1.0, 100.0)?;
                format!("the voltage divider is {ratio}")
            }
            "windup" => {
                const FORM: &str = "windup ROLL PITCH YAW";
                let [roll, pitch, yaw] = words else { return Err(WorldLineError::Form { form: FORM }) };
                let rate = |word| within("how fast a stabiliser winds up", number(word, FORM)?, -200.0, 200.0);
                self.config.stabiliser.wind_up = [rate(roll)?, rate(pitch)?, rate(yaw)?];
                format!("the stabiliser winds up by {roll}, {pitch} and {yaw} us a second")
            }
            "charge" => {
                const FORM: &str = "charge VOLTS";
                let [volts] = words else { return Err(WorldLineError::Form { form: FORM }) };
                let cells = f64::from(self.pack.config.cells);
                let volts = within("a pack's voltage", number(volts, FORM)?, 2.5 * cells, 4.35 * cells)?;
                self.pack.charge(volts);
                format!("the pack has {volts} V without load")
            }
            _ => return Ok(None),
        }))
    }

    fn cross(&mut self, words: &[&str]) -> Result<String, WorldLineError> {
        let [one, other] = two(words, "cross STICK STICK")?;
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

    fn trim(&mut self, words: &[&str]) -> Result<String, WorldLineError> {
        const FORM: &str = "trim STICK BY";
        let [stick, by] = two(words, FORM)?;
        let (stick, by) = (stick_of(stick)?, within("a trim", number(by, FORM)?, -200.0, 200.0)?);
        if let Some(config) = self.radio.stick_config(stick) {
            config.travel[1] += by;
        }
        Ok(format!("stick {} rests {by} us further up", STICKS[stick]))
    }

    fn mix(&mut self, words: &[&str]) -> Result<String, WorldLineError> {
        const FORM: &str = "mix FROM TO SHARE";
        let [from, to, share] = words else { return Err(WorldLineError::Form { form: FORM }) };
        let (from, to) = (stick_of(from)?, stick_of(to)?);
        let percent = number(share.strip_suffix('%').unwrap_or(share), FORM)?;
        let share = within("a mix", percent, -100.0, 100.0)? / 100.0;
        let channels = [from, to].map(|stick| self.radio.stick_config(stick).map(|config| config.channel));
        if let [Some(from), Some(to)] = channels {
            self.radio.mix(Mix { from, to, share });
        }
        Ok(format!("stick {} moves {} along by {percent} %", STICKS[from], STICKS[to]))
    }
}
