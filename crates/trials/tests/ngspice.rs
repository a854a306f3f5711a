//! The product against vehicles that ngspice solves.
//!
//! Each vehicle is broken by a fault of its circuit at a severity, has values of its own off the middle of their tolerances,
//! a battery that sags and a meter with errors, and is searched twice with the same luck: once answered by this product's
//! bench, once by ngspice on the exported deck, from whose voltages each instrument's reading is worked out apart
//! (`bench/tests/outside/reading.rs`). Both searches must end alike: the same repair leads, its chance within
//! [`WITHIN`]; in at least [`LEAST_RIGHT`] it is what the vehicle needs or in the same group of look-alikes.
//!
//! Taken from the bench all the same: which relays have pulled in, fuses blown and drivers shut off (a deck holds them
//! still), and how far a meter wanders at a point that nothing drives (the deck has no neighbours to wander to).

#[path = "../../bench/tests/outside/mod.rs"]
mod outside;

use std::sync::atomic::{AtomicUsize, Ordering};

use bench::{Batch, BenchError, Kind, Predict, Prediction, Question, spice};
use circuit::fault_by_path;
use diagnosis::Predictions;
use outside::batch;
use outside::deck::{Deck, Raw};
use outside::plan::WAYS;
use outside::reading::{Bare, in_circuit};
use trials::{BUILT_IN, Strategy, Vehicle, Yard, search};

/// How far the two chances may lie apart: a last digit that rounds the other way moves a belief by less.
const WITHIN: f64 = 0.02;

/// Of the vehicles below, these at least are judged rightly: the search may end where no reading pays.
const LEAST_RIGHT: usize = 9;

/// Circuit, fault, severity in its unit.
const BROKEN: [(&str, &str, f64); 12] = [
    ("starter", "W1/added resistance", 0.02),
    ("starter", "W3/broken", 0.0),
    ("lamps", "W6/added resistance", 4.0),
    ("lamps", "W1/rubbed to body", 0.1),
    ("relay-motor", "K1/coil/added resistance", 600.0),
    ("thermistor", "W4/broken", 0.0),
    ("thermistor", "W3/rubbed to body", 40.0),
    ("potentiometer", "W6/rubbed to body", 3.0),
    ("potentiometer", "S1.3/contact resistance", 800.0),
    ("shared-ground-fan", "G1/off", 0.0),
    ("shared-ground-fan", "W5/added resistance", 0.3),
    ("switch-input", "W3/rubbed to body", 0.5),
];

/// A vehicle as ngspice solves it.
struct Simulated<'y> {
    yard: &'y Yard,
    /// Tests answered.
    answered: AtomicUsize,
}

/// The operating points of these decks: each by the first way of asking that gives one which keeps Kirchhoff's law.
fn solve(decks: &[spice::Deck]) -> Vec<Raw> {
    let mut found: Vec<Option<Raw>> = decks.iter().map(|_| None).collect();
    for ask in WAYS {
        let left: Vec<usize> = (0..decks.len()).filter(|&at| found[at].is_none()).collect();
        if left.is_empty() {
            break;
        }
        let asked: Vec<String> = left.iter().map(|&at| ask(&decks[at].text)).collect();
        let answers = batch::solve("trials", &asked).expect("it was there before");
        for (at, raw) in left.into_iter().zip(answers) {
            found[at] = raw.filter(|raw| Deck::read(&decks[at].text).breaks_kirchhoff(raw).is_none());
        }
    }
    let each = found.into_iter().zip(decks);
    each.map(|(raw, deck)| raw.unwrap_or_else(|| panic!("ngspice has no answer to\n{}", deck.text)))
        .collect()
}

/// A vehicle is asked one test at a time.
fn only<T>(of: &[T]) -> &T {
    assert_eq!(of.len(), 1);
    &of[0]
}

