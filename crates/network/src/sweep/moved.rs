//! Hypotheses that move a bent element off its tangent: Newton on as many unknowns as there are ports that moved.
//!
//! Unknown is what is put in at the hypothesis' ports, and by how much each moved flow deviates from the tangent that was
//! factored. The laws are stepped as a whole solve steps them ([`law::advance`]).

use super::linear::Strengths;
use super::readings::Readings;
use super::table::{Bent, Table, Watch};
use crate::law::{self, Point, Tangent};
use crate::small::Small;

/// Rounds from the tangents that were factored, then from a circuit at rest.
const NEAR_ROUNDS: usize = 10;
const REST_ROUNDS: usize = 40;
/// From this round on one element at a time crosses a corner, and none leaves out a piece of its law.
const CAREFUL: usize = 6;

/// A bent element on its way.
#[derive(Clone, Copy, Debug)]
struct Way {
    point: Point,
    tangent: Tangent,
    moved: bool,
}

/// Room for one hypothesis after another.
#[derive(Debug, Default)]
pub(crate) struct Moved {
    ways: Vec<Way>,
    /// Columns of the table that are unknown.
    puts: Vec<usize>,
    amounts: Vec<f64>,
    matrix: Small<f64>,
    /// What is put in at each of `puts` when one unit more is put in somewhere.
    answer: Vec<f64>,
}

impl Moved {
    /// Looks at every hypothesis whether its bent elements stay on their tangents, and solves those again where they do not.
    pub(crate) fn settle(&mut self, table: &Table, ports: &[usize], strengths: &Strengths, readings: &mut Readings) {
        for hypothesis in 0..strengths.len() {
            if readings.beyond[hypothesis] && !readings.put[0][hypothesis].is_finite() {
                continue;
            }
            self.begin(table, ports, readings, hypothesis);
            if self.stays(table) {
                continue;
            }
            let found = self.come_to_rest(table, ports.len(), strengths, hypothesis);
            self.write(table, ports.len(), readings, hypothesis, found);
        }
    }

    /// Comes to rest in one hypothesis again, and leaves the matrix of what it puts in factored. False if it cannot.
    pub(crate) fn again(
        &mut self,
        table: &Table,
        ports: &[usize],
        strengths: &Strengths,
        readings: &Readings,
        hypothesis: usize,
    ) -> bool {
        self.begin(table, ports, readings, hypothesis);
        self.come_to_rest(table, ports.len(), strengths, hypothesis)
    }

    /// From the tangents that were factored, else from a circuit without voltage. False if it cannot.
    fn come_to_rest(&mut self, table: &Table, n_ports: usize, strengths: &Strengths, hypothesis: usize) -> bool {
        let inverse = |port: usize| strengths.inverse(port, hypothesis);
        self.newton(table, n_ports, &inverse, NEAR_ROUNDS) || {
            self.rest(table);
            self.newton(table, n_ports, &inverse, REST_ROUNDS)
        }
    }

    /// What is put in when one more unit is put in at column `put`, after [`Moved::again`].
    pub(crate) fn response(&mut self, table: &Table, n_ports: usize, put: usize) {
        let column = table.column(put);
        self.answer.clear();
        for &port in &self.puts[..n_ports] {
            self.answer.push(column[table.first_port + port]);
        }
        let mut at = n_ports;
        while at < self.puts.len() {
            let Some(place) = table.bent.iter().position(|bent| bent.column == self.puts[at]) else {
                return;
            };
            let (bent, tangent) = (&table.bent[place], &self.ways[place].tangent);
            for flow in 0..bent.n_flows {
                let more = more_siemens(tangent, &bent.tangent, flow);
                self.answer
                    .push((0..bent.n_controls).map(|k| more[k] * column[bent.row + k]).sum());
            }
            at += bent.n_flows;
        }
        self.matrix.solve(&mut self.answer);
    }

    /// What a row reads more by that unit.
    pub(crate) fn answered(&self, table: &Table, put: usize, row: usize) -> f64 {
        let answers = self.puts.iter().zip(&self.answer);
        answers.fold(table.column(put)[row], |sum, (&put, answer)| {
            sum + table.column(put)[row] * answer
        })
    }

    /// Where a bent element came to rest.
    pub(crate) fn way(&self, at: usize) -> (Point, Tangent) {
        (self.ways[at].point, self.ways[at].tangent)
    }

    fn begin(&mut self, table: &Table, ports: &[usize], readings: &Readings, hypothesis: usize) {
        self.ways.clear();
        self.ways.extend(table.bent.iter().map(|bent| Way {
            point: bent.point,
            tangent: bent.tangent,
            moved: false,
        }));
        self.puts.clear();
        self.puts.extend_from_slice(ports);
        self.amounts.clear();
        self.amounts
            .extend((0..ports.len()).map(|port| readings.put[port][hypothesis]));
    }

    /// A row's value with what is put in.
    pub(crate) fn row(&self, table: &Table, row: usize) -> f64 {
        let put = self.puts.iter().zip(&self.amounts);
        put.fold(table.base_rounded[row], |sum, (&put, amount)| {
            sum + table.column(put)[row] * amount
        })
    }

