//! The laws of elements that are not straight lines, each linearised at a *point* and moved along its own curve.
//!
//! A junction follows the predicted current while it conducts and the predicted voltage while it does not, so that no
//! exponential is ever overshot (the idea of Nagel's junction limiting, SPICE2, 1975). An output or a sink is three or four
//! straight pieces; it never jumps across its steep middle piece, which is what makes a two-piece cycle impossible.

use crate::element::BREAKDOWN_AMPS;
use crate::{Element, Parameter};

/// Leak across every junction, siemens: keeps the node between two blocking junctions determined. Far below any
/// saturation current per volt.
pub(crate) const JUNCTION_LEAK: f64 = 1e-18;

/// A junction with a steeper tangent conducts, siemens.
const CONDUCTS: f64 = 1e-6;
/// Settled when a tangent's current is this close to the curve's, relative. Rounding of 20 V seen through a thermal voltage
/// is 1e-13, and more where the circuit is stiff.
const SETTLED: f64 = 1e-10;
/// Rounding of a voltage that passed through a few sums, relative.
const ROUNDING: f64 = 1e-12;

/// Where an element is linearised.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Point {
    /// Junction or lamp volts.
    pub(crate) volts: f64,
    /// Piece of an output's current (0 sink limit, 1 sinking, 2 sourcing, 3 source limit) or of a sink (0 off, 1 ramp,
    /// 2 full).
    pub(crate) piece: u8,
    /// Piece of an output's target: 0 zero (where piece 2 is idle), 1 line, 2 dropout.
    pub(crate) target: u8,
}

/// A tangent: `amps + Σ siemens · (control - at)`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct Tangent {
    pub(crate) siemens: [f64; 2],
    pub(crate) at: [f64; 2],
    pub(crate) amps: f64,
    /// Which of the element's flows carries it.
    pub(crate) flow: usize,
}

impl Tangent {
    /// What it says of one of its element's flows: nothing of those that it does not run along.
    pub(crate) fn on(&self, flow: usize) -> Self {
        if self.flow == flow { *self } else { Self::default() }
    }

    /// Amperes without volts.
    pub(crate) fn constant(&self) -> f64 {
        self.amps - (self.siemens[0] * self.at[0] + self.siemens[1] * self.at[1])
    }
}

/// A junction's parameters; a diode has no breakdown.
#[derive(Clone, Copy)]
pub(crate) struct Junction {
    pub(crate) saturation: f64,
    pub(crate) thermal: f64,
    pub(crate) breakdown: f64,
    pub(crate) series: f64,
}

impl Junction {
    pub(crate) fn of(element: &Element) -> Option<Self> {
        match *element {
            Element::Diode {
                saturation_amps,
                thermal_volts,
                series_ohms,
                ..
            } => Some(Self {
                saturation: saturation_amps,
                thermal: thermal_volts,
                breakdown: f64::INFINITY,
                series: series_ohms,
            }),
            Element::Clamp {
                saturation_amps,
                thermal_volts,
                breakdown_volts,
                series_ohms,
                ..
            } => {
                let (saturation, thermal) = (saturation_amps, thermal_volts);
                Some(Self {
                    saturation,
                    thermal,
                    breakdown: breakdown_volts,
                    series: series_ohms,
                })
            }
            _ => None,
        }
    }

    /// Current and slope at a junction voltage.
    pub(crate) fn current(&self, volts: f64) -> (f64, f64) {
        let forward = self.saturation * (volts / self.thermal).exp();
        let backward = BREAKDOWN_AMPS * (-(volts + self.breakdown) / self.thermal).exp();
        let at_rest = BREAKDOWN_AMPS * (-self.breakdown / self.thermal).exp();
        let amps = self.saturation * (volts / self.thermal).exp_m1() - (backward - at_rest) + JUNCTION_LEAK * volts;
        (amps, (forward + backward) / self.thermal + JUNCTION_LEAK)
    }

