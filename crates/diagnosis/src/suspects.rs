//! Every possible cause weighed by the readings.
use bench::{BenchError, Hypothesis, Predict, Reading, Test};
use circuit::{Circuit, Fault, FaultId};

use crate::{Findings, Intake, Predictions};

/// All causes weighed, each over its severities, after the readings.
pub struct Belief<'a> {
    faults: &'a [Fault],
}

/// A cause still possible, at one of its plausible severities.
#[derive(Clone, Debug)]
pub struct Alive<'a> {
    /// The fault.
    pub fault: FaultId,
    /// Its severity here, in its unit (0 where it has none).
    pub severity: f64,
    /// Chance of the fault, all severities together.
    pub chance: f64,
    /// Share of this severity in that chance; the shares of a fault sum to 1.
    pub share: f64,
    /// As the bench wants it.
    pub hypothesis: Hypothesis<'a>,
}

/// Weighs all causes.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn weigh<'a>(
    bench: &dyn Predict,
    circuit: &'a Circuit,
    faults: &'a [Fault],
    intake: &Intake,
    readings: &[Reading],
    predictions: &mut Predictions,
) -> Result<Belief<'a>, BenchError> {
    let _ = (bench, circuit, intake, readings, predictions);
    Ok(Belief { faults })
}

impl<'a> Belief<'a> {
    /// Chance of a fault, 0 to 1.
    pub fn chance(&self, fault: FaultId) -> f64 {
        let _ = (self.faults, fault);
        todo!("being written")
    }

    /// Chance that the cause is not in this circuit.
    pub fn outside(&self) -> f64 {
        todo!("being written")
    }

    /// The faults with a chance of at least `least`, most likely first, each at the severities still plausible (least,
    /// middle, most): one entry a severity.
    pub fn alive(&self, least: f64) -> Vec<Alive<'a>> {
        let _ = least;
        todo!("being written")
    }

    /// Uncertainty left over causes that need different repairs, bits.
    pub fn bits_left(&self) -> f64 {
        todo!("being written")
    }

    /// Suspects with look-alikes folded, readings judged, and the conclusion. `offer`: the tests that could still be
    /// done; without them look-alikes are judged by the readings alone and "cannot tell" is never concluded.
    ///
    /// # Errors
    /// Those of [`Predict::predict`].
    pub fn findings(
        &self,
        bench: &dyn Predict,
        predictions: &mut Predictions,
        offer: Option<&[Test]>,
    ) -> Result<Findings, BenchError> {
        let _ = (bench, predictions, offer);
        todo!("being written")
    }
}
