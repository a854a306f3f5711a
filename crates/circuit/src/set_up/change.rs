//! From one set-up to another: the minutes it costs, and the set-ups within easy reach.

use std::collections::BTreeSet;

use super::{Condition, Key, Provocation, SetUp};
use crate::branch::{Access, At};
use crate::id::{ConnectorId, DeviceId, FuseId, LoadId, PartId, RelayId, RhythmId, SensedId};
use crate::model::{Circuit, Connector, Owner, PartKind};

/// Minutes that a change costs. Common practice, no source: a technician's own round figures, tools at hand.
pub mod minutes {
    /// Turning the key, starting or stopping the engine.
    pub const KEY: f64 = 0.2;
    /// Waiting until every module sleeps.
    pub const FALL_ASLEEP: f64 = 15.0;
    /// Pulling a fuse or putting it back.
    pub const FUSE: f64 = 1.0;
    /// Pulling a relay, putting it back, or bridging its socket.
    pub const RELAY: f64 = 1.0;
    /// Lifting battery negative or putting it back.
    pub const BATTERY: f64 = 2.0;
    /// Waiting after it is lifted, for modules to run down.
    pub const BATTERY_SETTLES: f64 = 3.0;
    /// Commanding a load with the scan tool.
    pub const COMMAND: f64 = 1.0;
    /// Ending the command.
    pub const END_COMMAND: f64 = 0.2;
    /// Taking out or putting back an accessory, beside reaching its connectors.
    pub const ACCESSORY: f64 = 1.0;
    /// Clipping in a jumper, resistor, bulb, source or overlay wire; taking it off is in it.
    pub const PLACE: f64 = 1.0;
    /// Moving, bending and tapping one place while the meter is watched, beside reaching it.
    pub const WIGGLE: f64 = 1.0;
    /// Warming or wetting one place, or waiting until it is warm under load, beside reaching it.
    pub const PROVOKE: f64 = 4.0;
}

/// Minutes to go from one set-up to the other; 0 if they are equal. Infinite if a sensed value would have to change that
/// cannot be set at will.
///
/// Parting a connector costs reaching it and half of its "part and mate again"; mating costs the same. A module's
/// connector is parted and mated with the key off: two turns of the key more if it is on before and after. An accessory
/// costs its nearest connector's reach.
pub fn minutes_between(circuit: &Circuit, from: &SetUp, to: &SetUp) -> f64 {
    let mut total = 0.0;
    if from.key != to.key {
        total += if to.key == Key::Asleep {
            minutes::KEY + minutes::FALL_ASLEEP
        } else {
            minutes::KEY
        };
    }
    let mut of_module = false;
    for connector in from.apart.symmetric_difference(&to.apart) {
        let connector = &circuit.connectors[connector.idx()];
        total += connector.reach_minutes + connector.part_minutes / 2.0;
        of_module |= connector
            .halves
            .iter()
            .any(|half| matches!(half.owner, Owner::Module(_)));
    }
    let off = |key| matches!(key, Key::Off | Key::Asleep);
    if of_module && !off(from.key) && !off(to.key) {
        total += 2.0 * minutes::KEY;
    }
    for device in from.taken_out.symmetric_difference(&to.taken_out) {
        let reach = accessory_connectors(circuit, *device)
            .map(|connector| circuit.connectors[connector.idx()].reach_minutes)
            .min_by(f64::total_cmp);
        total += minutes::ACCESSORY + reach.unwrap_or(0.0);
    }
    total += minutes::FUSE * from.fuses_out.symmetric_difference(&to.fuses_out).count() as f64;
    let relay_state = |set_up: &SetUp, relay| {
        (
            set_up.relays_out.contains(&relay),
            set_up.relays_bridged.contains(&relay),
        )
    };
    let moved = (0..circuit.relays.len())
        .map(RelayId::from)
        .filter(|&relay| relay_state(from, relay) != relay_state(to, relay));
    total += minutes::RELAY * moved.count() as f64;
    if from.battery_off != to.battery_off {
        total += minutes::BATTERY + if to.battery_off { minutes::BATTERY_SETTLES } else { 0.0 };
    }
    for sensed in (0..circuit.sensed.len()).map(SensedId::from) {
        if circuit.brought_to(from, to, sensed).is_some() {
            total += circuit.sensed[sensed.idx()].set_minutes.unwrap_or(f64::INFINITY);
        }
    }
    total += minutes::COMMAND * to.commanded.difference(&from.commanded).count() as f64;
    total += minutes::END_COMMAND * from.commanded.difference(&to.commanded).count() as f64;
    total += minutes::COMMAND * rhythms_between(from, to).count() as f64;
    let mut there = from.placed.clone();
    for placed in &to.placed {
        match there.iter().position(|other| other == placed) {
            Some(position) => {
                there.swap_remove(position);
            }
            None => total += minutes::PLACE,
        }
    }
    if from.provoked != to.provoked {
        total += to.provoked.map_or(0.0, |provoked| {
            reach_minutes(circuit, provoked.at)
                + match provoked.how {
                    Provocation::Wiggle => minutes::WIGGLE,
                    Provocation::Heat | Provocation::Soak | Provocation::Load => minutes::PROVOKE,
                }
        });
    }
    total
}

