//! A sensor swept from end to end: what its wire, its share of the reference and its value in scan data should be on the
//! way.
//!
//! A sensor on a reference follows it, so the share of the reference is known better than the voltage; and scan data made
//! of the voltage that a meter shows is known better than either. Both are bands of differences: what the two have in
//! common drops out. Limits: bands are those of the circuit file, nothing learnt from readings narrows them.

use bench::{BenchError, Hypothesis, Kind, Placement, Predict, Prediction, Question, accuracy};
use circuit::{ChannelId, Circuit, DeviceId, Pin, PinKind, PointId, SensedId, SetUp};

use super::BAND;
use crate::candidate::net::Nets;
use crate::evidence::COMMON;

/// Steps from one end to the other.
const STEPS: u8 = 4;

/// A sensor that can be swept.
#[derive(Clone, Debug, PartialEq)]
pub struct Sweep {
    /// What it senses.
    pub sensed: SensedId,
    /// The sensor.
    pub device: DeviceId,
    /// Whether it can be brought to any value at will.
    pub at_will: bool,
    /// Where its signal is read, against battery negative.
    pub signal: PointId,
    /// Where its reference is, if it has one.
    pub reference: Option<PointId>,
    /// Its value in scan data, if it has one.
    pub channel: Option<ChannelId>,
    /// From one end stop to the other.
    pub steps: Vec<SweepStep>,
}

/// What a sound circuit shows at one value: each a range that holds 99 of 100.
#[derive(Clone, Debug, PartialEq)]
pub struct SweepStep {
    /// The value sensed, in its unit.
    pub at: f64,
    /// How the vehicle stands.
    pub set_up: SetUp,
    /// Volts of the signal.
    pub volts: (f64, f64),
    /// The signal as a share of the reference.
    pub ratio: Option<(f64, f64)>,
    /// Scan data, in the channel's unit.
    pub scan: Option<(f64, f64)>,
    /// Scan data less what the volts on the meter mean, in the channel's unit: at most this either way. `None` where scan
    /// data stands at an end or does not follow the voltage.
    pub apart: Option<f64>,
}

/// Every sensor whose signal goes to a module, swept from end to end, the vehicle standing as in `set_up` otherwise.
///
/// # Errors
/// Those of [`Predict::predict`].
pub fn sweeps(bench: &dyn Predict, circuit: &Circuit, set_up: &SetUp) -> Result<Vec<Sweep>, BenchError> {
    let nets = Nets::new(circuit, set_up);
    let mut sweeps = Vec::new();
    for (at, device) in circuit.devices.iter().enumerate() {
        let Some(sensed) = device.senses else { continue };
        let joined = |pin: &&Pin| device.pins.iter().any(|(_, point)| nets.same(*point, pin.point));
        let pins = || circuit.modules.iter().flat_map(|module| &module.pins).filter(joined);
        let reference = pins().find(|pin| pin.kind == PinKind::Reference);
        let probe = |pin: &Pin| near(circuit, &nets, set_up, pin.point);
        for pin in pins().filter(|pin| pin.kind == PinKind::Input) {
            let Some(signal) = probe(pin) else { continue };
            let places = Places {
                signal,
                reference: reference_of(circuit, &nets, &device.pins, pin, reference).and_then(probe),
                channel: channel_of(circuit, pin),
            };
            let steps = steps(bench, circuit, set_up, sensed, &places)?;
            if !steps.is_empty() {
                sweeps.push(Sweep {
                    sensed,
                    device: DeviceId::from(at),
                    at_will: circuit.sensed[sensed.idx()].set_minutes.is_some(),
                    signal,
                    reference: places.reference,
                    channel: places.channel,
                    steps,
                });
            }
        }
    }
    Ok(sweeps)
}

/// Where the leads go.
struct Places {
    signal: PointId,
    reference: Option<PointId>,
    channel: Option<ChannelId>,
}

/// The place on the net of a point that a probe gets to soonest.
fn near(circuit: &Circuit, nets: &Nets, set_up: &SetUp, point: PointId) -> Option<PointId> {
    let probes = bench::reachable(circuit, set_up);
    let here = probes.into_iter().filter(|probe| nets.same(probe.point, point));
    here.min_by(|a, b| a.minutes.total_cmp(&b.minutes))
        .map(|probe| probe.point)
}

/// Of a sensor with several references the one whose pin comes just before the signal's, else the first.
fn reference_of<'c>(
    circuit: &'c Circuit,
    nets: &Nets,
    pins: &[(String, PointId)],
    signal: &Pin,
    first: Option<&'c Pin>,
) -> Option<&'c Pin> {
    let is_reference = |point: PointId| {
        let all = circuit.modules.iter().flat_map(|module| &module.pins);
        all.filter(|pin| pin.kind == PinKind::Reference)
            .find(|pin| nets.same(pin.point, point))
    };
    let at = pins.iter().position(|(_, point)| nets.same(*point, signal.point))?;
    pins[..at]
        .iter()
        .rev()
        .find_map(|(_, point)| is_reference(*point))
        .or(first)
}

