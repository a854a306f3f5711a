//! Complete circuits of our own invention against ngspice, healthy and broken, reading by reading.
//!
//! Each file of the folder `circuits/small/` named here is parsed, broken by its own possible faults, exported with each instrument in place (the
//! voltmeter's 10 MΩ too), and solved by ngspice without being told where to begin; only where it does not find an
//! operating point so is it given the exported one to begin at, and these are counted. Every answer of ngspice that is
//! used satisfies Kirchhoff's law. Volts agree within 10 µV + 1e-5 (0.1 mV on a meter at points that nothing drives),
//! amperes within 1 µA + 1e-5, ohms within 0.1 mΩ + 1e-5 (above the meter's 10 kΩ what 1e-8 of its voltage makes of them),
//! scan data within the converter's volts.

mod outside;

use outside::plan::{Plan, check};

#[test]
fn a_pedal_with_a_three_wire_track() {
    check(
        "potentiometer",
        &Plan {
            set_ups: &["key on; pedal 35 %", "key on; S1 apart", "key off; S1 apart; J1 apart"],
            faults: &[
                ("S1.2/contact resistance", 30e3),
                ("S1.3/bad terminal", 1e9),
                ("sensor/wiper/worn", 20e3),
                ("W1-W7/leak", 8e3),
                ("W6/rubbed to body", 3.0),
                ("A1.13/ground/open", 0.0),
            ],
            tests: &[
                "voltmeter S1.2",
                "voltmeter S1.2/pin",
                "voltmeter S1.1 S1.3",
                "ohmmeter S1.1/pin S1.3/pin",
                "ohmmeter S1.2 A1.12",
                "diode J1.3/a J1.2/a",
                "continuity S1.3 body",
                "ammeter S1.1 S1.1/pin",
                "light S1.1",
                "clamp W1",
                "scan pedal",
                "code P2123",
            ],
        },
    );
}

#[test]
fn a_two_wire_coolant_sensor() {
    check(
        "thermistor",
        &Plan {
            set_ups: &["key on", "key running; S1 apart", "key off; S1 apart; coolant 20 °C"],
            faults: &[
                ("S1.1/contact resistance", 900.0),
                ("W4/broken", 0.0),
                ("W3/rubbed to body", 40.0),
                ("S1.1-2/a/leak", 5e3),
                ("engine/A1.5/leak to feed", 2e3),
                ("A1.5/pull_up/drifted up", 3.0),
            ],
            tests: &[
                "voltmeter S1.1",
                "voltmeter S1.1 S1.2",
                "voltmeter S1.1/pin",
                "ohmmeter S1.1/pin S1.2/pin",
                "ohmmeter S1.1 S1.2",
                "diode S1.2 S1.1",
                "ammeter S1.1 S1.2",
                "light S1.1 battery+",
                "clamp W3",
                "clamp battery",
                "scan coolant",
            ],
        },
    );
}

#[test]
fn a_blower_on_a_relay() {
    check(
        "relay-motor",
        &Plan {
            set_ups: &[
                "key on; blower commanded",
                "key running; blower commanded; C1 apart",
                "key off; relay K1 out; C1 apart",
            ],
            faults: &[
                ("W3/added resistance", 0.4),
                ("K1/87/added resistance", 0.25),
                ("K1/coil/added resistance", 60.0),
                ("W2-W6/leak", 150.0),
                ("C1.1-2/a/leak", 0.1),
                ("M1.3/driver/stuck on", 0.5),
            ],
            tests: &[
                "voltmeter C1.1",
                "voltmeter C1.1 C1.2",
                "voltmeter F1/in F1/out",
                "voltmeter K1/85",
                "ohmmeter C1.1/pin C1.2/pin",
                "ohmmeter K1/86 K1/85",
                "diode K1/85 K1/86",
                "ammeter K1/85 body",
                "clamp W2",
                "clamp battery",
                "light C1.1 C1.2",
                "light K1/85 battery+",
            ],
        },
    );
}

