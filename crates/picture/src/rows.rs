//! Which row each terminal stands in: a wire runs straight from terminal to terminal, through every connector between.
//!
//! Terminals joined by straight wires share a row. Rows are then ordered so that each connector and box has its own rows
//! together, in the order of its cavities, and wires that must change rows change few. A local search over moves of
//! single rows and of whole boxes; deterministic.

use std::collections::{BTreeMap, BTreeSet};

use circuit::{Circuit, PointId};

use crate::columns::{Columns, Side};
use crate::places::{Kind, Places, Slot, branch_ends};

/// What meets a place at one side of one row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Joint {
    pub(crate) point: PointId,
    pub(crate) cable: Option<usize>,
}

/// One row of one place.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Port {
    pub(crate) place: usize,
    pub(crate) left: Option<Joint>,
    pub(crate) right: Option<Joint>,
    pub(crate) cavity: Option<u16>,
}

/// A joint by the group it belongs to in its place, and the cable's end there, if it has one.
type Grouped = (usize, Joint, Option<(usize, usize)>);

/// Ports of all places and the row of each.
#[derive(Clone, Debug, Default)]
pub(crate) struct Rows {
    pub(crate) ports: Vec<Port>,
    /// Row of each port, from 0 at the top.
    pub(crate) of: Vec<usize>,
    pub(crate) count: usize,
    /// Ports of each cable's two ends.
    pub(crate) cable_ports: Vec<[usize; 2]>,
}

impl Rows {
    pub(crate) fn find(circuit: &Circuit, places: &Places, columns: &Columns) -> Self {
        let mut rows = Self {
            cable_ports: vec![[0; 2]; places.cables.len()],
            ..Self::default()
        };
        for place in 0..places.all.len() {
            rows.add_ports(circuit, places, columns, place);
        }
        let class = rows.classes(circuit, places, columns);
        let order = Order::new(circuit, places, columns, &rows, &class).settled();
        rows.of = class.iter().map(|class| order[*class]).collect();
        rows.count = order.len();
        rows
    }

    /// Ports of a place, in the order of its rows.
    pub(crate) fn of_place(&self, place: usize) -> impl Iterator<Item = (usize, &Port)> {
        self.ports
            .iter()
            .enumerate()
            .filter(move |(_, port)| port.place == place)
    }

    fn add_ports(&mut self, circuit: &Circuit, places: &Places, columns: &Columns, place: usize) {
        let mut cables: Vec<(usize, usize)> = Vec::new();
        for (cable, ends) in places.cables.iter().enumerate() {
            for at in 0..2 {
                if ends.ends[at].place == place {
                    cables.push((cable, at));
                }
            }
        }
        let kind = places.all[place].kind;
        if let Kind::Connector(i) = kind {
            let left_half = columns.left_half[place];
            for (number, cavity) in circuit.connectors.get(i).into_iter().flat_map(|c| &c.cavities) {
                let port = self.ports.len();
                let mut joint = |half: usize| {
                    let at = cables
                        .iter()
                        .find(|(cable, at)| places.cables[*cable].ends[*at].slot == Slot::Cavity(*number, half));
                    if let Some((cable, at)) = at {
                        self.cable_ports[*cable][*at] = port;
                    }
                    Some(Joint {
                        point: cavity.terminals[half],
                        cable: at.map(|(cable, _)| *cable),
                    })
                };
                let (left, right) = (joint(left_half), joint(1 - left_half));
                self.ports.push(Port {
                    place,
                    left,
                    right,
                    cavity: Some(*number),
                });
            }
            return;
        }
        let group = groups(circuit, kind);
        let mut sided: [Vec<Grouped>; 2] = [Vec::new(), Vec::new()];
        for (cable, at) in cables {
            let Slot::Point(point) = places.cables[cable].ends[at].slot else {
                continue;
            };
            let side = usize::from(columns.sides[cable][at] == Side::Right);
            let joint = Joint {
                point,
                cable: Some(cable),
            };
            sided[side].push((group.get(&point).copied().unwrap_or(0), joint, Some((cable, at))));
        }
        for (_, point) in places.bare.iter().filter(|(home, _)| *home == place) {
            let own = group.get(point).copied().unwrap_or(0);
            // Opposite the other end of the same branch, where that is free.
            let taken = |side: usize| sided[side].iter().filter(|(group, ..)| *group == own).count();
            let side = usize::from(taken(0) > taken(1));
            sided[side].push((
                own,
                Joint {
                    point: *point,
                    cable: None,
                },
                None,
            ));
        }
        // What leaves away from where it goes comes after what goes straight on.
        let doubles_back = |side: usize, end: Option<(usize, usize)>| {
            end.is_some_and(|(cable, at)| {
                let there = columns.of[places.cables[cable].ends[1 - at].place];
                let here = columns.of[place];
                (there > here && side == 0) || (there < here && side == 1)
            })
        };
        for (side, joints) in sided.iter_mut().enumerate() {
            joints.sort_by_key(|(group, joint, end)| (*group, doubles_back(side, *end), joint.cable));
        }
        let [left, right] = sided;
        let last = left.iter().chain(&right).map(|(group, ..)| *group).max().unwrap_or(0);
        for group in 0..=last {
            let of = |side: &[Grouped]| -> Vec<(Joint, Option<(usize, usize)>)> {
                side.iter()
                    .filter(|(g, ..)| *g == group)
                    .map(|(_, joint, end)| (*joint, *end))
                    .collect()
            };
            let (left, right) = (of(&left), of(&right));
            for i in 0..left.len().max(right.len()) {
                let port = self.ports.len();
                for (_, end) in [left.get(i), right.get(i)].into_iter().flatten() {
                    if let Some((cable, at)) = end {
                        self.cable_ports[*cable][*at] = port;
                    }
                }
                let (left, right) = (left.get(i).map(|(j, _)| *j), right.get(i).map(|(j, _)| *j));
                self.ports.push(Port {
                    place,
                    left,
                    right,
                    cavity: None,
                });
            }
        }
    }

