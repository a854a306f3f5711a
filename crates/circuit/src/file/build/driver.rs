//! Pins that switch a load.

use super::super::defaults as d;
use super::super::keys::PinKeys;
use super::super::value::{Text, Value};
use super::Builder;
use super::module::Inside;
use crate::branch::{BranchKind, Law, Role};
use crate::id::PointId;
use crate::set_up::Condition;

/// Keys of a low-side driver.
pub(super) const LOW_SIDE_KEYS: [&str; 8] = [
    "ohms",
    "limit",
    "on",
    "opposite",
    "freewheel",
    "off",
    "bias_up",
    "bias_down",
];
/// Keys of a high-side driver.
pub(super) const HIGH_SIDE_KEYS: [&str; 9] = [
    "ohms",
    "limit",
    "from",
    "on",
    "opposite",
    "freewheel",
    "off",
    "bias_up",
    "bias_down",
];

impl Builder<'_, '_, '_> {
    pub(super) fn driver_pin(
        &mut self,
        inside: Inside,
        path: &str,
        [a, b]: [PointId; 2],
        point: PointId,
        keys: &PinKeys,
        words: &str,
    ) -> f64 {
        let commanded = if let Some(on) = &keys.on {
            self.condition(on).unwrap_or(Condition::Never)
        } else if keys.opposite.is_some() {
            Condition::Never
        } else {
            let help = "write `on = \"fan commanded\"` with a name of `[load]`, or `on = \"key on, running\"`";
            self.slips
                .push_help("missing-key", &keys.at, "a driver needs `on`: when it switches", help);
            Condition::Never
        };
        let limit_amps = keys.limit.as_ref().map_or(d::DRIVER_AMPS, Value::value);
        let switch = |[a, b]: [PointId; 2], commanded| BranchKind::Driver {
            a,
            b,
            on_ohms: Law::fixed(keys.ohms.as_ref().map_or(d::DRIVER_OHMS, Value::value)),
            off_ohms: keys.off.as_ref().map_or(d::DRIVER_OFF_OHMS, Value::value),
            limit_amps,
            commanded,
        };
        let rating = Some(limit_amps);
        let name = format!("{path}/driver");
        self.branch(name, inside.part, Role::Driver, rating, switch([a, b], commanded));
        let other_side = if a == point {
            [inside.supply, point]
        } else {
            [point, inside.ground]
        };
        if let Some(opposite) = &keys.opposite {
            let commanded = self.condition(opposite).unwrap_or(Condition::Never);
            let name = format!("{path}/opposite driver");
            self.branch(name, inside.part, Role::Driver, rating, switch(other_side, commanded));
        }
        // Each conducts against the way in which its driver would.
        let is_bridge = keys.opposite.is_some();
        let mut diodes = Vec::new();
        if keys.freewheel.unwrap_or(is_bridge) {
            diodes.push(("freewheel", other_side));
        }
        if is_bridge {
            diodes.push(("body diode", [a, b]));
        }
        for (name, [high, low]) in diodes {
            let kind = BranchKind::Diode {
                anode: low,
                cathode: high,
                saturation_amps: d::FREEWHEEL.0,
                thermal_volts: d::FREEWHEEL.1,
                series_ohms: d::FREEWHEEL.2,
            };
            let path = format!("{path}/{name}");
            self.branch(path, inside.part, Role::ClampDiode, rating, kind);
        }
        for (strength, to, key) in [
            (&keys.bias_up, inside.rail, "bias_up"),
            (&keys.bias_down, inside.ground, "bias_down"),
        ] {
            let words = format!("open-load bias of {words} at {path}");
            let strength = (strength.as_ref(), d::BIAS);
            self.resistor_of(
                inside,
                &format!("{path}/{key}"),
                &words,
                (point, to),
                Role::Bias,
                strength,
            );
        }
        limit_amps
    }

    /// What a high-side driver switches.
    pub(super) fn high_side(&mut self, inside: Inside, keys: &PinKeys) -> PointId {
        match keys.from.as_ref().map(|from| (from.text.as_str(), &from.at)) {
            None | Some(("feed", _)) => inside.supply,
            Some(("rail", _)) => inside.rail,
            Some((other, at)) => {
                let message = format!("a high-side driver switches the `feed` or the `rail`, not `{other}`");
                self.slips.push("pin-key", at, message);
                inside.supply
            }
        }
    }

    /// What pulls an input's line to ground while the module itself talks on it.
    pub(super) fn bus_driver(&mut self, inside: Inside, path: &str, point: PointId, keys: &PinKeys, on: &Text) {
        let limit_amps = keys.limit.as_ref().map_or(d::DRIVER_AMPS, Value::value);
        let kind = BranchKind::Driver {
            a: point,
            b: inside.ground,
            on_ohms: Law::fixed(keys.ohms.as_ref().map_or(d::DRIVER_OHMS, Value::value)),
            off_ohms: d::DRIVER_OFF_OHMS,
            limit_amps,
            commanded: self.condition(on).unwrap_or(Condition::Never),
        };
        self.branch(
            format!("{path}/driver"),
            inside.part,
            Role::Driver,
            Some(limit_amps),
            kind,
        );
    }
}
