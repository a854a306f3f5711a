//! Scan data and codes: what a module makes of the voltage at its converter.
//!
//! Values stay continuous: the converter's step belongs to the accuracy. What is clamped has no derivative.

use circuit::{At, ChannelId, Condition, ModuleId, MonitorId, PointId};
use network::NodeId;

use crate::prediction::{Kind, Prediction};
use crate::read::{Case, Slopes, number};

/// Below this logic rail a module does not talk. From memory: brown-out resets of 3.3 V and 5 V controllers lie between
/// 2.6 V and 4.5 V.
const AWAKE_VOLTS: f64 = 2.7;

/// A converter's voltage with how it was made.
struct Converted {
    /// Volts, within the converter's range.
    volts: f64,
    /// Not at an end of the range.
    free: bool,
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
        let free = volts > channel.low_volts && volts < channel.high_volts;
        Converted {
            volts: volts.clamp(channel.low_volts.min(channel.high_volts), channel.high_volts),
            free,
            weights,
        }
    }

    fn slopes(&self, converted: &Converted, by_volts: f64) -> Slopes {
        if !converted.free || by_volts == 0.0 {
            return Slopes::zero(self);
        }
        let adjoint = self.base.adjoint(&converted.weights);
        Slopes::of(self, &self.lowered, &adjoint).times(by_volts)
    }

    /// A scan value, in the channel's unit.
    pub(crate) fn scan(&self, channel: ChannelId) -> Prediction {
        let circuit = self.shop.circuit;
        let of = &circuit.channels[channel.idx()];
        if !self.awake(of.module) {
            return number(Kind::NoCommunication, 0.0, Slopes::zero(self));
        }
        let converted = self.converted(channel);
        if let Some(substitute) = of.substitute.filter(|_| self.any_code(channel, &converted)) {
            return number(Kind::Number, substitute, Slopes::zero(self));
        }
        let (value, by_volts) = along(&of.scaling, converted.volts);
        number(Kind::Number, value, self.slopes(&converted, by_volts))
    }

    /// The channel's voltage that a code's monitor compares.
    pub(crate) fn code(&self, monitor: MonitorId) -> Prediction {
        let circuit = self.shop.circuit;
        let monitor = &circuit.monitors[monitor.idx()];
        if !self.awake(circuit.channels[monitor.channel.idx()].module) {
            return number(Kind::NoCommunication, 0.0, Slopes::zero(self));
        }
        if !self.runs(&monitor.runs) {
            return number(Kind::NotRun, 0.0, Slopes::zero(self));
        }
        let converted = self.converted(monitor.channel);
        number(Kind::Number, converted.volts, self.slopes(&converted, 1.0))
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
            .filter(|monitor| monitor.channel == channel)
            .any(|monitor| {
                let low = monitor.below_volts.is_some_and(|limit| converted.volts < limit);
                let high = monitor.above_volts.is_some_and(|limit| converted.volts > limit);
                (low || high) && self.runs(&monitor.runs)
            })
    }
}

/// Value and slope at `x` of a sorted table, held outside. An empty table shows the volts themselves.
fn along(table: &[(f64, f64)], x: f64) -> (f64, f64) {
    let after = table.partition_point(|row| row.0 <= x);
    match (
        after.checked_sub(1).map(|before| table[before]),
        table.get(after).copied(),
    ) {
        (Some((x0, y0)), Some((x1, y1))) => {
            let slope = (y1 - y0) / (x1 - x0);
            (y0 + slope * (x - x0), slope)
        }
        (Some((_, y)), None) | (None, Some((_, y))) => (y, 0.0),
        (None, None) => (x, 1.0),
    }
}