    /// Class of each port: ports that straight cables join are in one.
    fn classes(&self, circuit: &Circuit, places: &Places, columns: &Columns) -> Vec<usize> {
        let n = self.ports.len();
        let mut class: Vec<usize> = (0..n).collect();
        let mut taken: Vec<BTreeSet<usize>> = self
            .ports
            .iter()
            .map(|port| BTreeSet::from([columns.of[port.place]]))
            .collect();
        let straight = columns.sides.iter().enumerate().filter_map(|(cable, sides)| {
            let ends = &places.cables[cable].ends;
            let (from, to) = (columns.of[ends[0].place], columns.of[ends[1].place]);
            let uphill = *sides == [Side::Right, Side::Left] && from < to;
            let downhill = *sides == [Side::Left, Side::Right] && to < from;
            (uphill || downhill).then_some(self.cable_ports[cable])
        });
        for [a, b] in straight.chain(self.through_accessories(circuit)) {
            let (one, other) = (class[a], class[b]);
            if one == other || !taken[one].is_disjoint(&taken[other]) {
                continue;
            }
            let moved = std::mem::take(&mut taken[other]);
            taken[one].extend(moved);
            for at in &mut class {
                if *at == other {
                    *at = one;
                }
            }
        }
        let mut number = BTreeMap::new();
        for at in &class {
            let next = number.len();
            number.entry(*at).or_insert(next);
        }
        class.iter().map(|at| number[at]).collect()
    }
}

impl Rows {
    /// Pairs of ports that an accessory joins from one of its plugs to the other.
    fn through_accessories(&self, circuit: &Circuit) -> Vec<[usize; 2]> {
        let port = |point: PointId| {
            let here = |joint: Option<Joint>| joint.is_some_and(|joint| joint.point == point);
            self.ports.iter().position(|port| here(port.left) || here(port.right))
        };
        let inside = circuit
            .devices
            .iter()
            .filter(|device| device.accessory)
            .flat_map(|device| &device.inside);
        inside
            .filter_map(|branch| branch_ends(circuit, *branch))
            .filter_map(|(a, b)| Some([port(a)?, port(b)?]))
            .filter(|[a, b]| self.ports[*a].place != self.ports[*b].place)
            .collect()
    }
}