#[test]
fn a_fan_and_a_sensor_on_one_stud() {
    check(
        "shared-ground-fan",
        &Plan {
            set_ups: &[
                "key on; level 80 %",
                "key on; level 10 %; D1 apart",
                "key off; fuse F1 out; level 50 %; D1 apart",
            ],
            faults: &[
                ("W5/added resistance", 0.08),
                ("G1/off", 0.0),
                ("sender/track/drifted up", 300.0),
                ("D1.1-2/b/leak", 200.0),
                ("K1/87/stuck closed", 0.0),
                ("switch/contact/added resistance", 45.0),
            ],
            tests: &[
                "voltmeter D1.1",
                "voltmeter D1.2",
                "voltmeter D1.1/pin",
                "voltmeter C1.1 C1.2",
                "ohmmeter D1.1/pin D1.2/pin",
                "ohmmeter D1.2 body",
                "diode D1.2 D1.1",
                "ammeter D1.1 D1.2",
                "clamp W5",
                "light C1.1",
                "light D1.2 battery+",
                "scan level",
            ],
        },
    );
}

#[test]
fn lamps_that_share_a_ground_wire() {
    check(
        "lamps",
        &Plan {
            set_ups: &[
                "key off; stop commanded",
                "key off; tail commanded; stop commanded",
                "key off; tail commanded; L1 apart",
            ],
            faults: &[
                ("W6/broken", 0.0),
                ("W6/added resistance", 4.0),
                ("cluster/tail/burnt out", 0.0),
                ("cluster/tail-stop shorted", 0.5),
                ("W1-W3/leak", 2.0),
                ("W1/rubbed to body", 0.1),
            ],
            tests: &[
                "voltmeter L1.1",
                "voltmeter L1.2 L1.3",
                "voltmeter L1.3",
                "voltmeter L1.1/pin",
                "ohmmeter L1.2/pin L1.3/pin",
                "ohmmeter L1.3 body",
                "diode L1.1/pin L1.3/pin",
                "ammeter F2/in F2/out",
                "clamp W6",
                "clamp W3",
                "light L1.1",
                "light L1.3 battery+",
            ],
        },
    );
}

#[test]
fn switches_on_inputs() {
    check(
        "switch-input",
        &Plan {
            set_ups: &[
                "key on",
                "key on; door 100 %; brake 100 %",
                "key off; D1 apart; P1 apart; B1 apart",
            ],
            faults: &[
                ("D1.1-2/a/leak", 1500.0),
                ("W3/rubbed to body", 0.5),
                ("B1.3-4/a/leak", 20e3),
                ("B1.3/pull_up/drifted up", 10.0),
                ("W4/added resistance", 2e3),
                ("brake/contact/stuck open", 0.0),
            ],
            tests: &[
                "voltmeter D1.1",
                "voltmeter D1.1/pin",
                "voltmeter P1.2",
                "voltmeter B1.2",
                "ohmmeter D1.1/pin D1.2/pin",
                "ohmmeter D1.1 B1.3",
                "diode D1.1 battery-",
                "ammeter D1.1 D1.2",
                "clamp W4",
                "light D1.1 battery+",
                "light P1.1",
                "scan door",
                "scan brake",
            ],
        },
    );
}

#[test]
fn two_injectors_on_low_side_drivers() {
    check(
        "injectors",
        &Plan {
            set_ups: &["key running; one commanded", "key on", "key off; I1 apart"],
            faults: &[
                ("one/winding/shorted in part", 0.3),
                ("one/winding/open", 0.0),
                ("A1.3/driver/stuck on", 2.0),
                ("A1.3/driver/weak", 5.0),
                ("W4-W5/leak", 12.0),
                ("W1/added resistance", 3.0),
            ],
            tests: &[
                "voltmeter I1.2",
                "voltmeter I1.1 I1.2",
                "voltmeter I1.1/pin",
                "voltmeter I2.2",
                "ohmmeter I1.1/pin I1.2/pin",
                "ohmmeter I1.2 body",
                "diode I1.1 I1.2",
                "ammeter I1.2 I1.2/pin",
                "clamp W4",
                "clamp charger",
                "light I1.2 battery+",
                "light I1.1 I1.2",
            ],
        },
    );
}

