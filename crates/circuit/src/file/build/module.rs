//! Modules: what is inside their pins.

use quantity::{Amount, Spread, Unit};

use super::super::decode::Named;
use super::super::defaults as d;
use super::super::keys::{ModuleKeys, PinKeys};
use super::super::mistake::suggestion;
use super::super::value::{Doubtful, Strength, Value};
use super::bears::most_volts;
use super::driver::{HIGH_SIDE_KEYS, LOW_SIDE_KEYS};
use super::harness::cavity_path;
use super::unknown::Pulls;
use super::{Builder, Upkeep, when, words_or};
use crate::branch::{Access, At, BranchKind, Law, Role};
use crate::id::{BranchId, ConnectorId, ModuleId, PartId, PointId};
use crate::model::{Module, PartKind, Pin, PinKind};
use crate::set_up::{Condition, Key, SetUp};

/// Kinds of pin by name, and the keys that mean something for each.
const KINDS: [(&str, PinKind, &[&str]); 7] = [
    ("feed", PinKind::Feed, &["powers"]),
    ("ground", PinKind::Ground, &["ohms"]),
    ("sensor ground", PinKind::SensorGround, &["ohms"]),
    (
        "reference",
        PinKind::Reference,
        &["ohms", "volts", "limit", "sinks", "insides"],
    ),
    (
        "input",
        PinKind::Input,
        &[
            "pull_up",
            "pull_up_to",
            "pull_down",
            "series",
            "clamps",
            "leak",
            "leak_to",
            "insides",
            "on",
            "ohms",
            "limit",
        ],
    ),
    ("low-side driver", PinKind::LowSideDriver, &LOW_SIDE_KEYS),
    ("high-side driver", PinKind::HighSideDriver, &HIGH_SIDE_KEYS),
];

/// What the pins of one module share.
#[derive(Clone, Copy)]
pub(super) struct Inside {
    pub(super) module: ModuleId,
    pub(super) part: PartId,
    pub(super) rail: PointId,
    pub(super) ground: PointId,
    pub(super) supply: PointId,
}

/// A pin as the file has it, with its place.
struct Listed<'f> {
    connector: ConnectorId,
    cavity: u16,
    kind: PinKind,
    keys: &'f PinKeys,
    point: PointId,
}

impl<'f> Builder<'f, '_, '_> {
    pub(super) fn modules(&mut self) {
        let file = self.file;
        for Named { name, is, .. } in file.module.iter() {
            let Some(keys) = is else { continue };
            let module = ModuleId::from(self.circuit.modules.len());
            let upkeep = Upkeep(keys.repair.as_ref(), keys.price.as_ref(), keys.new);
            let words = words_or(keys.name.as_ref(), name);
            let part = self.part(name, words, PartKind::Module(module), upkeep);
            self.module(name, part, module, keys);
        }
    }

