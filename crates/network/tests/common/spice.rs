//! A netlist as an ngspice deck without its analysis: diodes are ngspice's own D model with N = thermal voltage / (kT/q at
//! 27 °C); outputs, sinks and lamps are B sources written from the definitions in `element.rs`.

#![expect(clippy::unwrap_used, reason = "a test helper fails by panicking")]

use network::{BREAKDOWN_AMPS, Element, Netlist, NodeId};
use std::fmt::Write as _;

/// kT/q at 27 °C with the constants that ngspice 39 has (CODATA 2014); those of 2018 would move a diode by 0.3 µV.
const SPICE_THERMAL_VOLTS: f64 = 1.380_648_52e-23 / 1.602_176_620_8e-19 * 300.15;
/// Saturation current of the diode that stands for a clamp's breakdown.
const SMALL_AMPS: f64 = 1e-16;

pub(crate) fn deck(netlist: &Netlist) -> String {
    let mut deck =
        String::from("* random network\n.options reltol=1e-9 vntol=1e-12 abstol=1e-16 gmin=1e-18 itl1=2000\n");
    let models = &mut String::new();
    for (id, element) in netlist.iter() {
        let k = id.0;
        let d = &mut deck;
        match *element {
            Element::Resistor { a: NodeId(a), b: NodeId(b), ohms } => writeln!(d, "R{k} {a} {b} {ohms:e}"),
            Element::VoltageSource { plus: NodeId(a), minus: NodeId(b), volts, ohms: 0.0 } => {
                writeln!(d, "V{k} {a} {b} {volts:e}")
            }
            Element::VoltageSource { plus: NodeId(a), minus: NodeId(b), volts, ohms } => {
                writeln!(d, "V{k} x{k} {b} {volts:e}\nR{k} {a} x{k} {ohms:e}")
            }
            Element::CurrentSource { from: NodeId(a), to: NodeId(b), amps } => writeln!(d, "I{k} {a} {b} {amps:e}"),
            Element::Diode { anode: NodeId(a), cathode: NodeId(b), saturation_amps, thermal_volts, series_ohms } => {
                writeln!(models, ".model m{k} D(IS={saturation_amps:e} N={:e})", thermal_volts / SPICE_THERMAL_VOLTS).unwrap();
                if series_ohms > 0.0 {
                    writeln!(d, "R{k} {a} x{k} {series_ohms:e}\nD{k} x{k} {b} m{k}")
                } else {
                    writeln!(d, "D{k} {a} {b} m{k}")
                }
            }
            Element::Clamp { anode: NodeId(a), cathode: NodeId(b), saturation_amps, thermal_volts, breakdown_volts, series_ohms } => {
                let n = thermal_volts / SPICE_THERMAL_VOLTS;
                let breakdown = breakdown_volts - thermal_volts * (BREAKDOWN_AMPS / SMALL_AMPS).ln();
                writeln!(models, ".model m{k} D(IS={saturation_amps:e} N={n:e})").unwrap();
                writeln!(models, ".model n{k} D(IS={SMALL_AMPS:e} N={n:e})").unwrap();
                writeln!(d, "R{k} {a} x{k} {series_ohms:e}\nD{k} x{k} {b} m{k}\nDB{k} {b} y{k} n{k}\nV{k} y{k} x{k} {breakdown:e}")
            }
            Element::Output { supply: NodeId(s), ground: NodeId(g), output: NodeId(o), offset_volts, gain, dropout_volts, ohms, source_limit_amps, sink_limit_amps } => {
                let target = format!("min({offset_volts:e}+{gain:e}*V({s},{g}),V({s},{g})-{dropout_volts:e})");
                let sourced = format!("(({target})-V({o},{g}))/{ohms:e}");
                let sunk = format!("(max(0,{target})-V({o},{g}))/{ohms:e}");
                writeln!(d, "BP{k} {s} {o} I=max(0,min({sourced},{source_limit_amps:e}))\nBN{k} {g} {o} I=min(0,max({sunk},{:e}))", -sink_limit_amps)
            }
            Element::CurrentSink { from: NodeId(a), to: NodeId(b), amps, knee_volts } => {
                writeln!(d, "B{k} {a} {b} I={amps:e}*max(0,min(1,V({a},{b})/{knee_volts:e}))")
            }
            Element::Lamp { a: NodeId(a), b: NodeId(b), rated_volts, rated_watts, hot_to_cold } => {
                let hot = rated_volts * rated_volts / rated_watts;
                let v = format!("V({a},{b})");
                writeln!(d, "B{k} {a} {b} I={v}/({hot:e}*({:e}+(abs({v})/{rated_volts:e})^1.8)^0.25)", hot_to_cold.powi(-4))
            }
            _ => panic!("not generated: {element:?}"),
        }
        .unwrap();
    }
    deck.push_str(models);
    deck.push_str(".end\n");
    deck
}
