//! What meters show while something repeats, against hand calculation and against ngspice's transient analysis.
//!
//! The transient is run until a coil's current has settled, and averaged over whole periods: what a meter does.

use std::io::Write as _;
use std::process::{Command, Stdio};
use std::sync::Arc;

use bench::{Bench, Hypothesis, Kind, Predict, Prediction, Question, Unsaid, parse_test};
use circuit::{Circuit, possible_faults};

/// A valve that a low-side driver pulses; `{inductance}`, `{rate}` and `{freewheel}` are to be put in.
const VALVE: &str = r#"
title = "Pulsed valve"
[feed.main]
from = "battery+"
live = ["on", "running"]
[fuse.F1]
from = "main"
rating = "10 A"
[load.valve]
[rhythm.pulses]
rate = "{rate}"
runs = "valve commanded"
phase.on = { share = "30 %" }
[module.engine.pin]
C1.1 = { kind = "feed" }
C1.2 = { kind = "ground" }
C1.3 = { kind = "low-side driver", on = "pulses in on", bias_up = "none", bias_down = "none", ohms = "0.3 Ω", limit = "4 A", freewheel = {freewheel} }
[device.valve]
kind = "coil"
pins = { plus = "V1.1", minus = "V1.2" }
values = { resistance = "20 Ω ± 1 %", inductance = "{inductance}" }
[connector]
C1 = { rows = ["1-3"] }
V1 = { rows = ["1-2"] }
[wire]
W1 = { from = "F1/out", to = "C1.1" }
W2 = { from = "C1.2", to = "body" }
W3 = { from = "F1/out", to = "V1.1" }
W4 = { from = "V1.2", to = "C1.3" }
"#;

fn valve(rate: &str, inductance: &str, freewheel: bool) -> Bench {
    let text = VALVE
        .replace("{rate}", rate)
        .replace("{inductance}", inductance)
        .replace("{freewheel}", if freewheel { "true" } else { "false" });
    bench_of(&text)
}

fn bench_of(text: &str) -> Bench {
    let circuit = circuit::parse(text).unwrap_or_else(|mistakes| panic!("{mistakes:?}"));
    Bench::new(Arc::new(circuit)).unwrap_or_else(|error| panic!("{error}"))
}

fn read(bench: &Bench, test: &str) -> Prediction {
    read_broken(bench, &Hypothesis::default(), test)
}

fn read_broken(bench: &Bench, hypothesis: &Hypothesis<'_>, test: &str) -> Prediction {
    let test = parse_test(bench.circuit(), test).unwrap_or_else(|error| panic!("{test}: {error}"));
    let batch = bench.predict(Question::of(std::slice::from_ref(hypothesis), &test));
    batch.expect("the question is right").predictions.remove(0)
}

#[track_caller]
fn unsaid(bench: &Bench, test: &str, why: Unsaid) {
    let got = read(bench, test);
    assert_eq!((got.kind, got.unsaid), (Kind::Unknown, Some(why)), "{test}");
}

#[track_caller]
fn close(got: &Prediction, expected: f64, within: f64) {
    assert_eq!(got.kind, Kind::Number);
    assert!(
        (got.value - expected).abs() <= within,
        "{} where {expected} is expected",
        got.value
    );
}