/// The channel that is made of what comes in at a pin.
fn channel_of(circuit: &Circuit, pin: &Pin) -> Option<ChannelId> {
    let touches = |sense: PointId| {
        let inside = pin
            .inside
            .iter()
            .map(|branch| circuit.branches[branch.idx()].kind.ends());
        sense == pin.point || inside.into_iter().any(|(a, b)| a == sense || b == sense)
    };
    circuit
        .channels
        .iter()
        .position(|channel| touches(channel.sense))
        .map(ChannelId::from)
}

fn steps(
    bench: &dyn Predict,
    circuit: &Circuit,
    set_up: &SetUp,
    sensed: SensedId,
    places: &Places,
) -> Result<Vec<SweepStep>, BenchError> {
    let volts = |red: PointId| Placement::Voltmeter {
        red,
        black: circuit.battery_minus,
    };
    let mut placements = vec![volts(places.signal)];
    placements.extend(places.reference.map(volts));
    placements.extend(places.channel.map(|channel| Placement::Scan { channel }));
    let (low, high) = circuit.sensed[sensed.idx()].range;
    let mut stands = Vec::new();
    let mut shown: Vec<Vec<Prediction>> = Vec::new();
    for step in 0..=STEPS {
        let at = low + (high - low) * f64::from(step) / f64::from(STEPS);
        let mut set_up = set_up.clone();
        set_up.sensed.insert(sensed, at);
        let batch = bench.predict(Question::new(&[Hypothesis::default()], &set_up, &placements))?;
        stands.push((at, set_up));
        shown.push(batch.predictions);
    }
    let mut steps = Vec::new();
    for (k, (at, set_up)) in stands.into_iter().enumerate() {
        let number = |which: usize| shown[k].get(which).filter(|one| one.kind == Kind::Number);
        let Some(signal) = number(0) else { continue };
        let read = |which: usize| accuracy(circuit, &placements[which], shown[k][which].value, None).sd;
        let reference = places.reference.and_then(|_| number(1).filter(|one| one.value > 0.0));
        let of_scan = placements.len() - 1;
        let scan = places.channel.and_then(|_| number(of_scan));
        steps.push(SweepStep {
            at,
            volts: around(signal.value, spread(&[(1.0, signal)], &[read(0)])),
            ratio: reference.map(|reference| {
                let ratio = signal.value / reference.value;
                let by = [(1.0 / reference.value, signal), (-ratio / reference.value, reference)];
                // What is common to the meter's readings drops out of the share, as far as it is a factor.
                let own = (1.0 - COMMON).sqrt();
                around(ratio, spread(&by, &[own * read(0), own * read(1)]))
            }),
            scan: scan.map(|scan| {
                let (least, most) = bench::shown_ends(&circuit.channels[places.channel.map_or(0, ChannelId::idx)]);
                let (low, high) = around(scan.value, spread(&[(1.0, scan)], &[read(of_scan)]));
                (low.max(least), high.min(most))
            }),
            apart: scan.filter(|scan| scan.beyond == 0.0).and_then(|scan| {
                let per_volt = slope(&shown, k, of_scan)?;
                Some(BAND * spread(&[(1.0, scan), (-per_volt, signal)], &[read(of_scan), read(0)]))
            }),
            set_up,
        });
    }
    Ok(steps)
}

/// How far scan data goes by a volt of signal, towards the neighbouring step that is further away.
fn slope(shown: &[Vec<Prediction>], k: usize, of_scan: usize) -> Option<f64> {
    let both = |k: usize| {
        let (volts, scan) = (shown.get(k)?.first()?, shown.get(k)?.get(of_scan)?);
        (volts.kind == Kind::Number && scan.kind == Kind::Number).then_some((volts.value, scan.value + scan.beyond))
    };
    let here = both(k)?;
    let beside = [k.checked_sub(1), Some(k + 1)].into_iter().flatten().filter_map(both);
    let far = beside.max_by(|a, b| (a.0 - here.0).abs().total_cmp(&(b.0 - here.0).abs()))?;
    let slope = (far.1 - here.1) / (far.0 - here.0);
    slope.is_finite().then_some(slope)
}

/// Standard deviation of a combination of predictions, each with what its instrument adds.
fn spread(terms: &[(f64, &Prediction)], read: &[f64]) -> f64 {
    let n = terms.iter().map(|(_, one)| one.by_param.len()).max().unwrap_or(0);
    let by_param: f64 = (0..n)
        .map(|param| {
            let sum: f64 = terms
                .iter()
                .map(|(by, one)| by * one.by_param.get(param).copied().unwrap_or(0.0))
                .sum();
            sum * sum
        })
        .sum();
    let read: f64 = terms.iter().zip(read).map(|((by, _), sd)| (by * sd).powi(2)).sum();
    (by_param + read).sqrt()
}

fn around(middle: f64, sd: f64) -> (f64, f64) {
    (middle - BAND * sd, middle + BAND * sd)
}
