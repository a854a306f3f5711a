//! What tools and parts bear.
//!
//! Ratings of branches and pins come with the circuit; what the tools bear is common practice, no source, unless a line
//! says otherwise.

use bench::Placement;
use circuit::{BranchKind, Circuit, Placed};

/// Most current in a clip-lead jumper of thin wire, not fused, amperes.
pub const JUMPER_AMPS: f64 = 10.0;
/// Fuse of an ammeter's high range, amperes.
pub const AMMETER_AMPS: f64 = 10.0;
/// Most current in a test light's bulb: a 3 W filament for 12 V takes 0.25 A, and burns out near twice its voltage,
/// where it takes about 2^0.55 times that (a filament's current goes with the 0.55th power of its voltage).
pub const TEST_LIGHT_AMPS: f64 = 0.36;
/// Most power in the small carbon-film resistor that stands in for a sensor, watts.
pub const RESISTOR_WATTS: f64 = 0.25;
/// A bulb bears this many times its rated power for the length of a test (1.6 at 16 V, the most a charging system gives).
pub const BULB_SHARE: f64 = 1.7;
/// A limited source may be driven backwards by no more than this share above its limit.
pub const SOURCE_SHARE: f64 = 1.02;
/// A reference or sensor output that gives this share of its current limit has been dragged down.
pub const OUTPUT_SHARE: f64 = 0.95;
/// A tool counts as the cause of an overload if it adds at least this share of the rating, and of what flows anyway.
pub const ADDED_SHARE: f64 = 0.05;
/// A device acts (turns, opens, heats) from this share of its normal current.
pub const ACTS_SHARE: f64 = 0.3;
/// … and from this current, amperes, where nothing in the circuit ever energises it.
pub const ACTS_AMPS: f64 = 0.05;

/// From this voltage an ohmmeter, a beeper or a diode test may come to harm, volts: more than such meters put out
/// themselves, so that the circuit drives the meter. Below, only the figure is spoilt. Common practice, no source.
pub const OHMS_HARM_VOLTS: f64 = 3.0;
/// What such a meter loads the circuit with, ohms. Common practice, no source.
pub const OHMS_INPUT_OHMS: f64 = 10e3;

/// What something clipped in by the set-up is called.
pub(crate) fn placed_name(placed: &Placed) -> &'static str {
    match placed {
        Placed::Jumper { .. } => "jumper",
        Placed::OverlayWire { .. } => "overlay wire",
        Placed::Resistor { .. } => "resistor",
        Placed::Bulb { .. } => "bulb",
        Placed::Source { .. } => "source",
    }
}

/// Whether heat in the tool itself ends it, so that its watts say something; in a wire or a meter it is the current.
pub(crate) fn placed_heats(placed: &Placed) -> bool {
    matches!(
        placed,
        Placed::Resistor { .. } | Placed::Bulb { .. } | Placed::Source { .. }
    )
}

/// Most amperes in something clipped in by the set-up.
pub(crate) fn placed_amps(placed: &Placed) -> f64 {
    match *placed {
        Placed::Jumper { fuse_amps, .. } => fuse_amps.unwrap_or(JUMPER_AMPS),
        Placed::OverlayWire { .. } => JUMPER_AMPS,
        // P = I² R.
        Placed::Resistor { ohms, .. } => (RESISTOR_WATTS / ohms.max(1e-3)).sqrt(),
        // A filament's power goes with the 1.55th power of its voltage and its current with the 0.55th.
        Placed::Bulb { watts, .. } => watts / 12.0 * BULB_SHARE.powf(0.55 / 1.55),
        Placed::Source { limit_amps, .. } => limit_amps * SOURCE_SHARE,
    }
}

/// Most amperes in the instrument, where it takes part in the circuit.
pub(crate) fn tool_amps(placement: &Placement) -> f64 {
    match placement {
        Placement::Ammeter { .. } => AMMETER_AMPS,
        Placement::TestLight { .. } => TEST_LIGHT_AMPS,
        _ => f64::INFINITY,
    }
}

/// Most amperes in each branch: its rating, and for a reference or sensor output a share of its limit if that is less.
pub(crate) fn branch_amps(circuit: &Circuit) -> Vec<f64> {
    let of = |branch: &circuit::Branch| {
        let rated = branch.rating_amps.unwrap_or(f64::INFINITY);
        match branch.kind {
            BranchKind::Output { source_limit_amps, .. } => rated.min(OUTPUT_SHARE * source_limit_amps),
            _ => rated,
        }
    };
    circuit.branches.iter().map(of).collect()
}