impl Rows {
    /// Classes of each coil and each contact of a relay, where they are more than one, and those that pass its column.
    fn coils_and_contacts(
        &self,
        circuit: &Circuit,
        places: &Places,
        columns: &Columns,
        class: &[usize],
    ) -> Vec<(Vec<usize>, Vec<usize>)> {
        let passing = |column: usize| -> BTreeSet<usize> {
            let through = self.cable_ports.iter().filter(|[a, b]| {
                let [one, other] = [a, b].map(|port| columns.of[self.ports[*port].place]);
                class[*a] == class[*b] && one.min(other) < column && column < one.max(other)
            });
            through.map(|[a, _]| class[*a]).collect()
        };
        let mut found = Vec::new();
        for place in (0..places.all.len()).filter(|place| matches!(places.all[*place].kind, Kind::Relay(_))) {
            let group = groups(circuit, places.all[place].kind);
            let mut of_group: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
            for (at, port) in self.of_place(place) {
                for joint in [port.left, port.right].into_iter().flatten() {
                    let own = group.get(&joint.point).copied().unwrap_or(0);
                    of_group.entry(own).or_default().insert(class[at]);
                }
            }
            let several = of_group.into_values().filter(|classes| classes.len() > 1);
            found.extend(several.map(|classes| {
                let passing = passing(columns.of[place]).difference(&classes).copied().collect();
                (classes.into_iter().collect(), passing)
            }));
        }
        found
    }
}

/// Points of a relay by the branch they belong to, so that coil and contacts each get a row.
fn groups(circuit: &Circuit, kind: Kind) -> BTreeMap<PointId, usize> {
    let mut groups = BTreeMap::new();
    if let Kind::Relay(i) = kind {
        let Some(relay) = circuit.relays.get(i) else {
            return groups;
        };
        for (group, branch) in relay.contacts.iter().chain([&relay.coil]).enumerate() {
            if let Some((a, b)) = branch_ends(circuit, *branch) {
                groups.entry(a).or_insert(group);
                groups.entry(b).or_insert(group);
            }
        }
    }
    groups
}

/// The search for an order of classes.
struct Order {
    /// Classes of each group that wants to stand together, and how much it wants that.
    together: Vec<(Vec<usize>, f64)>,
    /// Classes of a coil, or of contacts, within a relay, and those that must not come between: their wires pass through the
    /// relay's column, and a coil in two boxes would be none.
    whole: Vec<(Vec<usize>, Vec<usize>)>,
    /// Whether that counts.
    keep_whole: bool,
    /// Pairs of groups that must not interleave: same column.
    apart: Vec<(usize, usize)>,
    /// Pairs of classes of which the first wants to stand above the second.
    above: Vec<(usize, usize)>,
    /// Pairs of classes that a cable leads between.
    near: Vec<(usize, usize)>,
    starts: Vec<Vec<usize>>,
}

impl Order {
    fn new(circuit: &Circuit, places: &Places, columns: &Columns, rows: &Rows, class: &[usize]) -> Self {
        let mut of_place: Vec<Vec<usize>> = vec![Vec::new(); places.all.len()];
        for (port, at) in rows.ports.iter().zip(class) {
            of_place[port.place].push(*at);
        }
        for (connector, owner, _) in &places.owned {
            let classes = of_place[*connector].clone();
            of_place[*owner].extend(classes);
        }
        let mut together = Vec::new();
        let mut column_of = Vec::new();
        let mut above = Vec::new();
        for (place, classes) in of_place.iter().enumerate() {
            let weight = match places.all[place].kind {
                Kind::Module(_) | Kind::Device(_) => 12.0,
                Kind::Splice(_) => 2.5,
                Kind::Connector(_) => 6.0,
                _ => 8.0,
            };
            if matches!(places.all[place].kind, Kind::Connector(_) | Kind::Relay(_)) {
                above.extend(
                    classes
                        .windows(2)
                        .map(|pair| (pair[0], pair[1]))
                        .filter(|(a, b)| a != b),
                );
            }
            if classes.len() > 1 {
                together.push((classes.clone(), weight));
                column_of.push(columns.of[place]);
            } else if let [only] = classes[..] {
                together.push((vec![only], 0.0));
                column_of.push(columns.of[place]);
            }
        }
        let mut apart = Vec::new();
        for a in 0..together.len() {
            for b in a + 1..together.len() {
                if column_of[a] == column_of[b] {
                    apart.push((a, b));
                }
            }
        }
        let near = rows
            .cable_ports
            .iter()
            .filter_map(|[a, b]| Some((*class.get(*a)?, *class.get(*b)?)))
            .filter(|(a, b)| a != b)
            .collect();
        // Starts: the cavities of the modules in order and then the rest; the same with the devices first.
        let from = |first: fn(Kind) -> bool| {
            let mut order: Vec<usize> = (0..places.all.len()).collect();
            order.sort_by_key(|place| !first(places.all[*place].kind));
            let mut seen = BTreeSet::new();
            let all = order.iter().flat_map(|place| of_place[*place].iter().copied());
            all.filter(|class| seen.insert(*class)).collect::<Vec<usize>>()
        };
        let modules = from(|kind| matches!(kind, Kind::Module(_)));
        let devices = from(|kind| matches!(kind, Kind::Device(_)));
        let turned = modules.iter().rev().copied().collect();
        Self {
            together,
            whole: rows.coils_and_contacts(circuit, places, columns, class),
            keep_whole: false,
            apart,
            above,
            near,
            starts: vec![modules, devices, turned],
        }
    }

