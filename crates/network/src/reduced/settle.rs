//! Which tangents hold where a change moves bent elements: Newton on as many unknowns as there are puts.
//!
//! The laws are stepped as a whole solve steps them ([`law::advance`]).

use super::{CANCELLED, NEAR_ROUNDS, REST_ROUNDS, Reduced};
use crate::{Element, ElementId};
use crate::law::{self, Point, Tangent};
use crate::linearised::{Heard, Put, Update};
use crate::plan::{self, Pair};
use crate::twofold::Twofold;

/// From this round on one element at a time crosses a corner, and none leaves out a piece of its law.
const CAREFUL: u32 = 6;

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
}

impl Bent {
    /// Where it was linearised, with the controls of its first flow.
    pub(super) fn new(id: u32, element: &Element, point: Point, controls: [Pair; 2]) -> Self {
        Self {
            element: id,
            point,
            tangent: law::tangent(element, point, 1.0),
            puts: None,
            controls,
        }
    }
}

impl Reduced {
    /// A bent element that was changed or appended.
    pub(super) fn changed(&self, at: u32, element: &Element, puts: &mut Vec<Put>) -> Option<Bent> {
        let controls = plan::flows_of(element).first()?.controls;
        let point = match self.bent.binary_search_by_key(&at, |bent| bent.element) {
            Ok(bent) => self.bent[bent].point,
            Err(_) => law::start(element, Some(controls.map(|pair| self.base_across(pair)))),
        };
        let mut bent = Bent::new(at, element, point, controls);
        self.open(&mut bent, element, puts)?;
        Some(bent)
    }

    /// Makes a bent element's flows puts, if they are not yet. `None` if that cannot be.
    fn open(&self, bent: &mut Bent, element: &Element, puts: &mut Vec<Put>) -> Option<()> {
        if bent.puts.is_some() {
            return Some(());
        }
        bent.puts = Some(puts.len());
        let first = self.fixed.plan.flows_of.get(bent.element as usize).map(|range| range.start);
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
            });
        }
        Some(())
    }

    /// From the tangents that were factored, else from a circuit at rest. Rounds that it took; leaves the matrix factored.
    pub(super) fn come_to_rest(&self, update: &mut Update, bent: &mut [Bent]) -> Option<u32> {
        if let Some(rounds) = self.newton(update, bent, NEAR_ROUNDS) {
            return Some(rounds);
        }
        for one in &mut *bent {
            let element = self.element(&update.elements, one.element).clone();
            one.point = law::start(&element, Some([0.0; 2]));
            one.tangent = law::tangent(&element, one.point, 1.0);
            self.open(one, &element, &mut update.puts)?;
        }
        Some(NEAR_ROUNDS + self.newton(update, bent, REST_ROUNDS)?)
    }

    /// An element as it now is.
    fn element<'a>(&'a self, elements: &'a [(ElementId, Element)], at: u32) -> &'a Element {
        match elements.binary_search_by_key(&at, |entry| entry.0.0) {
            Ok(found) => &elements[found].1,
            Err(_) => &self.fixed.netlist.elements[at as usize],
        }
    }

    fn newton(&self, update: &mut Update, bent: &mut [Bent], rounds: u32) -> Option<u32> {
        for round in 0..rounds {
            for one in &*bent {
                if let Some(first) = one.puts {
                    self.follow(one, &mut update.puts[first..]);
                }
            }
            self.solve_puts(update)?;
            if self.advance(update, bent, round)? {
                return Some(round + 1);
            }
        }
        None
    }

    /// Gives a bent element's puts its tangent.
    fn follow(&self, bent: &Bent, puts: &mut [Put]) {
        for put in puts.iter_mut().take_while(|put| put.element == bent.element) {
            let carries = put.which as usize == bent.tangent.flow;
            let (now, was) = (
                if carries { bent.tangent } else { Tangent::default() },
                self.factored(put.element, put.which),
            );
            let constant = |tangent: &Tangent| {
                tangent.amps - (tangent.siemens[0] * tangent.at[0] + tangent.siemens[1] * tangent.at[1])
            };
            put.tangent = now;
            put.heard = Heard::More([now.siemens[0] - was.siemens[0], now.siemens[1] - was.siemens[1]]);
            put.offset = constant(&now) - constant(&was);
        }
    }

    /// What is put in, the tangents held.
    fn solve_puts(&self, update: &mut Update) -> Option<()> {
        let Update {
            puts, amounts, matrix, ..
        } = update;
        let n = puts.len();
        amounts.clear();
        let entries = matrix.clear(n);
        for (row, put) in entries.chunks_mut(n.max(1)).zip(&*puts) {
            amounts.push(put.offset + self.heard(put));
            for (entry, other) in row.iter_mut().zip(&*puts) {
                *entry = -hears(put, other);
            }
        }
        // What is left of a good contact's own response is a difference that only twofold digits have.
        for (at, put) in puts.iter().enumerate() {
            entries[at * n + at] = (Twofold::from(put.inverse) - own(put)).value();
        }
        if matrix.factor() < CANCELLED {
            return None;
        }
        matrix.solve(amounts);
        amounts.iter().all(|amount| amount.is_finite()).then_some(())
    }

    /// Moves the points of bent elements that the amounts contradict. Whether there were none.
    fn advance(&self, update: &mut Update, bent: &mut [Bent], round: u32) -> Option<bool> {
        let (mut settled, mut crossed, careful) = (true, false, round >= CAREFUL);
        let n = bent.len();
        let moves: Vec<f64> = update
            .puts
            .iter()
            .zip(&update.amounts)
            .map(|(put, amount)| put.per_unit.value() * amount)
            .collect();
        for at in 0..n {
            let at = if careful { (at + round as usize) % n } else { at };
            let one = &mut bent[at];
            let across = one.controls.map(|pair| {
                // What was added to the puts in this round has no amount yet.
                let moves = update.puts.iter().zip(&moves);
                let moves: f64 = moves.map(|(put, amps)| between(put, pair) * amps).sum();
                self.base_across(pair) + moves
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

/// A response across a pair of nodes, per ampere.
fn between(put: &Put, (a, b): Pair) -> f64 {
    put.response[a as usize].high - put.response[b as usize].high
}

/// What a put hears per unit of another.
fn hears(put: &Put, other: &Put) -> f64 {
    let across = |pair: Pair| (other.response[pair.0 as usize] - other.response[pair.1 as usize]) * other.per_unit;
    match put.heard {
        Heard::Nothing => 0.0,
        Heard::Volts => across(put.flow.controls[0]).value(),
        Heard::Amps(siemens) => (siemens * across(put.flow.controls[0])).value(),
        Heard::More(more) => {
            let per_unit = other.per_unit.value();
            (0..put.flow.n_controls).fold(0.0, |sum, k| {
                sum + more[k] * between(other, put.flow.controls[k]) * per_unit
            })
        }
    }
}

/// What a put hears per unit of itself.
fn own(put: &Put) -> Twofold {
    let across = |pair: Pair| (put.response[pair.0 as usize] - put.response[pair.1 as usize]) * put.per_unit;
    match put.heard {
        Heard::Nothing => Twofold::default(),
        Heard::Volts => across(put.flow.controls[0]),
        Heard::Amps(siemens) => siemens * across(put.flow.controls[0]) + put.per_unit,
        Heard::More(more) => (0..put.flow.n_controls).fold(Twofold::default(), |sum, k| {
            sum + Twofold::from(more[k]) * across(put.flow.controls[k])
        }),
    }
}
