//! Plain words for what the reasoning answers: what, where, why. Figures come from the answer, rounded as a meter shows
//! them. No word of statistics reaches the technician.

use bench::{Alternating, CodeState, Kind, Light, Placement, Prediction, Reading, Shown, Test};
use circuit::{Circuit, ConnectorId, Fault, Owner, PointId, Provocation, SetUp};
use diagnosis::Expected;
use quantity::Unit;

pub use self::beyond::{also, comes_and_goes, notes};
pub use self::contradiction::contradiction;
pub use self::judged::{blocked, danger, headline, worth};
pub use self::money::{bill, chosen_from, repair_first};
pub use self::standing::{conclusion, parts, verdict};
pub use self::together::codes_share;

mod beyond;
mod contradiction;
mod judged;
mod money;
pub mod proof;
mod standing;
pub(crate) mod start;
mod together;
pub mod why;

/// Bits from which a reading speaks for or against something, and from which it does so strongly: 0.3 bits moves even
/// odds to 55 : 45, 2 bits to 80 : 20.
const SPEAKS_BITS: f64 = 0.3;
const STRONG_BITS: f64 = 2.0;
/// What is called "near 0".
const NEAR_ZERO_VOLTS: f64 = 0.15;
/// Resistance behind a point from which a 10 MΩ meter's own pull decides what it shows.
const GHOST_OHMS: f64 = 10e6;

/// A chance: "57 %", "under 1 %".
pub fn percent(chance: f64) -> String {
    let percent = 100.0 * chance;
    if percent < 1.0 {
        "under 1 %".into()
    } else if percent > 99.0 && chance < 1.0 {
        "over 99 %".into()
    } else {
        format!("{percent:.0} %")
    }
}

/// Minutes: "4 min", "1 h 10 min".
pub fn minutes(minutes: f64) -> String {
    if !minutes.is_finite() {
        return "no telling how long".into();
    }
    let whole = minutes.round().max(1.0) as u64;
    if whole < 60 {
        format!("{whole} min")
    } else {
        format!("{} h {} min", whole / 60, whole % 60)
    }
}

/// The unit of the number that an instrument shows; `Err` with the unit's name for a scan value.
fn unit<'a>(circuit: &'a Circuit, placement: &Placement) -> Result<Unit, &'a str> {
    match placement {
        Placement::Ohmmeter { .. } => Ok(Unit::Ohm),
        Placement::Ammeter { .. } | Placement::Clamp { .. } => Ok(Unit::Ampere),
        Placement::Scan { channel } => Err(circuit.channels[channel.idx()].unit.as_str()),
        Placement::Alternating { shows, .. } => Ok(shows.unit()),
        _ => Ok(Unit::Volt),
    }
}

/// A number as the instrument would show it.
pub fn number(circuit: &Circuit, placement: &Placement, value: f64) -> String {
    match unit(circuit, placement) {
        // A meter on its volts range shows hundredths; below 0.1 V the person goes to millivolts.
        Ok(Unit::Volt) if value.abs() < 0.0005 => "0 V".into(),
        Ok(unit) => quantity::format(value, unit),
        Err(unit) => format!("{value:.1} {unit}").trim_end().to_owned(),
    }
}

/// What an instrument showed.
pub fn shown(circuit: &Circuit, placement: &Placement, shown: &Shown) -> String {
    match shown {
        Shown::Number { .. } | Shown::Between { .. } => shown.to_text(placement, circuit),
        Shown::OverRange => "OL".into(),
        Shown::Unstable => "would not settle".into(),
        Shown::Light(Light::Off) => "dark".into(),
        Shown::Light(Light::Dim) => "dim".into(),
        Shown::Light(Light::Bright) => "bright".into(),
        Shown::YesNo(yes) => match (placement, yes) {
            (Placement::Continuity { .. }, true) => "beeps".into(),
            (Placement::Continuity { .. }, false) => "no beep".into(),
            (_, true) => "yes".into(),
            (_, false) => "no".into(),
        },
        Shown::Code(state) => {
            let then = match (state, placement) {
                (CodeState::Present, Placement::Code { monitor }) => {
                    circuit.monitors.get(monitor.idx()).map_or("", |monitor| &monitor.then)
                }
                _ => "",
            };
            let state = code_state(*state);
            if then.is_empty() {
                state.into()
            } else {
                format!("{state}, so {then}")
            }
        }
        Shown::NoCommunication => "no communication".into(),
        Shown::NotTaken => "could not be taken".into(),
    }
}

/// A state of a code in words.
pub fn code_state(state: CodeState) -> &'static str {
    match state {
        CodeState::Present => "set",
        CodeState::Pending => "pending",
        CodeState::History => "set before, not now",
        CodeState::NotSet => "not set",
        CodeState::NotRun => "check has not run",
    }
}

