//! Values in both encodings of the standard.

use super::golden::GOLDEN;
use super::kit::{hex, name};
use proptest::prelude::*;
use quadjig::board::mavlink::decode as whole;
use quadjig::board::mavlink::encoding::{decode, encode, evidence};
use quadjig::board::mavlink::param_type::{Encoding, ParamType};
use quadjig::board::value::Number;

const WHOLE: [ParamType; 6] =
    [ParamType::U8, ParamType::I8, ParamType::U16, ParamType::I16, ParamType::U32, ParamType::I32];
const BOTH: [Encoding; 2] = [Encoding::Bytewise, Encoding::Cast];

fn bits(kind: ParamType, value: i64, encoding: Encoding) -> Result<u32, String> {
    encode(&name("N"), kind, Number::Whole(value), encoding).map_err(|refusal| refusal.to_string())
}

#[test]
fn seven_is_as_in_the_reference_librarys_frames() {
    // PY: the golden PARAM_SET of POLE_PAIRS, bytewise and C cast; the value is the first field.
    for (golden, encoding) in [(4, Encoding::Bytewise), (5, Encoding::Cast)] {
        let golden = hex(GOLDEN[golden].1);
        let payload = whole(&golden).unwrap().payload;
        let raw = u32::from_le_bytes(payload[..4].try_into().unwrap());
        assert_eq!(bits(ParamType::I32, 7, encoding), Ok(raw));
        assert_eq!(decode(ParamType::I32, raw, encoding), Some(Number::Whole(7)));
        assert_eq!(evidence(ParamType::I32, raw), Some(encoding));
    }
}

#[test]
fn a_cast_is_exact_to_24_bits_and_more_is_refused() {
    // DG, services/parameter: 16777217 would become 16777216.
    assert_eq!(bits(ParamType::I32, 16_777_216, Encoding::Cast), Ok(16_777_216_f32.to_bits()));
    let refused = bits(ParamType::I32, 16_777_217, Encoding::Cast).unwrap_err();
    assert!(refused.contains("24 bits"), "{refused}");
    assert_eq!(bits(ParamType::I32, 16_777_217, Encoding::Bytewise), Ok(16_777_217));
    assert!(bits(ParamType::I32, i64::from(i32::MAX), Encoding::Cast).is_err());
    assert!(bits(ParamType::U32, i64::from(u32::MAX), Encoding::Cast).is_err());
}

#[test]
fn the_range_of_the_type_is_kept() {
    let ends = [
        (ParamType::U8, 0, 255),
        (ParamType::I8, -128, 127),
        (ParamType::U16, 0, 65_535),
        (ParamType::I16, -32_768, 32_767),
        (ParamType::U32, 0, 4_294_967_295),
        (ParamType::I32, -2_147_483_648, 2_147_483_647),
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
    assert_eq!(bits(ParamType::I8, -1, Encoding::Bytewise), Ok(0xFF));
    // Boards that widen first are understood too.
    assert_eq!(decode(ParamType::I8, 0xFFFF_FFFF, Encoding::Bytewise), Some(Number::Whole(-1)));
}

#[test]
fn reals_are_the_nearest_of_32_bits_and_finite() {
    let real = |value| encode(&name("R"), ParamType::Real, Number::Real(value), Encoding::Cast);
    assert_eq!(real(0.1), Ok(0.1_f32.to_bits()));
    assert!(real(f64::NAN).is_err());
    assert!(real(1e300).is_err());
    assert_eq!(decode(ParamType::Real, f32::NAN.to_bits(), Encoding::Cast), None);
    assert_eq!(decode(ParamType::Real, f32::INFINITY.to_bits(), Encoding::Bytewise), None);
    // A fraction is not cut off for a whole type.
    let cut = encode(&name("W"), ParamType::U8, Number::Real(7.5), Encoding::Cast).unwrap_err().to_string();
    assert!(cut.contains("not a whole number"), "{cut}");
    assert_eq!(encode(&name("W"), ParamType::U8, Number::Real(7.0), Encoding::Bytewise), Ok(7));
    assert!(encode(&name("R"), ParamType::Real, Number::Whole(16_777_217), Encoding::Cast).is_err());
}

#[test]
fn zero_and_reals_prove_nothing() {
    for kind in WHOLE {
        assert_eq!(evidence(kind, 0), None);
    }
    assert_eq!(evidence(ParamType::Real, 7), None);
    assert_eq!(evidence(ParamType::Real, 7_f32.to_bits()), None);
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
