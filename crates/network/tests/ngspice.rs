//! Random networks against ngspice (GPL circuit simulator, Debian package `ngspice`), an independent solver.
//!
//! Tolerances set in ngspice: reltol 1e-9, vntol 1e-12 V, abstol 1e-16 A, gmin 1e-18 S, itl1 2000. What it returns is used
//! only where Kirchhoff's law holds on it, computed here by the same definitions.

mod common;

use common::spice::deck;
use common::{Mix, kirchhoff, network, solved};
use network::{Element, Netlist, NodeId};
use std::collections::HashMap;
use std::fmt::Write as _;
use std::io::Write as _;
use std::process::Command;

const NETWORKS: u64 = 216;

/// Variables of an ASCII raw file with one point.
fn read_raw(text: &str) -> Option<HashMap<String, f64>> {
    let (head, values) = text.split_once("Values:")?;
    let names = head
        .split_once("\nVariables:")?
        .1
        .lines()
        .filter_map(|line| line.split_whitespace().nth(1));
    let numbers = values.split_whitespace().skip(1).filter_map(|word| word.parse().ok());
    Some(names.map(str::to_string).zip(numbers).collect())
}

/// Volts by node and amperes by element, of ngspice's voltages; amperes by the definitions in `element.rs`.
fn answer(netlist: &Netlist, raw: &HashMap<String, f64>) -> Option<(Vec<f64>, Vec<f64>)> {
    let volts_of = |name: &str| {
        if name == "0" {
            Some(0.0)
        } else {
            raw.get(&format!("v({name})")).copied()
        }
    };
    let volts: Option<Vec<f64>> = (0..netlist.n_nodes).map(|node| volts_of(&node.to_string())).collect();
    let volts = volts?;
    let v = |node: NodeId| volts[node.0 as usize];
    let amps = netlist.iter().map(|(id, element)| {
        let k = id.0;
        Some(match *element {
            Element::Resistor { a, b, ohms } => (v(a) - v(b)) / ohms,
            Element::VoltageSource { .. } => *raw
                .get(&format!("i(v{k})"))
                .or_else(|| raw.get(&format!("v{k}#branch")))?,
            Element::CurrentSource { amps, .. } => amps,
            Element::Diode {
                anode,
                cathode,
                saturation_amps,
                thermal_volts,
                series_ohms,
            } => {
                let inner = if series_ohms > 0.0 {
                    volts_of(&format!("x{k}"))?
                } else {
                    v(anode)
                };
                saturation_amps * ((inner - v(cathode)) / thermal_volts).exp_m1()
            }
            Element::Clamp { anode, series_ohms, .. } => (v(anode) - volts_of(&format!("x{k}"))?) / series_ohms,
            Element::Output {
                supply,
                ground,
                output,
                offset_volts,
                gain,
                dropout_volts,
                ohms,
                source_limit_amps,
                sink_limit_amps,
            } => {
                let fed = v(supply) - v(ground);
                let target = (offset_volts + gain * fed).min(fed - dropout_volts);
                let own = v(output) - v(ground);
                let sourced = ((target - own) / ohms).clamp(0.0, source_limit_amps);
                sourced - ((own - target.max(0.0)) / ohms).clamp(0.0, sink_limit_amps)
            }
            Element::CurrentSink {
                from,
                to,
                amps,
                knee_volts,
            } => amps * ((v(from) - v(to)) / knee_volts).clamp(0.0, 1.0),
            Element::Lamp {
                a,
                b,
                rated_volts,
                rated_watts,
                hot_to_cold,
            } => {
                let (hot, across) = (rated_volts * rated_volts / rated_watts, v(a) - v(b));
                let rise = (across.abs() / rated_volts).powf(0.45);
                across / (hot * (hot_to_cold.powi(-4) + rise.powi(4)).powf(0.25))
            }
            _ => return None,
        })
    });
    let amps: Option<Vec<f64>> = amps.collect();
    Some((volts, amps?))
}

#[test]
fn random_networks_agree_with_ngspice() {
    if Command::new("ngspice").arg("--version").output().is_err() {
        writeln!(
            std::io::stderr(),
            "skipped: ngspice not installed (apt-get install ngspice)"
        )
        .ok();
        return;
    }
    let folder = std::env::temp_dir().join(format!("network-ngspice-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    let networks: Vec<Netlist> = (0..NETWORKS)
        .map(|seed| {
            // 5 to 200 nodes, more of the small ones.
            let n_nodes = 5 + (195.0 * ((seed % 64) as f64 / 63.0).powi(2)) as usize;
            network(
                seed,
                n_nodes,
                Mix {
                    ohms: (0.02, 1e6),
                    bent: seed % 8 != 0,
                    controlled: false,
                },
            )
        })
        .collect();
    // One process for all: a script that loads one circuit after the other.
    let mut script = String::from("all networks\n.control\nset filetype=ascii\nset noaskquit\n");
    for (at, netlist) in networks.iter().enumerate() {
        std::fs::write(folder.join(format!("{at}.cir")), deck(netlist)).unwrap();
        writeln!(script, "source {at}.cir\nop\nwrite {at}.raw\nremcirc\ndestroy all").unwrap();
    }
    script.push_str("quit\n.endc\n.end\n");
    std::fs::write(folder.join("all.cir"), script).unwrap();
    let output = Command::new("ngspice")
        .args(["-b", "all.cir"])
        .current_dir(&folder)
        .output()
        .unwrap();
    let (mut good, mut largest, mut absent, mut violates) = (0, 0, 0, 0);
    for (at, netlist) in networks.iter().enumerate() {
        let solution = solved(netlist);
        assert!(
            solution.kcl_residual_amps() < 1e-9,
            "network {at}: {}",
            solution.kcl_residual_amps()
        );
        let raw = std::fs::read_to_string(folder.join(format!("{at}.raw")))
            .ok()
            .and_then(|text| read_raw(&text));
        let Some((volts, amps)) = raw.and_then(|raw| answer(netlist, &raw)) else {
            absent += 1;
            continue;
        };
        // 5e-5: an ngspice with other constants in kT/q. Rounding of ngspice's voltages shows as current in small resistors.
        let mut noise = vec![0.0; netlist.n_nodes];
        for element in &netlist.elements {
            if let Element::Resistor { a, b, ohms } = *element {
                let current = 1e-9 * (volts[a.0 as usize].abs() + volts[b.0 as usize].abs() + 1e-3) / ohms;
                noise[a.0 as usize] += current;
                noise[b.0 as usize] += current;
            }
        }
        let sums = kirchhoff(netlist, &amps);
        if sums
            .iter()
            .zip(&noise)
            .any(|((left, size), noise)| left.abs() > 1e-10 + 5e-5 * size + noise)
        {
            violates += 1;
            continue;
        }
        good += 1;
        largest = largest.max(netlist.n_nodes);
        for (node, (ours, theirs)) in solution.node_volts.iter().zip(&volts).enumerate() {
            let allowed = 10e-6 + 1e-5 * theirs.abs();
            assert!(
                (ours - theirs).abs() <= allowed,
                "network {at} ({} nodes), node {node}: {ours} V, ngspice {theirs} V\n{}",
                netlist.n_nodes,
                deck(netlist)
            );
        }
    }
    println!("{good} networks agree; ngspice: {absent} without answer, {violates} against Kirchhoff's law");
    assert!(
        good >= 200 && largest >= 190,
        "{good} comparable, up to {largest} nodes\n{}",
        String::from_utf8_lossy(&output.stderr)
    );
    std::fs::remove_dir_all(&folder).unwrap();
}