    /// Derivative of the junction's current by one of its values, at a fixed junction voltage.
    pub(crate) fn partial(&self, volts: f64, parameter: Parameter) -> f64 {
        let forward = self.saturation * (volts / self.thermal).exp();
        let backward = BREAKDOWN_AMPS * (-(volts + self.breakdown) / self.thermal).exp();
        let at_rest = BREAKDOWN_AMPS * (-self.breakdown / self.thermal).exp();
        match parameter {
            Parameter::SaturationAmps => (volts / self.thermal).exp_m1(),
            Parameter::ThermalVolts => {
                // A diode's infinite breakdown voltage must not meet its current of 0.
                let clamp = if backward > 0.0 {
                    (volts + self.breakdown) * backward
                } else {
                    0.0
                };
                let rest = if at_rest > 0.0 { self.breakdown * at_rest } else { 0.0 };
                (rest - forward * volts - clamp) / (self.thermal * self.thermal)
            }
            Parameter::BreakdownVolts => (backward - at_rest) / self.thermal,
            _ => 0.0,
        }
    }

    /// Where the exponential bends most, seen in volts and amperes: a good place to start.
    fn knee(&self) -> f64 {
        (self.thermal * (self.thermal / (std::f64::consts::SQRT_2 * self.saturation)).ln()).max(self.thermal)
    }

    /// The junction voltage at terminal voltage `v`, roughly.
    fn at_terminal(&self, v: f64) -> f64 {
        let limit = self.knee() + 10.0 * self.thermal;
        if v <= 0.0 || self.series == 0.0 {
            return v.clamp(-self.breakdown - 10.0 * self.thermal, limit);
        }
        // An upper end of the solution; Newton on a convex curve then comes down to it without overshoot.
        let mut volts = v
            .min(self.thermal * (v / (self.series * self.saturation)).ln_1p())
            .min(limit);
        for _ in 0..6 {
            let (amps, slope) = self.current(volts);
            volts -= (volts + self.series * amps - v) / (1.0 + self.series * slope);
        }
        volts.min(limit)
    }

    fn tangent(&self, volts: f64) -> (f64, f64, f64) {
        let (amps, slope) = self.current(volts);
        (amps, 1.0 / (self.series + 1.0 / slope), volts + self.series * amps)
    }

    /// The next junction voltage when the circuit answers the tangent at `volts` with terminal voltage `v`, and whether the
    /// tangent already gave the right current.
    fn advance(&self, volts: f64, tangent: &Tangent, v: f64) -> (f64, bool) {
        let predicted = tangent.amps + tangent.siemens[0] * (v - tangent.at[0]);
        let straight = v - self.series * predicted;
        let both_blocking = straight.max(volts) < 0.0;
        if ((straight - volts).abs() < 1e-3 * self.thermal || both_blocking)
            && (self.current(straight).0 - predicted).abs() <= SETTLED * predicted.abs() + 1e-19
        {
            return (volts, true);
        }
        let forward_side = volts > -0.5 * self.breakdown;
        // Along the exponential that conducts, the rest of the current held.
        let next = if forward_side && predicted > self.saturation {
            let rest = tangent.amps - self.saturation * (volts / self.thermal).exp();
            self.thermal * ((predicted - rest) / self.saturation).ln()
        } else if !forward_side && -predicted > 2.0 * self.saturation + 1e-15 {
            let rest = tangent.amps + BREAKDOWN_AMPS * (-(volts + self.breakdown) / self.thermal).exp();
            -self.breakdown - self.thermal * ((rest - predicted) / BREAKDOWN_AMPS).ln()
        } else {
            straight.clamp((-self.breakdown).min(volts), self.knee().max(volts))
        };
        (next, false)
    }
}

/// A lamp's current and slope at a voltage.
pub(crate) fn lamp(volts: f64, rated_volts: f64, rated_watts: f64, hot_to_cold: f64) -> (f64, f64) {
    let hot = rated_volts * rated_volts / rated_watts;
    let cold4 = hot_to_cold.powi(-4);
    // (|v|/rated)^(4·0.45)
    let hot4 = (volts.abs() / rated_volts).powf(1.8);
    let ohms = hot * (cold4 + hot4).sqrt().sqrt();
    (volts / ohms, (1.0 - 0.45 * hot4 / (cold4 + hot4)) / ohms)
}