    fn module(&mut self, id: &str, part: PartId, module: ModuleId, keys: &'f ModuleKeys) {
        let words = self.part_words(part).to_owned();
        let pins = self.listed_pins(keys);
        let rail = self.point(
            &format!("{id}/rail"),
            format!("{words}, logic rail inside"),
            Access::Inside,
            part,
        );
        let ground = self.point(
            &format!("{id}/ground"),
            format!("{words}, ground inside"),
            Access::Inside,
            part,
        );
        let mut powering = pins
            .iter()
            .filter(|pin| pin.kind == PinKind::Feed && pin.keys.powers == Some(true));
        let first = powering.next().or_else(|| {
            pins.iter()
                .find(|pin| pin.kind == PinKind::Feed && pin.keys.powers.is_none())
        });
        let supply = match first {
            Some(pin) => pin.point,
            None => self.point(
                &format!("{id}/supply"),
                format!("{words}, supply inside"),
                Access::Inside,
                part,
            ),
        };
        let inside = Inside {
            module,
            part,
            rail,
            ground,
            supply,
        };
        self.circuit.modules.push(Module {
            part,
            pins: Vec::new(),
            rail,
            ground,
            supply: first.map(|pin| pin.point),
        });
        if first.is_none() {
            // Not described: it is powered whenever the key is on, straight from the battery.
            let closed = Condition::KeyIn([Key::On, Key::Cranking, Key::Running].into());
            let a = self.circuit.battery_plus;
            let kind = BranchKind::Switch {
                a,
                b: supply,
                closed_ohms: Law::fixed(d::FEED_OHMS.value),
                closed,
            };
            self.branch(format!("{id}/feed"), part, Role::FeedSwitch, None, kind);
        }
        if !pins.iter().any(|pin| pin.kind == PinKind::Ground) {
            let b = self.circuit.body;
            let kind = BranchKind::Resistor {
                a: ground,
                b,
                ohms: Law::fixed(d::INSIDE_GROUND_OHMS),
            };
            self.branch(format!("{id}/ground to body"), part, Role::InsideGround, None, kind);
        }
        let amps = keys
            .draws
            .as_ref()
            .map_or(Amount::new(d::MODULE_AMPS.value, Unit::Ampere), |draws| draws.amount);
        let awake = Doubtful::from_amount(amps, d::MODULE_AMPS.spread);
        let mut amps = self.law(
            &format!("{id}/draws"),
            &format!("what {words} draws"),
            awake,
            Unit::Ampere,
        );
        amps.base = when(Condition::KeyIn([Key::Asleep].into()), d::ASLEEP_AMPS, awake.centre).base;
        let kind = BranchKind::CurrentSink {
            from: supply,
            to: ground,
            amps,
            knee_volts: d::MODULE_KNEE_VOLTS,
            drawn: Condition::Always,
        };
        self.branch(format!("{id}/draws"), part, Role::Quiescent, None, kind);
        let volts = self.given(
            &format!("{id}/rail"),
            &format!("rail of {words}"),
            keys.rail.as_ref(),
            d::RAIL_VOLTS,
        );
        let regulator = BranchKind::Output {
            supply,
            ground,
            output: rail,
            offset_volts: volts.clone(),
            gain: Law::fixed(0.0),
            dropout_volts: d::DROPOUT_VOLTS,
            ohms: Law::fixed(d::RAIL_OHMS),
            source_limit_amps: d::RAIL_AMPS,
            sink_limit_amps: d::RAIL_AMPS,
        };
        self.branch(format!("{id}/rail"), part, Role::Other, None, regulator);
        for pin in pins {
            self.pin(inside, &volts, &pin);
        }
        for Named { name, is, .. } in keys.channel.iter() {
            self.check_name(name, &keys.at);
            if let Some(channel) = is {
                self.channel(inside, name, channel);
            }
        }
        for monitor in keys.monitor.iter().flatten() {
            self.monitor(keys, module, monitor);
        }
    }

