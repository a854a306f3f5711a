//! Why a suspect is one: what each reading says of it, and the assumption that it leans on most.
//!
//! Each assumption is relaxed in turn and everything weighed anew: a reading left out, a tolerance taken three times as
//! wide, the battery known a third as well, something said of the vehicle taken back, the fault coming and going, the cause
//! outside the circuit as likely as within, the fault happening a third as often. What changes the chance most is what it
//! leans on. How far each is relaxed: common practice, no source.

use bench::{Batch, BenchError, Hypothesis, Predict, Question, Reading, accuracy};
use circuit::{Circuit, Fault, FaultId, ParamId, PartId};

use crate::model::SAGS;
use crate::predictions::Predictions;
use crate::prior::OUTSIDE;
use crate::{Belief, Case, Deed, Intake, weigh};

/// How much wider a tolerance is taken, and rarer a fault.
const RELAXED: f64 = 3.0;
/// Chance before any reading that the cause is outside the circuit, relaxed.
const OUTSIDE_RELAXED: f64 = 0.5;
/// Most tolerances that are relaxed, those that move the readings most.
const MOST_TOLERANCES: usize = 4;
/// A tolerance that moves no reading by this share of the meter's own doubt is left alone.
const LEAST_MOVED: f64 = 0.2;

/// Why a suspect is one.
#[derive(Clone, Debug, PartialEq)]
pub struct Why {
    /// Its chance, look-alikes included.
    pub chance: f64,
    /// Its chance before any reading, look-alikes included.
    pub chance_before: f64,
    /// For each reading, in the order given: bits for (positive) or against it, compared with all others, and what it
    /// expects (value, standard deviation).
    pub readings: Vec<(f64, Option<(f64, f64)>)>,
    /// Its chance with each assumption relaxed; what changes it most comes first.
    pub leans_on: Vec<(Assumption, f64)>,
}

/// Something taken to be so.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Assumption {
    /// This reading is what it seems. Relaxed: left out.
    Reading(usize),
    /// The battery is about as charged as usual and steady. Relaxed: known a third as well.
    Battery,
    /// A value lies within its tolerance. Relaxed: three times as wide.
    Tolerance(ParamId),
    /// The cause is in this circuit. Relaxed: as likely as not.
    InCircuit,
    /// The fault stays, or comes and goes (`true`). Relaxed: the other.
    ComesAndGoes(bool),
    /// Water came in. Relaxed: it did not.
    Water,
    /// There was an accident. Relaxed: there was none.
    Accident,
    /// This part was replaced in vain. Relaxed: it was not.
    Replaced(PartId),
    /// This part was disturbed lately. Relaxed: it was not.
    Disturbed(PartId),
    /// An accessory was fitted here. Relaxed: there is none.
    Accessory(PartId),
    /// Such a fault happens as often as the table says. Relaxed: a third as often.
    Rate,
}