impl Predict for Simulated<'_> {
    fn predict(&self, question: Question<'_>) -> Result<Batch, BenchError> {
        let (bench, circuit) = (&self.yard.bench, &*self.yard.circuit);
        let ours = bench.predict(question)?.predictions;
        let Question { set_up, theta, .. } = question;
        let (broken, tool) = (only(question.hypotheses), only(question.placements));
        if ours[0].kind == Kind::Unknown {
            // No operating point, no deck.
            return Ok(Batch {
                predictions: ours,
                flows: Vec::new(),
            });
        }
        let tools = std::iter::once(None).chain(in_circuit(tool).then_some(Some(tool)));
        let decks: Result<Vec<spice::Deck>, BenchError> = tools
            .map(|tool| spice::deck(bench, broken, set_up, theta, tool, &self.yard.name))
            .collect();
        let decks = decks?;
        let raws = solve(&decks);
        let bare = Bare {
            circuit,
            set_up,
            theta,
            exported: &decks[0],
            deck: Deck::read(&decks[0].text),
            raw: &raws[0],
        };
        let seen = bare.seen(tool, decks.get(1).zip(raws.get(1)));
        self.answered.fetch_add(1, Ordering::Relaxed);
        let (by_param, by_severity) = (Vec::new(), Vec::new());
        let predictions = vec![Prediction {
            kind: seen.kind,
            value: seen.value,
            beyond: seen.beyond,
            by_param,
            by_severity,
            source_ohms: ours[0].source_ohms,
            ghost_volts: ours[0].ghost_volts,
            unsaid: None,
        }];
        Ok(Batch {
            predictions,
            flows: Vec::new(),
        })
    }
}

#[test]
fn vehicles_that_ngspice_solves_are_judged_like_the_benches() {
    if batch::solve("trials", &[]).is_none() {
        return;
    }
    let mut yard: Option<Yard> = None;
    let mut memory = Predictions::default();
    let (mut wrong, mut n_right) = (Vec::new(), 0);
    for (job, (name, path, severity)) in BROKEN.into_iter().enumerate() {
        if yard.as_ref().is_none_or(|yard| yard.name != name) {
            let of = BUILT_IN.iter().find(|one| one.name == name).expect("built in");
            yard = Some(Yard::built_in(of).expect("a yard"));
            memory = Predictions::default();
        }
        let yard = yard.as_ref().expect("a yard");
        let fault = fault_by_path(&yard.faults, path).unwrap_or_else(|error| panic!("{name}: {error}"));
        let mut vehicle = Vehicle::draw(yard, 31, job as u64, None);
        vehicle.fault = Some((fault, severity));
        vehicle.disturbed = 0.0;
        let simulated = Simulated {
            yard,
            answered: AtomicUsize::new(0),
        };
        let ours = search(&vehicle, Strategy::Product, &mut memory).expect("a search");
        let vehicle = vehicle.answered_by(&simulated);
        let theirs = search(&vehicle, Strategy::Product, &mut memory).expect("a search");
        outside::say(&format!(
            "{name}, {path} {severity}: {:?} {} {:.4} right {} after {}; by ngspice {:?} {} {:.4} after {}, {} asked",
            ours.ended,
            ours.leading,
            ours.chance,
            ours.right || ours.group_right,
            ours.readings.len(),
            theirs.ended,
            theirs.leading,
            theirs.chance,
            theirs.readings.len(),
            simulated.answered.load(Ordering::Relaxed),
        ));
        let same = (ours.ended, &ours.leading) == (theirs.ended, &theirs.leading)
            && (ours.chance - theirs.chance).abs() <= WITHIN;
        if !same || simulated.answered.into_inner() != theirs.readings.len() {
            wrong.push(format!("{name}, {path}: {ours:#?}\n{theirs:#?}"));
        }
        n_right += usize::from(theirs.right || theirs.group_right);
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    assert!(n_right >= LEAST_RIGHT, "{n_right} of {}", BROKEN.len());
}
