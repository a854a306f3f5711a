//! What was solved, as a deck for a general circuit simulator (ngspice 39), so that a prediction can be checked
//! independently.
//!
//! Relays, fuses and drivers stand as resistors in the state that was reached; what is open without any leak is left
//! out, and each island that this leaves is tied to the reference, because a simulator refuses floating nodes. Outputs,
//! current sinks and lamps are behavioural sources with the formulas of `network`; junctions are diode models. Points with
//! hardly anything behind them may read differently there: it adds gmin, and 1e11 Ω beside 1 mΩ is at the end of its
//! arithmetic.

use std::collections::BTreeSet;
use std::fmt::Write;

use circuit::{PointId, SetUp};
use network::{BREAKDOWN_AMPS, Element, ElementId, Netlist, NodeId, Solution, States};

use crate::bench::Bench;
use crate::error::BenchError;
use crate::prediction::Hypothesis;
use crate::test::Placement;

/// Ties an island to the reference: no current flows in it, whatever its size.
const TIE_OHMS: f64 = 1e3;
/// kT/q at the simulator's 27 °C, volts, with its own constants.
const SIMULATOR_THERMAL_VOLTS: f64 = 1.380_648_52e-23 * 300.15 / 1.602_176_620_8e-19;
/// Tolerances that let it agree to microvolts.
const OPTIONS: &str = ".options reltol=1e-9 abstol=1e-15 vntol=1e-12 gmin=1e-15 itl1=200 itl2=200";

/// A deck, and which of its nodes is which point.
#[derive(Clone, Debug, PartialEq)]
pub struct Deck {
    /// The deck: solves the operating point and prints every node's voltage.
    pub text: String,
    /// Node of each point, by [`PointId`]; `0` is battery negative.
    pub nodes: Vec<String>,
}

/// The circuit in a set-up with faults, and with an instrument in place if one is given, as a deck.
///
/// # Errors
/// As [`Predict::predict`](crate::Predict::predict), and [`BenchError::NotSettled`] if there is no operating point to
/// take the states of relays, fuses and drivers from.
pub fn deck(
    bench: &Bench,
    hypothesis: &Hypothesis<'_>,
    set_up: &SetUp,
    theta: &[f64],
    tool: Option<&Placement>,
    title: &str,
) -> Result<Deck, BenchError> {
    let mut solved = bench
        .solved(hypothesis, set_up, theta, tool)?
        .ok_or(BenchError::NotSettled)?;
    let layout = bench.layout();
    solved.put_in(layout, tool);
    let (netlist, solution) = (solved.lowered.netlist(), solved.solution);
    let points = &bench.circuit().points;
    let mut names = vec![String::from("0"); netlist.n_nodes];
    let mut taken = BTreeSet::from([String::from("0")]);
    for (position, point) in points.iter().enumerate() {
        let node = layout.node(PointId::from(position));
        if node != NodeId::GROUND {
            names[node.0 as usize] = legal(&point.path, &mut taken);
        }
    }
    for name in names.iter_mut().skip(points.len()) {
        *name = legal("inside", &mut taken);
    }
    let text = to_spice(&netlist, &solution, &names, title);
    let nodes = (0..points.len())
        .map(|point| names[layout.node(PointId::from(point)).0 as usize].clone())
        .collect();
    Ok(Deck { text, nodes })
}

/// A name that a simulator takes: small letters, digits and underscores, unlike any taken before.
fn legal(path: &str, taken: &mut BTreeSet<String>) -> String {
    let mut name = String::from("n_");
    for c in path.to_lowercase().chars() {
        match c {
            '+' => name.push_str("_plus"),
            '-' => name.push_str("_minus"),
            c if c.is_ascii_alphanumeric() => name.push(c),
            _ => name.push('_'),
        }
    }
    let mut unique = name.clone();
    let mut count = 1;
    while !taken.insert(unique.clone()) {
        count += 1;
        unique = format!("{name}_{count}");
    }
    unique
}

