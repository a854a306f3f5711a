//! What the bench is asked and what it answers: the waist between circuits and reasoning.

use circuit::{BranchId, Fault, PointId, SetUp};

use crate::test::{Placement, Test};

/// Up to a few faults at once, each with a severity (ignored where the fault has none). Empty: the healthy circuit.
#[derive(Clone, Debug, Default)]
pub struct Hypothesis<'a> {
    /// The faults and their severities, in each fault's own unit.
    pub faults: Vec<(&'a Fault, f64)>,
}

/// One question: these hypotheses, in this set-up, these instruments one at a time.
#[derive(Clone, Copy, Debug)]
pub struct Question<'a> {
    /// The hypotheses.
    pub hypotheses: &'a [Hypothesis<'a>],
    /// The set-up.
    pub set_up: &'a SetUp,
    /// The instruments, each alone in the circuit.
    pub placements: &'a [Placement],
    /// The point of the uncertain parameters, θ, one a parameter of the circuit; empty means all 0.
    pub theta: &'a [f64],
    /// Also give the currents through every rated branch and module pin, and through and in the tool.
    pub with_flows: bool,
}

impl<'a> Question<'a> {
    /// Whether flows are asked of what the set-up clips in.
    pub(crate) fn clips_in(&self) -> bool {
        self.with_flows && !self.set_up.placed.is_empty()
    }

    /// These instruments at the centre of the uncertain parameters, without flows.
    pub fn new(hypotheses: &'a [Hypothesis<'a>], set_up: &'a SetUp, placements: &'a [Placement]) -> Self {
        Self {
            hypotheses,
            set_up,
            placements,
            theta: &[],
            with_flows: false,
        }
    }

    /// One test, likewise.
    pub fn of(hypotheses: &'a [Hypothesis<'a>], test: &'a Test) -> Self {
        Self::new(hypotheses, &test.set_up, std::slice::from_ref(&test.placement))
    }
}

/// What an instrument would show.
#[derive(Clone, Debug, PartialEq)]
pub struct Prediction {
    /// The kind of answer.
    pub kind: Kind,
    /// Volts, amperes, ohms, the channel's shown unit; for a light its brightness as the voltage across its filament;
    /// for a code the channel's voltage.
    pub value: f64,
    /// For scan data: how much further the value would be if what is shown had no ends, in its unit; 0 between the ends. A
    /// value at its end says no more than that it is there or beyond.
    pub beyond: f64,
    /// Derivative of `value + beyond` by each parameter θ of the circuit.
    pub by_param: Vec<f64>,
    /// Derivative of `value + beyond` by the logarithm (logarithmic severities) or the value of each fault's severity.
    pub by_severity: Vec<f64>,
    /// For voltages: resistance behind the two points, ohms, without the meter. 10 MΩ and more: a ghost, nothing drives it.
    pub source_ohms: f64,
    /// For voltages at an undriven point: how far it may drift toward its neighbours' voltages, volts either side of
    /// `value` (0 where driven).
    pub ghost_volts: (f64, f64),
    /// Of [`Kind::Unknown`], and of it alone: why.
    pub unsaid: Option<Unsaid>,
}

/// Why nothing can be said of what an instrument shows; [`words`](Self::words) puts it plainly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unsaid {
    /// The circuit has no stable state, or did not settle.
    Unsettled,
    /// A meter or lamp follows what repeats so slowly.
    Slow,
    /// An alternating range no longer reads what repeats so fast.
    FastForAlternating,
    /// A counter no longer counts it.
    FastForCounter,
    /// Nothing swings enough to trigger a duty meter.
    NoSwing,
    /// Several things that repeat move what is counted.
    Several,
    /// The channel's filter is too short against the period.
    ShortFilter,
    /// A coil's current follows each pulse, with a lag and a peak at switching off that are not followed.
    Lag,
    /// A coil's current neither follows each pulse nor flows on evenly.
    Between,
    /// Several coils' currents flow on, or what repeats in several ways switches one.
    SeveralCoils,
    /// A coil's current would flow on, but nothing was found that carries it.
    NoWayOn,
    /// The ohmmeter's own current is switched on and off.
    SwitchedOhms,
    /// In one phase a number, in another none.
    Mixed,
    /// A check of a driver's pin would see now this, now that.
    Moments,
}

/// The kind of a prediction.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// A number in the instrument's unit.
    Number,
    /// Over-range.
    OverRange,
    /// An ohmmeter, diode or continuity test on a live circuit: what it shows is worthless; `value` is the voltage it sits on.
    Live,
    /// The module is unpowered: no scan data, no codes.
    NoCommunication,
    /// The code's monitor does not run in this set-up.
    NotRun,
    /// Nothing can be said: the circuit has no stable state or did not settle, or what is shown hangs on the course of pulses
    /// that is not followed.
    Unknown,
}

/// Current through something that has a rating.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flow {
    /// The branch. A module pin appears as its connector's contact and as the branches inside it.
    pub branch: BranchId,
    /// Amperes, signed from its first point to its second.
    pub amps: f64,
}

/// What flows while one instrument is in place under one hypothesis.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Flows {
    /// Current through every branch, by [`BranchId`], after what protects has acted. Zeros if nothing settled.
    pub branch_amps: Vec<f64>,
    /// Voltage of every point against battery negative, by [`PointId`].
    pub point_volts: Vec<f64>,
    /// Current through the tool, amperes, from red or tip to black or clip.
    pub tool_amps: f64,
    /// Power in the tool, watts.
    pub tool_watts: f64,
    /// Voltage across the tool's two points just before it was connected.
    pub volts_before: f64,
    /// Current through and power in each thing placed by the set-up (jumper, resistor …), in its order.
    pub placed: Vec<(f64, f64)>,
    /// Fuses that blow and drivers that shut off with the tool and what the set-up clips in, and not without both.
    pub trips: Vec<BranchId>,
}

/// The answer to a [`Question`].
#[derive(Clone, Debug, Default)]
pub struct Batch {
    /// `n_hypotheses × n_placements`, row-major.
    pub predictions: Vec<Prediction>,
    /// The same shape, where asked for.
    pub flows: Vec<Flows>,
}

/// All the reasoning knows of electricity.
///
/// Implemented by [`Bench`](crate::Bench) and by fakes in tests.
pub trait Predict: Sync {
    /// Answers a question. Equal inputs give bit-equal answers on any number of threads. Nothing is integrated.
    ///
    /// # Errors
    /// [`BenchError`](crate::BenchError) if the question names something that the circuit lacks. A circuit that does not
    /// settle is no error: see [`Kind::Unknown`].
    fn predict(&self, question: Question<'_>) -> Result<Batch, crate::BenchError>;
}

/// A point that can be probed in a set-up, and how.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Probe {
    /// The point.
    pub point: PointId,
    /// Minutes to get the probe there, once its connector is as the set-up says.
    pub minutes: f64,
    /// Back-probed (true) or touched directly.
    pub back_probed: bool,
}
