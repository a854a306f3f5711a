//! What the reasoning answers: suspects, next tests, judgements. Figures are computed from the circuit, never canned.

use bench::{Probe, Reading, Shown, Test};
use circuit::{BranchId, Fault, FaultId, PartId, PointId};

use crate::AtOnce;

/// What is known of the vehicle before a reading is taken, as it moves suspicion.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Intake {
    /// Parts that were replaced in vain (in addition to those the circuit file marks).
    pub replaced: Vec<PartId>,
    /// Parts lately disturbed by other work.
    pub disturbed: Vec<PartId>,
    /// Accessories fitted later, or parts at which one was fitted or tapped in.
    pub accessories: Vec<PartId>,
    /// Water came in.
    pub water: bool,
    /// There was an accident.
    pub accident: bool,
    /// Whether the complaint comes and goes, where that was said.
    pub comes_and_goes: Option<bool>,
}

/// Everything left after the readings.
#[derive(Clone, Debug, PartialEq)]
pub struct Findings {
    /// Suspects, most likely first; look-alikes are folded into one. Together with `outside` they sum to 1.
    pub suspects: Vec<Suspect>,
    /// Chance that the cause is not in this circuit.
    pub outside: f64,
    /// For each reading, in the order given: how it stands to the rest.
    pub readings: Vec<ReadingStanding>,
    /// What was learnt of uncertain parameters: (parameter, centre θ, remaining standard deviation of θ).
    pub learnt: Vec<(circuit::ParamId, f64, f64)>,
    /// What may be inside the modules where nobody documented it: by unknown of the circuit the chance of each alternative.
    pub insides: Vec<Vec<f64>>,
    /// Connections between points of the circuit that its file does not know and that would explain the readings, alone or
    /// beside a suspect: what to check about the file, with the chance of each.
    pub unknown_to_file: Vec<(Fault, f64)>,
    /// How many pairs of faults were weighed; 0 where single ones explain the readings.
    pub pairs: usize,
    /// The most that those pairs may weigh together that were bounded and left out.
    pub pairs_left_out: f64,
    /// Whether it can stop, and why.
    pub conclusion: Conclusion,
}

/// A fault, or several that no available test can tell apart, with its chance.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspect {
    /// The most likely of the look-alikes.
    pub fault: FaultId,
    /// A second fault at the same time.
    pub also: Option<FaultId>,
    /// All of them, most likely first, `fault` included, each with its own chance.
    pub look_alikes: Vec<(FaultId, f64)>,
    /// Chance of the group, 0 to 1.
    pub chance: f64,
    /// Chance before any reading.
    pub chance_before: f64,
    /// Share of the chance in which `fault` comes and goes.
    pub comes_and_goes: f64,
    /// Share of the chance in which what was done has cured `fault`.
    pub mended: f64,
    /// Most plausible severity of `fault` and an 80 % range, in its unit.
    pub severity: Option<(f64, f64, f64)>,
    /// For each reading, in the order given: bits for (positive) or against (negative) this suspect compared with all
    /// others.
    pub bits: Vec<f64>,
    /// For each reading: what this suspect expects it to show (value, standard deviation), at its plausible severity.
    pub expects: Vec<Option<(f64, f64)>>,
}

/// How one reading stands to the rest.
#[derive(Clone, Debug, PartialEq)]
pub struct ReadingStanding {
    /// What the healthy circuit would show: value and standard deviation, where that is a number.
    pub healthy: Option<(f64, f64)>,
    /// What the healthy circuit would show whatever the kind of reading, and whether this is that; `None` where it cannot
    /// be said.
    pub in_order: Option<InOrder>,
    /// The instrument, or the channel, can show such a value at all.
    pub possible: bool,
    /// Chance that the reading itself is wrong (lead not touching, wrong cavity, typing).
    pub wrong: f64,
    /// Bits that it told about the cause, all suspects together.
    pub told_bits: f64,
}

/// What a circuit in order would have shown.
#[derive(Clone, Debug, PartialEq)]
pub struct InOrder {
    /// What it would most likely show; a number is a range without width.
    pub shows: Expected,
    /// What was shown is that, as far as tolerances, the instrument and the eye go.
    pub fits: bool,
}

/// Whether the search can stop.
#[derive(Clone, Debug, PartialEq)]
pub enum Conclusion {
    /// Keep measuring.
    Open,
    /// One suspect (with its look-alikes, or with others that share its repair) carries enough.
    Found {
        /// Position in `suspects`.
        suspect: usize,
        /// Chance that its repair cures the vehicle.
        chance: f64,
    },
    /// Most likely not in this circuit: check the circuit file or look beyond.
    Outside,
    /// Repairing costs less than any reading on offer, in expectation.
    RepairFirst(AtOnce),
    /// No test on offer is safe and would tell the remaining suspects apart.
    CannotTell,
}

/// A proposed step: one reading, or several at one place.
#[derive(Clone, Debug, PartialEq)]
pub struct Proposal {
    /// The tests, in order, all in one set-up.
    pub tests: Vec<Test>,
    /// How the probes get there, one a test (red lead).
    pub probes: Vec<Option<Probe>>,
    /// Minutes, set-up change included.
    pub minutes: f64,
    /// Expected information, bits.
    pub bits: f64,
    /// What each joint outcome would mean, most likely first.
    pub outcomes: Vec<Outcome>,
    /// The judgement on hazard and worth.
    pub judgement: Judgement,
}