#[test]
fn a_short_time_constant_leaves_the_states_as_they_are() {
    // 20 mH over 20 Ω is 1 ms, a hundredth of the 100 ms of 10 Hz: on for 30 %, the pin is at 0.2 V, else at 12.6 V.
    let bench = valve("10 Hz", "20 mH", false);
    let set_up = "key on; valve commanded";
    // 0.6 A through the driver's 0.3 Ω; it and the module's 0.15 A through 1.5 m of 0.5 mm² to body, 0.07 Ω with its ends.
    let (supply, on) = (12.6, 12.6 * 0.3 / 20.55 + 0.76 * 0.07);
    let mean = 0.3 * on + 0.7 * supply;
    close(&read(&bench, &format!("voltmeter C1.3; {set_up}")), mean, 0.05);
    close(&read(&bench, &format!("frequency C1.3; {set_up}")), 10.0, 1e-9);
    close(&read(&bench, &format!("duty C1.3; {set_up}")), 70.0, 1e-9);
    close(&read(&bench, "frequency C1.3; key on"), 0.0, 0.0);
    close(&read(&bench, "ac C1.3; key on"), 0.0, 1e-9);
    // The course of the current, and the peak at switching off, are not followed.
    for lags in ["ac C1.3", "clamp W4"] {
        unsaid(&bench, &format!("{lags}; {set_up}"), Unsaid::Lag);
    }
    unsaid(&bench, "duty C1.3; key on", Unsaid::NoSwing);
    // A duty of its own, and held still.
    close(
        &read(&bench, &format!("voltmeter C1.3; {set_up}; pulses 60 %")),
        0.6 * on + 0.4 * supply,
        0.05,
    );
    close(
        &read(&bench, &format!("voltmeter C1.3; {set_up}; pulses in on")),
        on,
        0.02,
    );
    close(
        &read(&bench, &format!("clamp W4; {set_up}; pulses in on")),
        12.6 / 20.55,
        0.02,
    );
}

#[test]
fn between_short_and_long_nothing_is_said_and_a_meter_follows_what_is_slow() {
    let bench = valve("200 Hz", "20 mH", true); // 1 ms of 5 ms
    unsaid(&bench, "voltmeter C1.3; key on; valve commanded", Unsaid::Between);
    let without_a_way = valve("2 kHz", "20 mH", false);
    unsaid(
        &without_a_way,
        "voltmeter C1.3; key on; valve commanded",
        Unsaid::NoWayOn,
    );
    let slow = valve("1 Hz", "20 mH", false);
    unsaid(&slow, "voltmeter C1.3; key on; valve commanded", Unsaid::Slow);
    // The feed does not move with it, and is said.
    close(&read(&bench, "voltmeter battery+; key on; valve commanded"), 12.6, 0.02);
}

#[test]
fn what_does_not_hang_on_a_coil_is_said_though_its_current_is_not() {
    // A trigger of 5 V from the rail, and beside it a driver whose coil follows neither each pulse nor flows on.
    let text = VALVE
        .replace("{rate}", "200 Hz")
        .replace("{inductance}", "20 mH")
        .replace("{freewheel}", "false")
        .replace("[device.valve]", "C1.4 = { kind = \"high-side driver\", on = \"pulses in on\", from = \"rail\", ohms = \"100 Ω\", bias_up = \"none\", bias_down = \"none\" }\n[device.load]\nkind = \"resistor\"\npins = { a = \"T1.1\", b = \"T1.2\" }\nvalues = { resistance = \"900 Ω\" }\n[device.valve]")
        .replace("to = \"body\" }", "to = \"body\", length = \"0.2 m\" }")
        .replace("rows = [\"1-3\"] }", "rows = [\"1-4\"] }\nT1 = { rows = [\"1-2\"] }")
        + "W5 = { from = \"C1.4\", to = \"T1.1\" }\nW6 = { from = \"T1.2\", to = \"battery-\" }\n";
    let bench = bench_of(&text);
    let set_up = "key on; valve commanded";
    let high = 5.0 * 900.0 / 1000.0;
    close(&read(&bench, &format!("frequency T1.1; {set_up}")), 200.0, 1e-9);
    close(&read(&bench, &format!("duty T1.1; {set_up}")), 30.0, 1e-9);
    // The coil's current lifts the module's ground by less than a meter notices.
    close(
        &read(&bench, &format!("voltmeter T1.1 T1.2; {set_up}")),
        0.3 * high,
        0.02,
    );
    close(
        &read(&bench, &format!("ac T1.1 T1.2; {set_up}")),
        high * (0.3_f64 * 0.7).sqrt(),
        0.03,
    );
    // Whatever its course, it repeats as often as it is switched.
    close(&read(&bench, &format!("frequency C1.3; {set_up}")), 200.0, 1e-9);
    for hangs_on_it in ["voltmeter C1.3", "duty C1.3", "clamp W4", "voltmeter V1.1 V1.2"] {
        unsaid(&bench, &format!("{hangs_on_it}; {set_up}"), Unsaid::Between);
    }
}

