//! Scan data and codes: what a module makes of the voltage at its converter.
//!
//! Values stay continuous: the converter's step belongs to the accuracy. A shown value is held at its ends; how far it would
//! go beyond them, and how that moves, is kept.

use circuit::{At, Channel, ChannelId, Condition, ModuleId, MonitorId, PointId, Watches};
use network::NodeId;

use crate::bench::Bench;
use crate::error::BenchError;
use crate::prediction::{Kind, Prediction};
use crate::read::{Case, Slopes, number};
use crate::test::Placement;

/// Below this logic rail a module does not talk. From memory: brown-out resets of 3.3 V and 5 V controllers lie between
/// 2.6 V and 4.5 V.
const AWAKE_VOLTS: f64 = 2.7;

/// A converter's voltage with how it was made.
struct Converted {
    /// Volts as sensed, and within the converter's range.
    sensed: f64,
    volts: f64,
    /// Weights of the node voltages it follows.
    weights: Vec<(NodeId, f64)>,
}

impl Case<'_> {
    fn awake(&self, module: ModuleId) -> bool {
        let module = &self.shop.circuit.modules[module.idx()];
        self.volts(module.rail) - self.volts(module.ground) >= AWAKE_VOLTS
    }

    fn converted(&self, channel: ChannelId) -> Converted {
        let circuit = self.shop.circuit;
        let channel = &circuit.channels[channel.idx()];
        let module = &circuit.modules[channel.module.idx()];
        let node = |point: PointId| self.shop.layout.node(point);
        let sensed = self.volts(channel.sense) - self.volts(channel.against);
        let mut weights = vec![(node(channel.sense), 1.0), (node(channel.against), -1.0)];
        let mut volts = sensed;
        if channel.ratiometric {
            // The converter compares with its own rail: a low rail makes the same voltage look higher.
            let rail = self.volts(module.rail) - self.volts(module.ground);
            let scale = channel.high_volts / rail;
            volts *= scale;
            for (_, weight) in &mut weights {
                *weight *= scale;
            }
            weights.extend([(node(module.rail), -volts / rail), (node(module.ground), volts / rail)]);
        }
        Converted {
            sensed: volts,
            volts: volts.clamp(channel.low_volts.min(channel.high_volts), channel.high_volts),
            weights,
        }
    }

    fn slopes(&self, converted: &Converted, by_volts: f64) -> Slopes {
        if by_volts == 0.0 {
            return Slopes::zero(self);
        }
        let adjoint = self.base.adjoint(&converted.weights);
        Slopes::of(self, &self.lowered, &adjoint).times(by_volts)
    }

    /// A scan value, in the channel's unit; of a channel that counts, the voltage that it counts by.
    pub(crate) fn scan(&self, channel: ChannelId) -> Prediction {
        let circuit = self.shop.circuit;
        let of = &circuit.channels[channel.idx()];
        if !self.awake(of.module) {
            return number(Kind::NoCommunication, 0.0, Slopes::zero(self));
        }
        let converted = self.converted(channel);
        if of.counts.is_some() {
            return number(Kind::Number, converted.sensed, self.slopes(&converted, 1.0));
        }
        if let Some(substitute) = of.substitute.filter(|_| self.any_code(channel, &converted)) {
            // What stands at an end for sure stands well beyond it.
            let (low, high) = shown_ends(of);
            let beyond = match substitute {
                _ if substitute >= high => high - low,
                _ if substitute <= low => low - high,
                _ => 0.0,
            };
            return Prediction {
                beyond,
                ..number(Kind::Number, substitute, Slopes::zero(self))
            };
        }
        let value = along(&of.scaling, converted.volts).value;
        let free = along(&of.scaling, converted.sensed);
        Prediction {
            beyond: free.value + free.beyond - value,
            ..number(Kind::Number, value, self.slopes(&converted, free.by_volts))
        }
    }

    /// What a code's monitor compares.
    pub(crate) fn code(&self, monitor: MonitorId) -> Result<Prediction, BenchError> {
        let circuit = self.shop.circuit;
        let monitor = &circuit.monitors[monitor.idx()];
        if !self.awake(circuit.module_of(monitor)) {
            return Ok(number(Kind::NoCommunication, 0.0, Slopes::zero(self)));
        }
        if !self.runs(&monitor.runs) {
            return Ok(number(Kind::NotRun, 0.0, Slopes::zero(self)));
        }
        match monitor.watches {
            Watches::Channel(channel) => Ok(self.compared(channel)),
            Watches::Volts(module, pin) => Ok(self.at_pin(module, pin)),
            Watches::Amps(.., driver) => self.clamp(driver),
        }
    }

    /// The voltage of a driver's pin against the ground of its module.
    fn at_pin(&self, module: ModuleId, pin: PointId) -> Prediction {
        let ground = self.shop.circuit.modules[module.idx()].ground;
        let node = |point| self.shop.layout.node(point);
        let adjoint = self.base.adjoint(&[(node(pin), 1.0), (node(ground), -1.0)]);
        let volts = self.volts(pin) - self.volts(ground);
        number(Kind::Number, volts, Slopes::of(self, &self.lowered, &adjoint))
    }

    /// The voltage of a channel that its monitors compare; of one that counts, the voltage that it counts by.
    fn compared(&self, channel: ChannelId) -> Prediction {
        let converted = self.converted(channel);
        if self.shop.circuit.channels[channel.idx()].counts.is_some() {
            return number(Kind::Number, converted.sensed, self.slopes(&converted, 1.0));
        }
        let by_volts = if converted.sensed == converted.volts { 1.0 } else { 0.0 };
        number(Kind::Number, converted.volts, self.slopes(&converted, by_volts))
    }

    fn runs(&self, condition: &Condition) -> bool {
        condition.holds(&At {
            theta: self.shop.theta,
            ..At::centre(self.shop.circuit, self.set_up)
        })
    }

    fn any_code(&self, channel: ChannelId, converted: &Converted) -> bool {
        self.shop
            .circuit
            .monitors
            .iter()
            .filter(|monitor| monitor.channel() == Some(channel))
            .any(|monitor| monitor.limits.fails(converted.volts) && self.runs(&monitor.runs))
    }
}

