//! The minutes that a search really takes: one clock for every strategy.
//!
//! A set-up costs what changing to it costs; a lead that is already at a connector only has to be placed, one that stays
//! where it is costs nothing.

use bench::{Placement, Probe, Test};
use circuit::{Access, Circuit, ConnectorId, PointId, SetUp};
use diagnosis::{reading_minutes, touched};

/// Minutes to place a probe at a connector that is reached already. Common practice, no source.
const PLACE_MINUTES: f64 = 0.5;
/// The longest that anybody waits or works for one set-up, minutes: one that cannot be had is tried for this long.
const MOST_MINUTES: f64 = 240.0;

/// How the vehicle stands, where the leads are, and how long it took.
#[derive(Clone, Debug)]
pub(crate) struct Clock {
    pub(crate) now: SetUp,
    pub(crate) minutes: f64,
    leads: Option<(PointId, PointId)>,
}

impl Clock {
    /// At the complaint. The black lead is on battery negative, as always at first.
    pub(crate) fn new(now: SetUp) -> Self {
        Self {
            now,
            minutes: 0.0,
            leads: None,
        }
    }

    /// Minutes until this test has been read.
    pub(crate) fn to(&self, circuit: &Circuit, test: &Test) -> f64 {
        let change = circuit::minutes_between(circuit, &self.now, &test.set_up).min(MOST_MINUTES);
        change + self.leads_to(circuit, test) + reading_minutes(&test.placement)
    }

    fn leads_to(&self, circuit: &Circuit, test: &Test) -> f64 {
        let Some((red, black)) = touched(&test.placement) else {
            return 0.0;
        };
        let probes = bench::reachable(circuit, &test.set_up);
        let kept = self.leads.filter(|_| self.now == test.set_up);
        let way = |to: PointId, from: Option<PointId>| match from {
            Some(from) if from == to => 0.0,
            Some(from) if at(circuit, from).is_some() && at(circuit, from) == at(circuit, to) => PLACE_MINUTES,
            _ => minutes(&probes, to),
        };
        // Both leads at one connector: reached once.
        let together = at(circuit, red).is_some() && at(circuit, red) == at(circuit, black);
        let red_way = way(red, kept.map(|leads| leads.0));
        let black_way = way(black, kept.map(|leads| leads.1));
        if together {
            red_way.max(black_way)
        } else {
            red_way + black_way
        }
    }

    /// Does it.
    pub(crate) fn take(&mut self, circuit: &Circuit, test: &Test) {
        self.minutes += self.to(circuit, test);
        if self.now != test.set_up {
            self.leads = None;
        }
        self.now = test.set_up.clone();
        self.leads = touched(&test.placement).or(match test.placement {
            Placement::Scan { .. } | Placement::Code { .. } => self.leads,
            _ => None,
        });
    }
}

fn minutes(probes: &[Probe], point: PointId) -> f64 {
    let probe = probes.iter().find(|probe| probe.point == point);
    probe.map_or(MOST_MINUTES, |probe| probe.minutes)
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
        let mut clock = Clock::new(SetUp::default());
        let first = clock.to(&circuit, &test("voltmeter S1.3; key on"));
        // Plug S1 is 4 minutes away; then back-probing, the battery's post, and the reading itself.
        assert!(first > 4.0 && first < 6.0, "{first}");
        clock.take(&circuit, &test("voltmeter S1.3; key on"));
        let beside = clock.to(&circuit, &test("voltmeter S1.1; key on"));
        assert!((beside - (PLACE_MINUTES + 0.4)).abs() < 1e-9, "{beside}");
        // The screen is where it was.
        clock.take(&circuit, &test("scan pressure; key on"));
        assert!((clock.to(&circuit, &test("voltmeter S1.3; key on")) - 0.4).abs() < 1e-9);
        assert!((clock.minutes - first - 0.3).abs() < 1e-9);
        let apart = test("voltmeter S1.3; key on; S1 apart");
        let change = circuit::minutes_between(&circuit, &clock.now, &apart.set_up);
        assert!(change > 4.0 && clock.to(&circuit, &apart) > change);
    }
}
