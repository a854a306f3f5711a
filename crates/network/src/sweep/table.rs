//! The circuit as its ports see it: what everything that is asked reads with nothing put in, and per unit put in.

use super::{Port, Probe};
use crate::columns::{Column, Columns};
use crate::plan::Flow;
use crate::states::Keeps;
use crate::twofold::Twofold;
use crate::{Element, ElementId, NodeId, Solution, States, law};
use rayon::prelude::*;

/// How near a limit a state counts as perhaps contradicted, relative.
const NEAR_LIMIT: f64 = 1e-9;

/// Something read.
#[derive(Clone, Copy, Debug)]
enum Row {
    Volts(u32, u32),
    Amps(u32),
    /// 1, whatever is put in.
    One,
}

/// Something put in: a current of `per_unit` that leaves node `from`, enters node `to` and counts as one of element `of`.
struct Put {
    from: u32,
    to: u32,
    of: Option<u32>,
    per_unit: Twofold,
}

/// A bent element, and where its rows and columns are.
#[derive(Clone, Debug)]
pub(crate) struct Bent {
    pub(crate) element: Element,
    pub(crate) point: law::Point,
    /// That of the point; of the flow that carries it.
    pub(crate) tangent: law::Tangent,
    /// First of its rows, one a control.
    pub(crate) row: usize,
    pub(crate) n_controls: usize,
    /// First of its columns, one a flow.
    pub(crate) column: usize,
    pub(crate) n_flows: usize,
}

/// What a discrete state needs: the size of a row's value, from and to (both excluded).
#[derive(Clone, Copy, Debug)]
pub(crate) struct Watch {
    pub(crate) row: usize,
    pub(crate) least: f64,
    pub(crate) most: f64,
}

/// Rows are: probes, watches, ports, controls of bent elements. Columns are: ports, flows of bent elements.
#[derive(Debug)]
pub(crate) struct Table {
    pub(crate) n_rows: usize,
    pub(crate) n_probes: usize,
    pub(crate) first_port: usize,
    /// By row.
    pub(crate) base: Vec<Twofold>,
    /// Column-major.
    pub(crate) response: Vec<Twofold>,
    /// The same, rounded.
    pub(crate) base_rounded: Vec<f64>,
    pub(crate) response_rounded: Vec<f64>,
    pub(crate) bent: Vec<Bent>,
    pub(crate) watches: Vec<Watch>,
}

/// What each state that could change is kept by.
fn watches(solution: &Solution) -> Vec<(Row, f64, f64)> {
    let below = |limit: f64| limit * (1.0 - NEAR_LIMIT);
    let watch = |(id, element): (ElementId, &Element)| {
        let volts = |coil: [NodeId; 2]| Row::Volts(coil[0].0, coil[1].0);
        Some(match Keeps::of(element, solution.states.at(id.0 as usize))? {
            Keeps::Whole { most_amps } if most_amps.is_infinite() => return None,
            Keeps::Whole { most_amps } => (Row::Amps(id.0), -1.0, below(most_amps)),
            Keeps::Out { coil, below_volts } => (volts(coil), -1.0, below(below_volts)),
            Keeps::In { coil, least_volts } => (volts(coil), least_volts * (1.0 + NEAR_LIMIT), f64::INFINITY),
        })
    };
    solution.at.fixed.netlist.iter().filter_map(watch).collect()
}

