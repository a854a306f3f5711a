//! A printed chart: codes and scan data, then the voltage at one point after the other along the wire while the complaint
//! shows, then with the key off one connector after the other parted and measured for ohms.

use bench::{BenchError, Placement, Test};
use circuit::{Key, SetUp};
use diagnosis::{candidates, touched};

use super::{Choice, Turn};
use crate::yard::Yard;

pub(super) fn next(turn: &mut Turn<'_, '_>) -> Result<Choice, BenchError> {
    let chart = chart(turn.yard);
    Ok(turn.first_safe(chart)?.map(Choice::one).unwrap_or_default())
}

/// The whole chart, in order.
pub(super) fn chart(yard: &Yard) -> Vec<Test> {
    let circuit = &yard.circuit;
    let test = |set_up: &SetUp, placement| Test {
        placement,
        set_up: set_up.clone(),
    };
    let screen = yard.screen();
    let volts = yard.volts(&yard.complaint);
    let mut chart: Vec<Test> = screen
        .into_iter()
        .chain(volts)
        .map(|p| test(&yard.complaint, p))
        .collect();
    for connector in yard.wires.connectors(circuit) {
        let set_up = SetUp {
            key: Key::Off,
            apart: [connector].into(),
            ..SetUp::default()
        };
        let probes = bench::reachable(circuit, &set_up);
        let found = candidates(circuit, &set_up, &probes)
            .into_iter()
            .map(|candidate| candidate.placement);
        let ohms = found.filter(|placement| matches!(placement, Placement::Ohmmeter { .. }));
        chart.extend(ohms.map(|placement| test(&set_up, placement)));
    }
    chart
}

impl Yard {
    /// Every code and scan value.
    fn screen(&self) -> Vec<Placement> {
        let codes = (0..self.circuit.monitors.len()).map(|idx| Placement::Code { monitor: idx.into() });
        let scans = (0..self.circuit.channels.len()).map(|idx| Placement::Scan { channel: idx.into() });
        codes.chain(scans).collect()
    }

    /// The voltage against battery negative at every point in reach, in the order of the wire.
    fn volts(&self, set_up: &SetUp) -> Vec<Placement> {
        let black = self.circuit.battery_minus;
        let probes = bench::reachable(&self.circuit, set_up);
        let points = probes.iter().map(|probe| probe.point).filter(|&point| point != black);
        let mut volts: Vec<Placement> = points.map(|red| Placement::Voltmeter { red, black }).collect();
        volts.sort_by_key(|placement| touched(placement).map(|(red, _)| self.wires.of(red)));
        volts
    }
}
