//! Conversions between the world's real numbers and the whole numbers of the wire.
//!
//! They round and saturate, so that no value of the world can wrap on its way out. The only place for casts.

/// A real rounded to the nearest `u16`, saturating. Every channel of every frame passes here, and without
/// a call of `round` it takes a fifth of the time.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded after; the cast saturates")]
pub fn to_u16(value: f64) -> u16 {
    let below = value as u16;
    if value - f64::from(below) >= 0.5 { below.saturating_add(1) } else { below }
}

/// A real rounded to the nearest `i16`, saturating.
#[expect(clippy::cast_possible_truncation, reason = "rounded; the cast saturates")]
pub fn to_i16(value: f64) -> i16 {
    value.round() as i16
}

/// A real rounded to the nearest `i32`, saturating.
#[expect(clippy::cast_possible_truncation, reason = "rounded; the cast saturates")]
pub fn to_i32(value: f64) -> i32 {
    value.round() as i32
}

/// A real rounded to the nearest `u32`, saturating.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "rounded; the cast saturates")]
pub fn to_u32(value: f64) -> u32 {
    value.round() as u32
}

/// A real as the nearest single-precision one.
#[expect(clippy::cast_possible_truncation, reason = "the wire carries single precision")]
pub fn to_f32(value: f64) -> f32 {
    value as f32
}

/// The low 32 bits.
#[expect(clippy::cast_possible_truncation, reason = "a clock that wraps, as the message's field does")]
pub fn low_u32(value: u64) -> u32 {
    value as u32
}

/// A small count as `u8`, saturating.
pub fn count_u8(value: usize) -> u8 {
    u8::try_from(value).unwrap_or(u8::MAX)
}

/// A small count as `u16`, saturating.
pub fn count_u16(value: usize) -> u16 {
    u16::try_from(value).unwrap_or(u16::MAX)
}

/// The upper 53 bits of a hash as a real in 0 … 1.
#[expect(clippy::cast_precision_loss, reason = "53 bits fit")]
pub fn unit(hash: u64) -> f64 {
    (hash >> 11) as f64 / 9_007_199_254_740_992.0
}

/// A count, times a share.
#[expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "µs of a session have far fewer than 53 bits; the cast saturates"
)]
pub fn scaled(value: u64, share: f64) -> u64 {
    (value as f64 * share) as u64
}

/// A whole real as an integer.
#[expect(clippy::cast_possible_truncation, reason = "whole and within the range of exact reals")]
pub fn whole(value: f64) -> i64 {
    value.round() as i64
}

#[cfg(test)]
mod tests {
    use super::to_u16;

    #[test]
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "the same by the standard library")]
    fn a_real_becomes_the_nearest_whole_number() {
        let edges = [-1.0, -0.5, 0.0, 0.49, 0.499_999_999_999_999_94, 0.5, 65534.5, 65535.5, 1e9, f64::NAN];
        let all = (0..40_000).map(|n| f64::from(n) * 1.7 / 16.0).chain(edges);
        for value in all {
            assert_eq!(to_u16(value), value.round() as u16, "{value}");
        }
    }
}
