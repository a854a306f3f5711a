//! The kinds of quantity and what they are called. How they may be spelled in a text is in `spelling`.

use std::fmt;

/// A kind of quantity together with the base its numbers are in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Unit {
    /// Potential difference in volts.
    Volt,
    /// Current in amperes.
    Ampere,
    /// Resistance in ohms.
    Ohm,
    /// Power in watts.
    Watt,
    /// Capacitance in farads.
    Farad,
    /// Inductance in henries.
    Henry,
    /// Length in metres.
    Metre,
    /// Cross-section of a wire in mm²; also written as a gauge (`18 AWG`).
    SquareMillimetre,
    /// Temperature in °C.
    Celsius,
    /// Temperature above absolute zero, or a difference of two temperatures, in kelvins.
    Kelvin,
    /// A percentage; its number is the one written, so 20 % is 20.
    Percent,
    /// Working time in minutes.
    Minute,
    /// Time in seconds.
    Second,
    /// Frequency in hertz; also written in rpm.
    Hertz,
    /// Pressure in bar.
    Bar,
    /// A plain number of the shop's money.
    Currency,
    /// A plain number.
    One,
}

impl Unit {
    /// Every unit, in the order in which a text of the wrong kind is compared with them.
    pub const ALL: [Unit; 17] = [
        Unit::Volt,
        Unit::Ampere,
        Unit::Ohm,
        Unit::Watt,
        Unit::Metre,
        Unit::SquareMillimetre,
        Unit::Celsius,
        Unit::Kelvin,
        Unit::Percent,
        Unit::Minute,
        Unit::Second,
        Unit::Hertz,
        Unit::Bar,
        Unit::Farad,
        Unit::Henry,
        Unit::Currency,
        Unit::One,
    ];

    /// The symbol that is printed behind a number; empty for money and plain numbers.
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Volt => "V",
            Unit::Ampere => "A",
            Unit::Ohm => "Ω",
            Unit::Watt => "W",
            Unit::Farad => "F",
            Unit::Henry => "H",
            Unit::Metre => "m",
            Unit::SquareMillimetre => "mm²",
            Unit::Celsius => "°C",
            Unit::Kelvin => "K",
            Unit::Percent => "%",
            Unit::Minute => "min",
            Unit::Second => "s",
            Unit::Hertz => "Hz",
            Unit::Bar => "bar",
            Unit::Currency | Unit::One => "",
        }
    }

    /// What the quantity is, with its article: "a voltage".
    pub fn noun(self) -> &'static str {
        match self {
            Unit::Volt => "a voltage",
            Unit::Ampere => "a current",
            Unit::Ohm => "a resistance",
            Unit::Watt => "a power",
            Unit::Farad => "a capacitance",
            Unit::Henry => "an inductance",
            Unit::Metre => "a length",
            Unit::SquareMillimetre => "a wire cross-section",
            Unit::Celsius => "a temperature",
            Unit::Kelvin => "a temperature in kelvins",
            Unit::Percent => "a percentage",
            Unit::Minute => "a time in minutes",
            Unit::Second => "a time",
            Unit::Hertz => "a frequency",
            Unit::Bar => "a pressure",
            Unit::Currency => "an amount of money",
            Unit::One => "a plain number",
        }
    }

    /// A text that [`parse`](crate::parse) accepts for this unit, for error messages and help.
    pub fn example(self) -> &'static str {
        match self {
            Unit::Volt => "12.6 V",
            Unit::Ampere => "50 mA",
            Unit::Ohm => "4.7k",
            Unit::Watt => "5 W",
            Unit::Farad => "10 nF",
            Unit::Henry => "12 mH",
            Unit::Metre => "1.5 m",
            Unit::SquareMillimetre => "0.5 mm² or 18 AWG",
            Unit::Celsius => "80 °C",
            Unit::Kelvin => "3950 K",
            Unit::Percent => "20 %",
            Unit::Minute => "3 min",
            Unit::Second => "20 ms",
            Unit::Hertz => "120 Hz",
            Unit::Bar => "2.5 bar",
            Unit::Currency => "45.50",
            Unit::One => "0.85",
        }
    }

    /// Whether a value below zero makes sense in a description. A meter may still show one.
    pub(crate) fn may_be_negative(self) -> bool {
        matches!(
            self,
            Unit::Volt
                | Unit::Ampere
                | Unit::Watt
                | Unit::Celsius
                | Unit::Percent
                | Unit::Bar
                | Unit::Currency
                | Unit::One
        )
    }
}

impl fmt::Display for Unit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.symbol())
    }
}
