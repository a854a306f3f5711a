//! What is assumed where a file says nothing. Each with its origin; the same table is in `docs/circuit-file.md`.

use quantity::Spread;

/// A default and the doubt about it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Default {
    /// Value in its base unit.
    pub(crate) value: f64,
    /// Tolerance, also where the file gives a value without one.
    pub(crate) spread: Spread,
}

const fn exact(value: f64) -> Default {
    Default {
        value,
        spread: Spread::Exact,
    }
}

const fn absolute(value: f64, half: f64) -> Default {
    Default {
        value,
        spread: Spread::Absolute(half),
    }
}

const fn relative(value: f64, part: f64) -> Default {
    Default {
        value,
        spread: Spread::Relative(part),
    }
}

/// What may pull a pin of which nothing is known: pull-up and pull-down in Ω, and the chance. Each value stands for those
/// within [`ROUND_FACTOR`]. Common practice, no source.
pub(crate) const PULLS: [(Option<f64>, Option<f64>, f64); 8] = [
    (Some(1e3), None, 0.10),
    (Some(4.7e3), None, 0.17),
    (Some(10e3), None, 0.18),
    (Some(47e3), None, 0.15),
    (Some(220e3), None, 0.05),
    (None, Some(10e3), 0.05),
    (None, Some(150e3), 0.15),
    (None, None, 0.15),
];
/// Two in three of the pulls that are said to be about a value lie within this relative deviation. From memory: most are
/// values of the E6 series with some percent, a step of which is a factor of 1.5.
pub(crate) const ROUND_FACTOR: f64 = 0.3;
/// Tolerance of an alternative that the file gives without one. Common practice, no source.
pub(crate) const ALTERNATIVE_SPREAD: Spread = Spread::Relative(0.2);
/// Chance that an input of which nothing is known has no clamp diodes. Common practice, no source.
pub(crate) const NO_CLAMPS: f64 = 0.1;
/// How a reference of which nothing is known stands to what it is taken to be, and the chance. Common practice, no source.
pub(crate) const REFERENCES: [(f64, f64); 3] = [(1.0, 0.9), (0.97, 0.05), (1.03, 0.05)];
/// Most combinations of the alternatives of a circuit: each is weighed with every fault.
pub(crate) const MOST_COMBINATIONS: usize = 64;

