//! Can a test hurt? Worked out over the healthy circuit, every cause still possible, and a short to a feed on every net
//! that the test touches unless a reading excludes it.
//!
//! For each of them the circuit is solved with the tool in place and without it; what the tool adds is held against what
//! pins, contacts, wires, wipers, outputs and the tool itself bear. A voltmeter, scan data, codes and a clamp draw
//! nothing and are safe; a jumper, substitute or bridged relay in the set-up counts as part of the tool.
//!
//! The verdict: safe; safe after readings that would show the dangerous causes for what they are; or refused. That a
//! reading would show them is computed too ([`settle`]). Something that would move, heat or pump is told with its words,
//! but is no reason to refuse: a person may want it to. An instrument for ohms is judged by the voltage that would stand
//! across it: below what it puts out itself only the figure is spoilt, and the voltage between the same two points tells
//! beforehand ([`live`]). A pin that voltage ends (a reference, a device fed from one) is judged by its volts, since hardly
//! any current need flow. Limits: steady currents at the centre of the uncertain parameters, no inrush, no inductive kick.

use bench::{BenchError, Flows, Hypothesis, Kind, Placement, Predict, Prediction, Question, Reading, Shown, Test};
use circuit::{BranchId, Change, Circuit, Fault, Key, Mode, PointId, SetUp};

use self::caution::points;
use self::stress::{Degree, Stress};
use crate::candidate::net::Nets;
use crate::{Alive, Danger, DangerKind, Under, Verdict};

pub(crate) mod caution;
pub mod limits;
mod live;
mod settle;
mod stress;
pub(crate) mod truth;

#[cfg(test)]
pub(crate) mod fixture;
#[cfg(test)]
mod tests;

/// A cause less likely than this is no reason to hold a test back.
pub(crate) const LEAST_CHANCE: f64 = 0.001;
/// Resistance of the assumed short to a feed, ohms: a pinched wire or a bent terminal.
const SHORT_OHMS: f64 = 0.1;
/// How far two voltages must be apart for a technician to see it without doubt: this many volts …
const CLEAR_VOLTS: f64 = 0.5;
/// … and this share of the larger.
const CLEAR_SHARE: f64 = 0.05;
/// A feed is not excluded by a voltage that is lower than it should be by no more than this share: a battery run down to
/// 9.5 V still has all its current. Common practice, no source.
const RUN_DOWN: f64 = 0.25;
/// Voltage at a test light's filament below which it is dark, and from which it is bright (of a 12 V bulb).
const DARK_VOLTS: f64 = 1.0;
const BRIGHT_VOLTS: f64 = 9.0;

/// A cause to judge under, at one severity.
#[derive(Clone, Debug)]
pub(crate) struct Cause<'a> {
    pub(crate) under: Under,
    pub(crate) chance: f64,
    pub(crate) hypothesis: Hypothesis<'a>,
}

