//! Enums that list themselves and say the word of each: a variant that is added stands in both.
//!
//! Must not be here: what any of them is for.

macro_rules! words {
    ($(#[$of:meta])* $vis:vis enum $name:ident, $word:ident {
        $($(#[$about:meta])* $variant:ident = $text:literal),* $(,)?
    }) => {
        $crate::measure::words::words! { $(#[$of])* $vis enum $name { $($(#[$about])* $variant),* } }

        impl $name {
            /// As people read and write it.
            #[must_use]
            pub const fn $word(self) -> &'static str {
                match self {
                    $(Self::$variant => $text,)*
                }
            }
        }
    };
    ($(#[$of:meta])* $vis:vis enum $name:ident { $($(#[$about:meta])* $variant:ident),* $(,)? }) => {
        $(#[$of])*
        $vis enum $name {
            $($(#[$about])* $variant,)*
        }

        impl $name {
            /// All of them, in the order in which they stand.
            pub const ALL: [Self; [$(stringify!($variant)),*].len()] = [$(Self::$variant),*];
        }
    };
}

pub(crate) use words;
