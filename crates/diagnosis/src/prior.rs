//! How likely each cause is before a reading is taken.
//!
//! The circuit's own weight of a fault, raised or lowered by what is known of the vehicle, scaled to sum to 1 with a
//! share for a cause outside this circuit. There is no share for "nothing is wrong": somebody complained.

use std::collections::BTreeSet;

use circuit::{Circuit, Fault, Owner, PartId, PartKind};

use crate::Intake;

/// Chance before any reading that the cause is not in this circuit: the wrong circuit was looked at, the file leaves
/// something out, or two things are wrong at once. Common practice, no source.
pub(crate) const OUTSIDE: f64 = 0.08;

/// Of that, a connection between points of the circuit that its file does not know. Common practice, no source.
pub(crate) const UNLISTED: f64 = 0.03;

/// What the intake does to a weight. Factors are common practice, no source.
mod factor {
    use circuit::Mode;

    /// A new part rarely fails in the same way again; it is sometimes the wrong part or bad from the box.
    pub(super) const REPLACED: f64 = 0.1;
    /// The connector of a replaced part was pulled and pushed.
    pub(super) const PLUG_OF_REPLACED: f64 = 1.5;
    /// Somebody worked there lately.
    pub(super) const DISTURBED: f64 = 3.0;

    /// Water came in.
    pub(super) fn water(mode: Mode) -> f64 {
        match mode {
            Mode::Water => 6.0,
            Mode::Leak | Mode::LeakToBody => 2.0,
            Mode::SeriesResistance => 1.5,
            _ => 1.0,
        }
    }

    /// There was an accident.
    pub(super) fn accident(mode: Mode) -> f64 {
        match mode {
            Mode::LeakToBody | Mode::Open => 3.0,
            Mode::Leak | Mode::BadTerminal => 2.0,
            _ => 1.0,
        }
    }
}

/// The chance of each fault before any reading, in the order of `faults`. They sum to `1 −` [`OUTSIDE`], or to 0 if there
/// are none. A weight that is negative or no number counts as 0; if none is above 0 all count alike.
pub(crate) fn chances(circuit: &Circuit, faults: &[Fault], intake: &Intake) -> Vec<f64> {
    let replaced: BTreeSet<PartId> = (0..circuit.parts.len())
        .map(PartId::from)
        .filter(|id| circuit.parts[id.idx()].is_new)
        .chain(intake.replaced.iter().copied())
        .collect();
    let plugs = plugs_of(circuit, &replaced);
    let mut weights: Vec<f64> = faults
        .iter()
        .map(|fault| weight(fault, intake, &replaced, &plugs))
        .collect();
    let mut sum: f64 = weights.iter().sum();
    if sum <= 0.0 {
        weights.fill(1.0);
        sum = weights.len() as f64;
    }
    for weight in &mut weights {
        *weight *= (1.0 - OUTSIDE) / sum;
    }
    weights
}

fn weight(fault: &Fault, intake: &Intake, replaced: &BTreeSet<PartId>, plugs: &BTreeSet<PartId>) -> f64 {
    let mut weight = if fault.weight.is_finite() {
        fault.weight.max(0.0)
    } else {
        0.0
    };
    if fault.parts.first().is_some_and(|part| replaced.contains(part)) {
        weight *= factor::REPLACED;
    } else if fault.parts.iter().any(|part| plugs.contains(part)) {
        weight *= factor::PLUG_OF_REPLACED;
    }
    if fault.parts.iter().any(|part| intake.disturbed.contains(part)) {
        weight *= factor::DISTURBED;
    }
    if intake.water {
        weight *= factor::water(fault.mode);
    }
    if intake.accident {
        weight *= factor::accident(fault.mode);
    }
    weight
}

/// The connectors that a replaced device, accessory or module plugs into.
pub(crate) fn plugs_of(circuit: &Circuit, replaced: &BTreeSet<PartId>) -> BTreeSet<PartId> {
    let is_replaced = |owner: Owner| {
        circuit.parts.iter().enumerate().any(|(idx, part)| {
            let owned = match (part.kind, owner) {
                (PartKind::Device(device), Owner::Device(of)) => device == of,
                (PartKind::Module(module), Owner::Module(of)) => module == of,
                _ => false,
            };
            owned && replaced.contains(&PartId::from(idx))
        })
    };
    circuit
        .connectors
        .iter()
        .filter(|connector| connector.halves.iter().any(|half| is_replaced(half.owner)))
        .map(|connector| connector.part)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use circuit::Mode;

    use crate::fake::{circuit, fault};

    #[test]
    fn chances_and_the_share_outside_sum_to_one() {
        let faults = [fault("a", 3.0), fault("b", 1.0), fault("c", f64::NAN), fault("d", -1.0)];
        let chances = chances(&circuit(), &faults, &Intake::default());
        assert!((chances.iter().sum::<f64>() + OUTSIDE - 1.0).abs() < 1e-12);
        assert!((chances[0] / chances[1] - 3.0).abs() < 1e-12);
        assert_eq!(chances[2..], [0.0, 0.0]);
    }

    #[test]
    fn a_part_replaced_in_vain_is_suspected_a_tenth_as_much() {
        let mut faults = [fault("a", 1.0), fault("b", 1.0)];
        faults[0].parts = vec![PartId(7)];
        let intake = Intake {
            replaced: vec![PartId(7)],
            ..Intake::default()
        };
        let chances = chances(&circuit(), &faults, &intake);
        assert!((chances[0] / chances[1] - 0.1).abs() < 1e-12);
    }

    #[test]
    fn water_raises_water_and_a_disturbed_part_rises() {
        let mut faults = [fault("a", 1.0), fault("b", 1.0), fault("c", 1.0)];
        faults[0].mode = Mode::Water;
        faults[1].parts = vec![PartId(2), PartId(3)];
        faults[2].mode = Mode::Drift;
        faults[1].mode = Mode::Drift;
        let intake = Intake {
            disturbed: vec![PartId(3)],
            water: true,
            ..Intake::default()
        };
        let chances = chances(&circuit(), &faults, &intake);
        assert!((chances[0] / chances[2] - 6.0).abs() < 1e-12);
        assert!((chances[1] / chances[2] - 3.0).abs() < 1e-12);
    }
}
