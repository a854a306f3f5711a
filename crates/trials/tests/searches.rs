//! A few searches that can go wrong: named falsely, harmful, or not the same twice.
//!
//! Limits come from binomial chances: a run as bad would happen to a product as good as is asked once in a thousand runs.
//! The seed is fixed, so it happens always or never; a change of the reasoning that makes it worse shows here.

use bench::Shown;
use diagnosis::Predictions;
use statrs::distribution::{Binomial, DiscreteCDF as _};
use trials::{BUILT_IN, Differs, Figures, Plan, Record, Strategy, Vehicle, Yard, job, run};

fn yards(names: &[&str]) -> Vec<Yard> {
    let of = |name: &&str| BUILT_IN.iter().find(|one| one.name == *name).expect("built in");
    names
        .iter()
        .map(|name| Yard::built_in(of(name)).expect("a yard"))
        .collect()
}

fn plan(yards: &[Yard], jobs: u64, strategies: Vec<Strategy>) -> Plan<'_> {
    Plan {
        yards,
        jobs,
        seed: 11,
        strategies,
        differs: None,
        threads: 2,
    }
}

/// The most events of this chance in `n` that are not beyond luck: more come less than once in a thousand times.
fn most_by_luck(n: usize, chance: f64) -> usize {
    let count = Binomial::new(chance, n as u64).expect("a chance");
    (0..=n).find(|&k| count.sf(k as u64) < 1e-3).unwrap_or(n)
}

#[test]
fn luck_is_counted_rightly() {
    // By hand: of 10 at 2 %, three or more come with chance 8.6e-4, two or more with 0.016.
    assert_eq!(most_by_luck(10, 0.02), 2);
    assert_eq!(most_by_luck(0, 0.02), 0);
}

#[test]
fn small_circuits_are_searched_rightly_and_without_harm() {
    let yards = yards(&["lamps", "starter"]);
    let records = run(&plan(&yards, 24, vec![Strategy::Product]), &|| ()).unwrap();
    let figures = Figures::of(&records);
    println!("{figures:#?}");
    assert_eq!((figures.jobs, figures.harmful, figures.too_long), (24, 0, 0));
    assert!(
        figures.certain_wrong <= most_by_luck(figures.certain, 0.02),
        "{figures:#?}"
    );
    // At least three in four should have the fault in the first group: as many misses as are not beyond luck.
    assert!(24 - figures.group_right <= most_by_luck(24, 0.25), "{figures:#?}");
    // It names something, and knows that it is right: else nothing above was tried.
    assert!(figures.named >= 6, "{figures:#?}");
    assert!(
        records
            .iter()
            .all(|record| record.minutes > 0.0 && record.cost >= record.minutes)
    );
}

#[test]
fn a_job_comes_out_the_same_alone_on_one_core_and_beside_others() {
    let yards = yards(&["starter"]);
    let strategies = vec![Strategy::Product, Strategy::Random, Strategy::OneStep];
    let mut plan = plan(&yards, 4, strategies);
    let beside = run(&plan, &|| ()).unwrap();
    plan.threads = 1;
    assert_eq!(run(&plan, &|| ()).unwrap(), beside);
    let alone = job(&plan, 3, &mut Predictions::default()).unwrap();
    assert_eq!(alone, beside[9..].to_vec());
    // The same vehicle, whatever the strategy.
    let same = |a: &Record, b: &Record| (&a.fault, a.severity) == (&b.fault, b.severity);
    assert!(alone.iter().all(|record| same(record, &alone[0])));
}

#[test]
fn the_same_vehicles_cost_less_by_the_products_way_than_by_the_chart() {
    let yards = yards(&["lamps"]);
    let records = run(&plan(&yards, 4, vec![Strategy::Product, Strategy::FixedOrder]), &|| ()).unwrap();
    let of = |strategy| Figures::of(records.iter().filter(|record| record.strategy == strategy));
    let (product, chart) = (of(Strategy::Product), of(Strategy::FixedOrder));
    println!("{product:#?}\n{chart:#?}");
    assert!(product.minutes < chart.minutes && product.readings < chart.readings);
}

#[test]
fn a_cause_that_is_not_on_the_list_is_none_of_it_and_yet_shows() {
    let yards = yards(&["lamps"]);
    let yard = &yards[0];
    let test = |text| bench::parse_test(&yard.circuit, text).unwrap();
    let current = test("clamp battery; key on; tail commanded; stop commanded");
    let shown = |differs| -> Vec<Shown> {
        let vehicles = (0..20).map(|number| Vehicle::draw(yard, 5, number, differs));
        vehicles
            .map(|vehicle| {
                assert!(differs != Some(Differs::Unlisted) || vehicle.fault.is_none());
                vehicle.answer(&current, 0).unwrap().shown
            })
            .collect()
    };
    let (as_filed, unlisted) = (shown(None), shown(Some(Differs::Unlisted)));
    let differ = as_filed.iter().zip(&unlisted).filter(|(a, b)| a != b).count();
    assert!(differ >= 10, "{as_filed:?}\n{unlisted:?}");
}

#[test]
fn a_lead_across_the_battery_is_harm_and_a_voltmeter_is_none() {
    let yards = yards(&["lamps"]);
    let yard = &yards[0];
    let vehicle = Vehicle::draw(yard, 1, 0, None);
    let harms = |text| {
        let test = bench::parse_test(&yard.circuit, text).unwrap();
        diagnosis::harm(&yard.bench, &yard.circuit, &vehicle.broken(), &test).unwrap()
    };
    assert!(!harms("ammeter battery+ battery-; key on").is_empty());
    assert!(harms("voltmeter battery+ battery-; key on").is_empty());
}