#[test]
fn a_resistor_that_is_switched_reads_what_a_rectangle_does() {
    let text = VALVE
        .replace("{rate}", "100 Hz")
        .replace("{freewheel}", "false")
        .replace("kind = \"coil\"", "kind = \"resistor\"")
        .replace("plus = \"V1.1\", minus = \"V1.2\"", "a = \"V1.1\", b = \"V1.2\"")
        .replace(", inductance = \"{inductance}\"", "");
    let bench = bench_of(&text);
    let (high, low) = (
        read(&bench, "voltmeter C1.3; key on; valve commanded; pulses in rest").value,
        read(&bench, "voltmeter C1.3; key on; valve commanded; pulses in on").value,
    );
    for (rate, placed, why) in [
        ("2 kHz", "ac C1.3", Unsaid::FastForAlternating),
        ("1 Hz", "ac C1.3", Unsaid::Slow),
        ("1 Hz", "light C1.3 battery+", Unsaid::Slow),
        ("200 kHz", "frequency C1.3", Unsaid::FastForCounter),
        ("200 kHz", "duty C1.3", Unsaid::FastForCounter),
    ] {
        let bench = bench_of(&text.replace("rate = \"100 Hz\"", &format!("rate = \"{rate}\"")));
        unsaid(&bench, &format!("{placed}; key on; valve commanded"), why);
    }
    // Effective value of a rectangle without its mean: swing · √(share · (1 − share)).
    let effective = (high - low) * (0.3_f64 * 0.7).sqrt();
    close(&read(&bench, "ac C1.3; key on; valve commanded"), effective, 1e-9);
    close(
        &read(&bench, "clamp W4; key on; valve commanded"),
        0.3 * 12.6 / 20.55,
        0.01,
    );
    // A filament takes heat from both: √(Σ share · volts²).
    let light = read(&bench, "light C1.3 battery+; key on; valve commanded; pulses in on").value;
    close(
        &read(&bench, "light C1.3 battery+; key on; valve commanded"),
        light * 0.3_f64.sqrt(),
        0.05,
    );
}

#[test]
fn a_blown_fuse_is_blown_in_every_phase() {
    let bench = valve("10 Hz", "20 mH", false);
    let faults = possible_faults(bench.circuit());
    let short = faults
        .iter()
        .find(|fault| fault.path.contains("W3") && fault.path.contains("body"))
        .or_else(|| {
            faults
                .iter()
                .find(|fault| fault.path.contains("F1") && fault.path.contains("blown"))
        })
        .unwrap_or_else(|| panic!("{:?}", faults.iter().map(|fault| &fault.path).collect::<Vec<_>>()));
    let hypothesis = Hypothesis {
        faults: vec![(short, 0.01)],
    };
    let got = read_broken(&bench, &hypothesis, "voltmeter V1.1; key on; valve commanded");
    assert_eq!(got.kind, Kind::Number);
    assert!(got.value.abs() < 0.1, "{}", got.value);
}

/// Half an ohm past the valve: 12.6 V over 0.49 Ω, the contacts' 0.01 Ω, the driver's 0.3 Ω, 0.08 Ω ahead of the valve (battery,
/// switch, fuse, wire, contact), 0.065 Ω to the driver and as much from it to the body are 12.5 A while the driver pulls. A fuse
/// of 10 A bears that for (10/12.5)² = 64 % of the time, and meanwhile the valve's feed falls by 12.5 A · 0.08 Ω;
/// by 0.15 A of the module always.
const PAST_AMPS: f64 = 12.5;
const AHEAD_OHMS: f64 = 0.08;

fn strong_valve(rate: &str) -> Bench {
    let text = VALVE
        .replace("{rate}", rate)
        .replace("{inductance}", "2 mH")
        .replace("{freewheel}", "false")
        .replace("limit = \"4 A\"", "limit = \"40 A\"");
    bench_of(&text)
}

