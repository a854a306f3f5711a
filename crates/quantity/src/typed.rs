//! Volts, amperes, ohms and watts that only Ohm's law may mix.
//!
//! Always finite. A product or quotient that would not be is `None`: a volt over no ohms has no current.

use crate::Unit;
use std::fmt;
use std::ops::{Div, Mul, Neg};

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $unit:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
        pub struct $name(f64);

        impl $name {
            /// The quantity, or `None` if `value` is infinite or not a number.
            pub fn new(value: f64) -> Option<Self> {
                value.is_finite().then_some(Self(value))
            }

            /// The number, in the unit of the type's name.
            pub fn get(self) -> f64 {
                self.0
            }

            /// The size without the sign.
            #[must_use]
            pub fn abs(self) -> Self {
                Self(self.0.abs())
            }
        }

        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&crate::format(self.0, $unit))
            }
        }
    };
}

quantity!(
    /// A potential difference.
    Volts, Unit::Volt
);
quantity!(
    /// A current.
    Amperes, Unit::Ampere
);
quantity!(
    /// A resistance. May be negative: an ohmmeter on a live circuit can show that.
    Ohms, Unit::Ohm
);
quantity!(
    /// A power.
    Watts, Unit::Watt
);

macro_rules! law {
    ($left:ident $trait:ident::$method:ident $right:ident = $output:ident, $op:tt) => {
        impl $trait<$right> for $left {
            type Output = Option<$output>;
            fn $method(self, right: $right) -> Option<$output> {
                $output::new(self.0 $op right.0)
            }
        }
    };
}

law!(Volts Div::div Ohms = Amperes, /);
law!(Volts Div::div Amperes = Ohms, /);
law!(Amperes Mul::mul Ohms = Volts, *);
law!(Ohms Mul::mul Amperes = Volts, *);
law!(Volts Mul::mul Amperes = Watts, *);
law!(Amperes Mul::mul Volts = Watts, *);
law!(Watts Div::div Volts = Amperes, /);
law!(Watts Div::div Amperes = Volts, /);