impl Table {
    /// `None` where the digits cannot be had. A port that cannot be put in here has NaN for its responses.
    pub(crate) fn new(solution: &Solution, ports: &[Port], probes: &[Probe]) -> Option<Self> {
        let fixed = &solution.at.fixed;
        let (plan, states) = (&*fixed.plan, &solution.states);
        let columns = Columns::new(std::sync::Arc::clone(fixed), states);
        let watches = watches(solution);
        let mut rows: Vec<Row> = probes.iter().map(|&probe| Row::of(probe)).collect();
        let first_watch = rows.len();
        rows.extend(watches.iter().map(|watch| watch.0));
        let first_port = rows.len();
        let mut puts: Vec<Option<Put>> = Vec::with_capacity(ports.len());
        for port in ports {
            let (row, put) = at(*port, &columns, fixed, states);
            rows.push(row);
            puts.push(put);
        }
        let mut bent = Vec::with_capacity(plan.bent.len());
        for (&element, &point) in plan.bent.iter().zip(&fixed.points) {
            let flows = &plan.flows
                [plan.flows_of[element as usize].start as usize..plan.flows_of[element as usize].end as usize];
            let Flow {
                controls, n_controls, ..
            } = *flows.first()?;
            let of = &fixed.netlist.elements[element as usize];
            bent.push(Bent {
                element: of.clone(),
                point,
                tangent: law::tangent(of, point, 1.0),
                row: rows.len(),
                n_controls,
                column: puts.len(),
                n_flows: flows.len(),
            });
            rows.extend(controls[..n_controls].iter().map(|&(a, b)| Row::Volts(a, b)));
            puts.extend(flows.iter().map(|flow| {
                let (from, to, of) = (flow.from, flow.to, Some(element));
                Some(Put {
                    from,
                    to,
                    of,
                    per_unit: 1.0.into(),
                })
            }));
        }
        let base: Vec<Twofold> = {
            let column = columns.solve(None)?;
            rows.iter().map(|row| row.of_base(&column)).collect()
        };
        let solved: Vec<Vec<Twofold>> = puts
            .par_iter()
            .map(|put| {
                let column = put
                    .as_ref()
                    .and_then(|put| Some((put, columns.solve(Some((put.from, put.to)))?)));
                rows.iter()
                    .map(|row| {
                        column
                            .as_ref()
                            .map_or(Twofold::from(f64::NAN), |(put, column)| row.response(put, column))
                    })
                    .collect()
            })
            .collect();
        let response: Vec<Twofold> = solved.concat();
        let round = |all: &[Twofold]| all.iter().map(|one| one.value()).collect::<Vec<f64>>();
        Some(Self {
            n_rows: rows.len(),
            n_probes: probes.len(),
            first_port,
            base_rounded: round(&base),
            response_rounded: round(&response),
            base,
            response,
            bent,
            watches: (first_watch..)
                .zip(&watches)
                .map(|(row, &(_, least, most))| Watch { row, least, most })
                .collect(),
        })
    }

    /// Responses of all rows to a unit put in at a port (or a bent element's flow).
    pub(crate) fn column(&self, put: usize) -> &[f64] {
        &self.response_rounded[put * self.n_rows..(put + 1) * self.n_rows]
    }

    /// What port `row` hears of a unit at port `column`, and of nothing, to thirty digits.
    pub(crate) fn between(&self, row: usize, column: usize) -> Twofold {
        self.response[column * self.n_rows + self.first_port + row]
    }

    pub(crate) fn heard(&self, port: usize) -> Twofold {
        self.base[self.first_port + port]
    }

    /// Bytes that it holds.
    pub(crate) fn bytes(&self) -> usize {
        (self.base.len() + self.response.len()) * 3 * size_of::<f64>()
            + self.bent.len() * size_of::<Bent>()
            + self.watches.len() * size_of::<Watch>()
    }
}

/// What a port hears, and what is put in there; no put where the branch joins its nodes or is none.
fn at(port: Port, columns: &Columns, fixed: &crate::linearised::Fixed, states: &States) -> (Row, Option<Put>) {
    let in_branch = |element: ElementId| {
        let siemens = columns.siemens(element.0 as usize, states)?;
        let [from, to, ..] = fixed.netlist.elements.get(element.0 as usize)?.terminals();
        Some(Put {
            from: from.0,
            to: to.0,
            of: Some(element.0),
            per_unit: -siemens,
        })
    };
    let plain = |from: NodeId, to: NodeId| {
        Some(Put {
            from: from.0,
            to: to.0,
            of: None,
            per_unit: 1.0.into(),
        })
    };
    match port {
        Port::Shunt { a, b } => (Row::Volts(a.0, b.0), plain(a, b)),
        Port::Series { element } => (Row::Amps(element.0), in_branch(element)),
        Port::Volts { element } => {
            let source = matches!(
                fixed.netlist.elements[element.0 as usize],
                Element::VoltageSource { .. }
            );
            (Row::One, in_branch(element).filter(|_| source))
        }
        Port::Amps { from, to } => (Row::One, plain(from, to)),
    }
}

impl Row {
    fn of(probe: Probe) -> Self {
        match probe {
            Probe::Volts(NodeId(a), NodeId(b)) => Self::Volts(a, b),
            Probe::Amps(ElementId(element)) => Self::Amps(element),
        }
    }

    fn of_base(self, column: &Column) -> Twofold {
        match self {
            Self::Volts(a, b) => column.volts[a as usize] - column.volts[b as usize],
            Self::Amps(element) => column.amps[element as usize],
            Self::One => 1.0.into(),
        }
    }

    fn response(self, put: &Put, column: &Column) -> Twofold {
        match self {
            Self::Volts(a, b) => (column.volts[a as usize] - column.volts[b as usize]) * put.per_unit,
            Self::Amps(element) => {
                let own = if put.of == Some(element) {
                    put.per_unit
                } else {
                    Twofold::default()
                };
                column.amps[element as usize] * put.per_unit + own
            }
            Self::One => Twofold::default(),
        }
    }
}
