//! Which tangents hold where a change moves bent elements: Newton on as many unknowns as there are puts.
//!
//! The laws are stepped as a whole solve steps them ([`law::advance`]).

use super::{CANCELLED, CANCELLED_FINE, NEAR_ROUNDS, REST_ROUNDS, Reduced, across};
use crate::law::{self, Point, Tangent};
use crate::linearised::{Heard, Put, Update};
use crate::plan::{self, Pair};
use crate::small::{Matrix, Small};
use crate::twofold::Twofold;
use crate::{Element, ElementId, Solution};

/// From this round on one element at a time crosses a corner, and none leaves out a piece of its law.
const CAREFUL: u32 = 6;

/// On the way, a pivot of this share of its terms still shows the direction.
const ROUGH: f64 = 1e-12;
const ROUGH_FINE: f64 = 1e-23;

/// Puts that move more volts than this leave too few digits of those that remain.
const MOVED_VOLTS: f64 = 1e3;

/// A bent element on its way.
#[derive(Clone, Copy)]
pub(super) struct Bent {
    pub(super) element: u32,
    pub(super) point: Point,
    tangent: Tangent,
    /// Position of its first put, once it has any.
    pub(super) puts: Option<usize>,
    /// What it listens to.
    controls: [Pair; 2],
    /// Position of its first flow among those of the netlist's bent elements.
    first_flow: Option<u32>,
}

/// Where to look for an operating point.
#[derive(Clone, Copy)]
pub(crate) enum From<'a> {
    /// Near the points that were factored, for so many rounds.
    Here(u32),
    /// Beside another solution, then from a circuit at rest.
    Elsewhere(Option<&'a Solution>),
}

impl Bent {
    /// Where it is linearised, with the controls of its first flow and that flow's position, if the netlist has it.
    pub(super) fn new(id: u32, element: &Element, point: Point, controls: [Pair; 2], first_flow: Option<u32>) -> Self {
        Self {
            element: id,
            point,
            tangent: law::tangent(element, point, 1.0),
            puts: None,
            controls,
            first_flow,
        }
    }
}

impl Reduced {
    /// A bent element that was changed or appended.
    pub(super) fn changed(&self, at: u32, element: &Element, puts: &mut Vec<Put>) -> Option<Bent> {
        let controls = plan::flows_of(element).first()?.controls;
        let (point, first_flow) = if let Some(first) = self.bent.iter().find(|bent| bent.element == at) {
            (first.point, first.first_flow)
        } else {
            let volts = controls.map(|pair| self.base_between(pair).value());
            (law::start(element, Some(volts)), None)
        };
        let mut bent = Bent::new(at, element, point, controls, first_flow);
        self.open(&mut bent, element, puts)?;
        Some(bent)
    }

    /// Makes a bent element's flows puts, if they are not yet. `None` if that cannot be.
    fn open(&self, bent: &mut Bent, element: &Element, puts: &mut Vec<Put>) -> Option<()> {
        if bent.puts.is_some() {
            return Some(());
        }
        bent.puts = Some(puts.len());
        let first = self
            .fixed
            .plan
            .flows_of
            .get(bent.element as usize)
            .map(|range| range.start);
        for (which, flow) in (0..).zip(plan::flows_of(element)) {
            puts.push(Put {
                element: bent.element,
                which,
                flow,
                tangent: Tangent::default(),
                response: self.response(first.map(|first| first + which), flow.from, flow.to)?,
                per_unit: 1.0.into(),
                heard: Heard::More([0.0; 2]),
                inverse: 1.0,
                offset: 0.0,
                base: flow.controls.map(|pair| self.base_between(pair)),
                bent: bent.first_flow.map(|first| first + which),
            });
        }
        Some(())
    }

