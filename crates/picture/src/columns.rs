//! Which column each place stands in: modules left, devices right, what lies between in the order of the wires.
//!
//! Every place gets a height on a slope from modules (0) to devices (1), as if the cables were springs; cables then all
//! run uphill, so the longest way to a place gives its column. Feeds and grounds that serve devices only stand at the
//! foot of the slope, those that serve modules only right behind them: no wire doubles back for them.

use std::collections::BTreeSet;

use circuit::{Circuit, Owner};

use crate::places::{Kind, Places, Slot};

/// Which side of its place a cable leaves from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Side {
    Left,
    Right,
}

/// Columns and what follows from them.
#[derive(Clone, Debug)]
pub(crate) struct Columns {
    /// Column of each place, from 0.
    pub(crate) of: Vec<usize>,
    /// For each connector place: the half that faces left.
    pub(crate) left_half: Vec<usize>,
    /// For each cable: the side of each end.
    pub(crate) sides: Vec<[Side; 2]>,
}

struct Slope<'a> {
    places: &'a Places,
    neighbours: Vec<Vec<usize>>,
    pinned: Vec<Option<f64>>,
}

impl Slope<'_> {
    /// Whether modules and devices are reached from a place along wires, without passing through another of them or
    /// through a supply; within a connector only from one side of a cavity to the other.
    fn reaches(&self, from: usize) -> (bool, bool) {
        let (mut module, mut device) = (false, false);
        let mut seen = BTreeSet::new();
        let mut stack: Vec<(usize, Option<u16>)> = vec![(from, None)];
        while let Some((at, cavity)) = stack.pop() {
            if !seen.insert((at, cavity)) {
                continue;
            }
            let kind = self.places.all.get(at).map(|place| place.kind);
            match kind {
                Some(Kind::Module(_)) => module = true,
                Some(Kind::Device(_)) if self.pinned.get(at).copied().flatten().is_some() => device = true,
                Some(kind) if kind.is_supply() && at != from => continue,
                _ => {}
            }
            if matches!(kind, Some(Kind::Module(_) | Kind::Device(_))) {
                continue;
            }
            stack.extend(
                self.places
                    .owned
                    .iter()
                    .filter(|(plug, ..)| *plug == at)
                    .map(|(_, owner, _)| (*owner, None)),
            );
            for cable in &self.places.cables {
                for (here, there) in [(cable.ends[0], cable.ends[1]), (cable.ends[1], cable.ends[0])] {
                    if here.place == at && (cavity.is_none() || here.slot.cavity() == cavity) {
                        stack.push((there.place, there.slot.cavity()));
                    }
                }
            }
        }
        (module, device)
    }

    /// Gauss and Seidel's method on the springs; 200 rounds settle chains far longer than a harness has.
    fn heights(&self) -> Vec<f64> {
        let mut heights: Vec<f64> = self.pinned.iter().map(|pin| pin.unwrap_or(0.5)).collect();
        for _ in 0..200 {
            for (place, neighbours) in self.neighbours.iter().enumerate() {
                if self.pinned.get(place).copied().flatten().is_some() || neighbours.is_empty() {
                    continue;
                }
                let sum: f64 = neighbours.iter().filter_map(|n| heights.get(*n)).sum();
                if let Some(height) = heights.get_mut(place) {
                    *height = sum / neighbours.len() as f64;
                }
            }
        }
        heights
    }
}

