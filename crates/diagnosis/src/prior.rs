//! How likely each cause is before a reading is taken.
//!
//! The circuit's own weight of a fault, raised or lowered by what is known of the vehicle, scaled to sum to 1 with a
//! share for a cause outside this circuit. There is no share for "nothing is wrong": somebody complained.

use std::cmp::Ordering;
use std::collections::BTreeSet;

use circuit::{Circuit, Fault, Owner, PartId, PartKind};

use crate::why::otherwise;
use crate::{Assumption, Intake};

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

    /// An accessory was fitted or tapped in here: clamps that cut strands, taps that corrode, leads that chafe, plugs that were
    /// pulled.
    pub(super) fn accessory(mode: Mode) -> f64 {
        match mode {
            Mode::SeriesResistance | Mode::Open | Mode::BadTerminal => 4.0,
            Mode::Leak | Mode::LeakToBody => 3.0,
            Mode::Drag | Mode::BlownFuse => 2.0,
            _ => 1.0,
        }
    }

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
    let said = Said::new(circuit, intake);
    let mut weights: Vec<f64> = faults.iter().map(|fault| weight(fault, &said)).collect();
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

fn weight(fault: &Fault, said: &Said<'_>) -> f64 {
    let weight = if fault.weight.is_finite() {
        fault.weight.max(0.0)
    } else {
        0.0
    };
    said.of(fault).iter().fold(weight, |weight, (_, times)| weight * times)
}

/// What was said of a vehicle, with the places it is about.
struct Said<'i> {
    intake: &'i Intake,
    replaced: BTreeSet<PartId>,
    /// Connectors that a replaced part plugs into, and the part.
    plugs: Vec<(BTreeSet<PartId>, PartId)>,
    /// Accessories with the connectors that they plug into.
    fitted: Vec<(BTreeSet<PartId>, PartId)>,
}

impl<'i> Said<'i> {
    fn new(circuit: &Circuit, intake: &'i Intake) -> Self {
        let replaced: BTreeSet<PartId> = (0..circuit.parts.len())
            .map(PartId::from)
            .filter(|id| circuit.parts[id.idx()].is_new)
            .chain(intake.replaced.iter().copied())
            .collect();
        let plugs = |part: &PartId| (plugs_of(circuit, &BTreeSet::from([*part])), *part);
        let fitted = intake.accessories.iter().map(|part| {
            let (mut places, part) = plugs(part);
            places.insert(part);
            (places, part)
        });
        Self {
            intake,
            plugs: replaced.iter().map(plugs).collect(),
            fitted: fitted.collect(),
            replaced,
        }
    }

    /// What of it makes a fault more or less likely, and how many times.
    fn of(&self, fault: &Fault) -> Vec<(Assumption, f64)> {
        let touches = |places: &BTreeSet<PartId>| fault.parts.iter().any(|part| places.contains(part));
        let at_plug = || self.plugs.iter().find(|(plugs, _)| touches(plugs));
        let mut said = Vec::new();
        if let Some(part) = fault.parts.first().filter(|part| self.replaced.contains(part)) {
            said.push((Assumption::Replaced(*part), factor::REPLACED));
        } else if let Some((_, part)) = at_plug() {
            said.push((Assumption::Replaced(*part), factor::PLUG_OF_REPLACED));
        }
        if let Some(part) = fault.parts.iter().find(|part| self.intake.disturbed.contains(part)) {
            said.push((Assumption::Disturbed(*part), factor::DISTURBED));
        }
        if let Some((_, part)) = self.fitted.iter().find(|(places, _)| touches(places)) {
            said.push((Assumption::Accessory(*part), factor::accessory(fault.mode)));
        }
        if self.intake.water {
            said.push((Assumption::Water, factor::water(fault.mode)));
        }
        if self.intake.accident {
            said.push((Assumption::Accident, factor::accident(fault.mode)));
        }
        said.retain(|(_, times)| *times != 1.0);
        said
    }
}

/// What was said of the vehicle that makes a fault more or less likely before any reading, and how many times.
pub fn said_of(circuit: &Circuit, intake: &Intake, fault: &Fault) -> Vec<(Assumption, f64)> {
    Said::new(circuit, intake).of(fault)
}

/// What one thing that was said does before any reading.
#[derive(Clone, Debug, PartialEq)]
pub struct Start {
    /// What was said.
    pub said: Assumption,
    /// Of the faults that it makes likelier, and of those that it makes less likely: chance of all together with it, and
    /// without it.
    pub raised: Share,
    /// See `raised`.
    pub lowered: Share,
}

