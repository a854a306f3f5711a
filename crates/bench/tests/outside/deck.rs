//! An exported deck read back, and Kirchhoff's law on what a simulator answers to it.
//!
//! Currents follow from the voltages by each line's own definition, worked out here: resistors by Ohm's law, junctions by
//! their exponential with the resistance in series (none is driven into breakdown here), behavioural sources by their formula.
//! Only the current of a voltage source is the simulator's word.

use std::collections::BTreeMap;

/// Voltages and source currents by name, as the simulator calls them: `v(n_s1_1)`, `i(v12)`.
pub(crate) type Raw = BTreeMap<String, f64>;

/// A line of a deck that conducts.
enum Line {
    Ohms(f64),
    Source,
    Amps(f64),
    Junction {
        saturation: f64,
        thermal: f64,
        series: f64,
        breakdown: f64,
    },
    Formula(String),
}

/// An element of a deck: its name, its two nodes, what it is.
struct Item {
    name: String,
    ends: [String; 2],
    line: Line,
}

/// A deck without what begins, steers and ends it.
pub(crate) struct Deck {
    items: Vec<Item>,
}

/// kT/q at 27 °C with the constants that ngspice 39 has (CODATA 2014).
const THERMAL_VOLTS: f64 = 1.380_648_52e-23 * 300.15 / 1.602_176_620_8e-19;

fn number(text: &str) -> f64 {
    text.parse().unwrap_or_else(|error| panic!("{text}: {error}"))
}

/// `is=1e-14 n=1 rs=1` as a table.
fn model(line: &str) -> (String, BTreeMap<&str, f64>) {
    let (head, rest) = line.split_once(" d(").expect("a model is a diode");
    let values = rest.trim_end_matches(')').split_whitespace();
    let values = values
        .filter_map(|pair| pair.split_once('='))
        .map(|(key, value)| (key, number(value)));
    (head.trim_start_matches(".model ").to_owned(), values.collect())
}

impl Deck {
    pub(crate) fn read(text: &str) -> Self {
        let models: BTreeMap<_, _> = text
            .lines()
            .filter(|line| line.starts_with(".model"))
            .map(model)
            .collect();
        let mut items = Vec::new();
        for line in text.lines() {
            if line.starts_with(".control") {
                break;
            }
            let words: Vec<&str> = line.splitn(4, ' ').collect();
            let [name, a, b, rest] = words[..] else { continue };
            let line = match name.chars().next() {
                Some('R') => Line::Ohms(number(rest)),
                Some('V') => Line::Source,
                Some('I') => Line::Amps(number(rest)),
                Some('D') => {
                    let values = &models[rest];
                    Line::Junction {
                        saturation: values["is"],
                        thermal: values["n"] * THERMAL_VOLTS,
                        series: values["rs"],
                        breakdown: values.get("bv").copied().unwrap_or(f64::INFINITY),
                    }
                }
                Some('B') => Line::Formula(rest.strip_prefix("I=").expect("a current").to_owned()),
                Some('.' | '*') => continue,
                _ => panic!("what is `{name}`?"),
            };
            let (name, ends) = (name.to_lowercase(), [a.to_owned(), b.to_owned()]);
            items.push(Item { name, ends, line });
        }
        Self { items }
    }

    /// Current of the element of this name, from its first node to its second; 0 of one that the deck lacks.
    pub(crate) fn amps(&self, raw: &Raw, name: &str) -> f64 {
        self.items
            .iter()
            .find(|item| item.name == name)
            .map_or(0.0, |item| item.amps(raw))
    }

    /// The node where Kirchhoff's law is broken, with what is left over, amperes.
    ///
    /// Allowed: 0.1 nA, 5e-5 of what flows there (another release has other constants in kT/q), what voltages that are
    /// off by 1e-9 make of the resistors there, and 1 nA of each behavioural source.
    pub(crate) fn breaks_kirchhoff(&self, raw: &Raw) -> Option<(String, f64)> {
        let mut nodes: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
        for item in &self.items {
            let amps = item.amps(raw);
            let [a, b] = [&item.ends[0], &item.ends[1]];
            let noise = match item.line {
                Line::Ohms(ohms) => 1e-9 * (volts(raw, a).abs() + volts(raw, b).abs() + 1e-3) / ohms,
                // 1e-10 V behind the 0.1 Ω of an output.
                Line::Formula(_) => 1e-9,
                _ => 0.0,
            };
            for (node, amps) in [(a, amps), (b, -amps)] {
                let sum = nodes.entry(node).or_default();
                sum.0 += amps;
                sum.1 += 5e-5 * amps.abs() + noise;
            }
        }
        let broken = |(node, (left, allowed)): (&str, (f64, f64))| {
            (left.is_nan() || left.abs() > allowed + 1e-10).then(|| (node.to_owned(), left))
        };
        nodes.into_iter().filter(|(node, _)| *node != "0").find_map(broken)
    }
}

