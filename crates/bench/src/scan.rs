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

/// Beyond an end of its table by less than this share of it, a value still has the slope inside: what is sensed stands on
/// the kink there, and the next such vehicle on its other side.
const NEAR_END: f64 = 0.02;

/// Value and slope at `x` of a sorted table, held outside. An empty table shows the volts themselves.
fn along(table: &[(f64, f64)], x: f64) -> (f64, f64) {
    let after = table.partition_point(|row| row.0 <= x);
    let slope = |at: usize| match (table.get(at), table.get(at + 1)) {
        (Some((x0, y0)), Some((x1, y1))) => (y1 - y0) / (x1 - x0),
        _ => 0.0,
    };
    let (Some(first), Some(last)) = (table.first(), table.last()) else {
        return (x, 1.0);
    };
    let band = NEAR_END * (last.0 - first.0);
    let Some(before) = after.checked_sub(1) else {
        return (first.1, if first.0 - x < band { slope(0) } else { 0.0 });
    };
    if after == table.len() {
        let inside = before.checked_sub(1).filter(|_| x - last.0 < band);
        return (last.1, inside.map_or(0.0, slope));
    }
    let (x0, y0) = table[before];
    (y0 + slope(before) * (x - x0), slope(before))
}

#[cfg(test)]
mod tests {
    use super::along;

    #[test]
    fn a_value_at_an_end_of_its_table_is_held_and_still_moves() {
        let pedal = [(0.7, 0.0), (3.7, 100.0)];
        let per_volt = 100.0 / 3.0;
        for (x, value, slope) in [
            (0.7, 0.0, per_volt),
            (0.69, 0.0, per_volt),
            (0.5, 0.0, 0.0),
            (2.2, 50.0, per_volt),
            (3.7, 100.0, per_volt),
            (3.72, 100.0, per_volt),
            (4.4, 100.0, 0.0),
        ] {
            let (found, by) = along(&pedal, x);
            assert!(
                (found - value).abs() < 1e-9 && (by - slope).abs() < 1e-9,
                "{x}: {found} {by}"
            );
        }
        assert_eq!(along(&[], 1.25), (1.25, 1.0));
        assert_eq!(along(&[(1.0, 5.0)], 0.999), (5.0, 0.0));
    }
}
