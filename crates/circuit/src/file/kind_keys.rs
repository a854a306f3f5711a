//! Every key of a kind of device, with its meaning: in a circuit file, or in a file of kinds.

use super::decode::{ByName, record};
use super::formula::Formula;
use super::value::{Pair, Text};

record! {
    /// A file of device kinds.
    KindFile {
        /// Device kinds.
        #[schemars(default)]
        kind: ByName<KindKeys>,
    }
}

record! {
    /// A kind of device: pins, inner points, values and network elements.
    KindKeys [at] {
        /// What it is, in a sentence.
        about: Option<Text>,
        /// Its pins.
        pins: Vec<Text>,
        /// Points inside.
        inner: Option<Vec<Text>>,
        /// Values with defaults, which a device of this kind may change.
        #[schemars(default)]
        value: ByName<KindValueKeys>,
        /// Names for formulas.
        #[schemars(default)]
        local: ByName<Formula>,
        /// The elements.
        #[schemars(default)]
        element: ByName<ElementKeys>,
    }
}

record! {
    /// A value of a device kind.
    KindValueKeys [at] {
        /// In plain words.
        name: Option<Text>,
        /// Its unit: Ω, V, A, W, H, K, °C, %, bar, s; left out for a plain number.
        unit: Option<Text>,
        /// What it is when a device does not say: a quantity with tolerance or a formula. Left out: a device must say.
        default: Option<Formula>,
    }
}

record! {
    /// A network element of a device kind. Values are quantities or formulas over the kind's values, its `local` names,
    /// `sensed` (what the device senses) and `least`, `most`, `usual` of that.
    ElementKeys [at] {
        /// resistor, switch, source, diode, clamp, output, sink or lamp.
        is: Text,
        /// Pins or inner points in the order of the type: resistor, switch, lamp: either way; source: plus, minus;
        /// diode, clamp: anode, cathode; output: supply, ground, output; sink: from, to.
        between: Vec<Text>,
        /// What it is in the device: track, wiper, sensing resistor, sensor output, fixed resistor, coil, motor, lamp,
        /// switch contact or other.
        role: Option<Text>,
        /// In plain words. Left out: its own name.
        name: Option<Text>,
        /// resistor, source, output: resistance. switch: when closed.
        ohms: Option<Formula>,
        /// resistor: inductance in series with it.
        inductance: Option<Formula>,
        /// source: voltage.
        volts: Option<Formula>,
        /// sink: current.
        amps: Option<Formula>,
        /// lamp: power at its rated voltage.
        watts: Option<Formula>,
        /// output: volts at no supply.
        offset: Option<Formula>,
        /// output: part of the supply.
        gain: Option<Formula>,
        /// output: volts it stays below its supply.
        dropout: Option<Formula>,
        /// output: most current it sources.
        source_limit: Option<Formula>,
        /// output: most current it sinks.
        sink_limit: Option<Formula>,
        /// sink: voltage from which it draws its full current.
        knee: Option<Formula>,
        /// clamp: voltage at which it conducts backwards.
        breakdown: Option<Formula>,
        /// diode, clamp: resistance in series.
        series: Option<Formula>,
        /// diode: saturation current.
        saturation: Option<Formula>,
        /// lamp: rated voltage.
        rated_volts: Option<Formula>,
        /// lamp: how many times its cold resistance the hot one is.
        hot_to_cold: Option<Formula>,
        /// switch: when it is closed; source, sink: when it is there. E.g. `sensed at least 2.5`, `commanded`,
        /// `in on` (a phase of what repeats in the device), `key on`.
        when: Option<Text>,
        /// switch: two points whose voltage it needs beside `when`, as a transistor does: `["feed", "ground"]`.
        driven_by: Option<Pair<Text, Text>>,
        /// switch: from how many volts between them on it closes.
        above: Option<Formula>,
        /// Most current it bears.
        rating: Option<Formula>,
    }
}
