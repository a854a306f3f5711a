//! The belief as a handful of points: a cause at one severity, with what the readings have taught about the parameters.
//!
//! What a test not yet done would show is predicted from these.

use bench::Kind;
use circuit::{Fault, Provoked};

use super::integral::{Ground, Integral, Piece};
use super::pairs::Pair;
use super::setting::Setting;
use super::ways::{Way, chance_there};
use crate::likelihood::{Sums, there_next};
use crate::model::Field;
use crate::predictions::{Broken, Cell, Wanted};

/// A cause less likely than this has no points of its own: together such causes hold little that could be told.
pub(crate) const LEAST: f64 = 3e-4;

/// A point of the belief.
#[derive(Clone, Debug)]
pub(crate) struct Component {
    /// Its class of repair.
    pub(crate) class: usize,
    /// The fault; `None` for a cause outside the circuit.
    pub(crate) fault: Option<usize>,
    /// What the next test sees of it, as predictions know it.
    pub(crate) wanted: Wanted,
    /// Its chance.
    pub(crate) chance: f64,
    /// How far severity is spread around the position, standard deviation in positions.
    pub(crate) spread: f64,
    /// The same of a second fault's.
    pub(crate) second_spread: f64,
    /// Chance that a test shows anything at all (causes outside the circuit).
    pub(crate) elsewhere: f64,
    /// Of a fault that comes and goes: how it is at the next reading.
    pub(crate) coming: Option<Coming>,
    /// What was done has cured it.
    pub(crate) mended: bool,
    /// What is known of the parameters.
    pub(crate) known: Known,
}

/// A fault that comes and goes has its points in pairs, one behind the other: with the fault there at the next reading, as
/// likely as it is while nothing provokes it, and without.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Coming {
    /// Whether it is there in this point.
    pub(crate) is_there: bool,
    /// What was done at the last reading, and the chance that it was there then.
    last: Option<(Option<Provoked>, f64)>,
}

impl Coming {
    /// Chance that the fault is there at a next reading during which this is done.
    pub(crate) fn chance(&self, fault: &Fault, provoked: Option<Provoked>) -> f64 {
        let last = self.last.filter(|last| last.0 == provoked);
        there_next(chance_there(fault, provoked), last.map(|last| last.1))
    }
}

/// Parameters at the next reading: mean θ, and covariance `before` − Σ shrink · factor factorᵀ, over
/// [`Params::ids`](crate::model::Params).
#[derive(Clone, Debug, Default)]
pub(crate) struct Known {
    pub(crate) ids: Vec<u32>,
    /// Variances without the readings.
    before: Vec<f64>,
    pub(crate) mean: Vec<f64>,
    pub(crate) factors: Vec<(f64, Vec<f64>)>,
}

impl Known {
    /// From the sums of all readings, made with combinations.
    pub(crate) fn of(ground: Ground<'_>, field: &Field, sums: &Sums) -> Self {
        let (n, p) = (ground.body.len(), ground.params.ids.len());
        let mut known = Self {
            ids: ground.params.ids.clone(),
            before: (0..p).map(|place| ground.params.variance_at_next(place)).collect(),
            mean: vec![0.0; p],
            factors: Vec::new(),
        };
        for (k, step) in sums.steps.iter().enumerate() {
            if step.shrink == 0.0 && step.gain == 0.0 {
                continue;
            }
            let mut factor = vec![0.0; p];
            for i in 0..n {
                let by = sums.combinations[k * n + i];
                let slopes = &field.by_param[i * p..(i + 1) * p];
                for (place, (sum, slope)) in factor.iter_mut().zip(slopes).enumerate() {
                    *sum += by * slope * ground.params.tie_to_next(place, i);
                }
            }
            for (mean, factor) in known.mean.iter_mut().zip(&factor) {
                *mean += step.gain * factor;
            }
            known.factors.push((step.shrink, factor));
        }
        known
    }