/// Battery, V: full and at rest, or half empty with loads on. Common practice, no source.
pub(crate) const BATTERY_VOLTS: Default = absolute(12.6, 0.9);
/// Behind the internal resistance while cranking, V: the starter itself is not in the circuit. Common practice, no source.
pub(crate) const CRANKING_VOLTS: Default = absolute(10.5, 0.8);
/// Internal resistance of a battery, Ω. From memory.
pub(crate) const BATTERY_OHMS: Default = exact(0.012);
/// What a battery on charge for some minutes opposes to more charge, Ω: at 1.6 V above its rest voltage it takes 5 A.
/// Common practice (a few amperes once the first minutes are over), no source.
pub(crate) const CHARGING_OHMS: Default = exact(0.3);
/// What a battery gives through, beyond its internal resistance: 1 V at 5000 A is 0.2 mΩ, far below that resistance.
pub(crate) const GIVING: (f64, f64) = (5000.0, 1.0);
/// Most current of an alternator, A. From memory of rating plates (60 to 140 A, less at idle).
pub(crate) const CHARGER_AMPS: f64 = 90.0;
/// Volts across an alternator's rectifier at its greatest current that its regulator does not make good. The regulator
/// senses behind the rectifier, so it is hardly any.
pub(crate) const RECTIFIER_VOLTS: f64 = 0.1;
/// Charging voltage, V. Common practice, no source.
pub(crate) const CHARGER_VOLTS: Default = absolute(14.2, 0.4);
/// Alternator with its cable, Ω. From memory.
pub(crate) const CHARGER_OHMS: Default = exact(0.010);
/// Contacts of an ignition switch or feed relay, Ω. From memory.
pub(crate) const FEED_OHMS: Default = exact(0.010);
/// A fuse's contacts in its holder, Ω. From memory.
pub(crate) const HOLDER_OHMS: f64 = 0.001;
/// Blade fuse, Ω times its rating in A: about 0.08 V at rated current. From memory of data sheets (10 A: 7 mΩ).
pub(crate) const FUSE_VOLTS: f64 = 0.075;
/// Relay coil, Ω. Common practice for 12 V, no source.
pub(crate) const COIL_OHMS: Default = relative(85.0, 0.15);
/// Relay contacts, Ω. From memory of data sheets.
pub(crate) const RELAY_CONTACT_OHMS: Default = exact(0.008);
/// A relay's pull-in voltage, V. From memory of data sheets.
pub(crate) const PULL_IN_VOLTS: f64 = 6.5;
/// A relay's drop-out voltage, V. From memory of data sheets.
pub(crate) const DROP_OUT_VOLTS: f64 = 2.0;
/// Most current of relay contacts, A. Common practice, no source.
pub(crate) const RELAY_AMPS: f64 = 30.0;
/// Stud to what it is bolted to, Ω. From memory.
pub(crate) const STUD_OHMS: f64 = 0.001;
/// Strap from body to the battery's negative post, Ω. From memory.
pub(crate) const STRAP_OHMS: f64 = 0.003;
/// Most current of a stud or strap, A. Common practice, no source.
pub(crate) const GROUND_AMPS: f64 = 100.0;
/// Mated contact, Ω. From memory of terminal makers' data (new 1–10 mΩ).
pub(crate) const CONTACT_OHMS: f64 = 0.005;
/// Crimp, Ω. From memory (below 1 mΩ for small wire).
pub(crate) const CRIMP_OHMS: f64 = 0.001;
/// Leg of a splice, Ω. From memory, as a crimp.
pub(crate) const SPLICE_OHMS: f64 = 0.001;
/// Length of a wire, m. Common practice, no source.
pub(crate) const WIRE_METRES: f64 = 1.5;
/// Longest wire, m: that of a lorry with its trailers, doubled. Common practice, no source.
pub(crate) const MOST_WIRE_METRES: f64 = 100.0;
/// Cross-section of a wire, mm². Common practice, no source.
pub(crate) const WIRE_AREA: f64 = 0.5;
/// Regulated rail and references, V. Common practice, no source.
pub(crate) const RAIL_VOLTS: Default = relative(5.0, 0.01);
/// How far a regulator stays below its supply, V. From memory of data sheets.
pub(crate) const DROPOUT_VOLTS: f64 = 0.5;
/// Output resistance of a reference, Ω. From memory.
pub(crate) const REFERENCE_OHMS: f64 = 0.5;
/// Current limit of a reference, A. From memory.
pub(crate) const REFERENCE_AMPS: f64 = 0.05;
/// Bleed inside a reference, Ω. From memory.
pub(crate) const BLEED_OHMS: f64 = 22e3;
/// The rail inside, Ω and A either way. From memory; it feeds no pin, so they hardly matter.
pub(crate) const RAIL_OHMS: f64 = 0.1;
/// See [`RAIL_OHMS`].
pub(crate) const RAIL_AMPS: f64 = 1.0;
/// What a module draws, A. Common practice, no source.
pub(crate) const MODULE_AMPS: Default = relative(0.15, 0.5);
/// What it draws asleep, A. Common practice, no source.
pub(crate) const ASLEEP_AMPS: f64 = 0.001;
/// Voltage from which it draws its full current, V. From memory.
pub(crate) const MODULE_KNEE_VOLTS: f64 = 4.0;
/// Module pin to its ground inside: power ground and sensor ground, Ω. From memory.
pub(crate) const INSIDE_GROUND_OHMS: f64 = 0.005;
/// See [`INSIDE_GROUND_OHMS`].
pub(crate) const SENSOR_GROUND_OHMS: f64 = 0.03;
/// A feed pin that only senses, Ω. From memory.
pub(crate) const SENSING_FEED_OHMS: f64 = 22e3;
/// Pull-up of unknown strength, Ω, and its standard deviation on a logarithmic scale (two of them: a factor of 25). From
/// memory: 1 kΩ for switches and thermistors to 1 MΩ for active sensors.
pub(crate) const PULL_UP: (f64, f64) = (47e3, 1.6);
/// Pull-down of unknown strength, as [`PULL_UP`].
pub(crate) const PULL_DOWN: (f64, f64) = (150e3, 1.0);
/// Resistor in front of a converter, Ω, and its standard deviation on a logarithmic scale. From memory.
pub(crate) const SERIES: (f64, f64) = (10e3, 0.7);
/// What the input of a converter leaks to ground or to the rail, Ω: half a microampere at 5 V. From memory of controllers'
/// data sheets (1 µA at most over temperature, typically less).
pub(crate) const INPUT_LEAK_OHMS: f64 = 1e7;
/// Clamp diode: saturation current A, thermal voltage V, series Ω. An ordinary silicon junction at 27 °C.
pub(crate) const CLAMP: (f64, f64, f64) = (1e-14, 0.02585, 1.0);
/// Likewise of the diode by which a driver lets a coil's current flow on: 0.75 V at 1 A. From memory of data sheets.
pub(crate) const FREEWHEEL: (f64, f64, f64) = (1e-12, 0.02585, 0.03);
/// Output transistor: on, Ω. From memory.
pub(crate) const DRIVER_OHMS: f64 = 0.3;
/// Output transistor: off, Ω. From memory (some µA of leakage).
pub(crate) const DRIVER_OFF_OHMS: f64 = 5e6;
/// Current at which a driver shuts off, A. From memory.
pub(crate) const DRIVER_AMPS: f64 = 2.0;
/// Open-load bias of unknown strength, as [`PULL_UP`].
pub(crate) const BIAS: (f64, f64) = (47e3, 1.0);
/// Most current of a signal input, A. Common practice, no source.
pub(crate) const INPUT_AMPS: f64 = 0.005;
/// Most current of a sensor ground, A. Common practice, no source.
pub(crate) const SENSOR_GROUND_AMPS: f64 = 0.2;
/// Most current of a feed or ground pin, A. Common practice, no source.
pub(crate) const POWER_PIN_AMPS: f64 = 10.0;
/// Share of its limit at which a reference counts as overloaded. Common practice, no source.
pub(crate) const REFERENCE_SHARE: f64 = 0.95;
/// A reference, and an input without clamps, bears this many times the nominal voltage (5 V: 6.5 V), where the part that
/// makes or reads it often ends. From memory of data sheets; many modules bear battery voltage there, but not all.
pub(crate) const OVER_VOLTAGE: f64 = 1.3;
/// Track of a potentiometer and an active sensor's output, A; a wiper the same. Common practice, no source.
pub(crate) const TRACK_AMPS: f64 = 0.02;
/// See [`TRACK_AMPS`].
pub(crate) const WIPER_AMPS: f64 = 0.005;
/// Rate of what repeats, where the file says one without tolerance. Common practice, no source.
pub(crate) const RATE: Default = relative(0.0, 0.05);
/// Spread of a sensed value as a part of its range, where the file does not say. Common practice, no source.
pub(crate) const SENSED_SPREAD: f64 = 0.03;
/// Minutes to reach a connector, to part it, to reach a fuse or relay, a stud, a post. Common practice, no source.
pub(crate) const CONNECTOR_MINUTES: f64 = 5.0;
/// See [`CONNECTOR_MINUTES`].
pub(crate) const PART_MINUTES: f64 = 1.0;
/// See [`CONNECTOR_MINUTES`].
pub(crate) const FUSE_MINUTES: f64 = 1.0;
/// See [`CONNECTOR_MINUTES`].
pub(crate) const STUD_MINUTES: f64 = 3.0;
/// See [`CONNECTOR_MINUTES`].
pub(crate) const POST_MINUTES: f64 = 0.5;
/// The part of the voltage from which on a transistor inside a device conducts, below which it lets go. From memory of the
/// thresholds of logic inputs with hysteresis.
pub(crate) const LETS_GO: f64 = 0.8;
/// Bits of a converter. Common practice, no source.
pub(crate) const CONVERTER_BITS: u16 = 10;
/// Range of a converter, V. Common practice, no source.
pub(crate) const CONVERTER_VOLTS: (f64, f64) = (0.0, 5.0);
/// How long a monitor waits, s. Common practice, no source.
pub(crate) const MONITOR_SECONDS: f64 = 2.0;
/// Minutes to open and repair a run of harness. Common practice, no source.
pub(crate) const BUNDLE_MINUTES: f64 = 30.0;

/// Most current of a wire in a harness, A, by its cross-section in mm². Points on the line are from memory of handbook
/// tables (0.5 mm²: 11 A, 1 mm²: 19 A, 2.5 mm²: 32 A, 6 mm²: 54 A, 16 mm²: 98 A); this passes within 15 % of them.
pub(crate) fn wire_amps(area: f64) -> f64 {
    18.0 * area.powf(0.62)
}

/// Most current of a contact, A, by the cross-section of the wire in it: terminals are made for their wire. Common
/// practice, no source.
pub(crate) fn contact_amps(area: f64) -> f64 {
    match area {
        area if area <= 1.0 => 10.0,
        area if area <= 2.5 => 25.0,
        area if area <= 6.0 => 40.0,
        _ => 100.0,
    }
}
/// Straight through an accessory, Ω. From memory: two short leads.
pub(crate) const PASS_THROUGH_OHMS: f64 = 0.01;