#[test]
fn a_fuse_goes_by_the_mean_square_of_its_current() {
    let feed = |bench: &Bench, pulses: &str| {
        let faults = possible_faults(bench.circuit());
        let past = faults.iter().find(|fault| fault.path == "valve/plus-minus shorted");
        let hypothesis = Hypothesis {
            faults: vec![(past.expect("it is listed"), 0.5)],
        };
        read_broken(
            bench,
            &hypothesis,
            &format!("voltmeter V1.1; key on; valve commanded{pulses}"),
        )
    };
    let fast = strong_valve("20 Hz");
    for (pulses, duty) in [("", 0.3), ("; pulses 50 %", 0.5)] {
        close(
            &feed(&fast, pulses),
            12.6 - (duty * PAST_AMPS + 0.15) * AHEAD_OHMS,
            0.02,
        );
    }
    for blown in ["; pulses 75 %", "; pulses in on"] {
        close(&feed(&fast, blown), 0.0, 1e-3);
    }
    // On for 0.6 s at a time: long enough by itself.
    close(&feed(&strong_valve("0.5 Hz"), ""), 0.0, 1e-3);
}

#[test]
fn what_is_clipped_in_blows_a_fuse_by_the_mean_square_too() {
    let trips = |rate: &str, pulses: &str| {
        let bench = strong_valve(rate);
        let circuit = bench.circuit();
        let text = format!("voltmeter V1.1; key on; valve commanded{pulses}; resistor V1.1 V1.2 0.5");
        let test = parse_test(circuit, &text).unwrap_or_else(|error| panic!("{error}"));
        let healthy = [Hypothesis::default()];
        let question = Question {
            with_flows: true,
            ..Question::of(&healthy, &test)
        };
        let flows = bench.predict(question).expect("the question is right").flows.remove(0);
        let paths = flows
            .trips
            .iter()
            .map(|branch| circuit.branches[branch.idx()].path.clone());
        paths.collect::<Vec<String>>()
    };
    assert_eq!(trips("20 Hz", ""), [""; 0]);
    for (rate, pulses) in [("20 Hz", "; pulses 75 %"), ("20 Hz", "; pulses in on"), ("0.5 Hz", "")] {
        assert_eq!(trips(rate, pulses), ["F1"], "{rate}{pulses}");
    }
}

/// Mean voltage of the pin and mean current of the coil in ngspice's transient of the same circuit by hand: 12.6 V behind
/// `ahead` Ω, the coil, `below` Ω to a switch of 0.3 Ω, a diode from the pin to the supply.
fn transient(rate: f64, henries: f64, duty: f64, (ahead, ohms, below): (f64, f64, f64)) -> Option<(f64, f64)> {
    let period = 1.0 / rate;
    let settle = (henries / ohms * 12.0 / period).ceil() * period;
    let (from, to) = (settle, settle + 20.0 * period);
    let step = period / 2000.0;
    let on = duty * period;
    let deck = format!(
        "* valve\nV1 bat 0 12.6\nR1 bat feed {ahead}\nL1 feed mid {henries}\nR2 mid coil {ohms}\nR3 coil pin {below}\n\
         S1 pin 0 gate 0 sw\nD1 pin feed2 d\nR4 bat feed2 {ahead}\nVG gate 0 PULSE(0 1 0 {edge:e} {edge:e} {on:e} {period:e})\n\
         .model sw SW(RON=0.3 ROFF=5e6 VT=0.5 VH=0.1)\n.model d D(IS=1e-12 N=0.99948 RS=0.03)\n\
         .options reltol=1e-6 method=gear\n.tran {step:e} {to:e} 0 {step:e} UIC\n\
         .measure tran pinmean AVG v(pin) from={from:e} to={to:e}\n.measure tran coilmean AVG i(L1) from={from:e} to={to:e}\n.end\n",
        edge = period / 20_000.0,
    );
    let started = Command::new("ngspice")
        .arg("-b")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn();
    let Ok(mut child) = started else {
        let skipped = "skipped: ngspice cannot be started; install it with apt-get install ngspice";
        writeln!(std::io::stderr(), "{skipped}").ok();
        return None;
    };
    let mut stdin = child.stdin.take().expect("it is piped");
    stdin.write_all(deck.as_bytes()).expect("it reads");
    drop(stdin);
    let output = child.wait_with_output().expect("it ends");
    let said = String::from_utf8_lossy(&output.stdout).into_owned();
    let measured = |name: &str| {
        let line = said
            .lines()
            .find(|line| line.trim_start().starts_with(name))
            .unwrap_or_else(|| panic!("{said}"));
        let number = line.split('=').nth(1).and_then(|rest| rest.split_whitespace().next());
        number
            .and_then(|number| number.parse::<f64>().ok())
            .unwrap_or_else(|| panic!("{line}"))
    };
    Some((measured("pinmean"), measured("coilmean")))
}