/// Where to linearise first; `volts` are those of the controls, if known.
pub(crate) fn start(element: &Element, volts: Option<[f64; 2]>) -> Point {
    match *element {
        Element::Lamp { rated_volts, .. } => Point {
            volts: volts.map_or(0.5 * rated_volts, |v| v[0]),
            ..Point::default()
        },
        Element::Output { .. } => {
            let middle = Point {
                piece: 2,
                target: 1,
                ..Point::default()
            };
            volts.map_or(middle, |v| {
                advance(element, middle, &Tangent::default(), v, 1.0, false).0
            })
        }
        Element::CurrentSink { .. } => {
            let middle = Point {
                piece: 1,
                ..Point::default()
            };
            volts.map_or(middle, |v| {
                advance(element, middle, &Tangent::default(), v, 1.0, false).0
            })
        }
        _ => match Junction::of(element) {
            Some(j) => Point {
                volts: volts.map_or(j.knee(), |v| j.at_terminal(v[0])),
                ..Point::default()
            },
            None => Point::default(),
        },
    }
}

/// A point that stands for all of the region that `point` is in: its piece, or for a junction its knee if it conducts and
/// 0 V if not. A lamp has but one region.
pub(crate) fn typical(element: &Element, point: Point) -> Point {
    let volts = match Junction::of(element) {
        Some(junction) if tangent(element, point, 1.0).siemens[0] > CONDUCTS => junction.knee(),
        None if matches!(element, Element::Lamp { .. }) => return start(element, None),
        _ => 0.0,
    };
    Point { volts, ..point }
}

/// All pieces of an element's law that is made of such, the likelier ones first; none for others.
pub(crate) fn pieces(element: &Element) -> Vec<Point> {
    let point = |piece, target| Point {
        volts: 0.0,
        piece,
        target,
    };
    match element {
        Element::Output { .. } => [1, 2, 0]
            .into_iter()
            .flat_map(|target| [2, 1, 3, 0].map(|piece| point(piece, target)))
            .filter(|point| (point.piece, point.target) != (3, 0))
            .collect(),
        Element::CurrentSink { .. } => [1, 2, 0].map(|piece| point(piece, 0)).to_vec(),
        _ => Vec::new(),
    }
}

/// The tangent at a point. `drive` scales what an output brings of its own (source stepping).
pub(crate) fn tangent(element: &Element, point: Point, drive: f64) -> Tangent {
    match *element {
        Element::Lamp {
            rated_volts,
            rated_watts,
            hot_to_cold,
            ..
        } => {
            let (amps, slope) = lamp(point.volts, rated_volts, rated_watts, hot_to_cold);
            Tangent {
                siemens: [slope, 0.0],
                at: [point.volts, 0.0],
                amps,
                flow: 0,
            }
        }
        Element::Output {
            offset_volts,
            gain,
            dropout_volts,
            ohms,
            source_limit_amps,
            sink_limit_amps,
            ..
        } => {
            let flow = usize::from(point.piece < 2);
            match point.piece {
                0 => Tangent {
                    amps: -sink_limit_amps,
                    flow,
                    ..Tangent::default()
                },
                3 => Tangent {
                    amps: source_limit_amps,
                    flow,
                    ..Tangent::default()
                },
                // An output without power drives nothing.
                2 if point.target == 0 => Tangent::default(),
                _ => {
                    let (slope, zero) = match point.target {
                        0 => (0.0, 0.0),
                        1 => (gain, drive * offset_volts),
                        _ => (1.0, -dropout_volts),
                    };
                    Tangent {
                        siemens: [slope / ohms, -1.0 / ohms],
                        at: [0.0, zero],
                        amps: 0.0,
                        flow,
                    }
                }
            }
        }
        Element::CurrentSink { amps, knee_volts, .. } => match point.piece {
            0 => Tangent::default(),
            1 => Tangent {
                siemens: [amps / knee_volts, 0.0],
                ..Tangent::default()
            },
            _ => Tangent {
                amps,
                ..Tangent::default()
            },
        },
        _ => Junction::of(element).map_or(Tangent::default(), |j| {
            let (amps, siemens, at) = j.tangent(point.volts);
            Tangent {
                siemens: [siemens, 0.0],
                at: [at, 0.0],
                amps,
                flow: 0,
            }
        }),
    }
}