/// Chance of some faults together.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    /// As all that was said has it.
    pub now: f64,
    /// Without this one thing.
    pub otherwise: f64,
}

/// Where suspicion starts: what each thing that was said of the vehicle does, all others being said as well.
pub fn starts(circuit: &Circuit, faults: &[Fault], intake: &Intake) -> Vec<Start> {
    let (said, now) = (Said::new(circuit, intake), chances(circuit, faults, intake));
    let all = otherwise(intake).into_iter();
    let told = all.filter(|(assumption, _)| !matches!(assumption, Assumption::ComesAndGoes(_)));
    let start = |(assumption, other): (Assumption, Intake)| {
        let (mut raised, mut lowered) = (Share::default(), Share::default());
        let (other_said, before) = (Said::new(circuit, &other), chances(circuit, faults, &other));
        for (idx, fault) in faults.iter().enumerate() {
            let (with, without) = (weight(fault, &said), weight(fault, &other_said));
            let share = match with.total_cmp(&without) {
                Ordering::Greater => &mut raised,
                Ordering::Less => &mut lowered,
                Ordering::Equal => continue,
            };
            share.now += now[idx];
            share.otherwise += before[idx];
        }
        Start {
            said: assumption,
            raised,
            lowered,
        }
    };
    told.map(start).collect()
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

    #[test]
    fn where_an_accessory_sits_taps_are_suspected_and_what_is_inside_is_not() {
        let mut faults = [fault("a", 1.0), fault("b", 1.0), fault("c", 1.0)];
        (faults[0].mode, faults[0].parts) = (Mode::SeriesResistance, vec![PartId(2)]);
        (faults[1].mode, faults[1].parts) = (Mode::Drift, vec![PartId(2)]);
        (faults[2].mode, faults[2].parts) = (Mode::SeriesResistance, vec![PartId(3)]);
        let intake = Intake {
            accessories: vec![PartId(2)],
            ..Intake::default()
        };
        let chances = chances(&circuit(), &faults, &intake);
        assert!((chances[0] / chances[2] - 4.0).abs() < 1e-12);
        assert!((chances[1] / chances[2] - 1.0).abs() < 1e-12);
        let said = [Assumption::Accessory(PartId(2))];
        assert_eq!(said_of(&circuit(), &intake, &faults[0]), said.map(|said| (said, 4.0)));
        assert_eq!(said_of(&circuit(), &intake, &faults[1]), []);
    }

    /// By hand: of four equal weights one rises to 3 by the work there: 3 / 6 instead of 1 / 4 of what is in the circuit; the
    /// replaced one falls to 0.1, of 5.1 with the work and of 3.1 without.
    #[test]
    fn what_each_thing_said_does_is_told_with_all_others_said() {
        let mut faults = ["a", "b", "c", "d"].map(|name| fault(name, 1.0));
        for (at, fault) in (1..).zip(&mut faults) {
            (fault.mode, fault.parts) = (Mode::Drift, vec![PartId(at)]);
        }
        let disturbed = Intake {
            disturbed: vec![PartId(2)],
            comes_and_goes: Some(true),
            ..Intake::default()
        };
        let told = starts(&circuit(), &faults, &disturbed);
        let near = |share: Share, now: f64, otherwise: f64| {
            let inside = 1.0 - OUTSIDE;
            assert!((share.now - inside * now).abs() < 1e-12, "{share:?}");
            assert!((share.otherwise - inside * otherwise).abs() < 1e-12, "{share:?}");
        };
        assert_eq!(told.len(), 1);
        assert_eq!(told[0].said, Assumption::Disturbed(PartId(2)));
        near(told[0].raised, 3.0 / 6.0, 1.0 / 4.0);
        assert_eq!(told[0].lowered, Share::default());

        let both = Intake {
            replaced: vec![PartId(3)],
            ..disturbed
        };
        let told = starts(&circuit(), &faults, &both);
        assert_eq!(told[0].said, Assumption::Replaced(PartId(3)));
        near(told[0].lowered, 0.1 / 5.1, 1.0 / 6.0);
        near(told[1].raised, 3.0 / 5.1, 1.0 / 3.1);
        // What moves nothing says so.
        let water = Intake {
            water: true,
            ..Intake::default()
        };
        assert_eq!(starts(&circuit(), &faults, &water)[0].raised, Share::default());
    }
}