#[test]
fn a_current_that_flows_on_has_the_mean_that_ngspice_has() {
    for (rate, duty) in [(2e3, 30.0), (2e3, 75.0), (5e3, 50.0)] {
        let bench = valve(&format!("{rate} Hz"), "30 mH", true); // 1.5 ms of 0.5 or 0.2 ms
        let set_up = format!("key on; valve commanded; pulses {duty} %");
        // Ahead: battery, switch, fuse, wire, contact; below: contact, wire, module pin.
        let Some((volts, amps)) = transient(rate, 30e-3, duty / 100.0, (0.08, 20.0, 0.065)) else {
            return;
        };
        close(&read(&bench, &format!("voltmeter C1.3; {set_up}")), volts, 0.06);
        close(&read(&bench, &format!("clamp W4; {set_up}")), amps, 0.01 * amps);
    }
}

/// Held on, 0.58 A would flow and the driver shut off; pulsed, the current never comes near.
#[test]
fn what_shuts_off_goes_by_the_current_that_flows_on() {
    let text = VALVE
        .replace("{rate}", "2 kHz")
        .replace("{inductance}", "30 mH")
        .replace("{freewheel}", "true")
        .replace("limit = \"4 A\"", "limit = \"0.4 A\"");
    let bench = bench_of(&text);
    let read_at = |duty: &str| read(&bench, &format!("clamp W4; key on; valve commanded; pulses {duty}"));
    let Some((_, amps)) = transient(2e3, 30e-3, 0.3, (0.08, 20.0, 0.065)) else {
        return;
    };
    close(&read_at("30 %"), amps, 0.01 * amps);
    // At this duty the current would pass 0.4 A: shut off, next to nothing flows.
    assert!(read_at("85 %").value.abs() < 0.01, "{:?}", read_at("85 %"));
    assert!(read_at("in on").value.abs() < 0.01);
}

/// The halves of a bridge are in the way of one current: neither shuts off, though held on both would be above their limit.
/// By hand: the mean voltage of a pulse, 12.6 V · 30 %, drives the mean current through winding, wires and both halves.
#[test]
fn a_bridge_does_not_shut_off_by_a_current_that_never_flows() {
    let text = include_str!("../../circuit/archetypes/throttle-motor.toml");
    let circuit = Arc::new(circuit::parse(text).expect("right"));
    let bench = Bench::new(Arc::clone(&circuit)).expect("right");
    let faults = possible_faults(&circuit);
    let drags = faults
        .iter()
        .find(|fault| fault.path == "motor/motor/drags")
        .expect("it can");
    let hypothesis = Hypothesis {
        faults: vec![(drags, 0.4)],
    };
    let got = read_broken(&bench, &hypothesis, "clamp W4; key on; open commanded");
    // 0.6 Ω of winding, 0.3 Ω of the bridge, 0.11 Ω of wires and contacts; ahead of the bridge only pulses flow.
    let amps = 12.6 * 0.3 / (0.6 + 0.3 + 0.11);
    assert!(
        (got.value - amps).abs() < 0.08 * amps,
        "{} instead of {amps}",
        got.value
    );
}