/// The next point when the circuit answers `tangent`, that at `point`, with control voltages `v`, and whether `point` was
/// already right. `careful` never leaves out a piece that lies between.
pub(crate) fn advance(
    element: &Element,
    point: Point,
    tangent: &Tangent,
    v: [f64; 2],
    drive: f64,
    careful: bool,
) -> (Point, bool) {
    match *element {
        Element::Lamp { rated_volts, .. } => {
            // The tangent's error is about (dv/v)²/8 of the current.
            let settled = (v[0] - point.volts).abs() <= 5e-6 * v[0].abs() + 1e-9 * rated_volts;
            // Coldest, and steepest, at 0: stopping there keeps a lamp from swinging between the two signs.
            let volts = if v[0] * point.volts < 0.0 { 0.0 } else { v[0] };
            (Point { volts, ..point }, settled)
        }
        Element::Output {
            offset_volts,
            gain,
            dropout_volts,
            ohms,
            source_limit_amps,
            sink_limit_amps,
            ..
        } => {
            let slack = ROUNDING * (1.0 + v[0].abs() * (1.0 + gain.abs()) + v[1].abs() + offset_volts.abs());
            let targets = [0.0, drive * offset_volts + gain * v[0], v[0] - dropout_volts];
            let lower = if targets[1] <= targets[2] { 1 } else { 2 };
            // Unpowered and above what its supply could drive: it can only sink.
            let margin = if point.target == 0 { -slack } else { slack };
            let idle_or_sinks = targets[lower] < 0.0 && v[1] > targets[lower] + margin;
            let right = if idle_or_sinks { 0 } else { lower };
            // Idle is not driven, even to 0 V.
            let idles = point.piece >= 2 && (right == 0) != (point.target == 0);
            let keep = !idles && (targets[point.target as usize % 3] - targets[right]).abs() <= slack;
            // Between idle and the line lies dropout, if the line is above 0 where the two cross. A supply that delivers
            // next to nothing stands there, and going straight from one to the other would miss it for ever.
            let crossing = (drive * offset_volts + gain * dropout_volts) / (1.0 - gain);
            let between = |one: u8, other: u8| {
                careful && crossing > 0.0 && gain < 1.0 && one.min(other) == 0 && one.max(other) == 1
            };
            let target = if keep {
                point.target
            } else if between(point.target, right as u8) {
                2
            } else {
                right as u8
            };
            // Volts from the target, and those at which the current reaches its limits.
            let drop = targets[target as usize] - v[1];
            let corners = [-sink_limit_amps * ohms, 0.0, source_limit_amps * ohms];
            let last = if target == 0 { 2 } else { 3 };
            let right = (corners.iter().filter(|&&corner| drop >= corner).count() as u8).min(last);
            let inside = |piece: u8| {
                let above = piece == 0 || drop >= corners[piece as usize - 1] - slack;
                piece <= last && above && (piece >= last || drop <= corners[piece as usize] + slack)
            };
            let was_idle = point.piece == 2 && point.target == 0;
            let (piece, target) = match (point.piece, right) {
                (2, 3) if careful && was_idle => (2, target),
                (3, 2) if careful && target == 0 => (2, 2),
                (from, _) if inside(from) => (from, target),
                (0, 2) if target == 0 => (1, target),
                (2, 0) if was_idle => (1, target),
                (0, 3) => (2, target),
                (3, 0) => (1, target),
                (1, 3) | (3, 1) if careful => (2, target),
                (_, to) => (to, target),
            };
            let next = Point {
                volts: 0.0,
                piece,
                target,
            };
            (next, next == point)
        }
        Element::CurrentSink { knee_volts, .. } => {
            let slack = ROUNDING * (knee_volts + v[0].abs());
            let right = u8::from(v[0] >= 0.0) + u8::from(v[0] > knee_volts);
            let corner = [0.0, 0.0, knee_volts];
            let piece = match (point.piece, right) {
                (0, 2) | (2, 0) => 1,
                // On the corner either piece is right.
                (from, to) if (v[0] - corner[from.max(to) as usize % 3]).abs() <= slack => from,
                (_, to) => to,
            };
            (Point { piece, ..point }, piece == point.piece)
        }
        _ => Junction::of(element).map_or((point, true), |j| {
            let (volts, settled) = j.advance(point.volts, tangent, v[0]);
            (Point { volts, ..point }, settled)
        }),
    }
}
