//! Pins that switch a load.

use super::super::defaults as d;
use super::super::keys::PinKeys;
use super::super::value::Value;
use super::Builder;
use super::module::Inside;
use crate::branch::{BranchKind, Law, Role};
use crate::id::PointId;
use crate::set_up::Condition;

impl Builder<'_, '_, '_> {
    pub(super) fn driver_pin(
        &mut self,
        inside: Inside,
        path: &str,
        (a, b): (PointId, PointId),
        point: PointId,
        keys: &PinKeys,
        words: &str,
    ) -> f64 {
        let commanded = if let Some(on) = &keys.on {
            self.condition(on).unwrap_or(Condition::Never)
        } else {
            let help = "write `on = \"fan commanded\"` with a name of `[load]`, or `on = \"key on, running\"`";
            self.slips
                .push_help("missing-key", &keys.at, "a driver needs `on`: when it switches", help);
            Condition::Never
        };
        let limit_amps = keys.limit.as_ref().map_or(d::DRIVER_AMPS, Value::value);
        let kind = BranchKind::Driver {
            a,
            b,
            on_ohms: Law::fixed(keys.ohms.as_ref().map_or(d::DRIVER_OHMS, Value::value)),
            off_ohms: keys.off.as_ref().map_or(d::DRIVER_OFF_OHMS, Value::value),
            limit_amps,
            commanded,
        };
        self.branch(
            format!("{path}/driver"),
            inside.part,
            Role::Driver,
            Some(limit_amps),
            kind,
        );
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
}
