//! What a shop's own solved jobs say of how often things fail.
//!
//! Faults are counted by kind of part and mode. A class seen oftener than the built-in rates expected is raised, one seen
//! less often lowered, shrunk towards the built-in rates: its factor λ is Gamma distributed with mean 1 before any job, the
//! faults seen are Poisson with mean λ · expected, so that afterwards λ = (strength + seen) / (strength + expected) (Gamma
//! and Poisson with exposure: Gelman et al., Bayesian Data Analysis, 3rd ed., section 2.6, from memory). The factor of a
//! group of vehicles is shrunk in the same way towards that of all other jobs. The strengths are common practice, no source.

use std::collections::BTreeMap;

use circuit::{Circuit, Fault, FaultId, Mode, PartKind};

use crate::{Belief, Intake, prior};

/// Faults that the built-in rates count for, by class; and those of all other jobs beside the jobs of a group.
const STRENGTH: f64 = 2.0;
const GROUP_STRENGTH: f64 = 4.0;

/// What fails, and how.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Class {
    /// Kind of part: `wire`, `connector`; of a device its kind in the circuit file.
    pub part: String,
    /// How: `leak`, `series resistance`.
    pub mode: String,
}

/// How often a class was the cause in solved jobs.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Tally {
    /// Jobs in which it was; a job whose repair cured one of several counts by their chances.
    pub seen: f64,
    /// Jobs in which the built-in rates expected it.
    pub expected: f64,
}

/// What the solved jobs of a shop add up to.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Experience {
    /// By group of vehicles and class.
    pub tallies: BTreeMap<(String, Class), Tally>,
}

/// What experience makes of a fault's rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Learnt {
    /// Its rate is multiplied by this.
    pub times: f64,
    /// Jobs in which its class was the cause.
    pub seen: f64,
}

/// The class of a fault.
pub fn class_of(circuit: &Circuit, fault: &Fault) -> Class {
    let kind = fault.parts.first().and_then(|part| circuit.parts.get(part.idx()));
    let part = match kind.map(|part| part.kind) {
        Some(PartKind::Battery) => "battery",
        Some(PartKind::Charger) => "charger",
        Some(PartKind::Connector(_)) => "connector",
        Some(PartKind::Wire(_)) => "wire",
        Some(PartKind::Splice(_)) => "splice",
        Some(PartKind::Module(_)) => "module",
        Some(PartKind::Device(id)) => circuit.devices.get(id.idx()).map_or("device", |device| &device.kind),
        Some(PartKind::Fuse(_)) => "fuse",
        Some(PartKind::Relay(_)) => "relay",
        Some(PartKind::Feed(_)) => "feed",
        Some(PartKind::Ground(_)) => "ground",
        None => "harness",
    };
    Class {
        part: part.to_owned(),
        mode: mode_word(fault.mode).to_owned(),
    }
}

/// The name of a mode, as kept in files.
fn mode_word(mode: Mode) -> &'static str {
    match mode {
        Mode::SeriesResistance => "series resistance",
        Mode::Open => "open",
        Mode::BadTerminal => "bad terminal",
        Mode::Leak => "leak",
        Mode::LeakToBody => "leak to body",
        Mode::Water => "water",
        Mode::Drift => "drift",
        Mode::ShortedInside => "shorted inside",
        Mode::Drag => "drag",
        Mode::ModuleInside => "module inside",
        Mode::Stuck => "stuck",
        Mode::BlownFuse => "blown fuse",
        Mode::WeakSupply => "weak supply",
    }
}

/// The group of a circuit's vehicle: what the file calls the vehicle, numbers left out. Empty where it says nothing.
pub fn group_of(circuit: &Circuit) -> String {
    let words = circuit.vehicle.split(|letter: char| !letter.is_alphanumeric());
    let plain = words.filter(|word| !word.is_empty() && !word.contains(|letter: char| letter.is_ascii_digit()));
    plain.map(str::to_lowercase).collect::<Vec<_>>().join(" ")
}

impl Experience {
    /// Counts a job whose repair is proved. `faults` have the built-in rates; `belief` is that after the proof.
    pub fn count(&mut self, circuit: &Circuit, faults: &[Fault], intake: &Intake, belief: &Belief<'_>) {
        let group = group_of(circuit);
        let mended = belief.mended();
        if mended <= 0.0 {
            return;
        }
        let expected = prior::chances(circuit, faults, intake);
        let all: f64 = expected.iter().sum();
        for (at, fault) in faults.iter().enumerate() {
            let tally = self
                .tallies
                .entry((group.clone(), class_of(circuit, fault)))
                .or_default();
            let id = FaultId::from(at);
            tally.seen += (belief.chance(id) - belief.still_there(id)) / mended;
            tally.expected += expected[at] / all.max(f64::MIN_POSITIVE);
        }
    }

