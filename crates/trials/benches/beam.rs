//! What the beam of the two-step lookahead loses against looking at everything: `cargo bench -p trials --bench beam`.
//!
//! Vehicles are drawn for each built-in circuit and searched the product's way for a few readings; at each step the choice
//! is made twice, with the beam and without: every test that tells anything as the first, and every one as the second, in
//! the same set-ups. Told are the expected costs of the job by either (both by the same reckoning; the beam's is an upper
//! bound, for it has seen fewer second tests), and the times. After `--`: vehicles a circuit, readings of each, and names of circuits
//! (all if left out; minutes each).
#![expect(clippy::print_stdout, reason = "a table of losses is what it is for")]

use std::error::Error;
use std::time::Instant;

use diagnosis::{Beam, Case, Hands, Intake, Options, Predictions, Scene, propose, weigh};
use trials::{BUILT_IN, Vehicle, Yard};

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let numbers: Vec<u64> = words.iter().filter_map(|word| word.parse().ok()).collect();
    let named = |name: &str| words.iter().any(|word| word == name);
    let any_named = BUILT_IN.iter().any(|of| named(of.name));
    let (n_vehicles, n_readings) = (
        numbers.first().copied().unwrap_or(2),
        numbers.get(1).copied().unwrap_or(3),
    );
    println!(
        "{:<18} {:>7} {:>10} {:>10} {:>9} {:>9}",
        "circuit", "choices", "mean loss", "worst loss", "beam ms", "all ms"
    );
    let (mut all, mut worst_of_all) = (Vec::new(), 0.0_f64);
    for of in BUILT_IN.iter().filter(|of| !any_named || named(of.name)) {
        let yard = Yard::built_in(of)?;
        let mut losses = Vec::new();
        let (mut narrow_ms, mut wide_ms) = (0.0, 0.0);
        for job in 0..n_vehicles {
            let vehicle = Vehicle::draw(&yard, 1, job, None);
            let mut memory = Predictions::default();
            let mut hands = Hands::free(yard.complaint.clone());
            let (intake, mut readings) = (Intake::default(), Vec::new());
            for _ in 0..n_readings {
                let case = Case::new(&intake, &readings);
                let belief = weigh(&yard.bench, &yard.circuit, &yard.faults, &case, &mut memory)?;
                let scene = Scene {
                    bench: &yard.bench,
                    circuit: &yard.circuit,
                    faults: &yard.faults,
                    belief: &belief,
                    readings: &readings,
                    now: hands.now(),
                };
                let with = |beam: Beam| Options {
                    cranking: yard.cranking,
                    beam,
                    ..Options::default()
                };
                // Both find the bench's answers in memory.
                propose(&scene, &mut memory, &with(Beam::ALL))?;
                let begun = Instant::now();
                let narrow = propose(&scene, &mut memory, &with(Beam::USUAL))?;
                narrow_ms += begun.elapsed().as_secs_f64() * 1e3;
                let begun = Instant::now();
                let wide = propose(&scene, &mut memory, &with(Beam::ALL))?;
                wide_ms += begun.elapsed().as_secs_f64() * 1e3;
                if let (Some(beam), Some(all)) = (narrow.outlook, wide.outlook) {
                    losses.push((beam / all - 1.0).max(0.0));
                }
                let Some(first) = narrow.proposals.first() else { break };
                for test in &first.tests {
                    let reading = vehicle.answer(test, readings.len())?;
                    hands.take(test);
                    readings.push(reading);
                }
            }
        }
        let n = losses.len().max(1) as f64;
        let worst = losses.iter().copied().fold(0.0, f64::max);
        worst_of_all = worst_of_all.max(worst);
        println!(
            "{:<18} {:>7} {:>8.2} % {:>8.2} % {:>9.0} {:>9.0}",
            yard.name,
            losses.len(),
            100.0 * losses.iter().sum::<f64>() / n,
            100.0 * worst,
            narrow_ms / n,
            wide_ms / n
        );
        all.extend(losses);
    }
    let n = all.len().max(1) as f64;
    println!(
        "{:<18} {:>7} {:>8.2} % {:>8.2} %",
        "all",
        all.len(),
        100.0 * all.iter().sum::<f64>() / n,
        100.0 * worst_of_all
    );
    Ok(())
}