/// What the bench says an instrument would show.
pub fn predicted(circuit: &Circuit, placement: &Placement, prediction: &Prediction) -> String {
    if let (Some(word), true) = (prediction.shown(placement, circuit), prediction.kind != Kind::NotRun) {
        return shown(circuit, placement, &word);
    }
    match (prediction.kind, placement) {
        (Kind::Live, _) => "nothing of use: live".into(),
        (Kind::NotRun, _) => "check does not run".into(),
        (Kind::Unknown, _) => unsaid(prediction),
        (Kind::Number, Placement::Voltmeter { .. }) if prediction.source_ohms > GHOST_OHMS => {
            format!("{} (nothing drives it)", number(circuit, placement, prediction.value))
        }
        _ => foreseen(circuit, placement, prediction),
    }
}

/// The number of a prediction: a frequency to no more figures than its uncertainty leaves.
pub fn foreseen(circuit: &Circuit, placement: &Placement, prediction: &Prediction) -> String {
    const MOST_FIGURES: f64 = 3.0;
    let spread = prediction
        .by_param
        .iter()
        .map(|slope| slope * slope)
        .sum::<f64>()
        .sqrt();
    let value = prediction.value;
    if unit(circuit, placement) == Ok(Unit::Hertz) && spread > 0.0 && value > 0.0 {
        let figures = (value.log10().floor() - spread.log10().floor() + 1.0).clamp(1.0, MOST_FIGURES);
        return quantity::with_digits(value, Unit::Hertz, figures as usize);
    }
    number(circuit, placement, value)
}

/// That nothing can be said, and why.
pub fn unsaid(prediction: &Prediction) -> String {
    let why = prediction.unsaid.map(|why| format!(": {}", why.words()));
    format!("cannot be said{}", why.unwrap_or_default())
}

/// What a test is expected to show: "10.1 to 12.3 V", "near 0 V", "dark".
pub fn expected(circuit: &Circuit, placement: &Placement, expected: &Expected) -> String {
    match expected {
        Expected::Is(showing) => shown(circuit, placement, showing),
        Expected::Range(low, high) => {
            // Outcomes that no stretch of the display holds together are told as the rest.
            if low > high {
                return "anything else".into();
            }
            if let (Err(unit), true) = (unit(circuit, placement), *low < 0.0 && *high > 0.0) {
                return format!("about 0 {unit}");
            }
            let volts = unit(circuit, placement) == Ok(Unit::Volt);
            if volts && low.abs() < NEAR_ZERO_VOLTS && high.abs() < NEAR_ZERO_VOLTS {
                return "near 0 V".into();
            }
            let (low, high) = (number(circuit, placement, *low), number(circuit, placement, *high));
            if low == high {
                format!("about {low}")
            } else {
                format!("{} to {high}", without_unit(&low, &high))
            }
        }
    }
}

/// The first of two values of a range, without its unit if the second has the same.
fn without_unit<'a>(low: &'a str, high: &str) -> &'a str {
    match (low.rsplit_once(' '), high.rsplit_once(' ')) {
        (Some((number, unit)), Some((_, other))) if unit == other => number,
        _ => low,
    }
}

/// Where a point is.
pub fn point(circuit: &Circuit, point: PointId) -> &str {
    &circuit.points[point.idx()].words
}

/// An instrument where it is placed: "voltage at sensor plug, cavity 3".
pub fn placement(circuit: &Circuit, placement: &Placement) -> String {
    let ends = |what: &str, red: PointId, black: PointId| {
        if black == circuit.battery_minus {
            format!("{what} at {}", point(circuit, red))
        } else {
            format!("{what} from {} to {}", point(circuit, red), point(circuit, black))
        }
    };
    let between = |what: &str, red: PointId, black: PointId| {
        format!("{what} from {} to {}", point(circuit, red), point(circuit, black))
    };
    match placement {
        Placement::Voltmeter { red, black } => ends("voltage", *red, *black),
        Placement::Alternating { shows, red, black } => {
            let what = match shows {
                Alternating::Volts => "AC voltage",
                Alternating::Hertz => "frequency",
                Alternating::Duty => "duty",
            };
            ends(what, *red, *black)
        }
        Placement::Ohmmeter { red, black } => between("resistance", *red, *black),
        Placement::DiodeTest { red, black } => between("diode test", *red, *black),
        Placement::Continuity { red, black } => between("beeper", *red, *black),
        Placement::Ammeter { red, black } => between("ammeter", *red, *black),
        Placement::Clamp { around } => {
            let branch = &circuit.branches[around.idx()];
            format!("clamp around {}", circuit.parts[branch.part.idx()].called())
        }
        Placement::TestLight { tip, clip } if *clip == circuit.battery_minus => {
            format!("test light at {}", point(circuit, *tip))
        }
        Placement::TestLight { tip, clip } => {
            format!(
                "test light at {}, clip on {}",
                point(circuit, *tip),
                point(circuit, *clip)
            )
        }
        Placement::Scan { channel } => format!("{} in scan data", circuit.channels[channel.idx()].words),
        Placement::Code { monitor } => {
            let monitor = &circuit.monitors[monitor.idx()];
            format!("code {}, {}", monitor.code, monitor.words)
        }
    }
}

