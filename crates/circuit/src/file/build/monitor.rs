//! The checks by which a module sets codes: of a channel, or of a driver's pin.

use std::ops::Range;

use super::super::defaults as d;
use super::super::keys::{ModuleKeys, MonitorKeys};
use super::super::value::{Text, Value};
use super::{Builder, words_or};
use crate::branch::Role;
use crate::id::{ChannelId, ModuleId};
use crate::model::{Pin, PinKind};
use crate::monitor::{Limits, Monitor, Watches};
use crate::set_up::{Condition, Key};

/// What is compared: the keys that say where, and an example.
struct Compared {
    keys: &'static [&'static str],
    example: &'static str,
}

const VOLTS: Compared = Compared {
    keys: &["below", "above", "between"],
    example: "write `below = \"0.25 V\"` or `above = \"4.75 V\"`",
};
const HERTZ: Compared = Compared {
    keys: &["slower", "faster"],
    example: "write `slower = \"5 Hz\"` or `faster = \"400 Hz\"`",
};
const OF_PIN: Compared = Compared {
    keys: &["below", "above", "between", "weaker", "stronger"],
    example: "write `below = \"1 V\"`, `above = \"4 V\"` or `between = \"1 V..4 V\"`, or of its current `weaker = \"1 A\"` or `stronger = \"20 A\"`",
};

impl Builder<'_, '_, '_> {
    pub(super) fn monitor(&mut self, module_keys: &ModuleKeys, module: ModuleId, keys: &MonitorKeys) {
        let watches = match (&keys.channel, &keys.pin) {
            (Some(channel), None) => self.watched_channel(module_keys, module, channel),
            (None, Some(pin)) => self.watched_pin(module, &pin.text, &pin.at, keys),
            _ => {
                let help = "write `channel = \"pressure\"`, or of a driver `pin = \"M1.27\"`";
                let message = "a monitor watches either a channel or a driver's pin";
                self.slips.push_help("missing-key", &keys.at, message, help);
                None
            }
        };
        let limits = self.limits(keys, watches);
        if keys.code.text.trim().is_empty() {
            self.slips
                .push("value", &keys.code.at, "a code is expected, e.g. `P0532`");
        }
        let runs = match &keys.runs {
            Some(runs) => self.condition(runs),
            None => Some(Condition::KeyIn([Key::On, Key::Running].into())),
        };
        let (Some(watches), Some(runs)) = (watches, runs) else {
            return;
        };
        self.circuit.monitors.push(Monitor {
            code: keys.code.text.clone(),
            words: words_or(keys.name.as_ref(), &keys.code.text),
            watches,
            limits,
            runs,
            seconds: keys.time.as_ref().map_or(d::MONITOR_SECONDS, Value::value),
            then: keys.then.as_ref().map_or_else(String::new, |then| then.text.clone()),
        });
    }

    fn watched_channel(&mut self, module_keys: &ModuleKeys, module: ModuleId, channel: &Text) -> Option<Watches> {
        let mut channels = self.circuit.channels.iter();
        let found = channels.position(|known| known.id == channel.text && known.module == module);
        if found.is_none() && !module_keys.channel.names().any(|name| name == channel.text) {
            let message = format!("there is no channel `{}` in this module", channel.text);
            let known = module_keys.channel.names();
            self.slips
                .unknown("unknown-channel", &channel.at, message, &channel.text, known);
        }
        found.map(|at| Watches::Channel(ChannelId::from(at)))
    }

    fn watched_pin(&mut self, module: ModuleId, path: &str, at: &Range<usize>, keys: &MonitorKeys) -> Option<Watches> {
        let pins = &self.circuit.modules[module.idx()].pins;
        let path_of = |pin: &Pin| format!("{}.{}", self.plugs[pin.connector.idx()].id, pin.cavity);
        let is_driver = |pin: &&Pin| matches!(pin.kind, PinKind::LowSideDriver | PinKind::HighSideDriver);
        let Some(pin) = pins.iter().filter(is_driver).find(|pin| path_of(pin) == path) else {
            if !self.is_unread(path) {
                let known: Vec<String> = pins.iter().filter(is_driver).map(path_of).collect();
                let message = format!("`{path}` is no driver's pin of this module: of an input a channel tells");
                let known = known.iter().map(String::as_str);
                self.slips.unknown("unknown-pin", at, message, path, known);
            }
            return None;
        };
        let is_driver = |branch: &&crate::id::BranchId| self.circuit.branches[branch.idx()].role == Role::Driver;
        let driver = pin.inside.iter().find(is_driver).copied()?;
        Some(if keys.weaker.is_some() || keys.stronger.is_some() {
            Watches::Amps(module, pin.point, driver)
        } else {
            Watches::Volts(module, pin.point)
        })
    }

    fn limits(&mut self, keys: &MonitorKeys, watches: Option<Watches>) -> Limits {
        let compared = match watches {
            Some(Watches::Channel(channel)) if self.circuit.channels[channel.idx()].counts.is_some() => HERTZ,
            Some(Watches::Channel(_)) => VOLTS,
            Some(Watches::Volts(..) | Watches::Amps(..)) => OF_PIN,
            None => return Limits::default(),
        };
        let given = [
            ("below", keys.below.is_some()),
            ("above", keys.above.is_some()),
            ("between", keys.between.is_some()),
            ("slower", keys.slower.is_some()),
            ("faster", keys.faster.is_some()),
            ("weaker", keys.weaker.is_some()),
            ("stronger", keys.stronger.is_some()),
        ];
        let given = || given.iter().filter(|(_, is_given)| *is_given).map(|(key, _)| *key);
        if given().any(|key| !compared.keys.contains(&key)) {
            let help = "`below`, `above` and `between` compare volts, `slower` and `faster` what a channel with `counts` counts, `weaker` and `stronger` the amperes of a driver's pin";
            let message = "this threshold does not fit what is watched";
            self.slips.push_help("limits", &keys.at, message, help);
        }
        let has_volts = given().any(|key| VOLTS.keys.contains(&key));
        if has_volts && matches!(watches, Some(Watches::Amps(..))) {
            let message = "a monitor compares either volts or amperes: write two";
            self.slips.push("limits", &keys.at, message);
        }
        if !given().any(|key| compared.keys.contains(&key)) {
            let message = "a monitor needs a threshold";
            self.slips.push_help("missing-key", &keys.at, message, compared.example);
        }
        let volts = [&keys.below, &keys.above].map(|limit| limit.as_ref().map(Value::value));
        let hertz = [&keys.slower, &keys.faster].map(|limit| limit.as_ref().map(Value::value));
        let amperes = [&keys.weaker, &keys.stronger].map(|limit| limit.as_ref().map(Value::value));
        let [below, above] = match watches {
            Some(Watches::Amps(..)) => amperes,
            Some(Watches::Channel(_)) if compared.keys == HERTZ.keys => hertz,
            _ => volts,
        };
        if let (Some(below), Some(above)) = (below, above)
            && below >= above
        {
            let message = "with `below` not under `above`, this monitor would always set its code";
            self.slips.push("limits", &keys.at, message);
        }
        Limits {
            below,
            above,
            between: keys
                .between
                .as_ref()
                .map(|between| (between.span.low, between.span.high)),
        }
    }
}
