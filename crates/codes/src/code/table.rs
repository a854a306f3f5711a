//! The built-in table of common codes: which item, which one of several, and what is said of it.
//!
//! Rows are in our own words; each carries its source and how often it was seen (`data/codes.csv`).

use std::sync::LazyLock;

use super::TroubleCode;
use crate::rows::rows;

const CODES: &str = include_str!("../../data/codes.csv");
const ITEMS: &str = include_str!("../../data/items.csv");
const COMMON: &str = include_str!("../../data/common.csv");

/// Declares an enum whose members are written in the tables as given.
macro_rules! named {
    ($(#[$doc:meta])* $name:ident { $($member:ident = $text:literal),+ $(,)? }) => {
        $(#[$doc])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        #[expect(missing_docs, reason = "the names say it")]
        pub enum $name { $($member),+ }

        impl $name {
            /// All of them, in the order of this list.
            pub const ALL: &[Self] = &[$(Self::$member),+];

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

named! {
    /// What the circuits of several items may hang on together.
    Common {
        Reference = "reference", SensorGround = "sensor ground", SensorFeed = "sensor feed", Feed = "feed",
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
    /// Instances that some code compares with it are outputs of the same part.
    pub together: bool,
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
    let items: Vec<Item> = rows(ITEMS).filter_map(|row| item(&row)).collect();
    rows(CODES).filter_map(|row| entry(&row, &items)).collect()
});

/// A row of the items: its name, the kind of circuit that it usually is, and whether its instances are outputs of one part.
struct Item {
    name: String,
    circuit: CircuitKind,
    together: bool,
}

fn item(row: &csv::StringRecord) -> Option<Item> {
    Some(Item {
        name: row.get(0)?.to_owned(),
        circuit: CircuitKind::from_word(row.get(1)?)?,
        together: row.get(2)? == "yes",
    })
}

/// A test holds that this is `Some` for every row.
fn entry(row: &csv::StringRecord, items: &[Item]) -> Option<Entry> {
    let text = |idx: usize| row.get(idx).filter(|text| !text.is_empty()).map(str::to_owned);
    let number = |idx: usize| text(idx).map(|text| text.parse::<u8>().ok());
    let name = text(1)?;
    let item = items.iter().find(|item| item.name == name)?;
    Some(Entry {
        code: super::read(row.get(0)?).ok()?.code,
        circuit: item.circuit,
        together: item.together,
        item: name,
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

static COMMONS: LazyLock<Vec<(CircuitKind, Says, Common)>> =
    LazyLock::new(|| rows(COMMON).filter_map(|row| common(&row)).collect());

/// A test holds that this is `Some` for every row.
fn common(row: &csv::StringRecord) -> Option<(CircuitKind, Says, Common)> {
    Some((
        CircuitKind::from_word(row.get(0)?)?,
        Says::from_word(row.get(1)?)?,
        Common::from_word(row.get(2)?)?,
    ))
}

impl Entry {
    /// Whether what it says may come of something that other circuits hang on as well.
    pub fn may_come_of(&self, common: Common) -> bool {
        COMMONS.contains(&(self.circuit, self.says, common))
    }

    /// The outputs of the part that it is of, by the codes that compare them: `A`, `B` and `C`, for there are codes of `A/B`
    /// and `B/C`. Of an item whose instances are parts of their own, its instance alone.
    pub fn body(&self) -> Vec<&'static str> {
        let own = |entry: &'static Entry| entry.instance.as_deref().into_iter().flat_map(|one| one.split('/'));
        let Some(this) = find(self.code) else { return Vec::new() };
        let mut body: Vec<&str> = own(this).collect();
        let compare = all()
            .iter()
            .filter(|one| self.together && one.item == self.item && one.says == Says::Correlation);
        let pairs: Vec<Vec<&str>> = compare.map(|one| own(one).collect()).collect();
        while let Some(pair) = pairs.iter().find(|pair| {
            let known = pair.iter().filter(|one| body.contains(one)).count();
            known > 0 && known < pair.len()
        }) {
            body.extend(
                pair.iter()
                    .copied()
                    .filter(|one| !body.contains(one))
                    .collect::<Vec<_>>(),
            );
        }
        body.sort_unstable();
        body
    }
}

/// What the table says of a code.
pub fn find(code: TroubleCode) -> Option<&'static Entry> {
    let at = TABLE.binary_search_by_key(&code, |entry| entry.code).ok()?;
    TABLE.get(at)
}