/// A whole set-up in one line.
pub fn set_up(circuit: &Circuit, set_up: &SetUp) -> String {
    set_up.words(circuit).join(", ")
}

/// What of a set-up is not as usual, in one line; all of it if nothing is.
pub fn set_up_short(circuit: &Circuit, set_up: &SetUp) -> String {
    let usual = SetUp::normal().words(circuit);
    let own: Vec<String> = set_up
        .words(circuit)
        .into_iter()
        .filter(|words| !usual.contains(words))
        .collect();
    (if own.is_empty() { usual } else { own }).join(", ")
}

/// What the person does to go from one set-up to another, in the order in which one would.
pub fn changes(circuit: &Circuit, from: &SetUp, to: &SetUp) -> Vec<String> {
    let name = |part: circuit::PartId| circuit.parts[part.idx()].called();
    let connector = |id: &ConnectorId| name(circuit.connectors[id.idx()].part);
    let mut steps = Vec::new();
    steps.extend(
        from.apart
            .difference(&to.apart)
            .map(|id| format!("put the {} together", connector(id))),
    );
    steps.extend(
        to.apart
            .difference(&from.apart)
            .map(|id| format!("part the {}", connector(id))),
    );
    let device = |id: &circuit::DeviceId| name(circuit.devices[id.idx()].part);
    steps.extend(
        to.taken_out
            .difference(&from.taken_out)
            .map(|id| format!("take out the {}", device(id))),
    );
    steps.extend(
        from.taken_out
            .difference(&to.taken_out)
            .map(|id| format!("put the {} back", device(id))),
    );
    let fuse = |id: &circuit::FuseId| name(circuit.fuses[id.idx()].part);
    steps.extend(
        to.fuses_out
            .difference(&from.fuses_out)
            .map(|id| format!("pull the {}", fuse(id))),
    );
    steps.extend(
        from.fuses_out
            .difference(&to.fuses_out)
            .map(|id| format!("put the {} back", fuse(id))),
    );
    let relay = |id: &circuit::RelayId| name(circuit.relays[id.idx()].part);
    steps.extend(
        to.relays_out
            .difference(&from.relays_out)
            .map(|id| format!("pull the {}", relay(id))),
    );
    steps.extend(
        from.relays_out
            .difference(&to.relays_out)
            .map(|id| format!("put the {} back", relay(id))),
    );
    steps.extend(
        to.relays_bridged
            .difference(&from.relays_bridged)
            .map(|id| format!("bridge the {}", relay(id))),
    );
    steps.extend(
        from.relays_bridged
            .difference(&to.relays_bridged)
            .map(|id| format!("take the bridge off the {}", relay(id))),
    );
    if from.battery_off != to.battery_off {
        steps.push(
            if to.battery_off {
                "lift battery negative"
            } else {
                "put battery negative back on"
            }
            .into(),
        );
    }
    if from.key != to.key {
        steps.push(to.key.words().into());
    }
    let load = |id: &circuit::LoadId| circuit.loads[id.idx()].words.as_str();
    steps.extend(
        to.commanded
            .difference(&from.commanded)
            .map(|id| format!("switch on the {}", load(id))),
    );
    steps.extend(
        from.commanded
            .difference(&to.commanded)
            .map(|id| format!("switch off the {}", load(id))),
    );
    for (idx, sensed) in circuit.sensed.iter().enumerate() {
        if let Some(value) = circuit.brought_to(from, to, idx.into()) {
            steps.push(
                format!("bring {} to {value} {}", sensed.words, sensed.unit)
                    .trim_end()
                    .to_owned(),
            );
        }
    }
    steps.extend(
        from.placed
            .iter()
            .filter(|one| !to.placed.contains(one))
            .map(|one| format!("take off the {}", one.words(circuit))),
    );
    steps.extend(
        to.placed
            .iter()
            .filter(|one| !from.placed.contains(one))
            .map(|one| format!("clip in a {}", one.words(circuit))),
    );
    if let Some(provoked) = to.provoked.filter(|_| to.provoked != from.provoked) {
        let part = circuit.parts.get(provoked.at.idx()).map_or("", circuit::Part::called);
        steps.push(match provoked.how {
            Provocation::Wiggle => format!("move, bend and tap {part} while you watch the meter"),
            Provocation::Heat => format!("warm up {part} with a hot-air gun"),
            Provocation::Soak => format!("wet {part}"),
            Provocation::Load => format!("keep {part} under load until it is warm"),
        });
    }
    steps
}

