//! Values of settings as the console writes and reads them.
//!
//! Whole numbers have no point, reals always have one, and neither is written in powers of ten.

use super::super::numbers::{to_f32, whole};
use super::super::settings::{Definition, Refusal, SettingType};

/// A value as it is shown.
pub fn shown(value: f64, kind: SettingType) -> String {
    if kind != SettingType::Real {
        return whole(value).to_string();
    }
    let text = to_f32(value).to_string();
    if text.contains('.') { text } else { format!("{text}.0") }
}

/// A value as it was typed: digits, with a sign and a point at most.
pub fn typed(word: &str) -> Option<f64> {
    let digits = word.strip_prefix('-').unwrap_or(word);
    let (before, after) = digits.split_once('.').unwrap_or((digits, "0"));
    let all_digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if all_digits(before) && all_digits(after) { word.parse().ok() } else { None }
}

/// Why a value is not taken, in the console's words.
pub fn reason(refusal: &Refusal, definition: &Definition) -> String {
    let name = &definition.name;
    match refusal {
        Refusal::OutOfRange { least, most, .. } => format!("{name} takes {least} to {most}"),
        Refusal::NotListed { only, .. } => format!("{name} takes {only}"),
        Refusal::NotWhole(_) | Refusal::WrongKind(_) => format!("{name} takes whole numbers only"),
        Refusal::NotFinite(_) => format!("{name} takes numbers"),
        Refusal::Unknown(_) => format!("nothing is called {name}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_written_out() {
        assert_eq!(shown(1050.0, SettingType::U16), "1050");
        assert_eq!(shown(-7.0, SettingType::I16), "-7");
        assert_eq!(shown(16_777_217.0, SettingType::I32), "16777217");
        assert_eq!(shown(f64::from(10.9_f32), SettingType::Real), "10.9");
        assert_eq!(shown(25.0, SettingType::Real), "25.0");
        assert_eq!(shown(f64::from(0.000_01_f32), SettingType::Real), "0.00001");
    }

    #[test]
    fn nothing_but_digits_is_a_number() {
        assert_eq!(typed("-12.5"), Some(-12.5));
        assert_eq!(typed("1100"), Some(1100.0));
        for wrong in ["", "-", ".5", "5.", "1e3", "+5", "inf", "NaN", "11?0", "0x10", "1.2.3", "--1"] {
            assert_eq!(typed(wrong), None, "{wrong}");
        }
    }
}