    /// Finds tangents that hold. Rounds that it took; leaves the matrix factored.
    pub(super) fn come_to_rest(&self, update: &mut Update, bent: &mut [Bent], from: From<'_>) -> Option<u32> {
        let near = match from {
            From::Here(rounds) => return self.newton(update, bent, rounds),
            From::Elsewhere(near) => near,
        };
        let mut rounds = 0;
        if let Some(near) = near {
            for one in &mut *bent {
                let point = near.at.bent_point(one.element);
                if let Some(point) = point.filter(|point| *point != one.point) {
                    self.move_to(update, one, point)?;
                }
            }
            if let Some(took) = self.newton(update, bent, NEAR_ROUNDS) {
                return Some(rounds + took);
            }
            rounds += NEAR_ROUNDS;
        }
        for one in &mut *bent {
            let point = law::start(self.element(&update.elements, one.element), Some([0.0; 2]));
            self.move_to(update, one, point)?;
        }
        Some(rounds + self.newton(update, bent, REST_ROUNDS)?)
    }

    fn move_to(&self, update: &mut Update, bent: &mut Bent, point: Point) -> Option<()> {
        let element = self.element(&update.elements, bent.element).clone();
        bent.point = point;
        bent.tangent = law::tangent(&element, point, 1.0);
        self.open(bent, &element, &mut update.puts)
    }

    /// An element as it now is.
    fn element<'a>(&'a self, elements: &'a [(ElementId, Element)], at: u32) -> &'a Element {
        match elements.binary_search_by_key(&at, |entry| entry.0.0) {
            Ok(found) => &elements[found].1,
            Err(_) => &self.fixed.netlist.elements[at as usize],
        }
    }

    fn newton(&self, update: &mut Update, bent: &mut [Bent], rounds: u32) -> Option<u32> {
        // The way there may be rough, the end not.
        update.fine = false;
        for round in 0..rounds {
            for one in &*bent {
                if let Some(first) = one.puts {
                    self.follow(one, &mut update.puts[first..]);
                }
            }
            let digits = self.solve_puts(update)?;
            if self.advance(update, bent, round)? {
                if update.fine || (digits > CANCELLED && !cancels(update)) {
                    return (digits > CANCELLED).then_some(round + 1);
                }
                update.fine = true;
            }
            update.fine |= round == CAREFUL && cancels(update);
        }
        None
    }

    /// Gives a bent element's puts its tangent.
    fn follow(&self, bent: &Bent, puts: &mut [Put]) {
        for put in puts.iter_mut().take_while(|put| put.element == bent.element) {
            let now = bent.tangent.on(put.which as usize);
            let was = self.factored(put.element, put.which);
            put.tangent = now;
            put.heard = Heard::More([now.siemens[0] - was.siemens[0], now.siemens[1] - was.siemens[1]]);
            put.offset = now.constant() - was.constant();
        }
    }

    /// What is put in, the tangents held; in twofold digits if asked for or if hardly any of a double's remain. Share of the
    /// digits that remained.
    fn solve_puts(&self, update: &mut Update) -> Option<f64> {
        let Update {
            puts,
            amounts,
            matrix,
            fine,
            ..
        } = update;
        let active: Vec<&Put> = puts.iter().filter(|put| !put.is_idle()).collect();
        let n = active.len();
        let listeners: Vec<&[[Twofold; 2]]> = active
            .iter()
            .map(|put| put.bent.map_or(&[][..], |of| self.listeners(of, &put.response)))
            .collect();
        let mut plain = match std::mem::take(matrix) {
            Matrix::Plain(small) => small,
            _ => Small::default(),
        };
        let entries = plain.clear(n);
        for (at, put) in active.iter().enumerate() {
            for (beside, other) in active.iter().enumerate() {
                // What is left of a good contact's own response is a difference that only twofold digits have.
                entries[at * n + beside] = if at == beside {
                    entry(listeners[beside], put, other, true).value()
                } else {
                    -hears_roughly(listeners[beside], put, other)
                };
            }
        }
        let heard = active
            .iter()
            .map(|put| Twofold::from(put.offset) + put.hears(|k| put.base[k]));
        let mut digits = plain.factor();
        let found: Vec<Twofold> = if digits > ROUGH && !*fine {
            let mut found: Vec<f64> = heard.map(Twofold::value).collect();
            plain.solve(&mut found);
            *matrix = Matrix::Plain(plain);
            found.into_iter().map(Twofold::from).collect()
        } else {
            let mut fine = Small::default();
            let entries = fine.clear(n);
            for (at, put) in active.iter().enumerate() {
                for (beside, other) in active.iter().enumerate() {
                    entries[at * n + beside] = entry(listeners[beside], put, other, at == beside);
                }
            }
            let left = fine.factor();
            if left < ROUGH_FINE {
                return None;
            }
            digits = if left < CANCELLED_FINE { 0.0 } else { 1.0 };
            let mut found: Vec<Twofold> = heard.collect();
            fine.solve(&mut found);
            *matrix = Matrix::Fine(fine);
            found
        };
        let mut found = found.into_iter();
        amounts.clear();
        let amount = |put: &Put| if put.is_idle() { None } else { found.next() };
        amounts.extend(puts.iter().map(amount).map(Option::unwrap_or_default));
        amounts
            .iter()
            .all(|amount| amount.value().is_finite())
            .then_some(digits)
    }

