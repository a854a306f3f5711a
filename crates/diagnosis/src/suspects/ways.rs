//! How a fault may have been there through the readings: all along, coming and going, or until something was done.
//!
//! Shares and chances are common practice, no source.

use std::ops::Range;

use circuit::{Circuit, Fault, Mode, PartId, Provocation, Provoked};

use crate::evidence::Circumstances;
use crate::prior::plugs_of;
use crate::{Case, Done, Intake};

/// Share of the faults that come and go where nobody said whether this one does, where the complaint does, and where it is
/// there whenever somebody looks.
const COMES_AND_GOES: f64 = 0.08;
const IF_COMPLAINT_DOES: f64 = 0.7;
const IF_COMPLAINT_STAYS: f64 = 0.005;
/// Chance that a fault that comes and goes is there while nothing provokes it, and while something does that provokes
/// faults of its kind, at its place.
pub(crate) const AT_REST: f64 = 0.15;
const PROVOKED: f64 = 0.6;

/// Chance that a part put in, or a repair done, cures the fault it is meant for: the new part may be bad as well.
const CURES: f64 = 0.95;
/// Chance that pulling a connector and pushing it home cures a bad contact in it.
const RESEATING_CURES: f64 = 0.4;

/// Chance that a close look sees damage that comes with no fault.
const SEEN_ANYWAY: f64 = 0.03;

/// How a fault was there through the readings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Course {
    pub(crate) comes_and_goes: bool,
    /// Position of the first reading without it.
    pub(crate) until: Option<usize>,
}

/// A fault, what is inside the modules, and a course.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Way {
    pub(crate) fault: usize,
    /// Which of the possible insides.
    pub(crate) inside: u16,
    pub(crate) course: Course,
    /// Logarithm of its share of the fault's chance before any reading.
    pub(crate) log_share: f64,
}

/// Whether a fault was there at one reading.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum There {
    Yes,
    No,
    /// It comes and goes: with this chance, if nothing is known of the reading before.
    Perhaps(f64),
}

impl Course {
    /// Whether the fault was there at the reading at `position`.
    pub(crate) fn there(&self, fault: &Fault, position: usize, at: &Circumstances) -> There {
        if at.of_twin || self.until.is_some_and(|until| position >= until) {
            There::No
        } else if self.comes_and_goes {
            There::Perhaps(chance_there(fault, at.provoked))
        } else {
            There::Yes
        }
    }

    /// Whether the fault is still there, for the next reading.
    pub(crate) fn is_over(&self) -> bool {
        self.until.is_some()
    }
}

/// Chance that a fault that comes and goes is there under what is done meanwhile.
pub(crate) fn chance_there(fault: &Fault, provoked: Option<Provoked>) -> f64 {
    let here = |provoked: &Provoked| fault.parts.contains(&provoked.at) && provokes(provoked.how, fault.mode);
    if provoked.as_ref().is_some_and(here) {
        PROVOKED
    } else {
        AT_REST
    }
}

/// Whether this brings out faults of this kind.
fn provokes(how: Provocation, mode: Mode) -> bool {
    use Mode::{
        BadTerminal, Drag, Drift, Leak, LeakToBody, ModuleInside, Open, SeriesResistance, ShortedInside, Stuck, Water,
    };
    match how {
        Provocation::Wiggle => matches!(mode, SeriesResistance | Open | BadTerminal | Leak | LeakToBody | Drift),
        Provocation::Heat => matches!(
            mode,
            SeriesResistance | Open | BadTerminal | ModuleInside | ShortedInside | Drift | Stuck
        ),
        Provocation::Soak => matches!(mode, Water | Leak | LeakToBody),
        Provocation::Load => matches!(
            mode,
            SeriesResistance | BadTerminal | ShortedInside | Drag | ModuleInside
        ),
    }
}

/// Whether a fault may come and go at all.
fn may_come_and_go(mode: Mode) -> bool {
    !matches!(mode, Mode::BlownFuse | Mode::WeakSupply)
}

/// Until when a fault may have been there, each with its share.
fn ends(circuit: &Circuit, fault: &Fault, case: &Case<'_>) -> Vec<(Option<usize>, f64)> {
    let mut ends: Vec<(Option<usize>, f64)> = Vec::new();
    let mut left = 1.0;
    for deed in case.deeds {
        let cured = cures(circuit, fault, &deed.what);
        if cured > 0.0 {
            ends.push((Some(deed.after), left * cured));
            left *= 1.0 - cured;
        }
    }
    ends.push((None, left));
    ends
}