    /// Mean and variance that the parameters give to a prediction with these derivatives.
    pub(crate) fn moved(&self, by_param: &[(u32, f64)]) -> (f64, f64) {
        let mut variance = 0.0;
        let mut places: Vec<(usize, f64)> = Vec::with_capacity(by_param.len());
        let mut at = 0;
        for &(id, by) in by_param {
            while at < self.ids.len() && self.ids[at] < id {
                at += 1;
            }
            if at < self.ids.len() && self.ids[at] == id {
                places.push((at, by));
                variance += by * by * self.before[at];
            } else {
                variance += by * by;
            }
        }
        let along = |vector: &[f64]| places.iter().map(|&(at, by)| by * vector[at]).sum::<f64>();
        let mean = along(&self.mean);
        for (shrink, factor) in &self.factors {
            variance -= shrink * along(factor).powi(2);
        }
        (mean, variance.max(0.0))
    }

    /// Variance left to a parameter.
    pub(crate) fn variance(&self, at: usize) -> f64 {
        let told: f64 = self
            .factors
            .iter()
            .map(|(shrink, factor)| shrink * factor[at] * factor[at])
            .sum();
        (self.before[at] - told).max(0.0)
    }
}

/// What a test would show under a component, its instrument left out.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Foreseen {
    pub(crate) kind: Kind,
    pub(crate) mean: f64,
    pub(crate) variance: f64,
    pub(crate) ghost_volts: (f64, f64),
}

impl Component {
    /// Whether it stands for a cause outside the circuit.
    pub(crate) fn is_outside(&self) -> bool {
        self.fault.is_none()
    }

    pub(crate) fn foresee(&self, cell: &Cell) -> Foreseen {
        self.foresee_beside(cell, [0.0; 2])
    }

    /// The same from the answer at severities this many positions below its own.
    pub(crate) fn foresee_beside(&self, cell: &Cell, below: [f64; 2]) -> Foreseen {
        let (moved, variance) = self.known.moved(&cell.by_param);
        let slopes = [cell.slope, cell.second_slope].map(|slope| slope.unwrap_or(0.0));
        let [first, second] = [slopes[0] * self.spread, slopes[1] * self.second_spread];
        Foreseen {
            kind: cell.kind,
            mean: cell.value + moved + slopes[0] * below[0] + slopes[1] * below[1],
            variance: variance + first * first + second * second,
            ghost_volts: cell.ghost_volts,
        }
    }
}

/// The points of a fault: its severities in a few groups of equal chance, more of them the likelier it is.
pub(crate) fn points(ground: Ground<'_>, way: &Way, integral: &Integral, chance: f64, class: usize) -> Vec<Component> {
    let n_groups = if integral.last == 0 {
        1.0
    } else if chance > 0.05 {
        5.0
    } else if chance > 0.005 {
        3.0
    } else {
        2.0
    };
    // (share, Σ share · position, Σ share · (position² + width²/12)) by group.
    let mut groups: Vec<(f64, f64, f64)> = Vec::new();
    let mut before = 0.0;
    for (position, width, share_log, part) in integral.parts() {
        let share = (part.log + share_log - integral.log).exp();
        let group = (((before + 0.5 * share) * n_groups) as usize).min(n_groups as usize - 1);
        groups.resize(groups.len().max(group + 1), (0.0, 0.0, 0.0));
        groups[group].0 += share;
        groups[group].1 += share * position;
        groups[group].2 += share * (position * position + width * width / 12.0);
        before += share;
    }
    let mut room = <(Field, Sums)>::default();
    let mut points: Vec<Component> = Vec::new();
    for (share, first, second) in groups {
        if share <= 1e-6 {
            continue;
        }
        let mean = first / share;
        let spread = (second / share - mean * mean).max(0.0).sqrt();
        let position = (mean.round() as u16).min(integral.last);
        let wanted = Wanted {
            inside: way.inside,
            broken: Broken::One(way.fault, position),
        };
        if let Some(last) = points.last_mut().filter(|last| last.wanted == wanted) {
            last.chance += chance * share;
            last.spread = last.spread.max(spread);
            continue;
        }
        let known = known_at(ground, way, integral, position, spread, &mut room);
        let coming = way.course.comes_and_goes.then(|| Coming {
            is_there: true,
            last: last_there(ground, &room.1),
        });
        points.push(Component {
            class,
            fault: Some(way.fault),
            wanted,
            chance: chance * share,
            spread,
            second_spread: 0.0,
            elsewhere: 0.0,
            coming: coming.filter(|_| !way.course.is_over()),
            mended: way.course.is_over(),
            known,
        });
    }
    let fault = ground.faults[way.fault];
    points
        .into_iter()
        .flat_map(|point| {
            let there = match point.coming {
                _ if way.course.is_over() => 0.0,
                Some(coming) => coming.chance(fault, None),
                None => return vec![point],
            };
            absent_too(point, there)
        })
        .collect()
}