    /// How many rows come between the ends of a coil, or of contacts, and pass through there.
    fn cut(&self, row: &[usize]) -> usize {
        let each = self.whole.iter().map(|(classes, passing)| {
            let own = || classes.iter().map(|class| row[*class]);
            let (low, high) = (own().min().unwrap_or(0), own().max().unwrap_or(0));
            passing
                .iter()
                .filter(|class| (low..high).contains(&row[**class]))
                .count()
        });
        each.sum()
    }

    fn cost(&self, row: &[usize]) -> f64 {
        let mut cost = 0.0;
        let mut spans = Vec::with_capacity(self.together.len());
        for (classes, weight) in &self.together {
            let (mut low, mut high) = (usize::MAX, 0);
            for class in classes {
                low = low.min(row[*class]);
                high = high.max(row[*class]);
            }
            spans.push((low, high));
            cost += weight * (high - low + 1).saturating_sub(classes.len()) as f64;
        }
        for (a, b) in &self.apart {
            if spans[*a].0 <= spans[*b].1 && spans[*b].0 <= spans[*a].1 {
                cost += 25.0;
            }
        }
        if self.keep_whole {
            cost += 12.0 * self.cut(row) as f64;
        }
        cost += 0.8 * self.above.iter().filter(|(a, b)| row[*a] > row[*b]).count() as f64;
        cost += self.near.iter().map(|(a, b)| row[*a].abs_diff(row[*b])).sum::<usize>() as f64;
        cost
    }

    /// Row of each class: the best of what the starts settle to.
    fn settled(&mut self) -> Vec<usize> {
        let best = self.best();
        if self.cut(&best) == 0 {
            return best;
        }
        self.keep_whole = true;
        self.best()
    }

    fn best(&self) -> Vec<usize> {
        let ends = self.starts.iter().map(|start| self.settled_from(start.clone()));
        ends.min_by(|(a, _), (b, _)| a.total_cmp(b))
            .map(|(_, rows)| rows)
            .unwrap_or_default()
    }

    fn settled_from(&self, mut order: Vec<usize>) -> (f64, Vec<usize>) {
        let n = order.len();
        let rows_of = |order: &[usize]| {
            let mut row = vec![0; n];
            for (at, class) in order.iter().enumerate() {
                row[*class] = at;
            }
            row
        };
        let mut best = self.cost(&rows_of(&order));
        // Each pass costs about n² evaluations; real circuits settle in two or three.
        for _ in 0..6 {
            let before = best;
            let singles = (0..n).map(|class| vec![class]);
            let blocks = self
                .together
                .iter()
                .map(|(classes, _)| classes.clone())
                .filter(|classes| classes.len() > 1);
            for block in blocks.chain(singles) {
                let mut moved = Vec::new();
                let mut rest = Vec::new();
                for class in &order {
                    if block.contains(class) {
                        moved.push(*class);
                    } else {
                        rest.push(*class);
                    }
                }
                let mut winner = None;
                let turned: Vec<usize> = moved.iter().rev().copied().collect();
                for at in 0..=rest.len() {
                    for moved in [&moved, &turned] {
                        let mut trial = rest.clone();
                        trial.splice(at..at, moved.iter().copied());
                        let cost = self.cost(&rows_of(&trial));
                        if cost < best - 1e-9 {
                            best = cost;
                            winner = Some(trial);
                        }
                        if moved.len() < 2 {
                            break;
                        }
                    }
                }
                if let Some(winner) = winner {
                    order = winner;
                }
            }
            if best >= before - 1e-9 {
                break;
            }
        }
        (best, rows_of(&order))
    }
}