#[test]
fn a_solenoid_and_an_ignition_coil() {
    check(
        "solenoid",
        &Plan {
            set_ups: &[
                "key on; shift commanded; spark commanded",
                "key running; spark commanded",
                "key off; X1 apart; X2 apart",
            ],
            faults: &[
                ("shift/winding/shorted in part", 0.2),
                ("W3/rubbed to body", 1.0),
                ("A1.4/ground/open", 0.0),
                ("A1.3/driver/weak", 2.0),
                ("A1.5/driver/stuck on", 0.3),
                ("W2/added resistance", 0.3),
            ],
            tests: &[
                "voltmeter X1.1 X1.2",
                "voltmeter X1.1/pin",
                "voltmeter X2.2",
                "voltmeter A1.2",
                "ohmmeter X1.1/pin X1.2/pin",
                "ohmmeter X1.1 X1.2",
                "diode X1.2 X1.1",
                "ammeter X1.1 X1.2",
                "clamp W3",
                "clamp W6",
                "light X1.1 X1.2",
                "light X2.2 battery+",
            ],
        },
    );
}

#[test]
fn two_sensors_on_one_reference() {
    check(
        "shared-reference",
        &Plan {
            set_ups: &[
                "key on",
                "key running; boost 2.6 bar; S2 apart",
                "key off; S1 apart; S2 apart",
            ],
            faults: &[
                ("W5/rubbed to body", 20.0),
                ("flap/reference-ground shorted", 2.0),
                ("A1.4/ground/open", 0.0),
                ("S2.2-3/a/leak", 3e3),
                ("A1.3/reference/weak", 150.0),
                ("boost/output/weak", 2e3),
            ],
            tests: &[
                "voltmeter S1.3",
                "voltmeter S1.1 S1.2",
                "voltmeter S2.3",
                "voltmeter S2.3/pin",
                "ohmmeter S2.1/pin S2.2/pin",
                "ohmmeter S1.1 S1.2",
                "diode S2.2 S2.3",
                "ammeter S1.1 S1.2",
                "clamp W3",
                "light S1.1",
                "scan boost",
                "scan flap",
                "code P0237",
            ],
        },
    );
}

#[test]
fn starter_and_charging_cables() {
    check(
        "starter",
        &Plan {
            set_ups: &["key cranking", "key running", "key off; C1 apart"],
            faults: &[
                ("W1/added resistance", 2e-3),
                ("block/added resistance", 5e-3),
                ("block/off", 0.0),
                ("battery/weak", 0.03),
                ("K1/87/added resistance", 0.02),
                ("K1/coil/added resistance", 1.5),
            ],
            tests: &[
                "voltmeter battery+",
                "voltmeter battery+ starter/plus",
                "voltmeter block",
                "voltmeter strap body",
                "voltmeter C1.1",
                "ohmmeter C1.1/pin C1.2/pin",
                "ohmmeter block body",
                "diode K1/85 K1/86",
                "ammeter F1/in F1/out",
                "clamp W1",
                "clamp battery",
                "light K1/86",
                "light block battery+",
            ],
        },
    );
}

