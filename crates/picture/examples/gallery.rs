#[path = "../tests/common/mod.rs"]
mod common;
use picture::*;
fn main() {
    let dir = std::env::args().nth(1).unwrap();
    for (name, m) in common::all() {
        let mut set_up = circuit::SetUp::default();
        let mut marks = Marks::default();
        if name == "demo" {
            let c = |n: &str| m.circuit.connectors.iter().position(|c| m.circuit.parts[c.part.idx()].id == n).unwrap();
            set_up.apart.insert(circuit::ConnectorId::from(c("S1")));
            marks.flags = vec![
                Flag { point: m.at("S1.1"), big: "5.02 V".into(), small: "should be 5.0".into(), tone: Tone::Plain },
                Flag { point: m.at("S1.2"), big: "0.02 V".into(), small: "tells nothing yet".into(), tone: Tone::Plain },
                Flag { point: m.at("S1.3"), big: "10.4 V".into(), small: "should be 0.0 V".into(), tone: Tone::Off },
                Flag { point: m.at("M1.27"), big: "10.3 V".into(), small: "should be 0.0 V".into(), tone: Tone::Off },
                Flag { point: m.at("M1.27"), big: "dim".into(), small: "should be off".into(), tone: Tone::Off },
                Flag { point: m.at("K2/87"), big: "12.1 V".into(), small: "should be 12.2 V".into(), tone: Tone::Plain },
            ];
            marks.suspicions = vec![
                Suspicion { place: SuspectPlace::Points(vec![m.at("floor.7/a"), m.at("floor.8/a"), m.at("floor.7/b"), m.at("floor.8/b")]), strength: 0.57, label: "57 %".into() },
                Suspicion { place: SuspectPlace::Branches(["W22", "W23"].map(|w| circuit::BranchId::from(m.circuit.branches.iter().position(|b| b.path == w).unwrap())).to_vec()), strength: 0.2, label: "24 %".into() },
                Suspicion { place: SuspectPlace::Points(vec![m.at("M1.27/pin")]), strength: 0.06, label: "6 %".into() },
            ];
            marks.next = Some(Next { points: vec![m.at("floor.7/a"), m.at("floor.7/b")], label: "measure here next".into() });
            marks.chosen = Chosen { red: Some(m.at("C5.1")), black: Some(m.circuit.battery_minus) };
        }
        if name == "demo" {
            let floor = m.circuit.connectors.iter().position(|c| m.circuit.parts[c.part.idx()].id == "floor").unwrap();
            std::fs::write(format!("{dir}/face.svg"), connector_face(&m.circuit, circuit::ConnectorId::from(floor), 0, &marks, &Look::default())).unwrap();
            let p = wiring(&m.circuit, &set_up, &marks, &Look { fill_width: 948.0, ..Look::default() });
            let x = |n: &str| p.anchors[m.at(n).idx()].map(|(x, _)| x);
            let place = |n: &str, name: &str, h: f64, ring: Option<(f64, &str)>| PathPlace { name: name.into(), x: x(n), healthy: Some(h), measured: ring.map(|(v, l)| Ring { volts: v, label: l.into(), tone: Tone::Off }).into_iter().collect() };
            let path = Path { title: "Voltage along the signal wire".into(), places: vec![
                place("M1.27/pin", "module pin 27", 0.0, None), place("M1.27", "", 0.0, Some((10.3, "10.3 V"))),
                place("floor.7/a", "floor joint", 0.0, None), place("floor.7/b", "", 0.0, None), place("S1.3", "sensor plug", 0.0, Some((10.4, "10.4 V"))) ],
                bands: vec![Band { label: "if the joint is wet".into(), strength: 0.57, volts: vec![Some((9.0, 11.0)), Some((9.4, 11.0)), Some((9.5, 11.1)), Some((9.5, 11.1)), Some((9.5, 11.1))] },
                   Band { label: "if the module leaks".into(), strength: 0.06, volts: vec![Some((4.0, 6.0)), Some((4.0, 6.0)), Some((3.5, 6.0)), None, Some((3.0, 6.0))] }] };
            std::fs::write(format!("{dir}/stairs.svg"), staircase(&path, 286.0, &Look { fill_width: p.width, ..Look::default() })).unwrap();
        }
        let p = wiring(&m.circuit, &set_up, &marks, &Look { fill_width: 948.0, ..Look::default() });
        std::fs::write(format!("{dir}/{name}.svg"), p.svg).unwrap();
        println!("{name} {} x {}", p.width, p.height);
    }
}
