//! One or two ports at many strengths, all bent elements on their tangents.

use fearless_simd::{Level, dispatch};

use super::readings::Readings;
use super::table::{Table, Watch};

/// Hypotheses worked on side by side.
pub(crate) const LANES: usize = 8;
/// A weaker strength is as good as none, and does not overflow.
const WEAKEST: f64 = 1e150;
/// A determinant that is smaller than this share of its terms has lost digits that 1e-9 needs.
const CANCELLED: f64 = 1e-6;

/// Roundings on the way to a reading, of half a unit in the last place each, at most.
const ROUNDINGS: f64 = 8.0;

type Lanes = [f64; LANES];

/// Strengths of one port, or all pairs of those of two.
#[derive(Clone, Debug, PartialEq)]
pub struct Strengths {
    n: usize,
    /// 1/strength by port and hypothesis, filled up to whole lanes.
    inverse: [Vec<f64>; 2],
    any_negative: bool,
}

impl Strengths {
    /// Of one port: siemens, ohms, volts or amperes, as the [`Port`](super::Port) says. Infinity is a perfect short or open.
    pub fn single(strengths: &[f64]) -> Self {
        Self::new(strengths.len(), strengths.iter().map(|&one| [one, f64::INFINITY]))
    }

    /// Of two ports, all pairs, the second one's fastest.
    pub fn pairs(first: &[f64], second: &[f64]) -> Self {
        let all = first
            .iter()
            .flat_map(|&one| second.iter().map(move |&other| [one, other]));
        Self::new(first.len() * second.len(), all)
    }

    fn new(n: usize, all: impl Iterator<Item = [f64; 2]>) -> Self {
        let room = n.next_multiple_of(LANES);
        let mut inverse = [vec![1.0; room], vec![1.0; room]];
        let mut any_negative = false;
        for (at, pair) in all.enumerate() {
            for (inverse, strength) in inverse.iter_mut().zip(pair) {
                any_negative |= strength < 0.0;
                inverse[at] = (1.0 / strength).clamp(-WEAKEST, WEAKEST);
            }
        }
        Self {
            n,
            inverse,
            any_negative,
        }
    }

    /// Number of hypotheses.
    pub fn len(&self) -> usize {
        self.n
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.n == 0
    }

    /// 1/strength of port 0 or 1 in a hypothesis.
    pub(crate) fn inverse(&self, port: usize, hypothesis: usize) -> f64 {
        self.inverse[port][hypothesis]
    }

    fn lanes(&self, port: usize, from: usize) -> Lanes {
        lanes(&self.inverse[port], from)
    }
}

fn lanes(all: &[f64], from: usize) -> Lanes {
    let mut lanes = [0.0; LANES];
    lanes.copy_from_slice(&all[from..from + LANES]);
    lanes
}

/// Fills the readings with the vectors this processor has. The same operations in the same order on any: equal bits.
pub(crate) fn read(table: &Table, ports: &[usize], strengths: &Strengths, readings: &mut Readings) {
    read_with(Level::new(), table, ports, strengths, readings);
}

fn read_with(level: Level, table: &Table, ports: &[usize], strengths: &Strengths, readings: &mut Readings) {
    match *ports {
        [port] => dispatch!(level, _simd => single(table, port, strengths, readings)),
        [one, other] => dispatch!(level, _simd => pair(table, (one, other), strengths, readings)),
        _ => readings.beyond.fill(true),
    }
}