    /// Moves the points of bent elements that the amounts contradict. Whether there were none.
    fn advance(&self, update: &mut Update, bent: &mut [Bent], round: u32) -> Option<bool> {
        let (mut settled, mut crossed, careful) = (true, false, round >= CAREFUL);
        let n = bent.len();
        let moves: Vec<Twofold> = update.moves().collect();
        for at in 0..n {
            let at = if careful { (at + round as usize) % n } else { at };
            let one = &mut bent[at];
            let across = one.controls.map(|pair| {
                // What was added to the puts in this round has no amount yet.
                let moves = update.puts.iter().zip(&moves);
                let base = self.base_between(pair);
                let terms = moves.clone().map(|(put, amps)| between(put, pair) * amps.high);
                let (sum, size) = terms.fold((base.value(), 0.0), |(sum, size), term| (sum + term, size + term.abs()));
                if !update.fine || size < MOVED_VOLTS {
                    return sum;
                }
                let sum = moves.fold(base, |sum, (put, &amps)| sum + across(&put.response, pair) * amps);
                sum.value()
            });
            if !(across[0].is_finite() && across[1].is_finite()) {
                return None;
            }
            let element = self.element(&update.elements, one.element);
            let (next, right) = law::advance(element, one.point, &one.tangent, across, 1.0, careful);
            if right {
                continue;
            }
            settled = false;
            let corner = (next.piece, next.target) != (one.point.piece, one.point.target);
            if corner && crossed && careful {
                continue;
            }
            crossed |= corner;
            one.point = next;
            one.tangent = law::tangent(element, next, 1.0);
            self.open(one, element, &mut update.puts)?;
        }
        Some(settled)
    }
}

/// Whether what the puts move is so much that a double's rounding of it could be seen.
fn cancels(update: &Update) -> bool {
    update.puts.iter().zip(update.moves()).any(|(put, amps)| {
        let most = put
            .response
            .iter()
            .fold(0.0_f64, |most, volts| most.max(volts.high.abs()));
        most * amps.high.abs() > MOVED_VOLTS
    })
}

/// A response across a pair of nodes, per ampere.
fn between(put: &Put, (a, b): Pair) -> f64 {
    put.response[a as usize].high - put.response[b as usize].high
}

/// What is known of what a put's flow listens to per ampere of another one that has these listeners.
fn known(listeners: &[[Twofold; 2]], put: &Put) -> Option<[Twofold; 2]> {
    listeners.get(put.bent? as usize).copied()
}

/// What a put hears per unit of another one, but for what cancels.
fn hears_roughly(listeners: &[[Twofold; 2]], put: &Put, other: &Put) -> f64 {
    let known = known(listeners, put);
    let across = |k: usize| match known {
        Some(known) => known[k].high,
        None => between(other, put.flow.controls[k]) * other.per_unit.high,
    };
    put.hears(across)
}

/// An entry of the matrix: `inverse`, where a put meets itself, less what it hears per unit of the other.
fn entry(listeners: &[[Twofold; 2]], put: &Put, other: &Put, itself: bool) -> Twofold {
    let known = known(listeners, put);
    let across = |k: usize| match known {
        Some(known) => known[k],
        None => across(&other.response, put.flow.controls[k]) * other.per_unit,
    };
    let heard = put.hears(across);
    if !itself {
        return -heard;
    }
    let in_series = match put.heard {
        Heard::Amps(_) => put.per_unit,
        _ => Twofold::default(),
    };
    Twofold::from(put.inverse) - (heard + in_series)
}