/// One outcome of a proposal.
#[derive(Clone, Debug, PartialEq)]
pub struct Outcome {
    /// Range of what each test would show: (low, high) in its unit; for lights and codes, positions in their order.
    pub shows: Vec<Expected>,
    /// Chance of it.
    pub chance: f64,
    /// Suspects that would lead then: (fault, chance given this outcome), most likely first, at most 3.
    pub then: Vec<(FaultId, f64)>,
    /// Chance then that the cause is outside this circuit.
    pub then_outside: f64,
}

/// What one test is expected to show in an outcome.
#[derive(Clone, Debug, PartialEq)]
pub enum Expected {
    /// A number between two limits.
    Range(f64, f64),
    /// Something that is not a number.
    Is(Shown),
}

/// Judgement of one intended test: can it hurt, can it tell?
#[derive(Clone, Debug, PartialEq)]
pub struct Judgement {
    /// May it be done?
    pub verdict: Verdict,
    /// The worst figures behind the verdict, worst first.
    pub dangers: Vec<Danger>,
    /// Whether it can tell anything.
    pub worth: Worth,
}

/// May it be done?
#[derive(Clone, Debug, PartialEq)]
pub enum Verdict {
    /// Nothing exceeds its rating under anything still possible.
    Safe,
    /// Not before these safe readings have excluded the dangers; one that only spoils the reading counts as well.
    First(Vec<Test>),
    /// Refused.
    Refused,
}

/// A figure behind a verdict.
#[derive(Clone, Debug, PartialEq)]
pub struct Danger {
    /// What would be overloaded or what is wrong with it.
    pub what: DangerKind,
    /// Under which cause.
    pub under: Under,
    /// Chance of that cause now.
    pub chance: f64,
    /// The sound circuit passes this limit already; `under` gives the worst figure.
    pub anyway: bool,
}

/// The cause a danger was computed under.
#[derive(Clone, Debug, PartialEq)]
pub enum Under {
    /// The circuit as it should be.
    Healthy,
    /// A suspect.
    Suspect(FaultId),
    /// A short to a feed on a net the test touches, not yet excluded by a reading.
    ShortToFeed(PointId),
}

/// The kind of a danger.
#[derive(Clone, Debug, PartialEq)]
pub enum DangerKind {
    /// Amperes through a branch against its rating.
    Overload {
        /// The branch (pin, wiper, contact, wire, reference …).
        branch: BranchId,
        /// Amperes.
        amps: f64,
        /// Its rating.
        rating: f64,
    },
    /// Volts on a pin of a module or device against what it bears.
    OverVoltage {
        /// The pin.
        point: PointId,
        /// Volts against the module's ground, or across the device.
        volts: f64,
        /// What it bears.
        rating: f64,
    },
    /// More in the tool than it bears.
    Tool {
        /// What it is called: "jumper", "test light".
        tool: &'static str,
        /// Watts in it, where heat in the tool itself is what ends it: a bulb, a resistor, a source.
        watts: Option<f64>,
        /// Amperes.
        amps: f64,
        /// Limit, amperes.
        rating: f64,
    },
    /// The fuse in the tool would blow.
    ToolFuse {
        /// What the tool is called.
        tool: &'static str,
        /// Its fuse, amperes.
        rating: f64,
    },
    /// An ohmmeter, diode or continuity test would sit on this voltage.
    LiveOhms {
        /// Volts, as a voltmeter of 10 MΩ shows them.
        volts: f64,
        /// It may harm the meter; otherwise it only spoils the figure.
        harms: bool,
    },
    /// A fuse would blow or a driver shut off.
    Trips {
        /// The branch.
        branch: BranchId,
    },
    /// Something would move, heat or pump.
    Acts {
        /// In plain words, from the circuit file.
        words: String,
    },
}

/// Can a test tell anything?
#[derive(Clone, Debug, PartialEq)]
pub enum Worth {
    /// It splits the suspects.
    Tells {
        /// Expected bits.
        bits: f64,
        /// Minutes.
        minutes: f64,
    },
    /// The healthy circuit and all suspects that count show the same: 98 % of what is suspected in the circuit.
    Nothing {
        /// What they all show.
        shows: Expected,
        /// Why, drawn from the circuit.
        because: Because,
        /// The suspects that would show something else, most likely first. Empty: none of those above a hundredth of a
        /// percent would, at any severity still possible.
        otherwise: Vec<Otherwise>,
    },
    /// It cannot be done in this set-up: no probe or clip gets to these points.
    Unreachable(Vec<PointId>),
}

/// A suspect that would show something else where most show the same.
#[derive(Clone, Debug, PartialEq)]
pub struct Otherwise {
    /// The suspect.
    pub fault: FaultId,
    /// Its chance now.
    pub chance: f64,
    /// What the test would show under it, at the severity that differs.
    pub shows: Expected,
}

/// Why a test can tell nothing.
#[derive(Clone, Debug, PartialEq)]
pub enum Because {
    /// Nothing drives the point in this set-up: the meter pulls it to its other lead.
    NothingDrives,
    /// The channel is clamped at the end of its range whatever the wire carries.
    Clamped,
    /// Something drives the point, but too weakly for a light, which pulls it down.
    LoadedDown,
    /// What stands there is too little for a light.
    TooLittle,
    /// The point is tied to the black lead, or both leads are on one net with no current in it.
    NoCurrent,
    /// The ohmmeter sits on a live circuit.
    Live,
    /// The module is not powered.
    NotPowered,
    /// The remaining suspects do not touch what this test sees.
    OutOfReach,
}

/// The parts a reader of findings needs beside them.
#[derive(Clone, Copy, Debug)]
pub struct Known<'a> {
    /// The possible faults, by [`FaultId`].
    pub faults: &'a [Fault],
    /// The readings so far.
    pub readings: &'a [Reading],
}