impl Columns {
    pub(crate) fn find(circuit: &Circuit, places: &Places) -> Self {
        let n = places.all.len();
        let kind = |place: usize| places.all.get(place).map(|place| place.kind);
        let accessory = |place: usize| match kind(place) {
            Some(Kind::Device(i)) => circuit.devices.get(i).is_some_and(|device| device.accessory),
            _ => false,
        };
        let mut neighbours = vec![Vec::new(); n];
        let links = places
            .cables
            .iter()
            .map(|cable| (cable.ends[0].place, cable.ends[1].place))
            .chain(places.owned.iter().map(|(connector, owner, _)| (*connector, *owner)));
        for (a, b) in links {
            if a != b && a < n && b < n {
                neighbours[a].push(b);
                neighbours[b].push(a);
            }
        }
        let foot_or_top = |place: usize| match kind(place) {
            Some(Kind::Module(_)) => Some(0.0),
            Some(Kind::Device(_)) if !accessory(place) => Some(1.0),
            _ => None,
        };
        let mut pinned: Vec<Option<f64>> = (0..n).map(foot_or_top).collect();
        // A plug stays with its owner, whatever its wires pull at: else a splice could come to lie before the module's plug.
        for (plug, owner, _) in &places.owned {
            pinned[*plug] = foot_or_top(*owner);
        }
        let mut slope = Slope {
            places,
            neighbours,
            pinned,
        };
        let supplies: Vec<(usize, Option<f64>)> = (0..n)
            .filter(|place| kind(*place).is_some_and(Kind::is_supply))
            .map(|place| {
                let several = slope.neighbours[place].len() > 1;
                let pin = match slope.reaches(place) {
                    (true, false) => Some(1.0),
                    (true, true) if several => None,
                    _ => Some(0.0),
                };
                (place, pin)
            })
            .collect();
        for (place, pin) in supplies {
            slope.pinned[place] = pin;
        }
        let heights = slope.heights();

        // Owners stand still: a module's connector is in column 1, a device's in the last but one.
        let mut of_module = vec![false; n];
        let mut of_device = vec![false; n];
        for (connector, owner, _) in &places.owned {
            match kind(*owner) {
                Some(Kind::Module(_)) => of_module[*connector] = true,
                Some(Kind::Device(_)) if !accessory(*owner) => of_device[*connector] = true,
                _ => {}
            }
        }
        let is_device = |place: usize| matches!(kind(place), Some(Kind::Device(_))) && !accessory(place);
        let mut order: Vec<usize> = (0..n).collect();
        order.sort_by(|a, b| heights[*a].total_cmp(&heights[*b]).then(a.cmp(b)));
        let mut of = vec![0_usize; n];
        let mut last = 1;
        for (rank, place) in order.iter().enumerate() {
            if matches!(kind(*place), Some(Kind::Module(_))) || is_device(*place) || of_device[*place] {
                continue;
            }
            if of_module[*place] {
                of[*place] = 1;
                last = last.max(2);
                continue;
            }
            let before = order[..rank]
                .iter()
                .filter(|other| slope.neighbours[*place].contains(other))
                .filter(|other| !is_device(**other) && !of_device[**other])
                .map(|other| of[*other] + 1)
                .max();
            of[*place] = before.unwrap_or(0);
            last = last.max(of[*place] + 1);
        }
        let any_plug = of_device.iter().any(|plug| *plug);
        for place in 0..n {
            if of_device[place] {
                of[place] = last;
            } else if is_device(place) {
                of[place] = if any_plug { last + 1 } else { last };
            }
        }
        // A ground that serves devices only stands next to them.
        for place in 0..n {
            if matches!(kind(place), Some(Kind::Ground(_))) && slope.pinned[place] == Some(0.0) {
                let nearest = slope.neighbours[place].iter().map(|other| of[*other]).min();
                of[place] = nearest.map_or(of[place], |nearest| nearest.saturating_sub(1).max(of[place]));
            }
        }

        let left_half = left_halves(places, &of, &heights, circuit);
        let mut sides: Vec<[Side; 2]> = places
            .cables
            .iter()
            .map(|cable| {
                let side = |at: usize| {
                    let (end, other) = (cable.ends[at], cable.ends[1 - at]);
                    match end.slot {
                        Slot::Cavity(_, half) if half == left_half[end.place] => Side::Left,
                        Slot::Point(_) if is_device(end.place) => Side::Left,
                        Slot::Point(_) if matches!(kind(end.place), Some(Kind::Module(_))) => Side::Right,
                        // At equal columns both leave to the right and meet there.
                        Slot::Point(_) if of[other.place] < of[end.place] => Side::Left,
                        Slot::Cavity(..) | Slot::Point(_) => Side::Right,
                    }
                };
                [side(0), side(1)]
            })
            .collect();
        for fuse in (0..n).filter(|place| matches!(kind(*place), Some(Kind::Fuse(_)))) {
            part_terminals(places, fuse, &mut sides);
        }
        Self { of, left_half, sides }
    }
}

/// A fuse's two terminals lie at opposite sides: all cables of one leave from where most of them would, against the other's.
fn part_terminals(places: &Places, fuse: usize, sides: &mut [[Side; 2]]) {
    let cables = places.cables.iter().enumerate();
    let ends: Vec<(usize, usize, Slot)> = cables
        .flat_map(|(cable, both)| [0, 1].map(|at| (cable, at, both.ends[at])))
        .filter(|(.., end)| end.place == fuse)
        .map(|(cable, at, end)| (cable, at, end.slot))
        .collect();
    let Some((.., first)) = ends.first().copied() else {
        return;
    };
    let leans_left: i32 = (ends.iter())
        .map(|(cable, at, slot)| {
            if (sides[*cable][*at] == Side::Left) == (*slot == first) {
                1
            } else {
                -1
            }
        })
        .sum();
    for (cable, at, slot) in ends {
        let is_left = (leans_left >= 0) == (slot == first);
        sides[cable][at] = if is_left { Side::Left } else { Side::Right };
    }
}

/// For each connector, the half that faces left: the owner's if a module stands there, the wires' if a device does,
/// else the half whose wires come from further down the slope.
fn left_halves(places: &Places, of: &[usize], heights: &[f64], circuit: &Circuit) -> Vec<usize> {
    let mut left = vec![0; places.all.len()];
    for (at, place) in places.all.iter().enumerate() {
        let Kind::Connector(i) = place.kind else { continue };
        if let Some((_, owner, half)) = places.owned.iter().find(|(connector, ..)| *connector == at) {
            left[at] = if of[*owner] < of[at] { *half } else { 1 - *half };
            continue;
        }
        let harness = circuit
            .connectors
            .get(i)
            .is_some_and(|c| c.halves[1].owner == Owner::Harness);
        let mut sums = [(0.0, 0.0); 2];
        for cable in &places.cables {
            for (end, other) in [(cable.ends[0], cable.ends[1]), (cable.ends[1], cable.ends[0])] {
                if let (true, Slot::Cavity(_, half)) = (end.place == at, end.slot) {
                    let sum = &mut sums[half.min(1)];
                    sum.0 += heights[other.place];
                    sum.1 += 1.0;
                }
            }
        }
        let mean = |(sum, n): (f64, f64)| if n > 0.0 { sum / n } else { heights[at] };
        left[at] = usize::from(harness && mean(sums[1]) < mean(sums[0]));
    }
    left
}