/// Whether a test may be done, and the worst figures behind the verdict, worst first, each limit once.
///
/// `causes`: what is still possible beside the healthy circuit, each severity worth looking at as an entry of its own.
/// `settle`: look for the readings that would settle a danger; without it a test that some cause makes harmful is refused.
///
/// # Errors
/// Those of [`Predict::predict`].
pub(crate) fn hazards(
    bench: &dyn Predict,
    circuit: &Circuit,
    causes: &[Cause<'_>],
    readings: &[Reading],
    test: &Test,
    settle: bool,
) -> Result<(Verdict, Vec<Danger>), BenchError> {
    if caution::not_probed(circuit, test) {
        return Ok((Verdict::Refused, Vec::new()));
    }
    if draws_nothing(test) {
        return Ok((Verdict::Safe, Vec::new()));
    }
    let bare = bare(&test.set_up);
    let shorts = shorts(bench, circuit, test, readings)?;
    let mut all = vec![Cause {
        under: Under::Healthy,
        chance: 1.0,
        hypothesis: Hypothesis::default(),
    }];
    all.extend_from_slice(causes);
    all.extend(shorts.iter().map(|(point, fault)| Cause {
        under: Under::ShortToFeed(*point),
        chance: LEAST_CHANCE,
        hypothesis: Hypothesis {
            faults: vec![(fault, SHORT_OHMS)],
        },
    }));

    let Some(mut degrees) = degrees(bench, circuit, &all, test, &bare)? else {
        return Ok((Verdict::Refused, Vec::new()));
    };
    let on_ohms = live::verdict(readings, test, &mut degrees);
    let harms = |what: &DangerKind| !matches!(what, DangerKind::Acts { .. } | DangerKind::LiveOhms { .. });
    let bad: Vec<usize> = (0..all.len())
        .filter(|&idx| {
            degrees
                .get(idx)
                .is_some_and(|list| list.iter().any(|(what, _)| harms(what)))
        })
        .collect();
    let on_limits = match bad.first() {
        None => Verdict::Safe,
        Some(0) => Verdict::Refused,
        Some(_) if !settle => Verdict::Refused,
        Some(_) => {
            let bad: Vec<Hypothesis<'_>> = bad
                .iter()
                .filter_map(|&idx| all.get(idx))
                .map(|cause| cause.hypothesis.clone())
                .collect();
            settle::first(bench, circuit, &bad, readings, test, &bare)?
        }
    };
    Ok((both(on_limits, on_ohms), worst(&all, degrees)))
}

/// Of two verdicts on one test the one that holds.
fn both(one: Verdict, other: Verdict) -> Verdict {
    match (one, other) {
        (Verdict::Refused, _) | (_, Verdict::Refused) => Verdict::Refused,
        (Verdict::Safe, verdict) | (verdict, Verdict::Safe) => verdict,
        (Verdict::First(mut tests), Verdict::First(more)) => {
            tests.extend(more);
            tests.dedup();
            Verdict::First(tests)
        }
    }
}

/// Nothing flows because of it.
pub(crate) fn draws_nothing(test: &Test) -> bool {
    let instrument = test.placement.only_looks();
    instrument && nothing_added(&test.set_up)
}

fn nothing_added(set_up: &SetUp) -> bool {
    set_up.placed.is_empty() && set_up.relays_bridged.is_empty()
}

fn measures_ohms(placement: &Placement) -> bool {
    matches!(
        placement,
        Placement::Ohmmeter { .. } | Placement::DiodeTest { .. } | Placement::Continuity { .. }
    )
}

/// The set-up without what the technician adds to the circuit.
fn bare(set_up: &SetUp) -> SetUp {
    SetUp {
        placed: Vec::new(),
        relays_bridged: std::collections::BTreeSet::new(),
        ..set_up.clone()
    }
}

/// For each cause its dangers; `None` if not even the healthy circuit can be computed.
fn degrees(
    bench: &dyn Predict,
    circuit: &Circuit,
    all: &[Cause<'_>],
    test: &Test,
    bare: &SetUp,
) -> Result<Option<Vec<Vec<Degree>>>, BenchError> {
    let hypotheses: Vec<Hypothesis<'_>> = all.iter().map(|cause| cause.hypothesis.clone()).collect();
    let ask = |set_up: &SetUp, placement: &Placement, hypotheses: &[Hypothesis<'_>], with_flows: bool| {
        let placements = std::slice::from_ref(placement);
        bench.predict(Question {
            hypotheses,
            set_up,
            placements,
            theta: &[],
            with_flows,
        })
    };
    if measures_ohms(&test.placement) && nothing_added(&test.set_up) {
        let batch = ask(&test.set_up, &test.placement, &hypotheses, false)?;
        return Ok(Some(
            batch
                .predictions
                .iter()
                .map(|p| live::danger(p.kind, p.value, p.source_ohms))
                .collect(),
        ));
    }
    // A clamp adds nothing to the circuit: it stands for "no tool".
    let no_tool = Placement::Clamp { around: BranchId(0) };
    let everything = SetUp {
        key: Key::Running,
        commanded: (0..circuit.loads.len()).map(Into::into).collect(),
        ..SetUp::default()
    };
    let normal = ask(&everything, &no_tool, &[Hypothesis::default()], true)?;
    let stress = Stress::new(circuit, normal.flows.first().unwrap_or(&Flows::default()));
    let with = ask(&test.set_up, &test.placement, &hypotheses, true)?;
    let without = ask(bare, &no_tool, &hypotheses, true)?;
    if with.predictions.first().is_none_or(|p| p.kind == Kind::Unknown) {
        return Ok(None);
    }
    let each = with.predictions.iter().zip(with.flows.iter().zip(&without.flows));
    Ok(Some(
        each.map(|(prediction, (with, without))| {
            let mut list = stress.dangers(&test.placement, &test.set_up.placed, with, without);
            list.extend(live::danger(prediction.kind, prediction.value, prediction.source_ohms));
            list
        })
        .collect(),
    ))
}

/// Shorts between each net that the test touches and each feed, as long as no reading speaks against them.
fn shorts(
    bench: &dyn Predict,
    circuit: &Circuit,
    test: &Test,
    readings: &[Reading],
) -> Result<Vec<(PointId, Fault)>, BenchError> {
    let nets = Nets::new(circuit, &test.set_up);
    // Each reading with the nets as the vehicle stood then.
    let read_on: Vec<(&Reading, Nets, Vec<PointId>)> = readings
        .iter()
        .map(|reading| (reading, Nets::new(circuit, &reading.test.set_up), points(&reading.test)))
        .collect();
    let mut seen = Vec::new();
    let mut found = Vec::new();
    for point in points(test) {
        let hangs = nets.hangs(point);
        // Metal would blow the feed's fuse at once, and a parted component has no neighbours.
        if !hangs.wire || hangs.metal || seen.contains(&nets.of(point)) {
            continue;
        }
        // A feed that is live carries the voltage anyway.
        if hangs.feed && stands_live(bench, circuit, test, point)? {
            continue;
        }
        seen.push(nets.of(point));
        let rails = circuit
            .feeds
            .iter()
            .filter(|feed| feed.live_in.contains(&test.set_up.key))
            .map(|feed| feed.point);
        let mut rails: Vec<PointId> = rails.chain([circuit.battery_plus]).collect();
        rails.sort_unstable();
        rails.dedup();
        let faults: Vec<Fault> = rails.iter().map(|&rail| short(point, rail)).collect();
        let hypotheses: Vec<Hypothesis<'_>> = faults
            .iter()
            .map(|fault| Hypothesis {
                faults: vec![(fault, SHORT_OHMS)],
            })
            .collect();
        // What is read elsewhere and fits no sound circuit is explained by something else, and says nothing of this point.
        let there = read_on
            .iter()
            .filter(|(_, nets, leads)| leads.iter().any(|&lead| nets.same(lead, point)));
        let excluded = excluded(bench, &hypotheses, there.map(|(reading, ..)| *reading))?;
        found.extend(
            faults
                .into_iter()
                .zip(excluded)
                .filter(|(_, out)| !out)
                .map(|(fault, _)| (point, fault)),
        );
    }
    Ok(found)
}

/// Whether the sound circuit has a feed's voltage at a point in the test's set-up.
fn stands_live(bench: &dyn Predict, circuit: &Circuit, test: &Test, point: PointId) -> Result<bool, BenchError> {
    let voltmeter = Test {
        placement: Placement::Voltmeter {
            red: point,
            black: circuit.battery_minus,
        },
        set_up: SetUp {
            placed: Vec::new(),
            ..test.set_up.clone()
        },
    };
    let sound = [Hypothesis::default()];
    let batch = bench.predict(Question::of(&sound, &voltmeter))?;
    Ok(batch
        .predictions
        .first()
        .is_some_and(|volts| volts.value.abs() > BRIGHT_VOLTS))
}

/// What is alive as causes to judge under, the worst severities that no reading speaks against included.
///
/// # Errors
/// Those of [`Predict::predict`].
pub(crate) fn causes<'a>(
    bench: &dyn Predict,
    alive: &[Alive<'a>],
    readings: &[Reading],
) -> Result<Vec<Cause<'a>>, BenchError> {
    let cause = |alive: &Alive<'a>| Cause {
        under: Under::Suspect(alive.fault),
        chance: alive.chance,
        hypothesis: alive.hypothesis.clone(),
    };
    let mut causes: Vec<Cause<'a>> = alive.iter().map(cause).collect();
    let ends = ends(bench, &causes, readings)?;
    causes.extend(ends);
    Ok(causes)
}