#[expect(
    clippy::inline_always,
    reason = "so that it is made for the vectors of the level it is dispatched to"
)]
#[inline(always)]
fn single(table: &Table, port: usize, strengths: &Strengths, readings: &mut Readings) {
    let heard = table.heard(port).value();
    let loops = -table.between(port, port).value();
    let column = table.column(port);
    let stride = readings.stride;
    for from in (0..stride).step_by(LANES) {
        let inverse = strengths.lanes(0, from);
        let put: Lanes = std::array::from_fn(|lane| heard / (inverse[lane] + loops));
        readings.put[0][from..from + LANES].copy_from_slice(&put);
        for (row, (&base, &by)) in table.base_rounded.iter().zip(column).enumerate().take(table.n_probes) {
            let read: Lanes = std::array::from_fn(|lane| base + by * put[lane]);
            readings.values[row * stride + from..][..LANES].copy_from_slice(&read);
        }
        let mut beyond: [bool; LANES] = std::array::from_fn(|lane| !put[lane].is_finite());
        for watch in &table.watches {
            let (base, by) = (table.base_rounded[watch.row], column[watch.row]);
            for lane in 0..LANES {
                beyond[lane] |= watch.is_broken(base + by * put[lane]);
            }
        }
        readings.beyond[from..from + LANES].copy_from_slice(&beyond);
    }
    if strengths.any_negative || loops < 0.0 {
        for (at, inverse) in strengths.inverse[0].iter().enumerate() {
            if is_cancelled([*inverse, loops]) {
                readings.give_up(at);
            }
        }
    }
}

impl Watch {
    pub(crate) fn is_broken(self, value: f64) -> bool {
        let size = value.abs();
        !(size > self.least && size < self.most)
    }
}

/// Most by which rounding puts a reading off, in its unit, one hypothesis' bent elements on their tangents.
///
/// Base, responses and loops are right to half a unit in the last place; from there on few operations follow, each of which
/// adds its share of the size of its terms.
pub(crate) fn error(table: &Table, ports: &[usize], strengths: &Strengths, row: usize, hypothesis: usize) -> f64 {
    let inverse = |at: usize| strengths.inverse[at][hypothesis];
    let size = |terms: &[f64]| terms.iter().map(|term| term.abs()).sum::<f64>();
    let term = |port: usize, numerator: f64| (table.column(port)[row] * numerator).abs();
    let (sum, parts, terms) = match *ports {
        [port] => {
            let terms = [inverse(0), -table.between(port, port).value()];
            let sum: f64 = terms.iter().sum();
            (sum, term(port, table.heard(port).value()), size(&terms))
        }
        [one, other] => {
            let two = Two::new(table, (one, other));
            let terms = two.terms(inverse(0), inverse(1));
            let first = size(&[two.heard[0] * inverse(1), two.beside[0]]);
            let second = size(&[two.heard[1] * inverse(0), two.beside[1]]);
            (terms.iter().sum(), term(one, first) + term(other, second), size(&terms))
        }
        _ => return f64::INFINITY,
    };
    let cancelled = terms / sum.abs();
    ROUNDINGS * f64::EPSILON * (table.base_rounded[row].abs() + parts / sum.abs() * (1.0 + cancelled))
}

/// Whether the sum of some terms is much smaller than they are.
fn is_cancelled<const N: usize>(terms: [f64; N]) -> bool {
    let (sum, size) = terms
        .iter()
        .fold((0.0, 0.0), |(sum, size), term| (sum + term, size + term.abs()));
    f64::abs(sum) < CANCELLED * size
}

/// What two ports need of each other.
struct Two {
    /// `K` on the diagonal.
    loops: [f64; 2],
    /// Determinant of `K`.
    both: f64,
    heard: [f64; 2],
    /// What is heard with the other port infinitely strong, times the other's loop.
    beside: [f64; 2],
}

impl Two {
    fn new(table: &Table, (one, other): (usize, usize)) -> Self {
        let k = |row, column| -table.between(row, column);
        let (k11, k12, k21, k22) = (k(one, one), k(one, other), k(other, one), k(other, other));
        let (u1, u2) = (table.heard(one), table.heard(other));
        Self {
            loops: [k11.value(), k22.value()],
            both: (k11 * k22 - k12 * k21).value(),
            heard: [u1.value(), u2.value()],
            beside: [(u1 * k22 - k12 * u2).value(), (u2 * k11 - k21 * u1).value()],
        }
    }

    /// Terms of the determinant.
    fn terms(&self, r1: f64, r2: f64) -> [f64; 4] {
        [r1 * r2, r2 * self.loops[0], r1 * self.loops[1], self.both]
    }
}