/// Rhythms that go otherwise in one set-up than in the other.
fn rhythms_between<'a>(from: &'a SetUp, to: &'a SetUp) -> impl Iterator<Item = RhythmId> + 'a {
    let named = [from, to]
        .into_iter()
        .flat_map(|set_up| set_up.duty.keys().chain(set_up.held.keys()));
    let named: BTreeSet<RhythmId> = named.copied().collect();
    let same = |id: &RhythmId| from.duty.get(id) == to.duty.get(id) && from.held.get(id) == to.held.get(id);
    named.into_iter().filter(move |id| !same(id))
}

/// Minutes to get a hand to a part: to the nearest connector on it, or to the nearest of its points.
fn reach_minutes(circuit: &Circuit, part: PartId) -> f64 {
    let on_it = |connector: &Connector| match circuit.parts.get(part.idx()).map(|part| part.kind) {
        Some(PartKind::Connector(_)) => connector.part == part,
        Some(PartKind::Wire(wire)) => {
            let wires = connector.cavities.values().flat_map(|cavity| cavity.wires).flatten();
            wires.into_iter().any(|end| end.1 == wire)
        }
        Some(PartKind::Module(module)) => connector.halves.iter().any(|half| half.owner == Owner::Module(module)),
        Some(PartKind::Device(device)) => connector.halves.iter().any(|half| half.owner == Owner::Device(device)),
        _ => false,
    };
    let connectors = circuit.connectors.iter().filter(|connector| on_it(connector));
    let points = circuit.points.iter().filter(|point| point.part == part);
    let open = points.filter_map(|point| match point.access {
        Access::Open { tenths } => Some(f64::from(tenths) / 10.0),
        _ => None,
    });
    let ways = connectors.map(|connector| connector.reach_minutes).chain(open);
    ways.min_by(f64::total_cmp).unwrap_or(0.0)
}

/// In how many things two set-ups differ: each of them a change of its own.
pub fn changes_between(circuit: &Circuit, from: &SetUp, to: &SetUp) -> usize {
    fn apart<T: Ord>(one: &BTreeSet<T>, other: &BTreeSet<T>) -> usize {
        one.symmetric_difference(other).count()
    }
    let relays: BTreeSet<RelayId> = (from.relays_out.symmetric_difference(&to.relays_out))
        .chain(from.relays_bridged.symmetric_difference(&to.relays_bridged))
        .copied()
        .collect();
    let sensed = (0..circuit.sensed.len()).map(SensedId::from);
    let set = sensed.filter(|&id| circuit.brought_to(from, to, id).is_some());
    let mut gone = from.placed.clone();
    let mut placed = 0;
    for one in &to.placed {
        match gone.iter().position(|other| other == one) {
            Some(at) => drop(gone.swap_remove(at)),
            None => placed += 1,
        }
    }
    usize::from(from.key != to.key)
        + usize::from(from.battery_off != to.battery_off)
        + usize::from(from.provoked != to.provoked)
        + apart(&from.apart, &to.apart)
        + apart(&from.taken_out, &to.taken_out)
        + apart(&from.fuses_out, &to.fuses_out)
        + apart(&from.commanded, &to.commanded)
        + rhythms_between(from, to).count()
        + relays.len()
        + set.count()
        + placed
        + gone.len()
}