/// A netlist with the discrete states and the islands of its operating point as a deck; `names` are those of its nodes,
/// the reference's must be `0`. The voltages are given as where to begin (a `.nodeset`, which binds nothing in the end):
/// from 0 V a circuit of which parts float may not settle there.
pub fn to_spice(netlist: &Netlist, solution: &Solution, names: &[String], title: &str) -> String {
    let mut deck = Writer {
        text: String::new(),
        names,
    };
    let title = title.replace(['\n', '\r'], " ");
    deck.line(&format!("* {title}"));
    deck.line(OPTIONS);
    for (id, element) in netlist.iter() {
        deck.element(id, element, &solution.states);
    }
    for (name, volts) in names.iter().zip(&solution.node_volts).filter(|(name, _)| *name != "0") {
        deck.line(&format!(".nodeset v({name})={volts:e}"));
    }
    for (at, node) in solution.islands.iter().filter_map(|island| island.first()).enumerate() {
        let node = deck.name(*node).to_owned();
        deck.line(&format!("Rtie{at} {node} 0 {TIE_OHMS:e}"));
    }
    deck.line(".control");
    deck.line("set numdgt=15");
    deck.line("op");
    for name in names.iter().filter(|name| *name != "0").collect::<BTreeSet<_>>() {
        deck.line(&format!("print v({name})"));
    }
    deck.line(".endc");
    deck.line(".end");
    deck.text
}

struct Writer<'a> {
    text: String,
    names: &'a [String],
}

