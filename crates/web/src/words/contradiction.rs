//! Two values of scan data that cannot both be right.

use circuit::Circuit;
use diagnosis::Contradiction;

/// Two values of scan data that contradict each other.
pub fn contradiction(circuit: &Circuit, one: &Contradiction) -> String {
    let sensed = &circuit.sensed[one.sensed.idx()];
    let place = |at: usize| {
        let name = &circuit.channels[one.channels[at].idx()].words;
        match one.puts_it[at] {
            Some(value) => format!("{name} puts {} at about {value:.0} {}", sensed.words, sensed.unit),
            None => format!("{name} fits no {} of a sound circuit", sensed.words),
        }
    };
    format!("{}, {}: at most one of them can be right", place(0), place(1)).replace(" ,", ",")
}