/// Voltage of a node, NaN if the simulator does not know it.
pub(crate) fn volts(raw: &Raw, node: &str) -> f64 {
    if node == "0" {
        return 0.0;
    }
    raw.get(&format!("v({node})")).copied().unwrap_or(f64::NAN)
}

impl Item {
    fn amps(&self, raw: &Raw) -> f64 {
        let [a, b] = [volts(raw, &self.ends[0]), volts(raw, &self.ends[1])];
        match &self.line {
            Line::Ohms(ohms) => (a - b) / ohms,
            Line::Source => raw.get(&format!("i({})", self.name)).copied().unwrap_or(f64::NAN),
            Line::Amps(amps) => *amps,
            Line::Junction {
                saturation,
                thermal,
                series,
                breakdown,
            } => {
                assert!(b - a < 0.9 * breakdown, "{} breaks down", self.name);
                junction(a - b, *saturation, *thermal, *series)
            }
            Line::Formula(formula) => {
                let mut rest = Formula { rest: formula, raw };
                let value = rest.sum();
                assert!(rest.rest.is_empty(), "{formula}: left over {}", rest.rest);
                value
            }
        }
    }
}

/// Current of a junction with a resistance in series at a voltage across both, by Newton from above, where it is convex.
fn junction(volts: f64, saturation: f64, thermal: f64, series: f64) -> f64 {
    if volts <= 0.0 {
        return saturation * (volts / thermal).exp_m1();
    }
    let mut own = volts.min(thermal * (volts / (series * saturation)).ln_1p());
    for _ in 0..100 {
        let amps = saturation * (own / thermal).exp_m1();
        let slope = 1.0 + series * (amps + saturation) / thermal;
        own -= (own + series * amps - volts) / slope;
    }
    saturation * (own / thermal).exp_m1()
}

/// A formula of a behavioural source being worked out.
struct Formula<'t> {
    rest: &'t str,
    raw: &'t Raw,
}

impl<'t> Formula<'t> {
    fn take(&mut self, sign: char) -> bool {
        let rest = self.rest.strip_prefix(sign);
        self.rest = rest.unwrap_or(self.rest);
        rest.is_some()
    }

    fn split(&mut self, length: usize) -> &'t str {
        let (head, rest) = self.rest.split_at(length);
        self.rest = rest;
        head
    }

    fn sum(&mut self) -> f64 {
        let mut value = self.product();
        loop {
            if self.take('+') {
                value += self.product();
            } else if self.take('-') {
                value -= self.product();
            } else {
                return value;
            }
        }
    }

    fn product(&mut self) -> f64 {
        let mut value = self.power();
        loop {
            if self.take('*') {
                value *= self.power();
            } else if self.take('/') {
                value /= self.power();
            } else {
                return value;
            }
        }
    }

    fn power(&mut self) -> f64 {
        if self.take('-') {
            return -self.power();
        }
        let base = self.atom();
        if self.take('^') { base.powf(self.power()) } else { base }
    }

    fn atom(&mut self) -> f64 {
        if self.take('(') {
            let value = self.sum();
            assert!(self.take(')'), "{}", self.rest);
            return value;
        }
        if self.rest.starts_with(|c: char| c.is_ascii_digit()) {
            let bytes = self.rest.as_bytes();
            let is_part = |at: &usize| {
                let (c, before) = (bytes[*at], bytes[at.saturating_sub(1)]);
                c.is_ascii_digit() || c == b'.' || c == b'e' || (matches!(c, b'-' | b'+') && before == b'e')
            };
            let length = (0..bytes.len()).find(|at| !is_part(at)).unwrap_or(bytes.len());
            return number(self.split(length));
        }
        let name = self.split(self.rest.find('(').expect("a function"));
        self.take('(');
        if name == "v" {
            let node = self.split(self.rest.find(')').expect("a node"));
            self.take(')');
            return volts(self.raw, node);
        }
        let mut values = vec![self.sum()];
        while self.take(',') {
            values.push(self.sum());
        }
        assert!(self.take(')'), "{}", self.rest);
        match (name, &values[..]) {
            ("min", [a, b]) => a.min(*b),
            ("max", [a, b]) => a.max(*b),
            ("abs", [a]) => a.abs(),
            _ => panic!("what is {name} of {}?", values.len()),
        }
    }
}