    /// What is learnt of a class for vehicles of a group.
    pub fn of(&self, group: &str, class: &Class) -> Learnt {
        let (mut here, mut elsewhere) = <(Tally, Tally)>::default();
        for ((of, known), tally) in &self.tallies {
            if known == class {
                let sum = if of == group { &mut here } else { &mut elsewhere };
                sum.seen += tally.seen;
                sum.expected += tally.expected;
            }
        }
        let all_others = (STRENGTH + elsewhere.seen) / (STRENGTH + elsewhere.expected);
        // Gamma with mean `all_others` and the group's strength in faults.
        let times = (GROUP_STRENGTH + here.seen) / (GROUP_STRENGTH / all_others + here.expected);
        Learnt {
            times,
            seen: here.seen + elsewhere.seen,
        }
    }

    /// The faults with rates as experience has them.
    pub fn applied(&self, circuit: &Circuit, faults: &[Fault]) -> Vec<Fault> {
        let group = group_of(circuit);
        let learnt = |fault: &Fault| self.of(&group, &class_of(circuit, fault)).times;
        let one = |fault: &Fault| Fault {
            weight: fault.weight * learnt(fault),
            ..fault.clone()
        };
        faults.iter().map(one).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fake::{chain, shows, volts_at};
    use crate::{Case, Deed, Done, Predictions, weigh};

    fn class(part: &str) -> Class {
        Class {
            part: part.into(),
            mode: "leak".into(),
        }
    }

    fn seen(tallies: &[(&str, &str, f64, f64)]) -> Experience {
        let of = |&(group, part, seen, expected): &(&str, &str, f64, f64)| {
            ((group.to_owned(), class(part)), Tally { seen, expected })
        };
        Experience {
            tallies: tallies.iter().map(of).collect(),
        }
    }

    #[test]
    fn nothing_seen_leaves_the_built_in_rates() {
        let learnt = Experience::default().of("van", &class("wire"));
        assert_eq!((learnt.times, learnt.seen), (1.0, 0.0));
    }

    /// By hand: elsewhere (2 + 3) / (2 + 0.5) = 2; here nothing: (4 + 0) / (4 / 2 + 0) = 2. Seen here instead:
    /// (4 + 3) / (4 / 1 + 0.5) = 1.56.
    #[test]
    fn what_was_seen_is_shrunk_towards_the_built_in_rates() {
        let elsewhere = seen(&[("lorry", "wire", 3.0, 0.5)]);
        assert!((elsewhere.of("van", &class("wire")).times - 2.0).abs() < 1e-12);
        let here = seen(&[("van", "wire", 3.0, 0.5)]);
        assert!((here.of("van", &class("wire")).times - 7.0 / 4.5).abs() < 1e-12);
        // With many jobs the built-in rates no longer matter.
        let many = seen(&[("van", "wire", 3000.0, 500.0)]);
        assert!((many.of("van", &class("wire")).times - 6.0).abs() < 0.05);
        // As often as expected changes nothing.
        let as_expected = seen(&[("van", "wire", 5.0, 5.0)]);
        assert!((as_expected.of("van", &class("wire")).times - 1.0).abs() < 1e-12);
    }

    #[test]
    fn a_proved_repair_raises_its_class_and_lowers_the_others() {
        let (circuit, mut faults, bench) = chain(4);
        faults[3].mode = Mode::Leak;
        let readings = [
            shows(volts_at(4), 6.3),
            shows(volts_at(3), 12.55),
            shows(volts_at(4), 12.52),
            shows(volts_at(3), 12.55),
        ];
        let deeds = [Deed {
            after: 2,
            what: Done::Repaired("joint 3".into()),
        }];
        let intake = Intake::default();
        let case = Case {
            deeds: &deeds,
            ..Case::new(&intake, &readings)
        };
        let belief = weigh(&bench, &circuit, &faults, &case, &mut Predictions::default()).unwrap();
        let mut experience = Experience::default();
        experience.count(&circuit, &faults, &intake, &belief);
        let of = |fault: &Fault| experience.of(&group_of(&circuit), &class_of(&circuit, fault));
        let (leak, series) = (of(&faults[3]), of(&faults[0]));
        assert!(leak.seen > 0.95, "{}", leak.seen);
        // One seen where a quarter was expected, and none where three quarters were.
        assert!((leak.times - 5.0 / 4.25).abs() < 0.02, "{}", leak.times);
        assert!((series.times - 4.0 / 4.75).abs() < 0.02, "{}", series.times);
        let applied = experience.applied(&circuit, &faults);
        assert!((applied[3].weight / faults[3].weight - leak.times).abs() < 1e-12);
    }

    #[test]
    fn a_group_is_what_the_vehicle_is_called_without_its_numbers() {
        let (mut circuit, ..) = chain(0);
        circuit.vehicle = "Van 31, a delivery van".into();
        assert_eq!(group_of(&circuit), "van a delivery van");
        circuit.vehicle = String::new();
        assert_eq!(group_of(&circuit), "");
    }
}