/// Why the faults of `group`, look-alikes with the likeliest first, are suspected. An empty group has no reasons.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn why(
    bench: &dyn Predict,
    circuit: &Circuit,
    faults: &[Fault],
    case: &Case<'_>,
    group: &[FaultId],
    predictions: &mut Predictions,
) -> Result<Why, BenchError> {
    let belief = weigh(bench, circuit, faults, case, predictions)?;
    let of_group = |belief: &Belief<'_>| group.iter().map(|fault| belief.chance(*fault)).sum::<f64>();
    let chance = of_group(&belief);
    let mut leans_on: Vec<(Assumption, f64)> = vec![
        (Assumption::InCircuit, with_more_outside(chance, belief.outside())),
        (
            Assumption::Rate,
            chance / (chance + RELAXED * (1.0 - chance)).max(f64::MIN_POSITIVE),
        ),
    ];
    for left_out in 0..case.readings.len() {
        let (readings, deeds) = without(case, left_out);
        let fewer = Case {
            readings: &readings,
            deeds: &deeds,
            ..*case
        };
        let belief = weigh(bench, circuit, faults, &fewer, predictions)?;
        leans_on.push((Assumption::Reading(left_out), of_group(&belief)));
    }
    for (assumption, intake) in otherwise(case.intake) {
        let other = Case {
            intake: &intake,
            ..*case
        };
        let belief = weigh(bench, circuit, faults, &other, predictions)?;
        leans_on.push((assumption, of_group(&belief)));
    }
    for param in tolerances(bench, circuit, &belief, case, group)? {
        let wider = Wider { bench, param };
        let mut own = predictions.with_wider(case.all_readings().map(|reading| &reading.test), param.0, RELAXED);
        let belief = weigh(&wider, circuit, faults, case, &mut own)?;
        let is_battery = circuit.params.get(param.idx()).is_some_and(|param| param.path == SAGS);
        let assumption = if is_battery {
            Assumption::Battery
        } else {
            Assumption::Tolerance(param)
        };
        leans_on.push((assumption, of_group(&belief)));
    }
    leans_on.sort_by(|a, b| (b.1 - chance).abs().total_cmp(&(a.1 - chance).abs()));
    let weighed = |fault: &FaultId| belief.weighed.get(fault.idx());
    let first = group.first().and_then(weighed);
    Ok(Why {
        chance,
        chance_before: group.iter().filter_map(weighed).map(|one| one.before).sum(),
        readings: first.map_or_else(Vec::new, |one| {
            let all = one.bits.iter().copied().zip(one.expects.iter().copied());
            all.take(case.readings.len()).collect()
        }),
        leans_on,
    })
}

/// A chance if a cause outside the circuit had been as likely as not before any reading.
fn with_more_outside(chance: f64, outside: f64) -> f64 {
    let (more, less) = (OUTSIDE_RELAXED / OUTSIDE, (1.0 - OUTSIDE_RELAXED) / (1.0 - OUTSIDE));
    let all = more * outside + less * (1.0 - outside);
    less * chance / all.max(f64::MIN_POSITIVE)
}

/// The readings and deeds of a case without one reading.
fn without(case: &Case<'_>, left_out: usize) -> (Vec<Reading>, Vec<Deed>) {
    let mut readings = case.readings.to_vec();
    readings.remove(left_out);
    let deeds = case.deeds.iter().map(|deed| Deed {
        after: deed.after - usize::from(deed.after > left_out),
        ..deed.clone()
    });
    (readings, deeds.collect())
}

/// What was said of the vehicle, each statement taken back.
pub(crate) fn otherwise(intake: &Intake) -> Vec<(Assumption, Intake)> {
    let comes = intake.comes_and_goes.unwrap_or(false);
    let mut all = vec![(
        Assumption::ComesAndGoes(comes),
        Intake {
            comes_and_goes: Some(!comes),
            ..intake.clone()
        },
    )];
    if intake.water {
        let dry = Intake {
            water: false,
            ..intake.clone()
        };
        all.push((Assumption::Water, dry));
    }
    if intake.accident {
        let none = Intake {
            accident: false,
            ..intake.clone()
        };
        all.push((Assumption::Accident, none));
    }
    for part in &intake.replaced {
        let mut other = intake.clone();
        other.replaced.retain(|known| known != part);
        all.push((Assumption::Replaced(*part), other));
    }
    for part in &intake.disturbed {
        let mut other = intake.clone();
        other.disturbed.retain(|known| known != part);
        all.push((Assumption::Disturbed(*part), other));
    }
    for part in &intake.accessories {
        let mut other = intake.clone();
        other.accessories.retain(|known| known != part);
        all.push((Assumption::Accessory(*part), other));
    }
    all
}

