//! Networks that nobody would draw.

use network::{Element, ElementId, Netlist, NodeId};
use rand::{RngExt, SeedableRng};
use rand_pcg::Pcg64Mcg;

/// A few elements of any kind between any nodes (some absent), with values of which many are extreme or senseless.
pub(crate) fn anything(seed: u64) -> Netlist {
    let rng = &mut Pcg64Mcg::seed_from_u64(seed);
    let n_nodes = rng.random_range(0..7);
    // In every other network all values are allowed ones, to get past the checks.
    let sane = rng.random_bool(0.5);
    let n_elements = rng.random_range(0..12);
    let elements = (0..n_elements).map(|_| {
        let mut node = || {
            NodeId(if sane {
                rng.random_range(0..n_nodes.max(1))
            } else {
                rng.random_range(0..=n_nodes)
            } as u32)
        };
        let (a, b, c, d) = (node(), node(), node(), node());
        let odd = [
            0.0,
            1e-3,
            1e15,
            1e-12,
            -1.0,
            f64::NAN,
            f64::INFINITY,
            1e300,
            -1e-300,
            5.0,
        ];
        let mut value = |low: f64, high: f64| {
            if sane || rng.random_bool(0.9) {
                low * (high / low).powf(rng.random())
            } else {
                odd[rng.random_range(0..odd.len())]
            }
        };
        let (x, y, z, small) = (
            value(1e-3, 1e12),
            value(0.1, 100.0),
            value(1e-3, 1e3),
            value(1e-16, 1e-6),
        );
        let flag = rng.random_bool(0.5);
        let zero_or = |v: f64| if flag { 0.0 } else { v };
        match rng.random_range(0..15) {
            0 | 14 => Element::Resistor {
                a,
                b,
                ohms: if rng.random_bool(0.2) { 0.0 } else { x },
            },
            1 => Element::VoltageSource {
                plus: a,
                minus: b,
                volts: y,
                ohms: zero_or(z),
            },
            2 => Element::CurrentSource {
                from: a,
                to: b,
                amps: z,
            },
            3 => Element::VoltageControlledCurrent {
                plus: a,
                minus: b,
                control_plus: c,
                control_minus: d,
                siemens: z,
            },
            4 => Element::VoltageControlledVoltage {
                plus: a,
                minus: b,
                control_plus: c,
                control_minus: d,
                gain: z,
            },
            5 => Element::CurrentControlledVoltage {
                plus: a,
                minus: b,
                through: ElementId(rng.random_range(0..12)),
                ohms: z,
            },
            6 => Element::Diode {
                anode: a,
                cathode: b,
                saturation_amps: small,
                thermal_volts: 0.03 * y,
                series_ohms: zero_or(z),
            },
            7 => Element::Clamp {
                anode: a,
                cathode: b,
                saturation_amps: small,
                thermal_volts: 0.03,
                breakdown_volts: y,
                series_ohms: zero_or(z),
            },
            8 => Element::Output {
                supply: a,
                ground: b,
                output: c,
                offset_volts: y,
                gain: zero_or(z),
                dropout_volts: 0.5,
                ohms: z,
                source_limit_amps: z,
                sink_limit_amps: zero_or(z),
            },
            9 => Element::CurrentSink {
                from: a,
                to: b,
                amps: z,
                knee_volts: y,
            },
            10 => Element::Lamp {
                a,
                b,
                rated_volts: y,
                rated_watts: z,
                hot_to_cold: 1.0 + y,
            },
            11 => Element::RelayContact {
                a,
                b,
                closed_ohms: zero_or(z),
                coil_plus: c,
                coil_minus: d,
                pull_in_volts: y,
                drop_out_volts: 0.4 * y,
                normally_closed: flag,
            },
            12 => Element::Fuse {
                a,
                b,
                ohms: zero_or(z),
                rating_amps: y,
            },
            _ => Element::Driver {
                a,
                b,
                on_ohms: zero_or(z),
                off_ohms: x,
                limit_amps: y,
                commanded: flag,
            },
        }
    });
    let elements = elements.collect();
    Netlist { n_nodes, elements }
}