/// The same point where the next test finds the fault there with this chance only.
fn absent_too(point: Component, there: f64) -> Vec<Component> {
    let absent = Component {
        wanted: Wanted::healthy(point.wanted.inside),
        chance: point.chance * (1.0 - there),
        spread: 0.0,
        coming: point.coming.map(|coming| Coming {
            is_there: false,
            ..coming
        }),
        ..point.clone()
    };
    if there <= 0.0 {
        return vec![absent];
    }
    let chance = point.chance * there;
    vec![Component { chance, ..point }, absent]
}

/// What was done at the last reading of this vehicle, and the chance that a fault that comes and goes was there then.
fn last_there(ground: Ground<'_>, sums: &Sums) -> Option<(Option<Provoked>, f64)> {
    let each = ground.body.evidence.iter().zip(&sums.steps);
    let of_this = each.filter(|(evidence, _)| !evidence.at.of_twin);
    let last = of_this.max_by_key(|(evidence, _)| evidence.position);
    last.map(|(evidence, step)| (evidence.at.provoked, step.there))
}

/// The point of two faults at once: in the middle of their plausible severities.
pub(crate) fn of_pair(ground: Ground<'_>, pair: &Pair, fault: usize, chance: f64, class: usize) -> Option<Component> {
    let (weighed, leaf) = pair.best()?;
    let mut moments = [(0.0, 0.0); 2];
    let mut sum = 0.0;
    for patch in &pair.weighed {
        for (share, leaf) in pair.parts_of(patch) {
            let weight = (share + leaf.log - pair.log).exp();
            sum += weight;
            for (moment, position) in moments.iter_mut().zip(patch.positions(leaf)) {
                moment.0 += weight * position;
                moment.1 += weight * position * position;
            }
        }
    }
    let middle = moments.map(|moment| moment.0 / sum);
    let spreads = [0, 1].map(|at: usize| (moments[at].1 / sum - middle[at].powi(2)).max(0.0).sqrt());
    let [one, other] = [0, 1].map(|at: usize| (pair.ways[at].fault, (middle[at].round() as u16).min(pair.last[at])));
    let patch = weighed.patch(ground, pair);
    let known = Setting::Two { patch, at: leaf.at }.known(ground, &mut <(Field, Sums)>::default());
    Some(Component {
        class,
        fault: Some(fault),
        wanted: Wanted {
            inside: pair.ways[0].inside,
            broken: Broken::Two([one, other]),
        },
        chance,
        spread: spreads[0],
        second_spread: spreads[1],
        elsewhere: 0.0,
        coming: None,
        mended: false,
        known,
    })
}

fn known_at(
    ground: Ground<'_>,
    way: &Way,
    integral: &Integral,
    position: u16,
    spread: f64,
    room: &mut (Field, Sums),
) -> Known {
    let holds = |piece: &&Piece| piece.from <= position && position <= piece.to;
    let Some(piece) = integral.pieces.iter().find(holds) else {
        return Known::default();
    };
    let span = ground.span(way, piece.from, piece.to);
    let gap = f64::from(piece.to - piece.from).max(1.0);
    let t = f64::from(position - piece.from) / gap;
    let width = if integral.last == 0 {
        0.0
    } else {
        (spread * 12_f64.sqrt() / gap).min(1.0)
    };
    let setting = Setting::One {
        span,
        t,
        width,
        elsewhere: 0.0,
    };
    setting.known(ground, room)
}
