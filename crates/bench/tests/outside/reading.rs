//! What an instrument shows by ngspice's voltages, to compare with a prediction.
//!
//! Nothing of the prediction goes in. An ohmmeter sits on a live circuit if the voltage there, with the meter's resistance
//! across it but not its source, is 5 mV or more; that voltage follows from the open one `V₀` and the one with the meter
//! on, `V₁`, where the circuit is straight between them: `V₀ (E − V₁) / (E − V₀)`.

use bench::{Kind, Placement, Prediction, spice};
use circuit::{At, ChannelId, Circuit, ModuleId, Monitor, PointId, SetUp, Watches};

use super::deck::{Deck, Raw, volts};

/// Open voltage and resistance of ohmmeter and diode test, ohms of the ammeter: those of the bench, stated again.
const OHMMETER: (f64, f64) = (0.2, 10e3);
const DIODE_TEST: (f64, f64) = (3.0, 3e3);
const AMMETER_OHMS: f64 = 0.05;
const LIVE_VOLTS: f64 = 5e-3;
/// Below it a module does not talk.
const AWAKE_VOLTS: f64 = 2.7;

/// The circuit without a tool, as ngspice sees it.
pub(crate) struct Bare<'a> {
    pub(crate) circuit: &'a Circuit,
    pub(crate) set_up: &'a SetUp,
    /// Its uncertain values; empty at their centre.
    pub(crate) theta: &'a [f64],
    pub(crate) exported: &'a spice::Deck,
    pub(crate) deck: Deck,
    pub(crate) raw: &'a Raw,
}

/// Kind and value, and how far a prediction may differ.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Seen {
    pub(crate) kind: Kind,
    pub(crate) value: f64,
    pub(crate) within: f64,
    /// For scan data: how much further it would be if what is shown had no ends.
    pub(crate) beyond: f64,
}

impl Seen {
    fn number(kind: Kind, value: f64, least: f64) -> Self {
        let within = least + 1e-5 * value.abs();
        Self {
            kind,
            value,
            within,
            beyond: 0.0,
        }
    }

    /// The difference as a part of what is allowed; above 1 it is too much.
    pub(crate) fn off(&self, prediction: &Prediction) -> f64 {
        if prediction.kind != self.kind {
            return f64::INFINITY;
        }
        match self.kind {
            Kind::OverRange | Kind::NoCommunication | Kind::NotRun => 0.0,
            _ => (prediction.value - self.value).abs() / self.within,
        }
    }
}

/// Whether this instrument is put into the circuit, so that it needs a deck of its own.
pub(crate) fn in_circuit(tool: &Placement) -> bool {
    !matches!(
        tool,
        Placement::Clamp { .. } | Placement::Scan { .. } | Placement::Code { .. }
    )
}

/// Voltage of a point.
fn at(exported: &spice::Deck, raw: &Raw, point: PointId) -> f64 {
    volts(raw, &exported.nodes[point.idx()])
}

