//! The voltage staircase along the wire at hand: what should be there, what was measured, where suspects would put it.
//!
//! The path is the run of conductors through a point, from its leftmost to its rightmost end on the wiring picture. All
//! voltages are solved in the set-up asked for; only readings taken in that very set-up hang on it, since another one
//! would have other voltages.

use std::collections::{BTreeMap, VecDeque};

use bench::{Bench, BenchError, Hypothesis, Kind, Placement, Predict as _, Question, Shown};
use circuit::{BranchKind, Circuit, Fault, PartKind, PointId, Role, SetUp};
use job::Entry;
use picture::{Band, Marks, Path, PathPlace, Picture, Ring, Tone, wiring};

use crate::desk::Desk;
use crate::mind::Thought;
use crate::problem::Problem;
use crate::show::{fault, look, point, refused, set_up, supposed};
use crate::view::{StaircaseView, StairsQuery};
use crate::words;

/// Suspects that are drawn while none is chosen, and the least chance of one.
const BANDS: usize = 3;
const BAND_CHANCE: f64 = 0.05;
const HEIGHT: f64 = 200.0;
/// Below this all along a path there is nothing to be seen of a fault; a tenth of a volt is what a ground may drop. Common
/// practice, no source.
const FLAT_VOLTS: f64 = 0.05;

/// A reading as it hangs on a staircase.
#[derive(Clone, Debug)]
pub(crate) struct Measured<'a> {
    pub(crate) entry: &'a Entry,
    /// As the instrument showed it.
    pub(crate) shown: String,
    /// Not what should be there.
    pub(crate) odd: bool,
}

/// The readings of a thought.
fn measured(thought: &Thought) -> Vec<Measured<'_>> {
    let entries = thought.state.entries().zip(&thought.view.readings);
    let each = entries.map(|(entry, view)| Measured {
        entry,
        shown: view.shown.clone(),
        odd: view.standing == "odd",
    });
    each.collect()
}

/// A fault's position, how strongly it is drawn, and the range of its severity.
type Marked = (usize, f64, Option<(f64, f64)>);

pub(crate) fn staircase(desk: &Desk, query: &StairsQuery) -> Result<StaircaseView, Problem> {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let stands = set_up(circuit, &query.set_up)?;
    let chosen = fault(faults, &query.suspect)?;
    let thought = desk.thought();
    let asked = point(circuit, &query.at)?;
    let start = asked.or_else(|| at_hand(&thought));
    let (mut path, mut width) = steps(desk, query, &thought, &stands, chosen, start)?;
    // Where nothing is to be seen as the vehicle stands, and no place was asked for, the last voltage is shown as it was
    // taken.
    if asked.is_none() && flat(&path) {
        let last = last_volts(circuit, &thought).filter(|(_, set_up)| *set_up != stands);
        if let Some((start, set_up)) = last {
            (path, width) = steps(desk, query, &thought, &set_up, chosen, Some(start))?;
            path.title = format!(
                "{} (as measured: {})",
                path.title,
                words::set_up_short(circuit, &set_up)
            );
        }
    }
    let svg = picture::staircase(&path, query.height.unwrap_or(HEIGHT), &look(width, "s"));
    Ok(StaircaseView { svg })
}

/// Whether all along it there is next to nothing, under whatever is drawn.
pub(crate) fn flat(path: &Path) -> bool {
    let healthy = path.places.iter().filter_map(|place| place.healthy);
    let measured = path
        .places
        .iter()
        .flat_map(|place| &place.measured)
        .map(|ring| ring.volts);
    let bands = path.bands.iter().flat_map(|band| band.volts.iter().flatten());
    let mut all = healthy
        .chain(measured)
        .chain(bands.flat_map(|(low, high)| [*low, *high]));
    all.all(|volts| volts.abs() < FLAT_VOLTS)
}

/// Place and set-up of the last voltage taken against battery negative.
fn last_volts(circuit: &Circuit, thought: &Thought) -> Option<(PointId, SetUp)> {
    thought
        .state
        .entries()
        .rev()
        .find_map(|entry| match entry.reading.test.placement {
            Placement::Voltmeter { red, black } if black == circuit.battery_minus => {
                Some((red, entry.reading.test.set_up.clone()))
            }
            _ => None,
        })
}