#[expect(
    clippy::inline_always,
    reason = "so that it is made for the vectors of the level it is dispatched to"
)]
#[inline(always)]
fn pair(table: &Table, ports: (usize, usize), strengths: &Strengths, readings: &mut Readings) {
    let two = Two::new(table, ports);
    let (first, second) = (table.column(ports.0), table.column(ports.1));
    let stride = readings.stride;
    for from in (0..stride).step_by(LANES) {
        let (r1, r2) = (strengths.lanes(0, from), strengths.lanes(1, from));
        let (mut put1, mut put2) = ([0.0; LANES], [0.0; LANES]);
        for lane in 0..LANES {
            let (r1, r2) = (r1[lane], r2[lane]);
            let [a, b, c, d] = two.terms(r1, r2);
            let inverse = 1.0 / ((a + b) + (c + d));
            put1[lane] = (two.heard[0] * r2 + two.beside[0]) * inverse;
            put2[lane] = (two.heard[1] * r1 + two.beside[1]) * inverse;
        }
        readings.put[0][from..from + LANES].copy_from_slice(&put1);
        readings.put[1][from..from + LANES].copy_from_slice(&put2);
        for row in 0..table.n_probes {
            let (base, by1, by2) = (table.base_rounded[row], first[row], second[row]);
            let read: Lanes = std::array::from_fn(|lane| base + (by1 * put1[lane] + by2 * put2[lane]));
            readings.values[row * stride + from..][..LANES].copy_from_slice(&read);
        }
        let mut beyond: [bool; LANES] = std::array::from_fn(|lane| !(put1[lane].is_finite() && put2[lane].is_finite()));
        for watch in &table.watches {
            let (base, by1, by2) = (table.base_rounded[watch.row], first[watch.row], second[watch.row]);
            for lane in 0..LANES {
                beyond[lane] |= watch.is_broken(base + (by1 * put1[lane] + by2 * put2[lane]));
            }
        }
        readings.beyond[from..from + LANES].copy_from_slice(&beyond);
    }
    if strengths.any_negative || two.loops[0] < 0.0 || two.loops[1] < 0.0 || two.both < 0.0 {
        for at in 0..stride {
            if is_cancelled(two.terms(strengths.inverse[0][at], strengths.inverse[1][at])) {
                readings.give_up(at);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sweep::{Port, Probe, Sweep};
    use crate::{Element, ElementId, Netlist, NodeId, States};

    #[test]
    fn equal_bits_whatever_the_vectors() {
        let resistor = |a: u32, b: u32, ohms: f64| Element::Resistor {
            a: NodeId(a),
            b: NodeId(b),
            ohms,
        };
        let netlist = Netlist {
            n_nodes: 5,
            elements: vec![
                Element::VoltageSource {
                    plus: NodeId(1),
                    minus: NodeId(0),
                    volts: 12.6,
                    ohms: 0.013,
                },
                resistor(1, 2, 0.0071),
                resistor(2, 3, 371.0),
                resistor(3, 4, 0.011),
                resistor(4, 0, 4711.0),
                resistor(3, 0, 1.3e6),
            ],
        };
        let ports: Vec<Port> = (1..5).map(|at| Port::Series { element: ElementId(at) }).collect();
        let probes: Vec<Probe> = (1..5).map(|node| Probe::Volts(NodeId(node), NodeId(0))).collect();
        let sweep = Sweep::new(&netlist, &States::initial(&netlist), &ports, &probes)
            .unwrap()
            .unwrap();
        let strengths = Strengths::pairs(&[1e-3, 0.3, 7.0, 1.1e3, 1e7], &[0.0, 1e-2, 13.0, 1e5, f64::INFINITY]);
        let levels = [Level::new(), Level::baseline()];
        for one in 0..4 {
            for ports in [vec![one], vec![one, (one + 1) % 4]] {
                let [best, plain] = levels.map(|level| {
                    let mut readings = Readings::default();
                    readings.clear(4, strengths.len());
                    read_with(level, &sweep.table, &ports, &strengths, &mut readings);
                    readings
                });
                let bits = |readings: &Readings| readings.values.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
                assert_eq!(bits(&best), bits(&plain));
            }
        }
    }
}
