//! PIDs that are bits, not numbers: which PIDs a module knows, and which of its checks have run.
//!
//! Source: SAE J1979 / ISO 15031-5, service 01, PIDs 00, 20, 40 … and 01 (41 has the same layout for this drive), from public
//! tables; 41 was seen once.

/// PIDs that a module knows, from the four bytes of PID 00, 20, 40 …: the top bit of the first byte is the next PID.
pub fn supported(base: u8, bytes: [u8; 4]) -> Vec<u8> {
    let bits = u32::from_be_bytes(bytes);
    (1..=32_u8)
        .filter(|offset| bits >> (32 - offset) & 1 == 1)
        .filter_map(|offset| base.checked_add(offset))
        .collect()
}

/// A check that the module runs by itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Monitor {
    /// What it checks.
    pub name: &'static str,
    /// It has run to its end since codes were cleared (PID 01) or in this drive (PID 41): a code that it would have set and has
    /// not says something.
    pub complete: bool,
}

/// What PID 01 or 41 says.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Monitors {
    /// The warning lamp is commanded on. Always off in PID 41.
    pub lamp: bool,
    /// Codes stored. Always 0 in PID 41.
    pub n_codes: u8,
    /// A diesel's list of checks, else that of a spark-ignition engine.
    pub compression: bool,
    /// The checks that this vehicle has, those that run all the time first.
    pub monitors: Vec<Monitor>,
}

const CONTINUOUS: [&str; 3] = ["misfire", "fuel system", "components"];
const SPARK: [&str; 8] = [
    "catalyst",
    "heated catalyst",
    "evaporative system",
    "secondary air",
    "A/C refrigerant",
    "oxygen sensor",
    "oxygen sensor heater",
    "EGR or valve timing",
];
const COMPRESSION: [&str; 8] = [
    "hydrocarbon catalyst",
    "NOx or SCR catalyst",
    "reserved",
    "boost pressure",
    "reserved",
    "exhaust gas sensor",
    "particulate filter",
    "EGR or valve timing",
];

/// What the four bytes of PID 01 or 41 say.
pub fn monitors(bytes: [u8; 4]) -> Monitors {
    let [a, b, fitted, incomplete] = bytes;
    let bit = |byte: u8, at: usize| byte >> at & 1 == 1;
    let compression = bit(b, 3);
    let list = if compression { COMPRESSION } else { SPARK };
    let continuous = CONTINUOUS
        .into_iter()
        .enumerate()
        .map(|(at, name)| (name, bit(b, at), bit(b, at + 4)));
    let others = list
        .into_iter()
        .enumerate()
        .map(|(at, name)| (name, bit(fitted, at), bit(incomplete, at)));
    let monitors = continuous
        .chain(others)
        .filter(|(_, fitted, _)| *fitted)
        .map(|(name, _, incomplete)| Monitor {
            name,
            complete: !incomplete,
        })
        .collect();
    Monitors {
        lamp: bit(a, 7),
        n_codes: a & 0x7F,
        compression,
        monitors,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn open(bytes: [u8; 4]) -> Vec<&'static str> {
        monitors(bytes)
            .monitors
            .iter()
            .filter(|one| !one.complete)
            .map(|one| one.name)
            .collect()
    }

    /// The first bytes are a published example of PID 00; the rest follow from the layout by hand.
    #[test]
    fn supported_pids_are_the_bits_from_the_top() {
        let first = [
            0x01, 0x03, 0x04, 0x05, 0x06, 0x07, 0x0C, 0x0D, 0x0E, 0x0F, 0x10, 0x11, 0x13, 0x15, 0x1C, 0x1F, 0x20,
        ];
        assert_eq!(supported(0x00, [0xBE, 0x1F, 0xA8, 0x13]), first);
        assert_eq!(supported(0x20, [0x80, 0, 0, 1]), [0x21, 0x40]);
        assert_eq!(supported(0xE0, [0xFF; 4]).len(), 31);
    }

    /// `00 07 6D 6D` is the published pattern after codes were cleared; the others follow from the layout by hand.
    #[test]
    fn checks_that_have_not_run_are_told() {
        let cleared = open([0x00, 0x07, 0x6D, 0x6D]);
        assert_eq!(
            cleared,
            [
                "catalyst",
                "evaporative system",
                "secondary air",
                "oxygen sensor",
                "oxygen sensor heater"
            ]
        );
        let lamp = monitors([0x82, 0x07, 0x65, 0x00]);
        assert_eq!(
            (lamp.lamp, lamp.n_codes, lamp.compression, lamp.monitors.len()),
            (true, 2, false, 7)
        );
        assert_eq!(open([0x00, 0x07, 0xE5, 0x04]), ["evaporative system"]);
        assert_eq!(
            open([0x00, 0x0F, 0xEB, 0xC0]),
            ["particulate filter", "EGR or valve timing"]
        );
        assert_eq!(open([0x00, 0x73, 0, 0]), ["misfire", "fuel system"]);
    }
}
