//! quick
use trials::*;
fn main() {
    let jobs: u64 = std::env::args().nth(1).unwrap().parse().unwrap();
    let strategies: Vec<Strategy> = Strategy::ALL
        .into_iter()
        .filter(|s| std::env::args().skip(2).any(|a| a == s.name()))
        .collect();
    let t = std::time::Instant::now();
    let yards: Vec<Yard> = BUILT_IN.iter().map(|b| Yard::built_in(b).unwrap()).collect();
    eprintln!("yards {:?}", t.elapsed());
    let only = std::env::var("ONLY").ok();
    let job1 = std::env::var("JOB").ok().map(|j| j.parse::<u64>().unwrap());
    for yard in yards.iter().filter(|y| only.as_ref().is_none_or(|o| *o == y.name)) {
        let one = std::slice::from_ref(yard);
        let t = std::time::Instant::now();
        let plan = Plan {
            yards: one,
            jobs,
            seed: 1,
            strategies: strategies.clone(),
            differs: None,
            threads: 2,
        };
        if let Some(j) = job1 {
            let mut m = Default::default();
            println!("{:#?}", job(&plan, j, &mut m).unwrap());
            continue;
        }
        let records = run(&plan, &|| ()).unwrap();
        eprintln!("{} {} faults {:?}", yard.name, yard.faults.len(), t.elapsed());
        for s in &strategies {
            println!(
                "{} {:?}",
                s.name(),
                Figures::of(records.iter().filter(|r| r.strategy == *s))
            );
        }
        for r in records
            .iter()
            .filter(|r| !r.harms.is_empty() || (!r.right && r.chance > 0.9))
        {
            println!("{r:?}");
        }
    }
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    eprintln!("{}", status.lines().find(|l| l.starts_with("VmHWM")).unwrap());
}
