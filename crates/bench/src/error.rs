//! What can be wrong with a question or a text.

use std::ops::Range;

use circuit::{BranchId, ChannelId, MonitorId, ParamId, PointId};
use network::NetworkError;

/// What can be wrong with a question, or with a circuit that no file check can see.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
pub enum BenchError {
    /// Whoever asked no longer wants the answer. The bench itself never says so; what stands before it may.
    #[error("the question was given up: a newer one has come")]
    GivenUp,
    /// A fault, a set-up or an instrument names a point that the circuit lacks.
    #[error("the circuit has no point {}: it has {n_points}", point.0)]
    NoSuchPoint {
        /// The point named.
        point: PointId,
        /// How many there are.
        n_points: usize,
    },
    /// A fault or an instrument names a branch that the circuit lacks.
    #[error("the circuit has no branch {}: it has {n_branches}", branch.0)]
    NoSuchBranch {
        /// The branch named.
        branch: BranchId,
        /// How many there are.
        n_branches: usize,
    },
    /// A scan value that the circuit lacks.
    #[error("the circuit has no scan value {}", channel.0)]
    NoSuchChannel {
        /// The channel named.
        channel: ChannelId,
    },
    /// A code's monitor that the circuit lacks.
    #[error("the circuit has no monitor {}", monitor.0)]
    NoSuchMonitor {
        /// The monitor named.
        monitor: MonitorId,
    },
    /// A fault or a set-up names a device, fuse or relay that the circuit lacks.
    #[error("the circuit has no {what} {position}")]
    NoSuchPart {
        /// `device`, `fuse` or `relay`.
        what: &'static str,
        /// Its position.
        position: u32,
    },
    /// A clamp goes around a conductor, not around an electronic part.
    #[error("a current clamp does not fit around `{path}`: choose a wire, a ground strap or a fuse")]
    NothingToClamp {
        /// The branch's path.
        path: String,
    },
    /// A parameter vector longer than the circuit's list, or a value in it that is no number.
    #[error("parameter {} is {value}: it must be a number, and there are {n_params}", param.0)]
    BadParameter {
        /// The position.
        param: ParamId,
        /// What was given.
        value: f64,
        /// How many parameters the circuit has.
        n_params: usize,
    },
    /// A severity that is no number, or one below 0 on a logarithmic scale.
    #[error("the severity of `{fault}` is {severity}: it must be a number, and not below 0 unless it is a drift")]
    BadSeverity {
        /// The fault's path.
        fault: String,
        /// What was given.
        severity: f64,
    },
    /// A value that is clipped in by the set-up is out of range.
    #[error("what is clipped in has {quantity} {value}: it must be above 0")]
    BadPlaced {
        /// Which of its values.
        quantity: &'static str,
        /// What was given.
        value: f64,
    },
    /// A branch whose values make no circuit.
    #[error("`{path}` cannot be solved: {source}")]
    Branch {
        /// The branch's path.
        path: String,
        /// Why.
        source: NetworkError,
    },
    /// No stable operating point: nothing to export.
    #[error("this circuit does not settle in this set-up: there is no operating point")]
    NotSettled,
    /// The circuit as a whole makes no network.
    #[error("this circuit cannot be solved: {source}")]
    Network {
        /// Why.
        #[from]
        source: NetworkError,
    },
}

/// What is wrong with the text of a test or reading, with its place: a range of bytes on character boundaries.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[expect(missing_docs, reason = "the message of each variant says what its fields mean")]
pub enum TextError {
    #[error("nothing is written here: {expected}")]
    Empty { at: Range<usize>, expected: &'static str },
    #[error("`{found}` is no instrument{}: write one of {known}", hint(nearest.as_deref()))]
    NoInstrument {
        at: Range<usize>,
        found: String,
        nearest: Option<String>,
        known: &'static str,
    },
    #[error("`{found}` is no {what} of this circuit{}", hint(nearest.as_deref()))]
    Unknown {
        at: Range<usize>,
        found: String,
        what: &'static str,
        nearest: Option<String>,
    },
    #[error("the {missing} is missing: write e.g. {example}")]
    Missing {
        at: Range<usize>,
        missing: &'static str,
        example: &'static str,
    },
    #[error("`{found}` is left over: {expected}")]
    LeftOver {
        at: Range<usize>,
        found: String,
        expected: &'static str,
    },
    #[error("both leads are on `{path}`: that shows nothing")]
    SamePoint { at: Range<usize>, path: String },
    #[error("a current clamp does not fit around `{path}`: choose a wire, a ground strap or a fuse")]
    NothingToClamp { at: Range<usize>, path: String },
    #[error("no probe reaches `{path}`: {words}")]
    OutOfReach {
        at: Range<usize>,
        path: String,
        words: String,
    },
    #[error("`{found}` is not what {instrument} shows: {expected}")]
    NotShown {
        at: Range<usize>,
        found: String,
        instrument: &'static str,
        expected: &'static str,
    },
    #[error("{low} is above {high}: write the lower value first")]
    Reversed {
        at: Range<usize>,
        low: String,
        high: String,
    },
    #[error("{source}")]
    Value {
        at: Range<usize>,
        source: Box<quantity::ParseError>,
    },
    #[error("{source}")]
    SetUp {
        at: Range<usize>,
        source: Box<circuit::SetUpError>,
    },
}

fn hint(nearest: Option<&str>) -> String {
    nearest
        .map(|nearest| format!(" (is `{nearest}` meant?)"))
        .unwrap_or_default()
}

impl TextError {
    /// Where in the text.
    pub fn at(&self) -> Range<usize> {
        match self {
            Self::Empty { at, .. }
            | Self::NoInstrument { at, .. }
            | Self::Unknown { at, .. }
            | Self::Missing { at, .. }
            | Self::LeftOver { at, .. }
            | Self::SamePoint { at, .. }
            | Self::NothingToClamp { at, .. }
            | Self::OutOfReach { at, .. }
            | Self::NotShown { at, .. }
            | Self::Reversed { at, .. }
            | Self::Value { at, .. }
            | Self::SetUp { at, .. } => at.clone(),
        }
    }
}