/// 1 mH over 1.5 Ω is 1.3 periods of 2 kHz; a motor of 2.3 Ω would be short of one.
#[test]
fn a_tolerance_makes_no_cliff_from_said_to_unsaid() {
    let text = include_str!("../../circuit/archetypes/throttle-motor.toml");
    let circuit = Arc::new(circuit::parse(text).expect("right"));
    let bench = Bench::new(Arc::clone(&circuit)).expect("right");
    let test = parse_test(&circuit, "voltmeter M1.1; key on; open commanded").expect("right");
    let ohms = circuit.params.iter().position(|param| param.path.contains("running"));
    let mut theta = vec![0.0; circuit.params.len()];
    theta[ohms.expect("it has a tolerance")] = 3.0;
    let hypotheses = [Hypothesis::default()];
    let question = Question {
        theta: &theta,
        ..Question::of(&hypotheses, &test)
    };
    assert_eq!(
        bench.predict(question).expect("right").predictions[0].kind,
        Kind::Number
    );
}

#[test]
fn slopes_of_a_current_that_flows_on_agree_with_differences() {
    let bench = valve("2 kHz", "30 mH", true);
    let circuit: &Circuit = bench.circuit();
    for placed in ["voltmeter C1.3", "clamp W4", "voltmeter V1.1 V1.2"] {
        let test = parse_test(circuit, &format!("{placed}; key on; valve commanded")).expect("right");
        let at = |theta: &[f64]| {
            let hypotheses = [Hypothesis::default()];
            let question = Question {
                theta,
                ..Question::of(&hypotheses, &test)
            };
            bench.predict(question).expect("right").predictions.remove(0)
        };
        let centre = at(&[]);
        assert_eq!(centre.kind, Kind::Number);
        for param in 0..circuit.params.len() {
            let moved = |by: f64| {
                let mut theta = vec![0.0; circuit.params.len()];
                theta[param] = by;
                at(&theta).value
            };
            let difference = (moved(1e-3) - moved(-1e-3)) / 2e-3;
            let slope = centre.by_param[param];
            let name = &circuit.params[param].path;
            assert!(
                (slope - difference).abs() <= 1e-3 * difference.abs() + 1e-5,
                "{placed} by {name}: {slope}, not {difference}"
            );
        }
    }
}

#[test]
fn two_things_that_repeat_and_a_short_filter_leave_unsaid_why() {
    let text = VALVE
        .replace("{rate}", "100 Hz")
        .replace("{freewheel}", "false")
        .replace("kind = \"coil\"", "kind = \"resistor\"")
        .replace("plus = \"V1.1\", minus = \"V1.2\"", "a = \"V1.1\", b = \"V1.2\"")
        .replace(", inductance = \"{inductance}\"", "")
        .replace("rows = [\"1-3\"]", "rows = [\"1-5\"]")
        .replace("[module.engine.pin]", "[rhythm.other]\nrate = \"70 Hz\"\nruns = \"valve commanded\"\nphase.on = { share = \"50 %\" }\n[splice.SP1]\n[module.engine.channel.level]\npin = \"C1.4\"\nscaling = [[\"0 V\", 0], [\"5 V\", 100]]\nunit = \"%\"\nfilter = \"10 ms\"\n[module.engine.pin]\nC1.4 = { kind = \"input\" }\nC1.5 = { kind = \"low-side driver\", on = \"other in on\", bias_up = \"none\", bias_down = \"none\", ohms = \"8 Ω\", limit = \"4 A\" }")
        .replace("W4 = { from = \"V1.2\", to = \"C1.3\" }", "W4 = { from = \"V1.2\", to = \"SP1\" }\nW5 = { from = \"SP1\", to = \"C1.3\" }\nW6 = { from = \"SP1\", to = \"C1.4\" }\nW7 = { from = \"SP1\", to = \"C1.5\" }");
    let bench = bench_of(&text);
    let set_up = "key on; valve commanded";
    unsaid(&bench, &format!("frequency C1.3; {set_up}"), Unsaid::Several);
    unsaid(&bench, &format!("scan level; {set_up}"), Unsaid::ShortFilter);
    // One held, the other is counted; what is measured without a feed is switched all the same.
    close(
        &read(&bench, &format!("frequency C1.3; {set_up}; pulses in rest")),
        70.0,
        1e-9,
    );
    unsaid(
        &bench,
        "ohmmeter C1.3 body; battery off; valve commanded",
        Unsaid::SwitchedOhms,
    );
}
