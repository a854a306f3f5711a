//! The built-in table of common codes: which item, which one of several, and what is said of it.
//!
//! Rows are in our own words; each carries its source and how often it was seen (`data/codes.csv`).

use std::sync::LazyLock;

use super::TroubleCode;
use crate::rows::rows;

const CODES: &str = include_str!("../../data/codes.csv");
const ITEMS: &str = include_str!("../../data/items.csv");

/// Declares an enum whose members are written in the tables as given.
macro_rules! named {
    ($(#[$doc:meta])* $name:ident { $($member:ident = $text:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        #[expect(missing_docs, reason = "the names say it")]
        pub enum $name { $($member),+ }

        impl $name {
            /// As the tables and JSON write it.
            pub const fn word(self) -> &'static str {
                match self { $(Self::$member => $text),+ }
            }

            fn from_word(word: &str) -> Option<Self> {
                match word { $($text => Some(Self::$member),)+ _ => None }
            }
        }
    };
}

named! {
    /// What a code says of its item. `Low` and `High` are the voltage at the module's pin, never the sensed quantity.
    Says {
        Circuit = "circuit", Range = "range", Low = "low", High = "high", Intermittent = "intermittent", Open = "open",
        Shorted = "shorted", NoActivity = "no activity", Slow = "slow", Heater = "heater", Correlation = "correlation",
        StuckLean = "stuck lean", StuckRich = "stuck rich", SignalOnHeater = "signal shorted to heater",
        NoMessages = "lost communication", BadMessages = "invalid data", BusOff = "bus off",
        InsideModule = "module fault", SlowToWarm = "slow to warm", Found = "found",
    }
}

named! {
    /// The kind of circuit that an item usually is: common practice, no source; the vehicle's own diagram decides.
    CircuitKind {
        Thermistor = "thermistor", Resistor = "resistor", FedSensor = "fed sensor", Pulses = "pulses", Knock = "knock",
        Oxygen = "oxygen", WideBand = "wide band", Driver = "driver", Motor = "motor", Supply = "supply",
        SensedVoltage = "sensed voltage", Switch = "switch", Bus = "bus", Module = "module",
        InsideModule = "inside module", Judged = "judged",
    }
}

/// A row of the table. Texts that do not apply are `None`.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// The code.
    pub code: TroubleCode,
    /// The sensor, load or module.
    pub item: String,
    /// Which of several: `A`, `2`, `cylinder 3`, `A/B`.
    pub instance: Option<String>,
    /// Bank of the engine.
    pub bank: Option<u8>,
    /// Place of an exhaust sensor, 1 the nearest to the engine.
    pub sensor: Option<u8>,
    /// What is said of the item.
    pub says: Says,
    /// The kind of circuit that the item usually is.
    pub circuit: CircuitKind,
    /// Where the row comes from.
    pub source: String,
    /// How often it was seen there.
    pub status: String,
}

impl Entry {
    /// The item with its instance, bank and place: `exhaust oxygen sensor, bank 1 sensor 2`.
    pub fn name(&self) -> String {
        let mut name = self.item.clone();
        if let Some(instance) = &self.instance {
            name = format!("{name} {instance}");
        }
        match (self.bank, self.sensor) {
            (Some(bank), Some(sensor)) => format!("{name}, bank {bank} sensor {sensor}"),
            (Some(bank), None) => format!("{name}, bank {bank}"),
            (None, _) => name,
        }
    }
}

static TABLE: LazyLock<Vec<Entry>> = LazyLock::new(|| {
    let circuits: Vec<(String, CircuitKind)> = rows(ITEMS)
        .filter_map(|row| Some((row.get(0)?.to_owned(), CircuitKind::from_word(row.get(1)?)?)))
        .collect();
    rows(CODES).filter_map(|row| entry(&row, &circuits)).collect()
});

/// A test holds that this is `Some` for every row.
fn entry(row: &csv::StringRecord, circuits: &[(String, CircuitKind)]) -> Option<Entry> {
    let text = |idx: usize| row.get(idx).filter(|text| !text.is_empty()).map(str::to_owned);
    let number = |idx: usize| text(idx).map(|text| text.parse::<u8>().ok());
    let item = text(1)?;
    Some(Entry {
        code: super::read(row.get(0)?).ok()?.code,
        circuit: circuits.iter().find(|(name, _)| *name == item)?.1,
        item,
        instance: text(2),
        bank: number(3).map_or(Some(None), |bank| bank.map(Some))?,
        sensor: number(4).map_or(Some(None), |sensor| sensor.map(Some))?,
        says: Says::from_word(row.get(5)?)?,
        source: text(6)?,
        status: text(7)?,
    })
}

/// All rows, in the order of the codes.
pub fn all() -> &'static [Entry] {
    &TABLE
}

/// What the table says of a code.
pub fn find(code: TroubleCode) -> Option<&'static Entry> {
    let at = TABLE.binary_search_by_key(&code, |entry| entry.code).ok()?;
    TABLE.get(at)
}