/// Share of a fault's chance in which it comes and goes.
pub(crate) fn share_that_comes(fault: &Fault, intake: &Intake) -> f64 {
    if may_come_and_go(fault.mode) {
        share_of_any(intake)
    } else {
        0.0
    }
}

/// The same of what the circuit file does not know, as far as somebody said that it comes and goes: else it is weighed as
/// what stays.
pub(crate) fn share_outside(intake: &Intake) -> f64 {
    if intake.comes_and_goes == Some(true) {
        share_of_any(intake)
    } else {
        0.0
    }
}

fn share_of_any(intake: &Intake) -> f64 {
    match intake.comes_and_goes {
        None => COMES_AND_GOES,
        Some(true) => IF_COMPLAINT_DOES,
        Some(false) => IF_COMPLAINT_STAYS,
    }
}

/// Chance that what was done cures a fault.
fn cures(circuit: &Circuit, fault: &Fault, done: &Done) -> f64 {
    let contact = matches!(
        fault.mode,
        Mode::SeriesResistance | Mode::BadTerminal | Mode::Water | Mode::Leak
    );
    let at = |part: &PartId| fault.parts.contains(part);
    match done {
        Done::Repaired(key) if fault.repair.key == *key => CURES,
        Done::Swapped(part) if fault.parts.first() == Some(part) => CURES,
        Done::Swapped(part) if contact && plugs_of(circuit, &[*part].into()).iter().any(at) => RESEATING_CURES,
        Done::Reseated(part) if contact && at(part) => RESEATING_CURES,
        _ => 0.0,
    }
}

/// Logarithm of what was seen in close looks, given a fault; 0 where it says nothing. `None`: something outside the circuit.
pub(crate) fn seen(fault: Option<&Fault>, case: &Case<'_>) -> f64 {
    let looks = case.deeds.iter().filter_map(|deed| match deed.what {
        Done::LookedAt { at, damaged } => Some((at, damaged)),
        _ => None,
    });
    // A second look at the same place sees what the first saw.
    let mut known: Vec<PartId> = Vec::new();
    looks
        .filter(|(at, _)| {
            let new = !known.contains(at);
            known.push(*at);
            new
        })
        .map(|(at, damaged)| {
            let here = fault.is_some_and(|fault| fault.parts.contains(&at));
            let shows = fault.filter(|_| here).map_or(0.0, |fault| visible(fault.mode));
            let damage = shows + (1.0 - shows) * SEEN_ANYWAY;
            if damaged { damage } else { 1.0 - damage }.ln()
        })
        .sum()
}

/// Chance that a close look at its place sees a fault of this kind.
fn visible(mode: Mode) -> f64 {
    match mode {
        Mode::BlownFuse => 0.95,
        Mode::Water => 0.8,
        Mode::BadTerminal => 0.6,
        Mode::SeriesResistance | Mode::Open | Mode::LeakToBody => 0.4,
        Mode::Leak => 0.3,
        Mode::ShortedInside | Mode::Drag | Mode::WeakSupply => 0.1,
        Mode::Drift | Mode::ModuleInside | Mode::Stuck => 0.02,
    }
}

/// Every way in which one of these faults may be the cause, as far as they stay, or as far as they come and go. The shares
/// of one fault sum to 1, each time; which of the two it is has its own ([`share_that_comes`]).
pub(crate) fn ways(
    circuit: &Circuit,
    faults: &[&Fault],
    of: Range<usize>,
    case: &Case<'_>,
    insides: &[f64],
    comes_and_goes: bool,
) -> Vec<Way> {
    let mut ways = Vec::new();
    for (at, fault) in of.clone().zip(&faults[of]) {
        if comes_and_goes && !may_come_and_go(fault.mode) {
            continue;
        }
        let seen = seen(Some(fault), case);
        for (until, share) in ends(circuit, fault, case) {
            for (inside, chance) in insides.iter().enumerate() {
                ways.push(Way {
                    fault: at,
                    inside: inside as u16,
                    course: Course { comes_and_goes, until },
                    log_share: share.ln() + chance.ln() + seen,
                });
            }
        }
    }
    ways
}
