//! What a module shows in scan data, and the checks by which it sets codes.

use std::ops::Range;

use super::super::defaults as d;
use super::super::keys::{ChannelKeys, ModuleKeys, MonitorKeys};
use super::super::value::Value;
use super::module::Inside;
use super::{Builder, words_or};
use crate::id::{ChannelId, ModuleId, PointId};
use crate::model::{Channel, Monitor, Pin, PinKind};
use crate::set_up::{Condition, Key};

impl Builder<'_, '_, '_> {
    pub(super) fn channel(&mut self, inside: Inside, id: &str, keys: &ChannelKeys) {
        if let Some(other) = self.circuit.channels.iter().find(|channel| channel.id == id) {
            let message = format!("`{}` is a channel of another module already", other.id);
            self.slips.push("duplicate", &keys.at, message);
        }
        for pair in keys.scaling.windows(2) {
            if pair[1].first.value() <= pair[0].first.value() {
                let message = "rows must rise by the volts: this one does not lie above the one before";
                self.slips.push("table-order", &pair[1].at, message);
            }
        }
        if keys.scaling.is_empty() {
            let help = "e.g. `scaling = [[\"0.5 V\", 0], [\"4.5 V\", 100]]`";
            self.slips.push_help(
                "missing-key",
                &keys.at,
                "a channel needs rows of volts and shown value",
                help,
            );
        }
        let sense = self.channel_point(inside, &keys.pin.text, &keys.pin.at, true);
        let against = match &keys.against {
            Some(pin) => self.channel_point(inside, &pin.text, &pin.at, false),
            None => Some(inside.ground),
        };
        let span = keys
            .converter
            .as_ref()
            .map_or(d::CONVERTER_VOLTS, |between| (between.span.low, between.span.high));
        if let Some(at) = keys
            .converter
            .as_ref()
            .filter(|_| span.0 >= span.1)
            .map(|converter| &converter.at)
        {
            self.slips.push("limits", at, "a converter's range must have a width");
        }
        let bits = keys.bits.as_ref().map_or(d::CONVERTER_BITS, |bits| bits.value);
        if let Some(bits) = keys.bits.as_ref().filter(|bits| !(1..=24).contains(&bits.value)) {
            self.slips.push("limits", &bits.at, "a converter has 1 to 24 bits");
        }
        let (Some(sense), Some(against)) = (sense, against) else {
            return;
        };
        self.circuit.channels.push(Channel {
            id: id.to_owned(),
            words: words_or(keys.name.as_ref(), id),
            module: inside.module,
            sense,
            against,
            ratiometric: keys.ratiometric.unwrap_or(true),
            low_volts: span.0,
            high_volts: span.1,
            steps: (1_u32 << bits.min(24)) - 1,
            scaling: keys
                .scaling
                .iter()
                .map(|row| (row.first.value(), row.second.value))
                .collect(),
            unit: keys.unit.as_ref().map_or_else(String::new, |unit| unit.text.clone()),
            filter_seconds: keys.filter.as_ref().map_or(0.0, Value::value),
            substitute: keys.substitute.as_ref().map(|number| number.value),
        });
    }

    /// The point of a channel's pin: behind its series resistor if `sensed`.
    fn channel_point(&mut self, inside: Inside, path: &str, at: &Range<usize>, sensed: bool) -> Option<PointId> {
        let pins = &self.circuit.modules[inside.module.idx()].pins;
        let path_of = |pin: &Pin| format!("{}.{}", self.plugs[pin.connector.idx()].id, pin.cavity);
        let found = pins
            .iter()
            .find(|pin| path_of(pin) == path)
            .map(|pin| (pin.point, pin.kind));
        let Some((point, kind)) = found else {
            if !self.is_unread(path) {
                let paths: Vec<String> = pins.iter().map(path_of).collect();
                let message = format!("`{path}` is no pin of {}", self.part_words(inside.part));
                self.slips
                    .unknown("unknown-pin", at, message, path, paths.iter().map(String::as_str));
            }
            return None;
        };
        if sensed && kind != PinKind::Input {
            let message = format!("the pin `{path}` of a channel must be of kind input");
            self.slips.push("pin-kind", at, message);
        }
        Some(
            self.points
                .get(&format!("{path}/sense"))
                .copied()
                .filter(|_| sensed)
                .unwrap_or(point),
        )
    }

    pub(super) fn monitor(&mut self, module_keys: &ModuleKeys, module: ModuleId, keys: &MonitorKeys) {
        let channels = &self.circuit.channels;
        let found = channels
            .iter()
            .position(|channel| channel.id == keys.channel.text && channel.module == module);
        if found.is_none() && !module_keys.channel.names().any(|name| name == keys.channel.text) {
            let message = format!("there is no channel `{}` in this module", keys.channel.text);
            let known = module_keys.channel.names();
            self.slips
                .unknown("unknown-channel", &keys.channel.at, message, &keys.channel.text, known);
        }
        let (below, above) = (
            keys.below.as_ref().map(Value::value),
            keys.above.as_ref().map(Value::value),
        );
        match (below, above) {
            (None, None) => {
                let help = "write `below = \"0.25 V\"` or `above = \"4.75 V\"`";
                self.slips
                    .push_help("missing-key", &keys.at, "a monitor needs a threshold", help);
            }
            (Some(below), Some(above)) if below >= above => {
                self.slips.push(
                    "limits",
                    &keys.at,
                    "with `below` not under `above`, this monitor would always set its code",
                );
            }
            _ => {}
        }
        if keys.code.text.trim().is_empty() {
            self.slips
                .push("value", &keys.code.at, "a code is expected, e.g. `P0532`");
        }
        let runs = match &keys.runs {
            Some(runs) => self.condition(runs),
            None => Some(Condition::KeyIn([Key::On, Key::Running].into())),
        };
        let (Some(channel), Some(runs)) = (found, runs) else {
            return;
        };
        self.circuit.monitors.push(Monitor {
            code: keys.code.text.clone(),
            words: words_or(keys.name.as_ref(), &keys.code.text),
            channel: ChannelId::from(channel),
            below_volts: below,
            above_volts: above,
            runs,
            seconds: keys.time.as_ref().map_or(d::MONITOR_SECONDS, Value::value),
            then: keys.then.as_ref().map_or_else(String::new, |then| then.text.clone()),
        });
    }
}
