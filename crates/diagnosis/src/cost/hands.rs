//! The minutes to the next reading, by where the vehicle and the leads are.
//!
//! A set-up costs what changing to it costs; a lead that is already at a connector only has to be placed, one that stays
//! where it is costs nothing.

use bench::{Placement, Reading, Test};
use circuit::{Access, Circuit, ConnectorId, PointId, SetUp};

use crate::candidate::{Candidate, reach, touched};

/// Minutes to place a probe at a connector that is reached already. Common practice, no source.
const PLACE_MINUTES: f64 = 0.5;
/// The longest that anybody waits or works for one set-up or point, minutes: one that cannot be had is tried for this
/// long. Common practice, no source.
const MOST_MINUTES: f64 = 240.0;

/// How the vehicle stands and where the leads are.
#[derive(Clone, Debug, PartialEq)]
pub struct Hands {
    now: SetUp,
    leads: Option<(PointId, PointId)>,
}

impl Hands {
    /// The vehicle stands so, the leads are nowhere.
    pub fn free(now: SetUp) -> Self {
        Self { now, leads: None }
    }

    /// After these readings, the vehicle standing so now.
    pub fn after(readings: &[Reading], now: &SetUp) -> Self {
        // What moved before the last change of set-up is away again.
        let since = readings
            .iter()
            .rposition(|reading| reading.test.set_up.at_rest() != now.at_rest());
        let since = readings.get(since.map_or(0, |at| at + 1)..).unwrap_or_default();
        let mut hands = Self::free(now.clone());
        for reading in since {
            hands.place(&reading.test.placement);
        }
        hands
    }

    /// How the vehicle stands.
    pub fn now(&self) -> &SetUp {
        &self.now
    }

    /// Minutes until this test has been read.
    pub fn minutes_to(&self, circuit: &Circuit, test: &Test) -> f64 {
        let change = circuit::minutes_between(circuit, &self.now, &test.set_up).min(MOST_MINUTES);
        let probes = bench::reachable(circuit, &test.set_up);
        let candidate = reach(circuit, &probes, test.placement.clone());
        change
            + candidate.map_or(MOST_MINUTES, |candidate| {
                self.minutes_at(circuit, &test.set_up, &candidate)
            })
    }

    /// The same without the change of set-up.
    pub(crate) fn minutes_at(&self, circuit: &Circuit, set_up: &SetUp, candidate: &Candidate) -> f64 {
        candidate.reading_minutes + self.leads_to(circuit, set_up, candidate)
    }

    fn leads_to(&self, circuit: &Circuit, set_up: &SetUp, candidate: &Candidate) -> f64 {
        let Some((red, black)) = touched(&candidate.placement) else {
            return 0.0;
        };
        let kept = self.leads.filter(|_| self.now.at_rest() == set_up.at_rest());
        let way = |to: PointId, from: Option<PointId>, minutes: f64| match from {
            Some(from) if from == to => 0.0,
            Some(from) if at(circuit, from).is_some() && at(circuit, from) == at(circuit, to) => {
                PLACE_MINUTES.min(minutes)
            }
            _ => minutes,
        };
        let (from_red, from_black) = (kept.map(|leads| leads.0), kept.map(|leads| leads.1));
        match candidate.ways[..] {
            // Both leads at one connector: reached once.
            [(_, both)] => way(red, from_red, both).max(way(black, from_black, both)),
            [(_, to_red), (_, to_black)] => way(red, from_red, to_red) + way(black, from_black, to_black),
            _ => candidate.reach_minutes,
        }
    }

    /// Where they are once the test is done.
    pub fn take(&mut self, test: &Test) {
        if self.now.at_rest() != test.set_up.at_rest() {
            self.leads = None;
        }
        self.now = test.set_up.clone();
        self.place(&test.placement);
    }

    fn place(&mut self, placement: &Placement) {
        self.leads = touched(placement).or(match placement {
            Placement::Scan { .. } | Placement::Code { .. } => self.leads,
            _ => None,
        });
    }
}

fn at(circuit: &Circuit, point: PointId) -> Option<ConnectorId> {
    match circuit.points.get(point.idx())?.access {
        Access::WireSide(connector) | Access::PinSide(connector) => Some(connector),
        Access::Open { .. } | Access::Inside => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lead_that_is_there_already_costs_little_and_a_set_up_costs_its_change() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let test = |text: &str| bench::parse_test(&circuit, text).unwrap();
        let mut hands = Hands::free(SetUp::default());
        let first = hands.minutes_to(&circuit, &test("voltmeter S1.3; key on"));
        // Plug S1 is 4 minutes away; then back-probing, the battery's post, and the reading itself.
        assert!(first > 4.0 && first < 6.0, "{first}");
        hands.take(&test("voltmeter S1.3; key on"));
        let beside = hands.minutes_to(&circuit, &test("voltmeter S1.1; key on"));
        assert!((beside - (PLACE_MINUTES + 0.4)).abs() < 1e-9, "{beside}");
        // The screen is where it was.
        hands.take(&test("scan pressure; key on"));
        assert!((hands.minutes_to(&circuit, &test("voltmeter S1.3; key on")) - 0.4).abs() < 1e-9);
        let apart = test("voltmeter S1.3; key on; S1 apart");
        let change = circuit::minutes_between(&circuit, hands.now(), &apart.set_up);
        assert!(change > 4.0 && hands.minutes_to(&circuit, &apart) > change);
    }

    #[test]
    fn what_was_read_in_another_set_up_left_no_lead_behind() {
        let circuit = circuit::parse(circuit::DEMO).unwrap();
        let reading = |text: &str| Reading {
            test: bench::parse_test(&circuit, text).unwrap(),
            shown: bench::Shown::OverRange,
        };
        let readings = [reading("voltmeter S1.3; key on"), reading("scan pressure; key on")];
        let here = readings[0].test.set_up.clone();
        let next = &readings[0].test;
        let minutes = |now: &SetUp| Hands::after(&readings, now).minutes_to(&circuit, next);
        assert!((minutes(&here) - 0.4).abs() < 1e-9);
        let off = circuit::parse_set_up(&circuit, "key off").unwrap();
        assert!(minutes(&off) > 4.0);
    }
}