/// What is drawn along the path through `start` in a set-up, and how wide at least.
fn steps(
    desk: &Desk,
    query: &StairsQuery,
    thought: &Thought,
    stands: &SetUp,
    chosen: Option<(usize, &Fault)>,
    start: Option<PointId>,
) -> Result<(Path, Option<f64>), Problem> {
    let (circuit, faults) = (&*desk.circuit, &*desk.faults());
    let drawn = wiring(circuit, stands, &Marks::default(), &look(query.width, "x"));
    let along = start
        .map(|start| path(circuit, stands, &drawn, start))
        .unwrap_or_default();
    let suspects = thought
        .known
        .as_ref()
        .map(|known| known.findings.suspects.as_slice())
        .unwrap_or_default();
    let marked: Vec<Marked> = match chosen {
        Some((idx, _)) => {
            let range = suspects
                .iter()
                .find(|one| one.fault.idx() == idx)
                .and_then(|one| one.severity);
            vec![(idx, 1.0, range.map(|(_, low, high)| (low, high)))]
        }
        None => suspects
            .iter()
            .filter(|one| one.chance >= BAND_CHANCE)
            .take(BANDS)
            .map(|one| {
                (
                    one.fault.idx(),
                    one.chance,
                    one.severity.map(|(_, low, high)| (low, high)),
                )
            })
            .collect(),
    };
    let mut hypotheses = vec![Hypothesis::default()];
    for (idx, _, range) in &marked {
        let fault = &faults[*idx];
        let (low, high) = range.unzip();
        for severity in [low, high] {
            hypotheses.push(supposed(thought.known.as_deref(), *idx, fault, severity));
        }
    }
    // Under a picture every terminal has its place; alone, where width is short, one a part will do.
    let measured = measured(thought);
    let along = if query.under {
        along
    } else {
        one_a_part(circuit, &measured, stands, along)
    };
    let volts = voltages(&desk.bench, stands, &hypotheses, &along).map_err(refused)?;
    let at = |hypothesis: usize, place: usize| volts.get(hypothesis * along.len() + place).copied().flatten();
    let places = along.iter().enumerate().map(|(idx, point)| PathPlace {
        name: name(circuit, &along, idx),
        x: if query.under {
            drawn.anchors.get(point.idx()).copied().flatten().map(|(x, _)| x)
        } else {
            None
        },
        healthy: at(0, idx),
        measured: rings(circuit, &measured, stands, *point),
    });
    let mut bands: Vec<Band> = Vec::new();
    for (position, (idx, strength, _)) in marked.iter().enumerate() {
        let part = faults[*idx]
            .parts
            .first()
            .map_or("", |part| circuit.parts[part.idx()].called());
        let label = format!("if it is at the {part}");
        // Suspects at one place are one to whoever looks at it; the likeliest is drawn.
        match bands.iter_mut().find(|band| band.label == label) {
            Some(band) => band.strength += strength,
            None => bands.push(Band {
                label,
                strength: *strength,
                volts: (0..along.len())
                    .map(|place| at(1 + 2 * position, place).zip(at(2 + 2 * position, place)))
                    .collect(),
            }),
        }
    }
    let path = Path {
        title: title(circuit, &along),
        places: places.collect(),
        bands,
    };
    let width = if query.under { Some(drawn.width) } else { query.width };
    Ok((path, width))
}

/// Where to measure next, else where was measured last.
fn at_hand(thought: &Thought) -> Option<PointId> {
    let next = thought.next.iter().find_map(|test| words::red(&test.placement));
    next.or_else(|| {
        thought
            .state
            .entries()
            .rev()
            .find_map(|entry| words::red(&entry.reading.test.placement))
    })
}