/// Connectors with a half on the device.
fn accessory_connectors(circuit: &Circuit, device: DeviceId) -> impl Iterator<Item = ConnectorId> {
    let owned = move |(idx, connector): (usize, &crate::model::Connector)| {
        connector
            .halves
            .iter()
            .any(|half| half.owner == Owner::Device(device))
            .then_some(ConnectorId::from(idx))
    };
    circuit.connectors.iter().enumerate().filter_map(owned)
}

/// One thing that differs from the set-up at hand.
#[derive(Clone, Copy)]
enum Step {
    Key(Key),
    Connector(ConnectorId),
    Accessory(DeviceId),
    Fuse(FuseId),
    Relay(RelayId),
    Battery,
    Load(LoadId),
    Sensed(SensedId, f64),
    TakeOff(usize),
}

impl Step {
    /// Steps of one slot exclude each other.
    fn slot(self) -> (u8, usize) {
        match self {
            Self::Key(_) => (0, 0),
            Self::Connector(id) => (1, id.idx()),
            Self::Accessory(id) => (2, id.idx()),
            Self::Fuse(id) => (3, id.idx()),
            Self::Relay(id) => (4, id.idx()),
            Self::Battery => (5, 0),
            Self::Load(id) => (6, id.idx()),
            Self::Sensed(id, _) => (7, id.idx()),
            Self::TakeOff(position) => (8, position),
        }
    }

    fn apply(self, circuit: &Circuit, from: &SetUp, to: &mut SetUp) {
        fn toggle<Id: Ord>(set: &mut BTreeSet<Id>, id: Id) {
            if !set.remove(&id) {
                set.insert(id);
            }
        }
        match self {
            Self::Key(key) => {
                to.key = key;
                // An engine that was held at some speed is not cranked at it.
                let keeps = |id: SensedId| {
                    let sensed = &circuit.sensed[id.idx()];
                    sensed.usual_with(from.key) == sensed.usual_with(key)
                };
                to.sensed.retain(|id, _| keeps(*id));
                if !commands_reach(key) {
                    to.commanded.clear();
                }
            }
            Self::Connector(id) => toggle(&mut to.apart, id),
            Self::Accessory(id) => toggle(&mut to.taken_out, id),
            Self::Fuse(id) => toggle(&mut to.fuses_out, id),
            Self::Relay(id) => {
                if !to.relays_bridged.remove(&id) {
                    toggle(&mut to.relays_out, id);
                }
            }
            Self::Battery => to.battery_off = !to.battery_off,
            Self::Load(id) => toggle(&mut to.commanded, id),
            Self::Sensed(id, value) if value == circuit.sensed[id.idx()].usual_with(to.key) => {
                to.sensed.remove(&id);
            }
            Self::Sensed(id, value) => {
                to.sensed.insert(id, value);
            }
            Self::TakeOff(position) => {
                // Positions are those of `from`, so the thing itself is looked for.
                if let Some(at) = to.placed.iter().position(|placed| *placed == from.placed[position]) {
                    to.placed.remove(at);
                }
            }
        }
    }
}

/// A scan tool commands loads only with the key on.
fn commands_reach(key: Key) -> bool {
    matches!(key, Key::On | Key::Running)
}

/// The set-ups that differ from `from` in at most `max_changes` things, `from` itself first, then by number of changes.
///
/// Changes are: key off, on or running (cranking only with `cranking`) where the circuit tells them apart; a connector
/// parted or mated; an accessory taken out or put back; a fuse or relay pulled or put back; a load commanded or not; a
/// sensed value that can be set, at its least, usual and most; what is clipped in taken off; a lifted battery put back.
/// Turning the key off ends all commands. Left out: commands that no scan tool could give, an engine that turns with the
/// battery off, an accessory taken out of a connector that is apart. Equal inputs, equal order.
pub fn neighbouring_set_ups(circuit: &Circuit, from: &SetUp, max_changes: usize, cranking: bool) -> Vec<SetUp> {
    let steps = steps(circuit, from, cranking);
    let mut found = vec![from.clone()];
    // Each entry: a set-up and where its later steps start, so that every combination comes once.
    let mut front = vec![(from.clone(), 0)];
    for _ in 0..max_changes {
        let mut next = Vec::new();
        for (set_up, start) in &front {
            for (position, step) in steps.iter().enumerate().skip(*start) {
                let mut changed = set_up.clone();
                step.apply(circuit, from, &mut changed);
                let past = steps[position..]
                    .iter()
                    .take_while(|other| other.slot() == step.slot())
                    .count();
                next.push((changed, position + past));
            }
        }
        for (set_up, _) in &next {
            if makes_sense(circuit, set_up) && !found.contains(set_up) {
                found.push(set_up.clone());
            }
        }
        front = next;
    }
    found
}