/// The mildest and the worst severity of each cause that no reading speaks against, beside those that are plausible.
fn ends<'a>(bench: &dyn Predict, causes: &[Cause<'a>], readings: &[Reading]) -> Result<Vec<Cause<'a>>, BenchError> {
    let mut ends: Vec<Cause<'a>> = Vec::new();
    let mut last = None;
    for cause in causes {
        let [(fault, _)] = cause.hypothesis.faults[..] else {
            continue;
        };
        if last.replace(&cause.under) == Some(&cause.under) {
            continue;
        }
        // The ends of a drift are no single danger; those of a leak or a resistance are.
        let Some(severity) = fault.severity.filter(|severity| severity.logarithmic) else {
            continue;
        };
        ends.extend([severity.low, severity.high].map(|severity| Cause {
            hypothesis: Hypothesis {
                faults: vec![(fault, severity)],
            },
            ..cause.clone()
        }));
    }
    let hypotheses: Vec<Hypothesis<'_>> = ends.iter().map(|cause| cause.hypothesis.clone()).collect();
    let excluded = excluded(bench, &hypotheses, readings)?;
    Ok(ends
        .into_iter()
        .zip(excluded)
        .filter(|(_, out)| !out)
        .map(|(cause, _)| cause)
        .collect())
}

fn short(point: PointId, rail: PointId) -> Fault {
    Fault {
        what: "short to a feed".into(),
        points: vec![point, rail],
        ..Fault::unlisted(
            "assumed short to a feed",
            Mode::Leak,
            vec![Change::BridgeOhms(point, rail, SHORT_OHMS)],
        )
    }
}

