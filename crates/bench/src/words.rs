//! A test in the technician's words.

use circuit::{Circuit, PointId};

use crate::prediction::{Kind, Prediction, Unsaid};
use crate::test::{Alternating, CodeState, Light, Placement, Shown, Test};

impl Placement {
    /// "voltmeter, red on sensor plug, cavity 3, wire side; black on battery negative".
    pub fn words(&self, circuit: &Circuit) -> String {
        let point = |id: &PointId| {
            circuit
                .points
                .get(id.idx())
                .map_or("nothing", |point| point.words.as_str())
        };
        let leads = |what: &str, red, black| format!("{what}, red on {}; black on {}", point(red), point(black));
        match self {
            Self::Voltmeter { red, black } => leads("voltmeter", red, black),
            Self::Ohmmeter { red, black } => leads("ohmmeter", red, black),
            Self::DiodeTest { red, black } => leads("diode test", red, black),
            Self::Continuity { red, black } => leads("continuity beeper", red, black),
            Self::Ammeter { red, black } => leads("ammeter", red, black),
            Self::Alternating { shows, red, black } => leads(shows.instrument(), red, black),
            Self::TestLight { tip, clip } => format!("test light, tip on {}; clip on {}", point(tip), point(clip)),
            Self::Clamp { around } => {
                let branch = circuit.branches.get(around.idx());
                let part = branch.and_then(|branch| circuit.parts.get(branch.part.idx()));
                let name = part.map_or(
                    "nothing",
                    |part| if part.name.is_empty() { &part.id } else { &part.name },
                );
                format!("current clamp around {name}")
            }
            Self::Scan { channel } => {
                let words = circuit
                    .channels
                    .get(channel.idx())
                    .map_or("nothing", |channel| channel.words.as_str());
                format!("scan data, {words}")
            }
            Self::Code { monitor } => circuit.monitors.get(monitor.idx()).map_or_else(
                || "trouble code".to_owned(),
                |monitor| format!("trouble code {}, {}", monitor.code, monitor.words),
            ),
        }
    }

    /// The instrument alone: "voltmeter".
    pub fn instrument(&self) -> &'static str {
        match self {
            Self::Voltmeter { .. } => "voltmeter",
            Self::Ohmmeter { .. } => "ohmmeter",
            Self::DiodeTest { .. } => "diode test",
            Self::Continuity { .. } => "continuity beeper",
            Self::Ammeter { .. } => "ammeter",
            Self::Alternating { shows, .. } => shows.instrument(),
            Self::TestLight { .. } => "test light",
            Self::Clamp { .. } => "current clamp",
            Self::Scan { .. } => "scan data",
            Self::Code { .. } => "trouble code",
        }
    }
}

impl Alternating {
    /// "frequency meter".
    fn instrument(self) -> &'static str {
        match self {
            Self::Volts => "AC voltmeter",
            Self::Hertz => "frequency meter",
            Self::Duty => "duty meter",
        }
    }
}

impl Test {
    /// "key on, engine off; sensor plug apart: voltmeter, red on …; black on …".
    pub fn words(&self, circuit: &Circuit) -> String {
        format!(
            "{}: {}",
            self.set_up.words(circuit).join("; "),
            self.placement.words(circuit)
        )
    }
}

/// Below this a 12 V filament is dark, volts; from [`BRIGHT_VOLTS`] on it is bright. Common practice, no source: the eye
/// in daylight; the same figures as the bank of outside cases.
pub const DARK_VOLTS: f64 = 2.0;
/// See [`DARK_VOLTS`].
pub const BRIGHT_VOLTS: f64 = 8.0;

/// Up to this a continuity tester beeps, ohms. Common practice, no source: meters differ between 20 Ω and 70 Ω.
pub const BEEP_OHMS: f64 = 40.0;

impl Prediction {
    /// As [`Kind::shown`], of its own value.
    pub fn shown(&self, placement: &Placement, circuit: &Circuit) -> Option<Shown> {
        self.kind.shown(self.value, placement, circuit)
    }
}

impl Unsaid {
    /// The reason, as the rest of a sentence: "a meter follows what repeats slower than 5 Hz".
    pub fn words(self) -> &'static str {
        match self {
            Self::Unsettled => "the circuit comes to no stable state so",
            Self::Slow => "what repeats slower than 5 Hz is followed by a meter or lamp, which then shows no mean",
            Self::FastForAlternating => {
                "it repeats faster than 1 kHz, where alternating ranges differ from meter to meter"
            }
            Self::FastForCounter => "it repeats faster than 100 kHz, which a meter no longer counts",
            Self::NoSwing => "nothing there swings by the 0.5 V that a meter needs to trigger",
            Self::Several => "several things that repeat act on it at once: hold all but one in a phase",
            Self::ShortFilter => "the module filters this value for less than three periods, so that it wanders",
            Self::Lag => {
                "it hangs on how a coil's current rises and falls in each pulse, and on the peak at switching off, \
                          which are not followed"
            }
            Self::Between => "it hangs on a coil's current that neither follows each pulse nor flows on evenly",
            Self::SeveralCoils => {
                "it hangs on the currents of several coils that flow on, or of one that is switched in \
                                   several ways, which are not followed together"
            }
            Self::NoWayOn => {
                "a coil's current would flow on between the pulses, and nothing carries it: no diode, no resistor"
            }
            Self::SwitchedOhms => "what is measured is switched on and off meanwhile: hold it in a phase",
            Self::Mixed => "it shows a number in one phase and none in another: hold it in a phase",
            Self::Moments => "the check would see one thing at one moment and another at the next",
        }
    }
}

impl Kind {
    /// What the instrument would show, where that is no number: a light's brightness, a beep, a code's state, over-range.
    /// `None` for numbers, for an ohmmeter on a live circuit, and where nothing can be said.
    pub fn shown(self, value: f64, placement: &Placement, circuit: &Circuit) -> Option<Shown> {
        match (self, placement) {
            (Kind::OverRange, Placement::Continuity { .. }) => Some(Shown::YesNo(false)),
            (Kind::OverRange, _) => Some(Shown::OverRange),
            (Kind::NoCommunication, _) => Some(Shown::NoCommunication),
            (Kind::NotRun, _) => Some(Shown::Code(CodeState::NotRun)),
            (Kind::Number, Placement::TestLight { .. }) => Some(Shown::Light(Light::at(value))),
            (Kind::Number, Placement::Continuity { .. }) => Some(Shown::YesNo(value <= BEEP_OHMS)),
            (Kind::Number, Placement::Code { monitor }) => circuit.monitors.get(monitor.idx()).map(|monitor| {
                Shown::Code(if monitor.limits.fails(value) {
                    CodeState::Present
                } else {
                    CodeState::NotSet
                })
            }),
            (Kind::Number | Kind::Live | Kind::Unknown, _) => None,
        }
    }
}

impl Light {
    /// What a 12 V test light does at a voltage across its filament.
    pub fn at(volts: f64) -> Self {
        match volts.abs() {
            volts if volts < DARK_VOLTS => Self::Off,
            volts if volts < BRIGHT_VOLTS => Self::Dim,
            _ => Self::Bright,
        }
    }
}
