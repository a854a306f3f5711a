//! Battery, charger, feeds, fuses, relays and grounds.

use super::super::condition::key;
use super::super::decode::Named;
use super::super::defaults as d;
use super::super::keys::{FeedKeys, FuseKeys, GroundKeys, RelayKeys};
use super::super::value::{Text, Value};
use super::{Builder, Upkeep, reached_in, when, words_or};
use crate::branch::{Access, Base, BranchKind, Law, OPEN_OHMS, Role};
use crate::id::{BranchId, FuseId, PartId, PointId, RelayId};
use crate::model::{Feed, Fuse, Ground, PartKind, Relay};
use crate::set_up::{Condition, Key};

/// Terminals of a relay's socket.
const SOCKET: [&str; 5] = ["30", "85", "86", "87", "87a"];

impl Builder<'_, '_, '_> {
    /// Everything of the supply that a wire may end at.
    pub(super) fn supply_points(&mut self) {
        let file = self.file;
        let battery = file.battery.as_ref();
        let upkeep = battery.map_or(Upkeep::NONE, |keys| {
            Upkeep(keys.repair.as_ref(), keys.price.as_ref(), keys.new)
        });
        let part = self.part("battery", "battery".to_owned(), PartKind::Battery, upkeep);
        let post = reached_in(battery.and_then(|keys| keys.reach.as_ref()), d::POST_MINUTES);
        self.circuit.battery_minus = self.point("battery-", "battery, negative post".to_owned(), post, part);
        self.circuit.battery_plus = self.point("battery+", "battery, positive post".to_owned(), post, part);
        if let Some(keys) = &file.charger {
            let upkeep = Upkeep(keys.repair.as_ref(), keys.price.as_ref(), keys.new);
            self.part("charger", "charger or alternator".to_owned(), PartKind::Charger, upkeep);
        }
        if !file.ground.names().any(|name| name == "body") {
            self.ground_point("body", None);
        }
        for Named { name, is, .. } in file.ground.iter() {
            if is.is_some() || name == "body" {
                self.ground_point(name, is.as_ref());
            }
        }
        self.circuit.body = self.points.get("body").copied().unwrap_or(self.circuit.battery_minus);
        for Named { name, is, .. } in file.feed.iter() {
            let Some(keys) = is else { continue };
            let words = words_or(keys.name.as_ref(), name);
            let kind = PartKind::Feed(self.circuit.feeds.len());
            let part = self.part(
                name,
                words.clone(),
                kind,
                Upkeep(keys.repair.as_ref(), keys.price.as_ref(), None),
            );
            let point = self.point(name, words, reached_in(None, d::FUSE_MINUTES), part);
            let live_in = self.live_in(keys);
            self.circuit.feeds.push(Feed { part, point, live_in });
        }
        for Named { name, is, .. } in file.fuse.iter() {
            let Some(keys) = is else { continue };
            let words = words_or(keys.name.as_ref(), name);
            let fuse = FuseId::from(self.circuit.fuses.len());
            let part = self.part(name, words.clone(), PartKind::Fuse(fuse), Upkeep::NONE);
            let access = reached_in(keys.reach.as_ref(), d::FUSE_MINUTES);
            self.point(&format!("{name}/in"), format!("{words}, feed side"), access, part);
            self.point(&format!("{name}/out"), format!("{words}, load side"), access, part);
            // Its branch is made with the others, in the same order.
            self.circuit.fuses.push(Fuse {
                part,
                branch: BranchId(0),
                rating_amps: keys.rating.value(),
            });
            self.positive(Some(&keys.rating));
        }
        for Named { name, is, .. } in file.relay.iter() {
            let Some(keys) = is else { continue };
            let words = words_or(keys.name.as_ref(), name);
            let relay = RelayId::from(self.circuit.relays.len());
            let upkeep = Upkeep(keys.repair.as_ref(), keys.price.as_ref(), keys.new);
            let part = self.part(name, words.clone(), PartKind::Relay(relay), upkeep);
            let access = reached_in(keys.reach.as_ref(), d::FUSE_MINUTES);
            for terminal in SOCKET {
                if terminal != "87a" || self.is_wired(&format!("{name}/87a")) {
                    self.point(
                        &format!("{name}/{terminal}"),
                        format!("{words}, socket terminal {terminal}"),
                        access,
                        part,
                    );
                }
            }
            self.circuit.relays.push(Relay {
                part,
                coil: BranchId(0),
                contacts: Vec::new(),
            });
        }
    }

    /// Whether anything in the file starts or ends at this point.
    pub(super) fn is_wired(&self, path: &str) -> bool {
        let file = self.file;
        let wires = file
            .wire
            .iter()
            .filter_map(|wire| wire.is.as_ref())
            .flat_map(|wire| [&wire.from, &wire.to]);
        let feeds = file
            .feed
            .iter()
            .filter_map(|feed| feed.is.as_ref())
            .map(|feed| &feed.from);
        let fuses = file.fuse.iter().filter_map(|fuse| fuse.is.as_ref()?.from.as_ref());
        wires.chain(feeds).chain(fuses).any(|end| end.text == path)
    }

    fn live_in(&mut self, keys: &FeedKeys) -> Vec<Key> {
        let Some(live) = &keys.live else {
            return super::super::condition::KEYS.iter().map(|(_, key)| *key).collect();
        };
        if live.is_empty() {
            let help = "name the key positions in which it is live, or leave `live` out if it always is";
            self.slips
                .push_help("never-live", &keys.at, "this feed is never live", help);
        }
        let mut keys: Vec<Key> = live
            .iter()
            .filter_map(|word| key(&word.text, &word.at, self.slips))
            .collect();
        keys.sort_unstable();
        keys.dedup();
        keys
    }

    fn ground_point(&mut self, id: &str, keys: Option<&GroundKeys>) {
        let default = if id == "body" { "body metal" } else { id };
        let words = words_or(keys.and_then(|keys| keys.name.as_ref()), default);
        let kind = PartKind::Ground(self.circuit.grounds.len());
        let upkeep = Upkeep(keys.and_then(|keys| keys.repair.as_ref()), None, None);
        let part = self.part(id, words.clone(), kind, upkeep);
        let access = reached_in(keys.and_then(|keys| keys.reach.as_ref()), d::STUD_MINUTES);
        let point = self.point(id, words, access, part);
        self.circuit.grounds.push(Ground {
            part,
            point,
            branch: BranchId(0),
        });
    }

    /// What lies between the points of the supply.
    pub(super) fn supply_branches(&mut self) {
        self.battery();
        self.charger();
        let file = self.file;
        for idx in 0..self.circuit.grounds.len() {
            let id = self.part_id(self.circuit.grounds[idx].part).to_owned();
            let keys = file
                .ground
                .iter()
                .find(|ground| ground.name == id)
                .and_then(|ground| ground.is.as_ref());
            self.ground_branch(idx, &id, keys);
        }
        for (idx, Named { name, is, .. }) in file.feed.iter().filter(|feed| feed.is.is_some()).enumerate() {
            let Some(keys) = is else { continue };
            let Feed {
                part,
                point,
                ref live_in,
            } = self.circuit.feeds[idx];
            let closed = Condition::KeyIn(live_in.iter().copied().collect());
            let Some(from) = self.spot(&keys.from) else { continue };
            let closed_ohms = self.given(
                &format!("{name}/switch"),
                "feed switch",
                keys.ohms.as_ref(),
                d::FEED_OHMS,
            );
            let kind = BranchKind::Switch {
                a: from,
                b: point,
                closed_ohms,
                closed,
            };
            self.branch(format!("{name}/switch"), part, Role::FeedSwitch, None, kind);
        }
        for (idx, Named { name, is, .. }) in file.fuse.iter().filter(|fuse| fuse.is.is_some()).enumerate() {
            let Some(keys) = is else { continue };
            self.fuse_branches(FuseId::from(idx), name, keys);
        }
        for (idx, Named { name, is, .. }) in file.relay.iter().filter(|relay| relay.is.is_some()).enumerate() {
            let Some(keys) = is else { continue };
            self.relay_branches(RelayId::from(idx), name, keys);
        }
    }

    /// A battery gives behind its internal resistance and takes behind a much higher one: what an alternator offers above
    /// its rest voltage drives a few amperes into it, not what its internal resistance alone would let in.
    fn battery(&mut self) {
        let keys = self.file.battery.as_ref();
        self.positive(keys.and_then(|keys| keys.charging.as_ref()));
        self.positive(keys.and_then(|keys| keys.volts.as_ref()));
        self.positive(keys.and_then(|keys| keys.ohms.as_ref()));
        let (post, minus) = (self.circuit.battery_plus, self.circuit.battery_minus);
        let part = self.circuit.points[post.idx()].part;
        let cell = self.point("battery/cell", "battery, inside".to_owned(), Access::Inside, part);
        let mut volts = self.given(
            "battery",
            "battery voltage",
            keys.and_then(|keys| keys.volts.as_ref()),
            d::BATTERY_VOLTS,
        );
        let cranking = keys
            .and_then(|keys| keys.cranking.as_ref())
            .map_or(d::CRANKING_VOLTS.value, Value::value);
        if let Base::Fixed(rest) = volts.base {
            let condition = Condition::KeyIn([Key::Cranking].into());
            volts.base = Base::When {
                condition,
                then: cranking,
                otherwise: rest,
            };
        }
        let ohms = self.given(
            "battery/ohms",
            "battery's resistance",
            keys.and_then(|keys| keys.ohms.as_ref()),
            d::BATTERY_OHMS,
        );
        let kind = BranchKind::Source {
            plus: cell,
            minus,
            volts,
            ohms,
            present: Condition::BatteryOn,
        };
        self.branch("battery".to_owned(), part, Role::Battery, None, kind);
        self.one_way("battery/gives", part, (cell, post), d::GIVING);
        let charging = self.given(
            "battery/charging",
            "battery's resistance against charge",
            keys.and_then(|keys| keys.charging.as_ref()),
            d::CHARGING_OHMS,
        );
        let kind = BranchKind::Resistor {
            a: post,
            b: cell,
            ohms: charging,
        };
        self.branch("battery/takes".to_owned(), part, Role::OneWay, None, kind);
    }

    /// Lets current through from the first point to the second only, up to `amps`, at which `volts` are lost.
    fn one_way(&mut self, path: &str, part: PartId, (from, to): (PointId, PointId), (amps, volts): (f64, f64)) {
        let kind = BranchKind::CurrentSink {
            from,
            to,
            amps: Law::fixed(amps),
            knee_volts: volts,
            drawn: Condition::Always,
        };
        self.branch(path.to_owned(), part, Role::OneWay, None, kind);
    }

    /// An alternator holds its voltage up to its greatest current, and its rectifier takes none back.
    fn charger(&mut self) {
        let Some(keys) = &self.file.charger else { return };
        self.positive(keys.limit.as_ref());
        self.positive(keys.volts.as_ref());
        self.positive(keys.ohms.as_ref());
        let Some(part) = self.parts.get("charger").copied() else {
            return;
        };
        let (post, minus) = (self.circuit.battery_plus, self.circuit.battery_minus);
        // It hangs on the battery's post and is drawn there.
        let home = self.circuit.points[post.idx()].part;
        let inside = self.point("charger/inside", "charger, inside".to_owned(), Access::Inside, home);
        let volts = self.given("charger", "charging voltage", keys.volts.as_ref(), d::CHARGER_VOLTS);
        let ohms = self.given(
            "charger/ohms",
            "charger's resistance",
            keys.ohms.as_ref(),
            d::CHARGER_OHMS,
        );
        let present = Condition::KeyIn([Key::Running].into());
        let kind = BranchKind::Source {
            plus: inside,
            minus,
            volts,
            ohms,
            present,
        };
        self.branch("charger".to_owned(), part, Role::Charger, None, kind);
        let limit = keys.limit.as_ref().map_or(d::CHARGER_AMPS, Value::value);
        self.one_way("charger/rectifier", part, (inside, post), (limit, d::RECTIFIER_VOLTS));
    }

    fn ground_branch(&mut self, idx: usize, id: &str, keys: Option<&GroundKeys>) {
        let Ground { part, point, .. } = self.circuit.grounds[idx];
        let (default_to, default_ohms) = if id == "body" {
            (self.circuit.battery_minus, d::STRAP_OHMS)
        } else {
            (self.circuit.body, d::STUD_OHMS)
        };
        let to = match keys.and_then(|keys| keys.to.as_ref()) {
            Some(to) => match self.spot(to) {
                Some(to) => to,
                None => return,
            },
            None => default_to,
        };
        let ohms = keys.and_then(|keys| keys.ohms.as_ref());
        let default = d::Default {
            value: default_ohms,
            spread: quantity::Spread::Exact,
        };
        let ohms = self.given(&format!("{id}/ohms"), "resistance of the ground", ohms, default);
        let kind = BranchKind::Resistor { a: point, b: to, ohms };
        self.circuit.grounds[idx].branch = self.branch(id.to_owned(), part, Role::Ground, Some(d::GROUND_AMPS), kind);
    }

    fn fuse_branches(&mut self, fuse: FuseId, name: &str, keys: &FuseKeys) {
        let Fuse { part, rating_amps, .. } = self.circuit.fuses[fuse.idx()];
        let (Some(&a), Some(&b)) = (
            self.points.get(&format!("{name}/in")),
            self.points.get(&format!("{name}/out")),
        ) else {
            return;
        };
        let default = d::Default {
            value: d::FUSE_VOLTS / rating_amps.max(0.1),
            spread: quantity::Spread::Exact,
        };
        let ohms = self.given(
            &format!("{name}/ohms"),
            "resistance of the fuse",
            keys.ohms.as_ref(),
            default,
        );
        let kind = BranchKind::Fuse {
            fuse,
            a,
            b,
            ohms,
            rating_amps,
        };
        let branch = self.branch(name.to_owned(), part, Role::Fuse, Some(rating_amps), kind);
        self.circuit.fuses[fuse.idx()].branch = branch;
        let from: Option<&Text> = keys.from.as_ref();
        if let Some(from) = from.and_then(|from| self.spot(from)) {
            let kind = BranchKind::Resistor {
                a: from,
                b: a,
                ohms: Law::fixed(d::HOLDER_OHMS),
            };
            self.branch(format!("{name}/holder"), part, Role::Contact, None, kind);
        }
    }

    fn relay_branches(&mut self, relay: RelayId, name: &str, keys: &RelayKeys) {
        let part = self.circuit.relays[relay.idx()].part;
        let terminal = |builder: &Self, terminal: &str| builder.points.get(&format!("{name}/{terminal}")).copied();
        let [Some(common), Some(minus), Some(plus), Some(open)] =
            ["30", "85", "86", "87"].map(|number| terminal(self, number))
        else {
            return;
        };
        let words = format!("coil of {}", self.part_words(part));
        let mut ohms = self.given(&format!("{name}/coil"), &words, keys.coil.as_ref(), d::COIL_OHMS);
        self.positive(keys.coil.as_ref());
        let parallel = keys
            .suppressor
            .as_ref()
            .map_or(f64::INFINITY, |ohms| ohms.value().max(1e-3));
        if let Base::Fixed(coil) = ohms.base {
            let together = if parallel.is_finite() {
                coil * parallel / (coil + parallel)
            } else {
                coil
            };
            ohms.base = when(Condition::RelayIn(relay), together, OPEN_OHMS).base;
        }
        let kind = BranchKind::Resistor {
            a: plus,
            b: minus,
            ohms,
        };
        self.circuit.relays[relay.idx()].coil = self.branch(format!("{name}/coil"), part, Role::RelayCoil, None, kind);
        let pull_in_volts = keys.pull_in.as_ref().map_or(d::PULL_IN_VOLTS, Value::value);
        let drop_out_volts = keys
            .drop_out
            .as_ref()
            .map_or(d::DROP_OUT_VOLTS.min(pull_in_volts), Value::value);
        if let Some(drop_out) = keys.drop_out.as_ref().or(keys.pull_in.as_ref())
            && drop_out_volts > pull_in_volts
        {
            self.slips.push(
                "limits",
                &drop_out.at,
                "a relay drops out below the voltage at which it pulls in, not above",
            );
        }
        let closed = keys.contact.as_ref().map_or(d::RELAY_CONTACT_OHMS.value, Value::value);
        let rating = Some(keys.rating.as_ref().map_or(d::RELAY_AMPS, Value::value));
        for (number, normally_closed) in [("87", false), ("87a", true)] {
            let Some(b) = terminal(self, number) else { continue };
            let kind = BranchKind::RelayContact {
                relay: Some(relay),
                a: common,
                b,
                closed_ohms: when(Condition::RelayIn(relay), closed, OPEN_OHMS),
                coil_plus: plus,
                coil_minus: minus,
                pull_in_volts,
                drop_out_volts,
                normally_closed,
            };
            let branch = self.branch(format!("{name}/{number}"), part, Role::RelayContact, rating, kind);
            self.circuit.relays[relay.idx()].contacts.push(branch);
        }
        let closed = Condition::RelayBridged(relay);
        let kind = BranchKind::Switch {
            a: common,
            b: open,
            closed_ohms: Law::fixed(0.02),
            closed,
        };
        self.branch(format!("{name}/bridge"), part, Role::Other, rating, kind);
    }
}