#[test]
fn an_accessory_between_module_and_harness() {
    check(
        "accessory",
        &Plan {
            set_ups: &[
                "key on; lamp commanded",
                "key on; lamp commanded; box out",
                "key off; T1 apart; T2 apart",
            ],
            faults: &[
                ("box/through/drifted up", 3.0),
                ("box/gate/leaks", 200.0),
                ("box/in-ground shorted", 60.0),
                ("T2.2-3/a/leak", 30.0),
                ("W5/added resistance", 0.8),
                ("W7/broken", 0.0),
            ],
            tests: &[
                "voltmeter T1.1",
                "voltmeter L1.1 L1.2",
                "voltmeter T2.1/pin",
                "voltmeter T1.2",
                "voltmeter L2.1",
                "ohmmeter T1.1/pin T1.2/pin",
                "ohmmeter L1.1/pin L1.2/pin",
                "diode T1.1/pin T2.1/pin",
                "ammeter T1.1 T1.1/pin",
                "clamp W3",
                "clamp W5",
                "light L1.1",
                "light T1.2 battery+",
            ],
        },
    );
}

#[test]
fn a_drain_in_a_fuse_tree() {
    check(
        "drain",
        &Plan {
            set_ups: &["key asleep", "key asleep; fuse F3 out", "key on; lid 100 %; V1 apart"],
            faults: &[
                ("lidswitch/contact/stuck closed", 0.0),
                ("lidswitch/a-b shorted", 500.0),
                ("retained/switch/stuck closed", 0.0),
                ("radio/draws/draws too much", 6.0),
                ("Q1.1-2/a/leak", 300.0),
                ("W6/rubbed to body", 40.0),
            ],
            tests: &[
                "voltmeter F2/in F2/out",
                "voltmeter F3/in F3/out",
                "voltmeter F4/out",
                "voltmeter V1.2",
                "voltmeter V1.1/pin",
                "ohmmeter V1.1/pin V1.2/pin",
                "ohmmeter V1.2 body",
                "diode R1.2 R1.1",
                "ammeter F3/in F3/out",
                "clamp battery",
                "clamp W4",
                "light F2/out",
                "light battery- F2/in",
            ],
        },
    );
}

#[test]
fn a_seat_made_of_elements_and_tables() {
    check(
        "heated-seat",
        &Plan {
            set_ups: &[
                "key on",
                "key running; high commanded; seat 45 °C",
                "key off; C1 apart; seat 0 °C",
            ],
            faults: &[
                ("cushion/upper/drifted up", 2.0),
                ("cushion/lower/open", 0.0),
                ("cushion/plus-signal shorted", 5e3),
                ("C1.1-3/a/leak", 3e3),
                ("S1.6/reference/low", 0.7),
                ("seat/S1.6/leak to feed", 500.0),
            ],
            tests: &[
                "voltmeter C1.1 C1.2",
                "voltmeter C1.3",
                "voltmeter C1.3/pin",
                "voltmeter C2.1",
                "ohmmeter C1.3/pin C1.4/pin",
                "ohmmeter C1.1/pin C1.2/pin",
                "diode C1.4 C1.3",
                "ammeter C1.3 C1.4",
                "clamp W3",
                "clamp W7",
                "light C1.1",
                "light C1.3 battery+",
                "scan seat",
            ],
        },
    );
}

#[test]
fn glow_plugs_behind_two_relays() {
    check(
        "glow",
        &Plan {
            set_ups: &[
                "key on; glow commanded",
                "key cranking; glow commanded; P3 apart",
                "key off; relay K2 out; P3 apart",
            ],
            faults: &[
                ("K1/87/added resistance", 20.0),
                ("W8/added resistance", 0.05),
                ("one/filament/burnt out", 0.0),
                ("K2/87/stuck closed", 0.0),
                ("W9/rubbed to body", 0.1),
                ("block/added resistance", 0.02),
            ],
            tests: &[
                "voltmeter K2/87",
                "voltmeter K2/87 block",
                "voltmeter F1/in F1/out",
                "voltmeter P3.1/pin",
                "voltmeter K2/85",
                "ohmmeter P3.1/pin block",
                "ohmmeter K2/86 K2/85",
                "diode K2/87 block",
                "ammeter P3.1 P3.1/pin",
                "clamp W8",
                "clamp W6",
                "light K2/86",
                "light K1/85 battery+",
            ],
        },
    );
}
