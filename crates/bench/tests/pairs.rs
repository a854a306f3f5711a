//! Pairs of faults in a sweep against each pair predicted alone.

mod common;

use bench::{Bench, Hypothesis, Kind, PairRoom, Predict, Question, parse_test};
use circuit::{Fault, possible_faults};
use std::sync::Arc;

/// Three severities of a fault over its range.
fn severities(fault: &Fault) -> Vec<f64> {
    let Some(range) = fault.severity else { return vec![0.0] };
    [0.1, 0.5, 0.9]
        .map(|share| {
            if range.logarithmic {
                range.low * (range.high / range.low).powf(share)
            } else {
                range.low + (range.high - range.low) * share
            }
        })
        .to_vec()
}

#[test]
fn every_swept_pair_reads_as_it_is_predicted_alone() {
    let circuit = Arc::new(circuit::parse(circuit::DEMO).expect("the demo"));
    let bench = Bench::new(Arc::clone(&circuit)).expect("the demo solves");
    let faults = possible_faults(&circuit);
    for text in [
        "voltmeter S1.3 battery-; key on; fan commanded",
        "voltmeter S1.1 S1.2; key on; S1 apart",
        "voltmeter M1.27 battery-; key running",
    ] {
        let test = parse_test(&circuit, text).expect(text);
        let pairs = bench.pairs(&test, &[], &faults).expect(text).expect("it can be swept");
        let taken = (0..faults.len()).filter(|&fault| pairs.takes(fault)).count();
        assert!(taken * 10 > faults.len() * 7, "{taken} of {} faults", faults.len());
        let mut room = PairRoom::default();
        let (mut compared, mut exact, mut beyond, mut worst) = (0, 0, 0, 0.0_f64);
        // Pairs scattered over all of them, by a step that has no factor in common with their number.
        let n = faults.len() * faults.len();
        for k in 0..400 {
            let pair = (k * 7919 + 13) % n;
            let (one, other) = (pair / faults.len(), pair % faults.len());
            if one == other {
                continue;
            }
            let at = [severities(&faults[one]), severities(&faults[other])];
            let Some(read) = pairs.read([one, other], [&at[0], &at[1]], &mut room) else {
                continue;
            };
            let hypotheses: Vec<Hypothesis<'_>> = at[0]
                .iter()
                .flat_map(|&first| at[1].iter().map(move |&second| (first, second)))
                .map(|(first, second)| Hypothesis {
                    faults: vec![(&faults[one], first), (&faults[other], second)],
                })
                .collect();
            let alone = bench
                .predict(Question::of(&hypotheses, &test))
                .expect("a good question");
            assert_eq!(read.len(), alone.predictions.len());
            for (volts, prediction) in read.iter().zip(&alone.predictions) {
                if volts.is_nan() {
                    beyond += 1;
                    continue;
                }
                assert_eq!(prediction.kind, Kind::Number);
                let off = (volts - prediction.value).abs();
                worst = worst.max(off);
                // A voltmeter whose load moves its reading by less than 0.5 mV is taken to first order in the one; and an
                // output without supply may idle or sink, which are both stable and a few millivolts apart.
                exact += usize::from(off < 1e-7);
                assert!(
                    off < 5e-3,
                    "{text}: {} and {}: {volts} V, alone {} V",
                    faults[one].path,
                    faults[other].path,
                    prediction.value
                );
                compared += 1;
            }
        }
        assert!(exact * 10 > compared * 9, "{exact} of {compared} within 0.1 µV");
        println!("{text}: {compared} compared, {exact} within 0.1 µV, worst {worst:.1e} V, {beyond} beyond");
        assert!(compared > 2 * beyond, "{compared} compared, {beyond} beyond");
    }
}

#[test]
fn all_pairs_come_in_order_and_only_a_voltmeter_is_swept() {
    let circuit = Arc::new(circuit::parse(circuit::DEMO).expect("the demo"));
    let bench = Bench::new(Arc::clone(&circuit)).expect("the demo solves");
    let faults = &possible_faults(&circuit)[..40];
    let test = parse_test(&circuit, "voltmeter S1.3; key on").expect("a test");
    let pairs = bench.pairs(&test, &[], faults).expect("solves").expect("sweeps");
    let all: Vec<Vec<f64>> = faults.iter().map(severities).collect();
    let bits = |read: &[f64]| read.iter().map(|volts| volts.to_bits()).collect::<Vec<_>>();
    let swept = pairs.all(&all, |_, read| bits(read));
    assert!(swept.windows(2).all(|two| two[0].0 < two[1].0));
    let mut room = PairRoom::default();
    for (pair, found) in &swept {
        let read = pairs
            .read(*pair, [&all[pair[0]], &all[pair[1]]], &mut room)
            .expect("it was taken");
        assert_eq!(&bits(read), found, "{pair:?}");
    }
    let scan = parse_test(&circuit, "scan pressure; key on").expect("a test");
    assert!(bench.pairs(&scan, &[], faults).expect("solves").is_none());
}
