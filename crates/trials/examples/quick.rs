//! quick
use trials::*;
fn main() {
    let jobs: u64 = std::env::args().nth(1).unwrap().parse().unwrap();
    let strategies: Vec<Strategy> = Strategy::ALL.into_iter().filter(|s| std::env::args().skip(2).any(|a| a == s.name())).collect();
    let t = std::time::Instant::now();
    let yards: Vec<Yard> = BUILT_IN.iter().map(|b| Yard::built_in(b).unwrap()).collect();
    eprintln!("yards {:?}", t.elapsed());
    for yard in &yards {
        let one = std::slice::from_ref(yard);
        let t = std::time::Instant::now();
        let plan = Plan { yards: one, jobs, seed: 1, strategies: strategies.clone(), differs: None, threads: 2 };
        let records = run(&plan, &|| ()).unwrap();
        eprintln!("{} {} faults {:?}", yard.name, yard.faults.len(), t.elapsed());
        for s in &strategies {
            println!("{} {:?}", s.name(), Figures::of(records.iter().filter(|r| r.strategy == *s)));
        }
        for r in records.iter().filter(|r| !r.harms.is_empty() || (!r.right && r.chance > 0.9)) { println!("{r:?}"); }
    }
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    eprintln!("{}", status.lines().find(|l| l.starts_with("VmHWM")).unwrap());
}