/// A proposal's title: its one test, or what several at one place have in common.
pub fn title(circuit: &Circuit, tests: &[Test]) -> String {
    let [first, .., last] = tests else {
        return tests
            .first()
            .map(|test| capital(&placement(circuit, &test.placement)))
            .unwrap_or_default();
    };
    let both = |test: &Test| red(&test.placement).and_then(|point| connector_of(circuit, point));
    let all_volts = tests
        .iter()
        .all(|test| matches!(test.placement, Placement::Voltmeter { .. }));
    let what = if all_volts { "voltages" } else { "readings" };
    match (both(first), both(last)) {
        (Some(one), Some(other)) if one == other && tests.iter().all(|test| both(test) == Some(one)) => {
            let name = circuit.parts[circuit.connectors[one.idx()].part.idx()].called();
            let apart = if first.set_up.apart.contains(&one) {
                ", parted"
            } else {
                ""
            };
            capital(&format!("{} {what} at the {name}{apart}", count(tests.len())))
        }
        _ => capital(&format!(
            "{} {what}, from {}",
            count(tests.len()),
            placement(circuit, &first.placement)
        )),
    }
}

fn count(count: usize) -> String {
    match count {
        2 => "two".into(),
        3 => "three".into(),
        4 => "four".into(),
        _ => count.to_string(),
    }
}

/// The place of the red lead or tip.
pub fn red(placement: &Placement) -> Option<PointId> {
    leads(placement)[0]
}

/// Where both leads are, as far as there are leads.
pub fn leads(placement: &Placement) -> [Option<PointId>; 2] {
    match placement {
        Placement::Voltmeter { red, black }
        | Placement::Ohmmeter { red, black }
        | Placement::DiodeTest { red, black }
        | Placement::Continuity { red, black }
        | Placement::Alternating { red, black, .. }
        | Placement::Ammeter { red, black } => [Some(*red), Some(*black)],
        Placement::TestLight { tip, clip } => [Some(*tip), Some(*clip)],
        Placement::Clamp { .. } | Placement::Scan { .. } | Placement::Code { .. } => [None, None],
    }
}

fn connector_of(circuit: &Circuit, point: PointId) -> Option<ConnectorId> {
    match circuit.points[point.idx()].access {
        circuit::Access::WireSide(connector) | circuit::Access::PinSide(connector) => Some(connector),
        _ => None,
    }
}

/// The first letter large.
pub fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters
        .next()
        .map(|first| first.to_uppercase().chain(letters).collect())
        .unwrap_or_default()
}

/// How a reading leans for a suspect: -2 strongly against to 2 strongly for.
pub fn leaning(bits: f64) -> i8 {
    let side = if bits < 0.0 { -1 } else { 1 };
    match bits.abs() {
        size if size >= STRONG_BITS => 2 * side,
        size if size >= SPEAKS_BITS => side,
        _ => 0,
    }
}

/// The same in words.
pub fn leans(bits: f64) -> &'static str {
    match leaning(bits) {
        2 => "speaks strongly for it",
        1 => "speaks for it",
        -1 => "speaks against it",
        -2 => "speaks strongly against it",
        _ => "says neither yes nor no",
    }
}

/// What one reading says of a suspect.
pub fn why(circuit: &Circuit, reading: &Reading, bits: f64, expects: Option<(f64, f64)>) -> String {
    let at = &reading.test.placement;
    let speaks = leans(bits);
    let expects = expects.map(|(value, _)| format!("; with it one would read {}", number(circuit, at, value)));
    let read = format!("{}, {}", placement(circuit, at), shown(circuit, at, &reading.shown));
    format!("{}: {speaks}{}", capital(&read), expects.unwrap_or_default())
}

/// What a repair costs: "15 min, no part".
pub fn cost(fault: &Fault) -> String {
    let part = if fault.repair.parts_price > 0.0 {
        format!("parts {:.0}", fault.repair.parts_price)
    } else {
        "no part".into()
    };
    format!("{}, {part}", minutes(fault.repair.minutes))
}

/// What to mind before a connector of a module is parted or mated.
pub fn parting_caution(circuit: &Circuit, connector: ConnectorId) -> Option<String> {
    let connector = &circuit.connectors[connector.idx()];
    let of_module = connector
        .halves
        .iter()
        .any(|half| matches!(half.owner, Owner::Module(_)));
    let name = circuit.parts[connector.part.idx()].called();
    of_module.then(|| format!("Key off and wait until the module sleeps before the {name} is opened or closed."))
}