    pub(crate) fn controls(&self, table: &Table, bent: &Bent) -> [f64; 2] {
        let second = if bent.n_controls > 1 {
            self.row(table, bent.row + 1)
        } else {
            0.0
        };
        [self.row(table, bent.row), second]
    }

    fn stays(&self, table: &Table) -> bool {
        table.bent.iter().zip(&self.ways).all(|(bent, way)| {
            law::advance(
                &bent.element,
                way.point,
                &way.tangent,
                self.controls(table, bent),
                1.0,
                false,
            )
            .1
        })
    }

    /// Starts every bent element where it is without voltage.
    fn rest(&mut self, table: &Table) {
        for at in 0..self.ways.len() {
            let bent = &table.bent[at];
            let point = law::start(&bent.element, Some([0.0; 2]));
            self.step(bent, at, point);
        }
    }

    fn step(&mut self, bent: &Bent, at: usize, point: Point) {
        let way = &mut self.ways[at];
        way.point = point;
        way.tangent = law::tangent(&bent.element, point, 1.0);
        if !way.moved {
            way.moved = true;
            self.puts.extend(bent.column..bent.column + bent.n_flows);
        }
    }

    /// False if no tangents are found that hold.
    fn newton(&mut self, table: &Table, n_ports: usize, inverse: &dyn Fn(usize) -> f64, rounds: usize) -> bool {
        (0..rounds).any(|round| {
            // A matrix that cannot be solved leaves numbers that are none, and nothing settles on those.
            self.solve(table, n_ports, inverse) && self.advance(table, round)
        })
    }

    /// What is put in, the tangents held.
    fn solve(&mut self, table: &Table, n_ports: usize, inverse: &dyn Fn(usize) -> f64) -> bool {
        let n = self.puts.len();
        self.amounts.clear();
        let entries = self.matrix.clear(n);
        for port in 0..n_ports {
            let heard = table.first_port + self.puts[port];
            self.amounts.push(table.base_rounded[heard]);
            for (entry, &put) in entries[port * n..].iter_mut().zip(&self.puts) {
                *entry = -table.column(put)[heard];
            }
            entries[port * n + port] += inverse(port);
        }
        let mut at = n_ports;
        while at < n {
            let Some(place) = table.bent.iter().position(|bent| bent.column == self.puts[at]) else {
                return false;
            };
            let (bent, tangent) = (&table.bent[place], &self.ways[place].tangent);
            for flow in 0..bent.n_flows {
                let (now, was) = (tangent.on(flow), bent.tangent.on(flow));
                let more = more_siemens(tangent, &bent.tangent, flow);
                let mut constant = now.amps - was.amps;
                let row = &mut entries[(at + flow) * n..(at + flow + 1) * n];
                for (k, more) in more.into_iter().enumerate().take(bent.n_controls) {
                    constant -= now.siemens[k] * now.at[k] - was.siemens[k] * was.at[k];
                    constant += more * table.base_rounded[bent.row + k];
                    for (entry, &put) in row.iter_mut().zip(&self.puts) {
                        *entry -= more * table.column(put)[bent.row + k];
                    }
                }
                row[at + flow] += 1.0;
                self.amounts.push(constant);
            }
            at += bent.n_flows;
        }
        if self.matrix.factor() == 0.0 {
            return false;
        }
        self.matrix.solve(&mut self.amounts);
        self.amounts.iter().all(|amount| amount.is_finite())
    }

    /// Moves the points that the amounts contradict. Whether there were none.
    fn advance(&mut self, table: &Table, round: usize) -> bool {
        let (n, careful) = (self.ways.len(), round >= CAREFUL);
        let (mut settled, mut crossed) = (true, false);
        for at in 0..n {
            let at = if careful { (at + round) % n } else { at };
            let (bent, way) = (&table.bent[at], self.ways[at]);
            // What was added to the unknowns in this round has no amount yet.
            let across = self.controls(table, bent);
            let (next, right) = law::advance(&bent.element, way.point, &way.tangent, across, 1.0, careful);
            if right {
                continue;
            }
            settled = false;
            let corner = (next.piece, next.target) != (way.point.piece, way.point.target);
            if !(corner && crossed && careful) {
                crossed |= corner;
                self.step(bent, at, next);
            }
        }
        settled
    }

    fn write(&self, table: &Table, n_ports: usize, readings: &mut Readings, hypothesis: usize, found: bool) {
        let broken = |watch: &Watch| watch.is_broken(self.row(table, watch.row));
        readings.beyond[hypothesis] = !found || table.watches.iter().any(broken);
        if found {
            for port in 0..n_ports {
                readings.put[port][hypothesis] = self.amounts[port];
            }
            for probe in 0..table.n_probes {
                readings.values[probe * readings.stride + hypothesis] = self.row(table, probe);
            }
        }
    }
}

/// Conductances of a flow beyond those that were factored.
fn more_siemens(now: &Tangent, was: &Tangent, flow: usize) -> [f64; 2] {
    let (now, was) = (now.on(flow).siemens, was.on(flow).siemens);
    [now[0] - was[0], now[1] - was[1]]
}