fn steps(circuit: &Circuit, from: &SetUp, cranking: bool) -> Vec<Step> {
    let mut steps = Vec::new();
    let mut keys = vec![from.key];
    for key in [Key::On, Key::Off, Key::Running]
        .into_iter()
        .chain(cranking.then_some(Key::Cranking))
    {
        if keys.iter().all(|&other| tells_apart(circuit, key, other)) {
            keys.push(key);
            steps.push(Step::Key(key));
        }
    }
    steps.extend((0..circuit.connectors.len()).map(|idx| Step::Connector(idx.into())));
    let accessories = circuit
        .devices
        .iter()
        .enumerate()
        .filter(|(_, device)| device.accessory);
    steps.extend(accessories.map(|(idx, _)| Step::Accessory(idx.into())));
    steps.extend((0..circuit.fuses.len()).map(|idx| Step::Fuse(idx.into())));
    steps.extend((0..circuit.relays.len()).map(|idx| Step::Relay(idx.into())));
    steps.extend(from.battery_off.then_some(Step::Battery));
    steps.extend((0..circuit.loads.len()).map(|idx| Step::Load(idx.into())));
    for (idx, sensed) in circuit
        .sensed
        .iter()
        .enumerate()
        .filter(|(_, sensed)| sensed.set_minutes.is_some())
    {
        let mut levels = vec![circuit.sensed_value(from, idx.into())];
        for value in [sensed.range.0, sensed.usual_with(from.key), sensed.range.1] {
            if !levels.contains(&value) {
                levels.push(value);
                steps.push(Step::Sensed(idx.into(), value));
            }
        }
    }
    steps.extend((0..from.placed.len()).map(Step::TakeOff));
    steps
}

fn makes_sense(circuit: &Circuit, set_up: &SetUp) -> bool {
    let turning = matches!(set_up.key, Key::Running | Key::Cranking);
    let commands = set_up.commanded.is_empty() || (commands_reach(set_up.key) && !set_up.battery_off);
    let out_of_nothing = set_up
        .taken_out
        .iter()
        .all(|device| accessory_connectors(circuit, *device).all(|connector| !set_up.apart.contains(&connector)));
    commands && out_of_nothing && !(turning && set_up.battery_off)
}

/// Whether anything in the circuit is otherwise in one key position than in the other.
fn tells_apart(circuit: &Circuit, one: Key, other: Key) -> bool {
    let in_branches = circuit.branches.iter().flat_map(|branch| branch.kind.conditions());
    let in_monitors = circuit.monitors.iter().map(|monitor| &monitor.runs);
    let in_rhythms = circuit.rhythms.iter().map(|rhythm| &rhythm.runs);
    let differs = |condition: &Condition| match condition {
        Condition::KeyIn(keys) => keys.contains(&one) != keys.contains(&other),
        _ => false,
    };
    one != other
        && in_branches
            .chain(in_monitors)
            .chain(in_rhythms)
            .any(|condition| condition.any(&differs))
}

impl Condition {
    /// Whether `test` is true of it or of any condition within it.
    pub fn any(&self, test: &dyn Fn(&Condition) -> bool) -> bool {
        test(self)
            || match self {
                Self::Not(inner) => inner.any(test),
                Self::All(inner) | Self::Any(inner) => inner.iter().any(|condition| condition.any(test)),
                _ => false,
            }
    }

    /// Whether it holds in a set-up, nothing drifted, parameters at their centre.
    pub fn holds_in(&self, circuit: &Circuit, set_up: &SetUp) -> bool {
        self.holds(&At::centre(circuit, set_up))
    }
}