/// What a voltmeter at each point would show under each hypothesis, row-major; `None` where it cannot be said. With the
/// meter in place, since a wire that nothing drives has no voltage of its own.
pub(crate) fn voltages(
    bench: &Bench,
    set_up: &SetUp,
    hypotheses: &[Hypothesis<'_>],
    along: &[PointId],
) -> Result<Vec<Option<f64>>, BenchError> {
    let black = bench.circuit().battery_minus;
    let placements: Vec<Placement> = along.iter().map(|&red| Placement::Voltmeter { red, black }).collect();
    let batch = bench.predict(Question::new(hypotheses, set_up, &placements))?;
    Ok(batch
        .predictions
        .iter()
        .map(|one| (one.kind == Kind::Number).then_some(one.value))
        .collect())
}

/// Both ends of a branch that a current runs through on its way along a wire; a parted contact is none.
fn conductor(circuit: &Circuit, set_up: &SetUp, branch: usize) -> Option<(PointId, PointId)> {
    let branch = &circuit.branches[branch];
    let along = branch.role.is_harness() || branch.role == Role::Series;
    match &branch.kind {
        _ if !along => None,
        BranchKind::Switch { closed, .. } if !closed.holds_in(circuit, set_up) => None,
        BranchKind::Resistor { a, b, .. }
        | BranchKind::Switch { a, b, .. }
        | BranchKind::Fuse { a, b, .. }
        | BranchKind::RelayContact { a, b, .. } => Some((*a, *b)),
        _ => None,
    }
}

/// The run of conductors through `start`: from its leftmost point on the picture to its rightmost, those not on the
/// picture left out. A run that branches follows the way to these two.
pub(crate) fn path(circuit: &Circuit, set_up: &SetUp, drawn: &Picture, start: PointId) -> Vec<PointId> {
    let mut next: BTreeMap<PointId, Vec<PointId>> = BTreeMap::new();
    for (a, b) in (0..circuit.branches.len()).filter_map(|branch| conductor(circuit, set_up, branch)) {
        next.entry(a).or_default().push(b);
        next.entry(b).or_default().push(a);
    }
    // Rails and ground are shared by all; a run ends where it reaches them.
    let ends = [circuit.battery_plus, circuit.battery_minus, circuit.body];
    let mut from: BTreeMap<PointId, PointId> = BTreeMap::from([(start, start)]);
    let mut waiting = VecDeque::from([start]);
    while let Some(point) = waiting.pop_front() {
        if ends.contains(&point) && point != start {
            continue;
        }
        for other in next.get(&point).into_iter().flatten() {
            if !from.contains_key(other) {
                from.insert(*other, point);
                waiting.push_back(*other);
            }
        }
    }
    let x = |point: &PointId| drawn.anchors.get(point.idx()).copied().flatten().map(|(x, _)| x);
    let mut drawn_points: Vec<(f64, PointId)> = from.keys().filter_map(|point| Some((x(point)?, *point))).collect();
    drawn_points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let back = |end: Option<&(f64, PointId)>| {
        let mut way = Vec::new();
        let mut point = end.map_or(start, |(_, point)| *point);
        while point != start {
            way.push(point);
            point = from[&point];
        }
        way
    };
    let mut along = back(drawn_points.first());
    along.push(start);
    along.extend(back(drawn_points.last()).into_iter().rev());
    along.retain(|point| x(point).is_some());
    let mut seen = Vec::new();
    along.retain(|point| {
        let new = !seen.contains(point);
        seen.push(*point);
        new
    });
    // Left to right, as the picture above has it.
    along.sort_by(|a, b| x(a).unwrap_or(0.0).total_cmp(&x(b).unwrap_or(0.0)));
    along
}

/// Of neighbours that belong to one part, the one that was measured, or the first.
pub(crate) fn one_a_part(
    circuit: &Circuit,
    measured: &[Measured<'_>],
    stands: &SetUp,
    along: Vec<PointId>,
) -> Vec<PointId> {
    let mut kept: Vec<PointId> = Vec::new();
    for point in along {
        let part = |point: &PointId| circuit.points[point.idx()].part;
        match kept.last_mut() {
            Some(last) if part(last) == part(&point) => {
                let bare = |point: &PointId| rings(circuit, measured, stands, *point).is_empty();
                if bare(last) && !bare(&point) {
                    *last = point;
                }
            }
            _ => kept.push(point),
        }
    }
    kept
}

/// The name under the axis: that of the part, once for neighbours of one part.
pub(crate) fn name(circuit: &Circuit, along: &[PointId], idx: usize) -> String {
    let part = |point: &PointId| circuit.points[point.idx()].part;
    let own = part(&along[idx]);
    if idx > 0 && part(&along[idx - 1]) == own {
        String::new()
    } else {
        circuit.parts[own.idx()].called().to_owned()
    }
}

/// What the path is called: by the module pin that it ends at, else by the wire in its middle.
pub(crate) fn title(circuit: &Circuit, along: &[PointId]) -> String {
    let pins = circuit.modules.iter().flat_map(|module| &module.pins);
    let pin = pins
        .into_iter()
        .find(|pin| along.contains(&pin.point))
        .map(|pin| pin.words.clone());
    let wire = || {
        let ends = |wire: &&circuit::Wire| wire.ends.iter().any(|end| along.contains(end));
        circuit
            .wires
            .iter()
            .find(ends)
            .map(|wire| circuit.parts[wire.part.idx()].called().to_owned())
    };
    let part = || {
        let part = circuit
            .parts
            .get(circuit.points.get(along.first()?.idx())?.part.idx())?;
        (!matches!(part.kind, PartKind::Battery)).then(|| part.called().to_owned())
    };
    match pin.filter(|words| !words.is_empty()).or_else(wire).or_else(part) {
        Some(words) => format!("Voltage along the wire: {words}"),
        None => "Voltage along the wire".into(),
    }
}

/// What was measured at a point against battery negative, in this set-up.
pub(crate) fn rings(circuit: &Circuit, measured: &[Measured<'_>], stands: &SetUp, at: PointId) -> Vec<Ring> {
    let each = measured.iter().filter_map(|one| {
        let reading = &one.entry.reading;
        match (&reading.test.placement, &reading.shown) {
            (Placement::Voltmeter { red, black }, Shown::Number { value, .. })
                if *red == at && *black == circuit.battery_minus && reading.test.set_up == *stands =>
            {
                Some(Ring {
                    volts: *value,
                    label: one.shown.clone(),
                    tone: if one.odd { Tone::Off } else { Tone::Plain },
                })
            }
            _ => None,
        }
    });
    each.collect()
}