impl Writer<'_> {
    fn line(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    fn name(&self, node: NodeId) -> &str {
        self.names.get(node.0 as usize).map_or("0", String::as_str)
    }

    fn resistor(&mut self, id: ElementId, a: NodeId, b: NodeId, ohms: f64) {
        if a == b || ohms.is_infinite() {
            return;
        }
        let (a, b) = (self.name(a).to_owned(), self.name(b).to_owned());
        // A join without resistance is a source of 0 V: no resistor may have 0 Ω there.
        if ohms == 0.0 {
            self.line(&format!("V{} {a} {b} 0", id.0));
        } else {
            self.line(&format!("R{} {a} {b} {ohms:e}", id.0));
        }
    }

    /// `v(a,b)` with the reference left out.
    fn across(&self, a: NodeId, b: NodeId) -> String {
        let mut text = String::from("(");
        let _ = match (self.name(a), self.name(b)) {
            ("0", "0") => write!(text, "0"),
            ("0", b) => write!(text, "-v({b})"),
            (a, "0") => write!(text, "v({a})"),
            (a, b) => write!(text, "v({a})-v({b})"),
        };
        text.push(')');
        text
    }

    fn current(&mut self, name: &str, from: NodeId, to: NodeId, formula: &str) {
        let (from, to) = (self.name(from).to_owned(), self.name(to).to_owned());
        self.line(&format!("B{name} {from} {to} I={formula}"));
    }

    fn junction(&mut self, id: ElementId, ends: (NodeId, NodeId), saturation: f64, thermal: f64, rest: &str) {
        let (anode, cathode) = (self.name(ends.0).to_owned(), self.name(ends.1).to_owned());
        let at = id.0;
        let emission = thermal / SIMULATOR_THERMAL_VOLTS;
        self.line(&format!("D{at} {anode} {cathode} junction{at}"));
        self.line(&format!(
            ".model junction{at} d(is={saturation:e} n={emission:e} {rest})"
        ));
    }

    fn element(&mut self, id: ElementId, element: &Element, states: &States) {
        let at = id.0;
        let state = states.get(id) == Some(true);
        match *element {
            Element::Resistor { a, b, ohms } => self.resistor(id, a, b, ohms),
            Element::VoltageSource {
                plus,
                minus,
                volts,
                ohms,
            } => {
                let (plus, minus) = (self.name(plus).to_owned(), self.name(minus).to_owned());
                if ohms == 0.0 {
                    self.line(&format!("V{at} {plus} {minus} {volts:e}"));
                } else {
                    self.line(&format!("V{at} inner{at} {minus} {volts:e}"));
                    self.line(&format!("R{at} {plus} inner{at} {ohms:e}"));
                }
            }
            Element::CurrentSource { from, to, amps } => {
                let (from, to) = (self.name(from).to_owned(), self.name(to).to_owned());
                self.line(&format!("I{at} {from} {to} {amps:e}"));
            }
            Element::VoltageControlledCurrent {
                plus,
                minus,
                control_plus,
                control_minus,
                siemens,
            } => {
                let [a, b, c, d] = [plus, minus, control_plus, control_minus].map(|node| self.name(node).to_owned());
                self.line(&format!("G{at} {a} {b} {c} {d} {siemens:e}"));
            }
            Element::VoltageControlledVoltage {
                plus,
                minus,
                control_plus,
                control_minus,
                gain,
            } => {
                let [a, b, c, d] = [plus, minus, control_plus, control_minus].map(|node| self.name(node).to_owned());
                self.line(&format!("E{at} {a} {b} {c} {d} {gain:e}"));
            }
            Element::CurrentControlledVoltage {
                plus,
                minus,
                through,
                ohms,
            } => {
                let (plus, minus) = (self.name(plus).to_owned(), self.name(minus).to_owned());
                // The sources' currents count alike on both sides.
                self.line(&format!("H{at} {plus} {minus} V{} {ohms:e}", through.0));
            }
            Element::Diode {
                anode,
                cathode,
                saturation_amps,
                thermal_volts,
                series_ohms,
            } => {
                self.junction(
                    id,
                    (anode, cathode),
                    saturation_amps,
                    thermal_volts,
                    &format!("rs={series_ohms:e}"),
                );
            }
            Element::Clamp {
                anode,
                cathode,
                saturation_amps,
                thermal_volts,
                breakdown_volts,
                series_ohms,
            } => {
                let emission = thermal_volts / SIMULATOR_THERMAL_VOLTS;
                let rest = format!("rs={series_ohms:e} bv={breakdown_volts:e} ibv={BREAKDOWN_AMPS:e} nbv={emission:e}");
                self.junction(id, (anode, cathode), saturation_amps, thermal_volts, &rest);
            }
            Element::Output {
                supply,
                ground,
                output,
                offset_volts,
                gain,
                dropout_volts,
                ohms,
                source_limit_amps,
                sink_limit_amps,
            } => {
                let feed = self.across(supply, ground);
                let target = format!("min({offset_volts:e}+({gain:e})*{feed},{feed}-({dropout_volts:e}))");
                let own = self.across(output, ground);
                self.current(
                    &format!("{at}a"),
                    supply,
                    output,
                    &format!("max(0,min({source_limit_amps:e},(({target})-{own})/{ohms:e}))"),
                );
                self.current(
                    &format!("{at}b"),
                    output,
                    ground,
                    &format!("max(0,min({sink_limit_amps:e},({own}-max(0,{target}))/{ohms:e}))"),
                );
            }
            Element::CurrentSink {
                from,
                to,
                amps,
                knee_volts,
            } => {
                let across = self.across(from, to);
                self.current(
                    &at.to_string(),
                    from,
                    to,
                    &format!("{amps:e}*max(0,min(1,{across}/{knee_volts:e}))"),
                );
            }
            Element::Lamp {
                a,
                b,
                rated_volts,
                rated_watts,
                hot_to_cold,
            } => {
                let hot = rated_volts * rated_volts / rated_watts;
                let (cold4, hot4) = ((hot / hot_to_cold).powi(4), hot.powi(4));
                let across = self.across(a, b);
                let ohms = format!("(({cold4:e}+{hot4:e}*(abs({across})/{rated_volts:e})^1.8)^0.25)");
                self.current(&at.to_string(), a, b, &format!("{across}/{ohms}"));
            }
            Element::RelayContact { a, b, closed_ohms, .. } => {
                self.resistor(id, a, b, if state { closed_ohms } else { f64::INFINITY });
            }
            Element::Fuse { a, b, ohms, .. } => self.resistor(id, a, b, if state { f64::INFINITY } else { ohms }),
            Element::Driver {
                a,
                b,
                on_ohms,
                off_ohms,
                commanded,
                ..
            } => {
                self.resistor(id, a, b, if commanded && !state { on_ohms } else { off_ohms });
            }
        }
    }
}