    /// Pins whose place and kind are known; mistakes in the others are noted.
    fn listed_pins(&mut self, keys: &'f ModuleKeys) -> Vec<Listed<'f>> {
        let mut pins = Vec::new();
        for pin in keys.pin.iter() {
            let Some((id, number, side)) = cavity_path(&pin.name) else {
                continue;
            };
            if let Some(side) = side {
                self.slips.push(
                    "cavity",
                    &pin.at,
                    format!("a pin is in a cavity such as `{id}.{number}`, without `/{side}`"),
                );
                continue;
            }
            let (Some(keys), Ok(number)) = (&pin.is, number.parse::<u16>()) else {
                continue;
            };
            let Some(connector) = self.plugs.iter().position(|known| known.id == id) else {
                continue;
            };
            let Some(known) = self.circuit.connectors[connector].cavities.get(&number) else {
                self.slips.push(
                    "cavity",
                    &pin.at,
                    format!("connector `{id}` has no cavity {number} in its rows"),
                );
                continue;
            };
            let point = known.terminals[1];
            let Some(kind) = self.pin_kind(keys) else { continue };
            pins.push(Listed {
                connector: ConnectorId::from(connector),
                cavity: number,
                kind,
                keys,
                point,
            });
        }
        pins
    }

    fn pin_kind(&mut self, keys: &PinKeys) -> Option<PinKind> {
        let Some((name, kind, allowed)) = KINDS.iter().find(|(name, _, _)| *name == keys.kind.text) else {
            let message = format!("`{}` is no kind of pin", keys.kind.text);
            let known = KINDS.iter().map(|(name, _, _)| *name);
            let help = suggestion(&keys.kind.text, known).unwrap_or_default();
            self.slips.push_help("pin-kind", &keys.kind.at, message, help);
            return None;
        };
        let given = [
            ("powers", keys.powers.is_some()),
            ("ohms", keys.ohms.is_some()),
            ("volts", keys.volts.is_some()),
            ("limit", keys.limit.is_some()),
            ("sinks", keys.sinks.is_some()),
            ("pull_up", keys.pull_up.is_some()),
            ("pull_up_to", keys.pull_up_to.is_some()),
            ("pull_down", keys.pull_down.is_some()),
            ("series", keys.series.is_some()),
            ("clamps", keys.clamps.is_some()),
            ("leak", keys.leak.is_some()),
            ("leak_to", keys.leak_to.is_some()),
            ("insides", keys.insides.is_some()),
            ("on", keys.on.is_some()),
            ("from", keys.from.is_some()),
            ("opposite", keys.opposite.is_some()),
            ("freewheel", keys.freewheel.is_some()),
            ("off", keys.off.is_some()),
            ("bias_up", keys.bias_up.is_some()),
            ("bias_down", keys.bias_down.is_some()),
        ];
        for (key, _) in given.iter().filter(|(key, given)| *given && !allowed.contains(key)) {
            let help = format!("keys that do: {}", allowed.join(", "));
            self.slips.push_help(
                "pin-key",
                &keys.at,
                format!("`{key}` means nothing for a pin of kind {name}"),
                help,
            );
        }
        self.positive(keys.limit.as_ref());
        self.positive(keys.rating.as_ref());
        self.positive(keys.rating_volts.as_ref());
        Some(*kind)
    }

    fn pin(&mut self, inside: Inside, rail_volts: &Law, listed: &Listed) {
        let Listed {
            connector,
            cavity,
            kind,
            keys,
            point,
        } = *listed;
        let path = format!("{}.{cavity}", self.plugs[connector.idx()].id);
        let default = KINDS
            .iter()
            .find(|(_, known, _)| *known == kind)
            .map_or("pin", |(name, _, _)| *name);
        let words = keys
            .name
            .as_ref()
            .map_or_else(|| default.to_owned(), |name| name.text.clone());
        let first = self.circuit.branches.len();
        let rating_amps = match kind {
            PinKind::Feed => self.feed_pin(inside, &path, point, keys),
            PinKind::Ground => self.ground_pin(inside, &path, point, keys, d::INSIDE_GROUND_OHMS, d::POWER_PIN_AMPS),
            PinKind::SensorGround => {
                self.ground_pin(inside, &path, point, keys, d::SENSOR_GROUND_OHMS, d::SENSOR_GROUND_AMPS)
            }
            PinKind::Reference => self.reference_pin(inside, &path, point, keys, rail_volts, &words),
            PinKind::Input => self.input_pin(inside, &path, point, keys, &words),
            PinKind::LowSideDriver => self.driver_pin(inside, &path, [point, inside.ground], point, keys, &words),
            PinKind::HighSideDriver => {
                let from = self.high_side(inside, keys);
                self.driver_pin(inside, &path, [from, point], point, keys, &words)
            }
        };
        let rating_amps = keys.rating.as_ref().map_or(rating_amps, Value::value);
        let rail = rail_volts.value(&At::centre(&self.circuit, &SetUp::default()));
        let place = &mut self.circuit.points[point.idx()];
        place.words = format!("{}, {words}", place.words);
        if let Some(cavity) = self.circuit.connectors[connector.idx()].cavities.get_mut(&cavity)
            && cavity.words.is_empty()
        {
            cavity.words.clone_from(&words);
        }
        let branches = (first..self.circuit.branches.len()).map(BranchId::from).collect();
        self.circuit.modules[inside.module.idx()].pins.push(Pin {
            connector,
            cavity,
            words,
            kind,
            point,
            inside: branches,
            rating_amps,
            rating_volts: most_volts(kind, keys, rail),
        });
    }

    fn feed_pin(&mut self, inside: Inside, path: &str, point: PointId, keys: &PinKeys) -> f64 {
        if point != inside.supply {
            let (to, ohms, role) = if keys.powers == Some(true) {
                (inside.supply, d::INSIDE_GROUND_OHMS, Role::Other)
            } else {
                (inside.ground, d::SENSING_FEED_OHMS, Role::Quiescent)
            };
            let kind = BranchKind::Resistor {
                a: point,
                b: to,
                ohms: Law::fixed(ohms),
            };
            self.branch(format!("{path}/feed"), inside.part, role, None, kind);
        }
        d::POWER_PIN_AMPS
    }

    fn ground_pin(&mut self, inside: Inside, path: &str, point: PointId, keys: &PinKeys, ohms: f64, amps: f64) -> f64 {
        let ohms = Law::fixed(keys.ohms.as_ref().map_or(ohms, Value::value));
        let kind = BranchKind::Resistor {
            a: point,
            b: inside.ground,
            ohms,
        };
        self.branch(
            format!("{path}/ground"),
            inside.part,
            Role::InsideGround,
            Some(amps),
            kind,
        );
        amps
    }

    fn reference_pin(
        &mut self,
        inside: Inside,
        path: &str,
        point: PointId,
        keys: &PinKeys,
        rail: &Law,
        words: &str,
    ) -> f64 {
        let usual_volts = rail.value(&At::centre(&self.circuit, &SetUp::default()));
        let alternatives = self.reference_alternatives(keys, usual_volts);
        let likeliest = alternatives.first().filter(|one| one.0 != usual_volts);
        let offset_volts = match (&keys.volts, likeliest) {
            (Some(volts), _) => {
                let words = format!("{words} at {path}");
                self.given(&format!("{path}/volts"), &words, Some(volts), d::RAIL_VOLTS)
            }
            (None, Some(&(volts, _))) => {
                let doubt = Doubtful::from_amount(Amount::new(volts, Unit::Volt), d::RAIL_VOLTS.spread);
                self.law(
                    &format!("{path}/volts"),
                    &format!("{words} at {path}"),
                    doubt,
                    Unit::Volt,
                )
            }
            (None, None) => rail.clone(),
        };
        let limit = keys.limit.as_ref().map_or(d::REFERENCE_AMPS, Value::value);
        let kind = BranchKind::Output {
            supply: inside.supply,
            ground: inside.ground,
            output: point,
            offset_volts,
            gain: Law::fixed(0.0),
            dropout_volts: d::DROPOUT_VOLTS,
            ohms: Law::fixed(keys.ohms.as_ref().map_or(d::REFERENCE_OHMS, Value::value)),
            source_limit_amps: limit,
            sink_limit_amps: keys.sinks.as_ref().map_or(0.0, Value::value),
        };
        let rating = d::REFERENCE_SHARE * limit;
        let branch = self.branch(
            format!("{path}/reference"),
            inside.part,
            Role::Reference,
            Some(rating),
            kind,
        );
        self.doubt_reference((path, words, keys), &alternatives, branch);
        let kind = BranchKind::Resistor {
            a: point,
            b: inside.ground,
            ohms: Law::fixed(d::BLEED_OHMS),
        };
        self.branch(format!("{path}/bleed"), inside.part, Role::Bias, None, kind);
        rating
    }

    fn input_pin(&mut self, inside: Inside, path: &str, point: PointId, keys: &PinKeys, words: &str) -> f64 {
        let to = match keys.pull_up_to.as_ref().map(|to| (to.text.as_str(), &to.at)) {
            None | Some(("rail", _)) => inside.rail,
            Some(("feed", _)) => inside.supply,
            Some((other, at)) => {
                self.slips.push(
                    "pin-key",
                    at,
                    format!("a pull-up goes to `rail` or to `feed`, not to `{other}`"),
                );
                inside.rail
            }
        };
        let pulls = self.pulls(keys);
        let ends = [(point, to), (point, inside.ground)];
        let doubted = pulls
            .as_ref()
            .map(|pulls| self.doubted_pulls(inside, path, words, pulls, ends));
        let neither = keys.pull_up.is_none() && keys.pull_down.is_none() && keys.insides.is_none();
        let unknown = neither.then_some(Strength::Unknown);
        let up = keys.pull_up.as_ref().or(unknown.as_ref());
        let down = keys.pull_down.as_ref().or(unknown.as_ref());
        for (strength, to, name, key, default) in [
            (up, to, "pull-up", "pull_up", d::PULL_UP),
            (down, inside.ground, "pull-down", "pull_down", d::PULL_DOWN),
        ] {
            let words = format!("{name} of {words} at {path}");
            self.resistor_of(
                inside,
                &format!("{path}/{key}"),
                &words,
                (point, to),
                Role::Pull,
                (strength, default),
            );
        }
        if let Some(on) = &keys.on {
            self.bus_driver(inside, path, point, keys, on);
        }
        let sense = match keys.series.as_ref().unwrap_or(&Strength::Unknown) {
            Strength::None => point,
            strength => {
                let place = format!("{}, behind the series resistor of {path}", self.part_words(inside.part));
                let sense = self.point(&format!("{path}/sense"), place, Access::Inside, inside.part);
                let words = format!("series resistor of {words} at {path}");
                let ends = (point, sense);
                self.resistor_of(
                    inside,
                    &format!("{path}/series"),
                    &words,
                    ends,
                    Role::Series,
                    (Some(strength), d::SERIES),
                );
                sense
            }
        };
        self.input_leak(inside, path, sense, keys, words);
        let mut clamps = Vec::new();
        let has_clamps = pulls
            .as_ref()
            .map_or(keys.clamps.unwrap_or(true), Pulls::may_have_clamps);
        if has_clamps {
            let (saturation_amps, thermal_volts, series_ohms) = d::CLAMP;
            let diode = |anode, cathode| BranchKind::Diode {
                anode,
                cathode,
                saturation_amps,
                thermal_volts,
                series_ohms,
            };
            let upper = diode(sense, inside.rail);
            let lower = diode(inside.ground, sense);
            for (name, kind) in [("upper", upper), ("lower", lower)] {
                let path = format!("{path}/{name} clamp");
                clamps.push(self.branch(path, inside.part, Role::ClampDiode, Some(d::INPUT_AMPS), kind));
            }
        }
        if let (Some(pulls), Some(doubted)) = (&pulls, doubted) {
            self.doubt_pulls((path, words, keys), pulls, doubted, &clamps);
        }
        d::INPUT_AMPS
    }

    /// A converter draws hardly anything, but not nothing: cut off from its pin it goes where its own leakage takes it.
    fn input_leak(&mut self, inside: Inside, path: &str, sense: PointId, keys: &PinKeys, words: &str) {
        let to = match keys.leak_to.as_ref().map(|to| (to.text.as_str(), &to.at)) {
            None | Some(("ground", _)) => inside.ground,
            Some(("rail", _)) => inside.rail,
            Some((other, at)) => {
                let message = format!("an input leaks to `ground` or to `rail`, not to `{other}`");
                self.slips.push("pin-key", at, message);
                inside.ground
            }
        };
        let usual = Strength::Known(Amount {
            spread: Spread::Exact,
            ..Amount::new(d::INPUT_LEAK_OHMS, Unit::Ohm)
        });
        let strength = Some(keys.leak.as_ref().unwrap_or(&usual));
        let words = format!("leakage of {words} at {path}");
        self.resistor_of(
            inside,
            &format!("{path}/leak"),
            &words,
            (sense, to),
            Role::InputLeak,
            (strength, (d::INPUT_LEAK_OHMS, 1.0)),
        );
    }

    /// A resistor of which the file may say little.
    pub(super) fn resistor_of(
        &mut self,
        inside: Inside,
        path: &str,
        words: &str,
        (a, b): (PointId, PointId),
        role: Role,
        (strength, (centre, factor)): (Option<&Strength>, (f64, f64)),
    ) {
        let doubtful = match strength {
            None | Some(Strength::None) => return,
            Some(Strength::Unknown) => Doubtful {
                centre,
                factor,
                shift: 0.0,
            },
            Some(Strength::Known(amount)) => Doubtful::from_amount(*amount, Spread::Relative(0.05)),
            Some(Strength::Within(span)) => Doubtful::from_span(*span),
        };
        let ohms = self.law(path, words, doubtful, Unit::Ohm);
        self.branch(
            path.to_owned(),
            inside.part,
            role,
            None,
            BranchKind::Resistor { a, b, ohms },
        );
    }
}
