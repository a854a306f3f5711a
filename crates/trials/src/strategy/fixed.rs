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
        let codes = self.circuit.codes().map(|monitor| Placement::Code { monitor });
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuits::BUILT_IN;

    #[test]
    fn the_chart_goes_from_the_screen_along_the_wire_to_ohms() {
        let of = BUILT_IN.iter().find(|one| one.name == "potentiometer").unwrap();
        let yard = Yard::built_in(of).unwrap();
        let chart = chart(&yard);
        let text = |test: &Test| {
            let set_up = test.set_up.to_text(&yard.circuit);
            format!("{set_up} | {}", test.placement.to_text(&yard.circuit))
        };
        let texts: Vec<String> = chart.iter().map(text).collect();
        assert_eq!(
            texts[..3],
            [
                "key on | code P2123",
                "key on | scan pedal",
                "key on | voltmeter battery+ battery-"
            ]
        );
        let at = |wanted: &str| {
            texts
                .iter()
                .position(|text| text == wanted)
                .unwrap_or_else(|| panic!("{wanted}: {texts:#?}"))
        };
        assert!(at("key on | voltmeter A1.11 battery-") < at("key on | voltmeter J1.1/a battery-"));
        assert!(at("key on | voltmeter J1.1/a battery-") < at("key on | voltmeter S1.1 battery-"));
        let ohms = chart
            .iter()
            .position(|test| matches!(test.placement, Placement::Ohmmeter { .. }))
            .unwrap();
        assert!(chart[ohms..].iter().all(|test| test.set_up.key == Key::Off));
    }
}
