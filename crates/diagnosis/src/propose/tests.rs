//! The demo circuit: what is proposed, what is refused.

use std::sync::Arc;

use bench::{Bench, parse_shown};
use circuit::{Fault, possible_faults};

use super::*;
use crate::{Case, Intake, weigh};

struct Shop {
    circuit: Arc<Circuit>,
    faults: Vec<Fault>,
    bench: Bench,
    readings: Vec<Reading>,
}

impl Shop {
    /// The demo circuit with these readings: (test, what it showed).
    fn demo(readings: &[(&str, &str)]) -> Self {
        let circuit = Arc::new(circuit::parse(circuit::DEMO).unwrap());
        let faults = possible_faults(&circuit);
        let bench = Bench::new(Arc::clone(&circuit)).unwrap();
        let mut shop = Self {
            circuit,
            faults,
            bench,
            readings: Vec::new(),
        };
        shop.readings = readings
            .iter()
            .map(|(test, shown)| {
                let test = shop.test(test);
                let shown = parse_shown(shown, &test.placement, &shop.circuit).unwrap();
                Reading { test, shown }
            })
            .collect();
        shop
    }

    fn test(&self, text: &str) -> Test {
        bench::parse_test(&self.circuit, text).unwrap()
    }

    fn with<T>(&self, now: &SetUp, ask: impl FnOnce(&Scene<'_, '_>, &mut Predictions) -> T) -> T {
        let mut predictions = Predictions::default();
        let intake = Intake {
            water: true,
            ..Intake::default()
        };
        let belief = weigh(
            &self.bench,
            &self.circuit,
            &self.faults,
            &Case::new(&intake, &self.readings),
            &mut predictions,
        )
        .unwrap();
        let scene = Scene {
            bench: &self.bench,
            circuit: &self.circuit,
            faults: &self.faults,
            belief: &belief,
            readings: &self.readings,
            now,
        };
        ask(&scene, &mut predictions)
    }
}

/// A sensor plug apart with a feed leaking into its signal: what was read first on the demo's van.
const LEAK: [(&str, &str); 2] = [
    ("scan pressure; fan commanded", "32 bar"),
    ("voltmeter S1.3 battery-; S1 apart; fan commanded", "10.40 V"),
];

fn commanded(shop: &Shop) -> SetUp {
    shop.test("scan pressure; fan commanded").set_up
}

#[test]
fn proposals_are_safe_within_reach_new_and_the_best_comes_first() {
    let shop = Shop::demo(&LEAK);
    let now = commanded(&shop);
    shop.with(&now, |scene, predictions| {
        let proposed = propose(scene, predictions, &Options::default()).unwrap();
        let proposals = &proposed.proposals;
        assert!(proposals.len() >= 2, "{proposals:?}");
        for proposal in proposals {
            assert_eq!(proposal.judgement.verdict, Verdict::Safe);
            assert!(proposal.bits >= LEAST_BITS && proposal.minutes > 0.0 && proposal.minutes.is_finite());
            assert!(!proposal.outcomes.is_empty() && proposal.tests.len() == proposal.probes.len());
            let set_ups: Vec<&SetUp> = proposal.tests.iter().map(|test| &test.set_up).collect();
            assert!(set_ups.windows(2).all(|pair| pair[0] == pair[1]), "one set-up");
            for (test, probe) in proposal.tests.iter().zip(&proposal.probes) {
                assert!(
                    !shop.readings.iter().any(|reading| reading.test == *test),
                    "done already"
                );
                let reached = bench::reachable(&shop.circuit, &test.set_up);
                assert!(probe.is_none_or(|probe| reached.contains(&probe)));
            }
        }
        let again = propose(scene, &mut Predictions::default(), &Options::default()).unwrap();
        assert_eq!(proposed, again, "equal inputs, equal answers, whatever is remembered");
    });
}

#[test]
fn only_tests_on_offer_are_proposed_and_of_those_only_safe_ones() {
    let shop = Shop::demo(&LEAK);
    let now = commanded(&shop);
    let harmless = [
        "voltmeter floor.7/a battery-; S1 apart; fan commanded",
        "clamp W13; fan commanded",
    ];
    let harmful = [
        "light S1.1 battery-; fan commanded",
        "ammeter S1.1 battery-; S1 apart; fan commanded",
    ];
    let tests = |texts: &[&str]| texts.iter().map(|text| shop.test(text)).collect::<Vec<Test>>();
    shop.with(&now, |scene, predictions| {
        let offered = tests(&[harmless, harmful].concat());
        let options = Options {
            allowed: Some(&offered),
            ..Options::default()
        };
        let proposals = propose(scene, predictions, &options).unwrap().proposals;
        let allowed = tests(&harmless);
        assert!(!proposals.is_empty());
        assert!(
            proposals
                .iter()
                .flat_map(|proposal| &proposal.tests)
                .all(|test| allowed.contains(test))
        );

        let offered = tests(&harmful);
        let options = Options {
            allowed: Some(&offered),
            ..Options::default()
        };
        assert_eq!(propose(scene, predictions, &options).unwrap().proposals, []);
    });
}

/// Common practice: a reference is not jumped to ground, a light from battery positive is not held to a signal or a
/// sensor ground, a signal that lights a test light carries feed voltage and is not jumped to ground.
#[test]
fn what_every_diagnostician_forbids_comes_out_of_the_circuit() {
    let shop = Shop::demo(&[
        ("scan pressure; fan commanded", "32 bar"),
        ("light S1.3 battery-; S1 apart; fan commanded", "bright"),
    ]);
    let now = commanded(&shop);
    shop.with(&now, |scene, predictions| {
        let refused = [
            "voltmeter S1.3 battery-; jumper S1.1 battery-",
            "light S1.1 battery-",
            "light S1.2 battery+; S1 apart",
            "ammeter S1.1 S1.2; S1 apart",
            "ohmmeter S1.1 S1.2",
        ];
        for text in refused {
            let judgement = judge(scene, predictions, &shop.test(text)).unwrap();
            assert_eq!(judgement.verdict, Verdict::Refused, "{text}: {:?}", judgement.dangers);
            assert!(!judgement.dangers.is_empty(), "{text}");
        }
        let jumped = "voltmeter S1.1 battery-; S1 apart; fan commanded; jumper S1.3 battery-";
        let judgement = judge(scene, predictions, &shop.test(jumped)).unwrap();
        assert_eq!(judgement.verdict, Verdict::Refused, "{:?}", judgement.dangers);
        let burns = |danger: &Danger| matches!(danger.what, DangerKind::Tool { .. } | DangerKind::Trips { .. });
        assert!(judgement.dangers.iter().any(burns), "{:?}", judgement.dangers);
    });
}

#[test]
fn a_jumper_that_starts_the_fan_says_so() {
    let shop = Shop::demo(&[]);
    shop.with(&SetUp::default(), |scene, predictions| {
        let judgement = judge(scene, predictions, &shop.test("ammeter battery+ C5.1")).unwrap();
        let acts = |danger: &Danger| matches!(&danger.what, DangerKind::Acts { words } if words.contains("fan turns"));
        assert!(judgement.dangers.iter().any(acts), "{:?}", judgement.dangers);
    });
}