/// The uncertain values that move the readings most, in the sound circuit or under the suspect, by the meter's own doubt.
fn tolerances(
    bench: &dyn Predict,
    circuit: &Circuit,
    belief: &Belief<'_>,
    case: &Case<'_>,
    group: &[FaultId],
) -> Result<Vec<ParamId>, BenchError> {
    let alive = belief.alive(0.0);
    let suspect = alive.iter().find(|alive| group.first() == Some(&alive.fault));
    let mut hypotheses = vec![Hypothesis::default()];
    hypotheses.extend(suspect.map(|alive| alive.hypothesis.clone()));
    let mut moved = vec![0.0_f64; circuit.params.len()];
    for reading in case.readings {
        let batch = bench.predict(Question::of(&hypotheses, &reading.test))?;
        for prediction in &batch.predictions {
            let sd = accuracy(circuit, &reading.test.placement, prediction.value, None).sd;
            for (moved, by) in moved.iter_mut().zip(&prediction.by_param) {
                *moved = moved.max(by.abs() / sd);
            }
        }
    }
    let mut params: Vec<usize> = (0..moved.len()).filter(|at| moved[*at] >= LEAST_MOVED).collect();
    params.sort_by(|a, b| moved[*b].total_cmp(&moved[*a]));
    params.truncate(MOST_TOLERANCES);
    Ok(params.into_iter().map(ParamId::from).collect())
}

/// A bench whose circuit has one value with a wider tolerance.
struct Wider<'b> {
    bench: &'b dyn Predict,
    param: ParamId,
}

impl Predict for Wider<'_> {
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        let mut batch = self.bench.predict(question)?;
        for prediction in &mut batch.predictions {
            if let Some(by) = prediction.by_param.get_mut(self.param.idx()) {
                *by *= RELAXED;
            }
        }
        Ok(batch)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fake::{chain, shows, volts_at};

    fn of(readings: &[Reading], intake: &Intake, joint: u32) -> Why {
        let (circuit, mut faults, bench) = chain(4);
        for (k, fault) in faults.iter_mut().enumerate() {
            fault.parts = vec![PartId::from(k)];
        }
        let case = Case::new(intake, readings);
        why(
            &bench,
            &circuit,
            &faults,
            &case,
            &[FaultId(joint)],
            &mut Predictions::default(),
        )
        .unwrap()
    }

    fn then(why: &Why, assumption: Assumption) -> f64 {
        why.leans_on.iter().find(|one| one.0 == assumption).unwrap().1
    }

    /// The drop lies between points 2 and 3: the reading there is what names joint 2.
    #[test]
    fn a_suspect_leans_on_the_reading_that_names_it() {
        let readings = [
            shows(volts_at(4), 6.3),
            shows(volts_at(2), 12.55),
            shows(volts_at(3), 6.32),
        ];
        let why = of(&readings, &Intake::default(), 2);
        assert!(why.chance > 0.8, "{}", why.chance);
        // Without the reading after it the drop may be at joint 3 as well.
        let left_out = then(&why, Assumption::Reading(2));
        assert!((0.3..0.7).contains(&left_out), "{left_out}");
        // Without the one before it, at joints 0, 1 or 2.
        let before = then(&why, Assumption::Reading(1));
        assert!((0.25..0.45).contains(&before), "{before}");
        assert_eq!(why.leans_on[0].0, Assumption::Reading(1));
        assert!(why.readings.iter().all(|one| one.0 > 0.0), "{:?}", why.readings);
        assert!(then(&why, Assumption::InCircuit) < why.chance);
        let odds = |chance: f64| chance / (1.0 - chance);
        assert!((odds(why.chance) / odds(then(&why, Assumption::Rate)) - RELAXED).abs() < 1e-9);
    }

    /// 11.3 V at the load: four standard deviations low for the battery, or a joint of some 0.7 Ω.
    #[test]
    fn a_small_drop_leans_on_the_battery() {
        let why = of(&[shows(volts_at(4), 11.3)], &Intake::default(), 1);
        let battery = then(&why, Assumption::Battery);
        assert!(battery < why.chance, "{battery} of {}", why.chance);
    }

    #[test]
    fn what_was_said_of_the_vehicle_is_taken_back_in_turn() {
        let intake = Intake {
            disturbed: vec![PartId(1)],
            ..Intake::default()
        };
        let readings = [shows(volts_at(4), 6.3)];
        let why = of(&readings, &intake, 1);
        let then = then(&why, Assumption::Disturbed(PartId(1)));
        // Three times as likely as each of the other three, or as they are.
        assert!(then < 0.62 * why.chance, "{then} of {}", why.chance);
        let plain = of(&readings, &Intake::default(), 1);
        assert!((then - plain.chance).abs() < 1e-12);
    }
}
