//! A vehicle drawn at random, and what it answers.
//!
//! Drawn as the diagnosis takes vehicles to be: the fault by its chance before any reading, its severity evenly over its
//! scale, the insides that nobody documented by their chances, every uncertain value from its tolerance, a battery that
//! sags through the job, a meter with a gain of its own, readings now and then plain wrong. What it shows is solved for its own values, not to first order around the file's.

use bench::{Batch, BenchError, Hypothesis, Kind, Predict, Question, Reading, Shown, Test};
use circuit::{Fault, FaultId};
use diagnosis::assumed;
use rand::RngExt as _;

use crate::chance::{Luck, pick};
use crate::differs::Differs;
use crate::meter;
use crate::yard::Yard;

/// A battery that is charged in full rests this many standard deviations above its usual voltage, and never higher: 13.2 V
/// for 12.6 V ± 0.9 V. Common practice, no source.
const FULL: f64 = 1.33;

/// A vehicle with its fault.
#[derive(Clone)]
pub struct Vehicle<'y> {
    pub(crate) yard: &'y Yard,
    /// What is wrong, and how bad (0 where it has no severity); `None`: something outside the circuit, or unknown to the
    /// list of possible faults.
    pub fault: Option<(FaultId, f64)>,
    /// By unknown of the circuit: which alternative it has.
    pub insides: Vec<usize>,
    /// What else is not as the file says, with its severity.
    unknown: Option<(Fault, f64)>,
    /// The uncertain values, in standard deviations.
    pub theta: Vec<f64>,
    /// Chance that something outside the circuit disturbs a test.
    pub disturbed: f64,
    pub(crate) luck: Luck,
    /// What works out the readings of it.
    physics: &'y dyn Predict,
    /// Position of the battery's voltage among the parameters.
    battery: Option<usize>,
}

impl<'y> Vehicle<'y> {
    /// Draws the vehicle of a job.
    pub fn draw(yard: &'y Yard, seed: u64, job: u64, differs: Option<Differs>) -> Self {
        let luck = Luck { seed, job };
        let circuit = &yard.circuit;
        let mut rng = luck.of("fault");
        // A vehicle that differs from its file has a fault beside that: what differs is no complaint by itself.
        let outside = differs.is_none().then_some(yard.outside);
        let all = yard.before.iter().copied().chain(outside);
        let drawn = pick(&mut rng, all).filter(|&at| at < yard.faults.len());
        let fault = match differs {
            Some(Differs::Unlisted) => None,
            _ => drawn.map(|at| (FaultId::from(at), severity(&yard.faults[at], rng.random()))),
        };
        let disturbed = match (fault, differs) {
            (None, None) => {
                let shares = assumed::DISTURBED.iter().map(|share| share.1);
                pick(&mut rng, shares).map_or(0.0, |at| assumed::DISTURBED[at].0)
            }
            _ => 0.0,
        };
        let insides = circuit.unknowns.iter().map(|unknown| {
            let chances = unknown.alternatives.iter().map(|one| one.chance);
            pick(&mut luck.of(&unknown.path), chances).unwrap_or_default()
        });
        let insides = insides.collect();
        let mut theta: Vec<f64> = circuit.params.iter().map(|param| luck.normal(&param.path)).collect();
        let unknown =
            differs.and_then(|differs| differs.changes(circuit, &yard.faults, &mut theta, &mut luck.of("differs")));
        Self {
            yard,
            fault,
            insides,
            unknown,
            theta,
            disturbed,
            luck,
            physics: &yard.bench,
            battery: circuit.params.iter().position(|param| param.path == assumed::SAGS),
        }
    }

    /// The same vehicle, its readings worked out by something else than the circuit's bench, such as an independent
    /// simulator. Its meter, its mishaps and the judging of harm stay as they are.
    #[must_use]
    pub fn answered_by(self, physics: &'y dyn Predict) -> Self {
        Self { physics, ..self }
    }

    /// What is wrong with it and what is inside its modules, all together.
    pub fn broken(&self) -> Hypothesis<'_> {
        let insides = self.yard.circuit.unknowns.iter().zip(&self.insides);
        let insides = insides.filter_map(|(unknown, &at)| Some((&unknown.alternatives.get(at)?.changes, 0.0)));
        let fault = self.fault.map(|(id, severity)| (&self.yard.faults[id.idx()], severity));
        let unknown = self.unknown.as_ref().map(|(fault, severity)| (fault, *severity));
        Hypothesis {
            faults: insides.chain(fault).chain(unknown).collect(),
        }
    }

    /// Its uncertain values when the reading at this position of the job is taken.
    pub(crate) fn theta_at(&self, position: usize) -> Vec<f64> {
        let mut theta = self.theta.clone();
        if let Some(rest) = self.battery.and_then(|at| theta.get_mut(at)) {
            let (kept, step) = assumed::wanders();
            let wandered = (1..=position).fold(0.0, |so_far, at| {
                kept * so_far + step * self.luck.normal(&format!("wander {at}"))
            });
            *rest = assumed::SAG_SHARED.sqrt() * *rest
                + (1.0 - assumed::SAG_SHARED).sqrt() * self.luck.normal(&format!("sag {position}"))
                + assumed::drifted(position as f64) * self.luck.normal("drift")
                + wandered;
            *rest = rest.min(FULL);
        }
        theta
    }

    /// Does a test: the reading at this position of the job.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub fn answer(&self, test: &Test, position: usize) -> Result<Reading, BenchError> {
        let circuit = &*self.yard.circuit;
        let broken = self.broken();
        let theta = self.theta_at(position);
        let question = Question {
            theta: &theta,
            ..Question::of(std::slice::from_ref(&broken), test)
        };
        let prediction = self.physics.predict(question)?.predictions.into_iter().next();
        let placement = &test.placement;
        let purpose = format!("{}; {}", placement.to_text(circuit), test.set_up.to_text(circuit));
        let mut rng = self.luck.of(&purpose);
        let wrong = rng.random::<f64>() < assumed::wrong(circuit, placement);
        let disturbed = rng.random::<f64>() < self.disturbed;
        let shown = match prediction {
            _ if wrong => meter::mishap(circuit, placement, &mut rng, assumed::if_wrong),
            _ if disturbed => meter::mishap(circuit, placement, &mut rng, assumed::if_disturbed),
            None => Shown::NotTaken,
            Some(prediction) if prediction.kind == Kind::Live => {
                meter::mishap(circuit, placement, &mut rng, assumed::if_disturbed)
            }
            Some(prediction) => {
                let gain = self.luck.normal(meter::gain_of(placement));
                meter::shown(circuit, placement, &prediction, gain, &mut rng)
            }
        };
        Ok(Reading {
            test: test.clone(),
            shown,
        })
    }

    /// The bench with this vehicle's values in place of the file's, as they are at this position of the job.
    pub(crate) fn bench_at(&self, position: usize) -> AsBuilt<'y> {
        AsBuilt {
            yard: self.yard,
            theta: self.theta_at(position),
        }
    }
}

/// A bench that answers for one vehicle's values.
pub(crate) struct AsBuilt<'y> {
    yard: &'y Yard,
    theta: Vec<f64>,
}

impl Predict for AsBuilt<'_> {
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        self.yard.bench.predict(Question {
            theta: &self.theta,
            ..question
        })
    }
}

/// The severity at this part of its scale, 0 to 1.
fn severity(fault: &Fault, part: f64) -> f64 {
    fault.severity.map_or(0.0, |range| {
        if range.logarithmic && range.low > 0.0 {
            range.low * (range.high / range.low).powf(part)
        } else {
            range.low + (range.high - range.low) * part
        }
    })
}
