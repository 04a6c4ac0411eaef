//! Values in both encodings of the standard.

use super::golden::GOLDEN;
use super::kit::{hex, name};
use proptest::prelude::*;
use quadjig::board::mavlink::decode as whole;
use quadjig::board::mavlink::encoding::{Encoding, Kind, decode, encode, evidence};
use quadjig::board::value::Number;

const WHOLE: [Kind; 6] = [Kind::U8, Kind::I8, Kind::U16, Kind::I16, Kind::U32, Kind::I32];
const BOTH: [Encoding; 2] = [Encoding::Bytewise, Encoding::Cast];

fn bits(kind: Kind, value: i64, encoding: Encoding) -> Result<u32, String> {
    encode(&name("N"), kind, Number::Whole(value), encoding).map_err(|refusal| refusal.to_string())
}

#[test]
fn seven_is_as_in_the_reference_librarys_frames() {
    // PY: the golden PARAM_SET of POLE_PAIRS, bytewise and C cast; the value is the first field.
    for (golden, encoding) in [(4, Encoding::Bytewise), (5, Encoding::Cast)] {
        let payload = whole(&hex(GOLDEN[golden].1)).unwrap().payload;
        let raw = u32::from_le_bytes(payload[..4].try_into().unwrap());
        assert_eq!(bits(Kind::I32, 7, encoding), Ok(raw));
        assert_eq!(decode(Kind::I32, raw, encoding), Some(Number::Whole(7)));
        assert_eq!(evidence(Kind::I32, raw), Some(encoding));
    }
}

#[test]
fn a_cast_is_exact_to_24_bits_and_more_is_refused() {
    // DG, services/parameter: 16777217 would become 16777216.
    assert_eq!(bits(Kind::I32, 16_777_216, Encoding::Cast), Ok(16_777_216_f32.to_bits()));
    let refused = bits(Kind::I32, 16_777_217, Encoding::Cast).unwrap_err();
    assert!(refused.contains("24 bits"), "{refused}");
    assert_eq!(bits(Kind::I32, 16_777_217, Encoding::Bytewise), Ok(16_777_217));
    assert!(bits(Kind::I32, i64::from(i32::MAX), Encoding::Cast).is_err());
    assert!(bits(Kind::U32, i64::from(u32::MAX), Encoding::Cast).is_err());
}

#[test]
fn the_range_of_the_type_is_kept() {
    let ends = [
        (Kind::U8, 0, 255),
        (Kind::I8, -128, 127),
        (Kind::U16, 0, 65_535),
        (Kind::I16, -32_768, 32_767),
        (Kind::U32, 0, 4_294_967_295),
        (Kind::I32, -2_147_483_648, 2_147_483_647),
    ];
    for (kind, least, most) in ends {
        for encoding in BOTH {
            assert!(bits(kind, least - 1, encoding).unwrap_err().contains("does not fit"), "{kind}");
            assert!(bits(kind, most + 1, encoding).unwrap_err().contains("does not fit"), "{kind}");
        }
        for end in [least, most] {
            assert_eq!(
                decode(kind, bits(kind, end, Encoding::Bytewise).unwrap(), Encoding::Bytewise),
                Some(Number::Whole(end))
            );
        }
    }
    assert_eq!(bits(Kind::I8, -1, Encoding::Bytewise), Ok(0xFF));
    // Boards that widen first are understood too.
    assert_eq!(decode(Kind::I8, 0xFFFF_FFFF, Encoding::Bytewise), Some(Number::Whole(-1)));
}

#[test]
fn reals_are_the_nearest_of_32_bits_and_finite() {
    let real = |value| encode(&name("R"), Kind::Real, Number::Real(value), Encoding::Cast);
    assert_eq!(real(0.1), Ok(0.1_f32.to_bits()));
    assert!(real(f64::NAN).is_err());
    assert!(real(1e300).is_err());
    assert_eq!(decode(Kind::Real, f32::NAN.to_bits(), Encoding::Cast), None);
    assert_eq!(decode(Kind::Real, f32::INFINITY.to_bits(), Encoding::Bytewise), None);
    // A fraction is not cut off for a whole type.
    let cut = encode(&name("W"), Kind::U8, Number::Real(7.5), Encoding::Cast).unwrap_err().to_string();
    assert!(cut.contains("not a whole number"), "{cut}");
    assert_eq!(encode(&name("W"), Kind::U8, Number::Real(7.0), Encoding::Bytewise), Ok(7));
    assert!(encode(&name("R"), Kind::Real, Number::Whole(16_777_217), Encoding::Cast).is_err());
}

#[test]
fn zero_and_reals_prove_nothing() {
    for kind in WHOLE {
        assert_eq!(evidence(kind, 0), None);
    }
    assert_eq!(evidence(Kind::Real, 7), None);
    assert_eq!(evidence(Kind::Real, 7_f32.to_bits()), None);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_was_encoded_is_decoded(value in any::<i32>(), kind in 0..6_usize, encoding in 0..2_usize) {
        let (kind, encoding) = (WHOLE[kind], BOTH[encoding]);
        if let Ok(raw) = bits(kind, value.into(), encoding) {
            prop_assert_eq!(decode(kind, raw, encoding), Some(Number::Whole(value.into())));
        }
    }

    #[test]
    fn a_small_whole_number_proves_its_own_encoding(value in -16_777_216..=16_777_216_i64, kind in 0..6_usize) {
        prop_assume!(value != 0);
        for encoding in BOTH {
            if let Ok(raw) = bits(WHOLE[kind], value, encoding) {
                prop_assert_eq!(evidence(WHOLE[kind], raw), Some(encoding));
            }
        }
    }
}