impl Bare<'_> {
    pub(crate) fn volts(&self, point: PointId) -> f64 {
        at(self.exported, self.raw, point)
    }

    /// What the tool shows; `with` is the deck with it in the circuit and ngspice's answer, if it is put in.
    pub(crate) fn seen(&self, tool: &Placement, with: Option<(&spice::Deck, &Raw)>) -> Seen {
        let across = |red, black| {
            let (exported, raw) = with.expect("the tool has a deck of its own");
            at(exported, raw, red) - at(exported, raw, black)
        };
        let open = |red, black| self.volts(red) - self.volts(black);
        match *tool {
            Placement::Voltmeter { red, black } => {
                let (open, loaded) = (open(red, black), across(red, black));
                // Its 10 MΩ leave less than a hundredth: nothing drives these points, and 1e11 Ω beside 1 mΩ is a part in
                // 1e14, of which both solvers keep two digits. A meter shows whole millivolts there at best.
                let least = if loaded.abs() < 0.01 * open.abs() { 1e-4 } else { 1e-5 };
                Seen::number(Kind::Number, loaded, least)
            }
            Placement::Alternating { .. } => panic!("one state repeats nothing"),
            Placement::TestLight { tip, clip } => Seen::number(Kind::Number, across(tip, clip).abs(), 1e-5),
            Placement::Ohmmeter { red, black } | Placement::Continuity { red, black } => {
                current(open(red, black), across(red, black), OHMMETER, |volts| {
                    let left = OHMMETER.0 - volts;
                    let ohms = OHMMETER.1 * volts / left;
                    // 1e-8 of the meter's voltage is what the simulator's tolerances leave.
                    let blur = 1e-8 * OHMMETER.1 * (OHMMETER.0 / left).powi(2);
                    let kind = if left <= 0.0 || ohms > 50e6 {
                        Kind::OverRange
                    } else {
                        Kind::Number
                    };
                    Seen::number(kind, ohms, 1e-4 + blur)
                })
            }
            Placement::DiodeTest { red, black } => current(open(red, black), across(red, black), DIODE_TEST, |volts| {
                let kind = if volts > 2.5 { Kind::OverRange } else { Kind::Number };
                Seen::number(kind, volts, 1e-5)
            }),
            Placement::Ammeter { red, black } => {
                let amps = across(red, black) / AMMETER_OHMS;
                let kind = if amps.abs() > 10.0 {
                    Kind::OverRange
                } else {
                    Kind::Number
                };
                Seen::number(kind, amps, 1e-6)
            }
            Placement::Clamp { around } => {
                let named = |letter| self.deck.amps(self.raw, &format!("{letter}{}", around.0));
                Seen::number(Kind::Number, named('r') + named('v') * self.ideal(around.0), 1e-6)
            }
            Placement::Scan { channel } => self.scan(channel),
            Placement::Code { monitor } => {
                let monitor = &self.circuit.monitors[monitor.idx()];
                let runs = self.runs(monitor);
                let seen = match monitor.watches {
                    Watches::Channel(channel) => self.converted(channel),
                    Watches::Volts(module, pin) => self.at_pin(module, pin),
                    Watches::Amps(..) => panic!("the cases have no check of a current"),
                };
                if runs || seen.kind == Kind::NoCommunication {
                    return seen;
                }
                Seen::number(Kind::NotRun, 0.0, 0.0)
            }
        }
    }

    /// 1 where the branch is nothing but a join, of which the simulator tells the current; 0 where a resistor tells it.
    fn ideal(&self, branch: u32) -> f64 {
        let resistor = format!("R{branch} ");
        f64::from(u8::from(
            !self.exported.text.lines().any(|line| line.starts_with(&resistor)),
        ))
    }

    fn runs(&self, monitor: &Monitor) -> bool {
        monitor.runs.holds(&At {
            theta: self.theta,
            ..At::centre(self.circuit, self.set_up)
        })
    }

    fn at_pin(&self, module: ModuleId, pin: PointId) -> Seen {
        let module = &self.circuit.modules[module.idx()];
        if self.volts(module.rail) - self.volts(module.ground) < AWAKE_VOLTS {
            return Seen::number(Kind::NoCommunication, 0.0, 0.0);
        }
        Seen::number(Kind::Number, self.volts(pin) - self.volts(module.ground), 1e-5)
    }

    /// Volts after the converter; `beyond`, how much further those before it are.
    fn converted(&self, channel: ChannelId) -> Seen {
        let of = &self.circuit.channels[channel.idx()];
        let module = &self.circuit.modules[of.module.idx()];
        let rail = self.volts(module.rail) - self.volts(module.ground);
        if rail < AWAKE_VOLTS {
            return Seen::number(Kind::NoCommunication, 0.0, 0.0);
        }
        let scale = if of.ratiometric { of.high_volts / rail } else { 1.0 };
        let volts = (self.volts(of.sense) - self.volts(of.against)) * scale;
        let held = volts.clamp(of.low_volts, of.high_volts);
        Seen {
            beyond: volts - held,
            ..Seen::number(Kind::Number, held, 1e-5)
        }
    }

    fn scan(&self, channel: ChannelId) -> Seen {
        let seen = self.converted(channel);
        if seen.kind != Kind::Number {
            return seen;
        }
        let of = &self.circuit.channels[channel.idx()];
        let sets = |monitor: &&Monitor| {
            monitor.channel() == Some(channel) && monitor.limits.fails(seen.value) && self.runs(monitor)
        };
        if let (Some(substitute), Some(_)) = (of.substitute, self.circuit.monitors.iter().find(sets)) {
            let (low, high) = bench::shown_ends(of);
            let ends = f64::from(u8::from(substitute >= high)) - f64::from(u8::from(substitute <= low));
            return Seen {
                beyond: ends * (high - low),
                ..Seen::number(Kind::Number, substitute, 1e-9)
            };
        }
        let table = &of.scaling;
        let steepest = table
            .windows(2)
            .map(|rows| ((rows[1].1 - rows[0].1) / (rows[1].0 - rows[0].0)).abs())
            .fold(0.0, f64::max);
        let (first, last) = (table[0], table[table.len() - 1]);
        let volts = seen.value.clamp(first.0, last.0);
        let piece = table
            .windows(2)
            .find(|rows| volts <= rows[1].0)
            .expect("a table of two rows or more");
        let part = (volts - piece[0].0) / (piece[1].0 - piece[0].0);
        let slope = (piece[1].1 - piece[0].1) / (piece[1].0 - piece[0].0);
        Seen {
            value: piece[0].1 + part * (piece[1].1 - piece[0].1),
            within: seen.within * steepest,
            beyond: slope * (seen.value + seen.beyond - volts),
            ..seen
        }
    }
}

/// A meter with a source of its own: on a live circuit the open voltage, else what `show` makes of the voltage across it.
fn current(open: f64, across: f64, source: (f64, f64), show: impl Fn(f64) -> Seen) -> Seen {
    let own = open * (source.0 - across) / (source.0 - open);
    if own.abs() >= LIVE_VOLTS {
        return Seen::number(Kind::Live, open, 1e-5);
    }
    show(across)
}