/// Which of the hypotheses some reading excludes: it would have shown something clearly different.
fn excluded<'r>(
    bench: &dyn Predict,
    hypotheses: &[Hypothesis<'_>],
    readings: impl IntoIterator<Item = &'r Reading>,
) -> Result<Vec<bool>, BenchError> {
    let mut out = vec![false; hypotheses.len()];
    if hypotheses.is_empty() {
        return Ok(out);
    }
    for reading in readings {
        if !matches!(
            reading.test.placement,
            Placement::Voltmeter { .. } | Placement::TestLight { .. }
        ) {
            continue;
        }
        let batch = bench.predict(Question::of(hypotheses, &reading.test))?;
        for (out, prediction) in out.iter_mut().zip(&batch.predictions) {
            *out |= contradicts(&reading.shown, prediction);
        }
    }
    Ok(out)
}

fn contradicts(shown: &Shown, prediction: &Prediction) -> bool {
    if prediction.kind != Kind::Number {
        return false;
    }
    match *shown {
        Shown::Number { value, .. } => clearly_apart(value, prediction.value),
        Shown::Between { low, high, .. } => {
            clearly_apart(low, prediction.value)
                && clearly_apart(high, prediction.value)
                && (low > prediction.value) == (high > prediction.value)
        }
        Shown::Light(bench::Light::Off) => prediction.value.abs() > BRIGHT_VOLTS,
        Shown::Light(bench::Light::Bright) => prediction.value.abs() < DARK_VOLTS,
        _ => false,
    }
}

/// Whether a voltage was shown that this circuit cannot have, its battery full or run down.
fn clearly_apart(shown: f64, foreseen: f64) -> bool {
    (shown - foreseen).abs() > CLEAR_VOLTS + RUN_DOWN * shown.abs().max(foreseen.abs())
}

/// The worst figure of each limit, worst first.
fn worst(all: &[Cause<'_>], degrees: Vec<Vec<Degree>>) -> Vec<Danger> {
    let mut worst: Vec<(Danger, f64)> = Vec::new();
    for (cause, list) in all.iter().zip(degrees) {
        for (what, degree) in list {
            let danger = Danger {
                what,
                under: cause.under.clone(),
                chance: cause.chance,
                anyway: cause.under == Under::Healthy,
            };
            match worst.iter_mut().find(|(known, _)| same_limit(known, &danger)) {
                Some(known) if known.1 >= degree => {}
                Some(known) => {
                    let anyway = known.0.anyway;
                    *known = (Danger { anyway, ..danger }, degree);
                }
                None => worst.push((danger, degree)),
            }
        }
    }
    worst.sort_by(|a, b| b.1.total_cmp(&a.1));
    worst.into_iter().map(|(danger, _)| danger).collect()
}

fn same_limit(one: &Danger, other: &Danger) -> bool {
    match (&one.what, &other.what) {
        (DangerKind::Overload { branch: a, .. }, DangerKind::Overload { branch: b, .. })
        | (DangerKind::Trips { branch: a }, DangerKind::Trips { branch: b }) => a == b,
        (DangerKind::Tool { tool: a, rating: x, .. }, DangerKind::Tool { tool: b, rating: y, .. })
        | (DangerKind::ToolFuse { tool: a, rating: x }, DangerKind::ToolFuse { tool: b, rating: y }) => {
            (a, x) == (b, y)
        }
        // A feed that nobody suspects must not hide a suspect.
        (DangerKind::LiveOhms { .. }, DangerKind::LiveOhms { .. }) => {
            let assumed = |danger: &Danger| matches!(danger.under, Under::ShortToFeed(_));
            assumed(one) == assumed(other)
        }
        (DangerKind::OverVoltage { point: a, .. }, DangerKind::OverVoltage { point: b, .. }) => a == b,
        (DangerKind::Acts { words: a }, DangerKind::Acts { words: b }) => a == b,
        _ => false,
    }
}
