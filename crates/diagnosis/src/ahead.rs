//! Questions answered before they are asked: while somebody walks to the vehicle, what the reading to come will need.
//!
//! It changes no answer, only when the bench is asked.

use bench::{BenchError, Placement, Test, reachable};
use circuit::{Circuit, Fault, SetUp};

use crate::predictions::Wanted;
use crate::propose::look_around;
use crate::severity::Scale;
use crate::{Predictions, Scene};

/// Proposals from whose set-ups the test after is looked for.
const FROM: usize = 2;
/// Placements a question: a reading that comes meanwhile waits for no more than one question.
const AT_ONCE: usize = 6;

/// Has the bench answer what weighing one of these tests asks first; then what choosing the test after it asks, from the
/// set-up in which it leaves the vehicle; then what else is likely to be read in these set-ups. Stops where the bench does,
/// with what it has so far.
///
/// # Errors
/// Those of [`bench::Predict::predict`].
pub fn look_ahead(scene: &Scene<'_, '_>, tests: &[Test], predictions: &mut Predictions) -> Result<(), BenchError> {
    let Scene { bench, faults, .. } = *scene;
    let wanted = all_ends(faults);
    let mut set_ups: Vec<&SetUp> = Vec::new();
    for test in tests {
        let placement = std::slice::from_ref(&test.placement);
        predictions.fill(bench, faults, &test.set_up, placement, &wanted)?;
        if !set_ups.contains(&&test.set_up) {
            set_ups.push(&test.set_up);
        }
    }
    for now in set_ups.iter().take(FROM) {
        look_around(&Scene { now, ..*scene }, predictions)?;
    }
    for set_up in set_ups {
        for placements in likely(scene.circuit, set_up).chunks(AT_ONCE) {
            predictions.fill(bench, faults, set_up, placements, &wanted)?;
        }
    }
    Ok(())
}

/// The healthy circuit and every fault at the ends of its scale's cells.
pub(crate) fn all_ends(faults: &[Fault]) -> Vec<Wanted> {
    let ends = |(fault, of): (usize, &Fault)| {
        let ends: Vec<Wanted> = Scale::of(of)
            .ends()
            .map(|position| Wanted::Fault(fault, position))
            .collect();
        ends
    };
    std::iter::once(Wanted::Healthy)
        .chain(faults.iter().enumerate().flat_map(ends))
        .collect()
}

/// Scan data, codes, and points against battery negative.
fn likely(circuit: &Circuit, set_up: &SetUp) -> Vec<Placement> {
    let black = circuit.battery_minus;
    let points = reachable(circuit, set_up)
        .into_iter()
        .map(|probe| Placement::Voltmeter {
            red: probe.point,
            black,
        });
    let channels = (0..circuit.channels.len()).map(|channel| Placement::Scan {
        channel: channel.into(),
    });
    let monitors = (0..circuit.monitors.len()).map(|monitor| Placement::Code {
        monitor: monitor.into(),
    });
    channels.chain(monitors).chain(points).collect()
}
