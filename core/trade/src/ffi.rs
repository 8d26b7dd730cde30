//! The units for UniFFI: each goes over as a signed whole number, which Kotlin, Swift and Python all count with, and is
//! checked on its way in. What they mean stands in their documentation.

use crate::units::{Grams, Level, Micrometres, Millis, Percent, Ratio, Volumes};

/// A unit that its own conversions carry to and from a whole number.
macro_rules! whole {
    ($(#[$doc:meta] $unit:ident: $kept:ty;)*) => { $(
        uniffi::custom_type!(
            #[$doc]
            $unit, i64, {
                lower: |unit| i64::try_from(<$kept>::from(unit)).unwrap_or(i64::MAX),
                try_lift: |number| Ok($unit::try_from(<$kept>::try_from(number)?)?),
            }
        );
    )* };
}

whole! {
    /// A weight in milligrams.
    Grams: u64;
    /// A level of depth, in tenths.
    Level: u16;
    /// A length in micrometres.
    Micrometres: u32;
    /// A share in ten-thousandths of one per cent.
    Percent: u32;
    /// A developer's strength in thousandths of one volume.
    Volumes: u32;
}

uniffi::custom_type!(
    /// A length of time in milliseconds.
    Millis, i64, { lower: |millis| millis.get(), try_lift: |ms| Ok(Millis::new(ms)) }
);

uniffi::custom_type!(
    /// Product to developer as it is shown, "1:1.5".
    Ratio, String
);