impl Bench {
    /// The channel that scan data or a code goes by; `None` for a code of a driver's pin.
    pub(crate) fn channel(&self, placement: &Placement) -> Option<&Channel> {
        let circuit = self.circuit();
        let channel = match *placement {
            Placement::Scan { channel } => channel,
            Placement::Code { monitor } => circuit.monitors.get(monitor.idx())?.channel()?,
            _ => return None,
        };
        circuit.channels.get(channel.idx())
    }

    /// What a channel that counts shows at so many hertz, or what its monitors compare.
    pub(crate) fn shown_of_hertz(&self, placement: &Placement, hertz: f64, by_param: Vec<f64>) -> Prediction {
        let plain = Prediction {
            kind: Kind::Number,
            value: hertz,
            beyond: 0.0,
            by_severity: Vec::new(),
            by_param,
            source_ohms: 0.0,
            ghost_volts: (0.0, 0.0),
            unsaid: None,
        };
        let (Placement::Scan { .. }, Some(channel)) = (placement, self.channel(placement)) else {
            return plain;
        };
        let shown = along(&channel.scaling, hertz);
        Prediction {
            value: shown.value,
            beyond: shown.beyond,
            by_param: plain.by_param.iter().map(|slope| slope * shown.by_volts).collect(),
            ..plain
        }
    }
}

/// Least and most that a channel can show, in its unit.
pub fn shown_ends(channel: &Channel) -> (f64, f64) {
    let at = |volts: f64| along(&channel.scaling, volts).value;
    let (one, other) = match (channel.counts, channel.scaling.first(), channel.scaling.last()) {
        (Some(_), Some(first), Some(last)) => (first.1, last.1),
        _ => (at(channel.low_volts), at(channel.high_volts)),
    };
    (one.min(other), one.max(other))
}

/// Where a voltage stands on a table.
struct Along {
    /// Held at the table's ends.
    value: f64,
    /// How much further it would be if the table went on.
    beyond: f64,
    /// Slope of both together, by volts.
    by_volts: f64,
}

/// Along a sorted table at `x`. An empty table shows the volts themselves.
fn along(table: &[(f64, f64)], x: f64) -> Along {
    // Rows that only say where it is held are no slope to go on with.
    let moves = |rows: &[(f64, f64)]| rows[0].1 != rows[1].1;
    let first = table.windows(2).position(moves);
    let last = table.windows(2).rposition(moves);
    let (Some(first), Some(last)) = (first, last) else {
        let held = table.first();
        return Along {
            value: held.map_or(x, |row| row.1),
            beyond: 0.0,
            by_volts: if held.is_some() { 0.0 } else { 1.0 },
        };
    };
    let table = &table[first..last + 2];
    let after = table.partition_point(|row| row.0 <= x).clamp(1, table.len() - 1);
    let ((x0, y0), (x1, y1)) = (table[after - 1], table[after]);
    let by_volts = (y1 - y0) / (x1 - x0);
    let held = x.clamp(table[0].0, table[table.len() - 1].0);
    Along {
        value: y0 + by_volts * (held - x0),
        beyond: by_volts * (x - held),
        by_volts,
    }
}
