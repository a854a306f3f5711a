//! The text form of a test: `voltmeter S1.2 battery-`, `clamp W3`, `scan pressure`, `code P0532`; with a set-up,
//! `voltmeter S1.2; key on; S1 apart`.
//!
//! Where only the red lead, or the tip of a test light, is named, the other is on battery negative. An ammeter always
//! names both: it is a dead short. Names of points may hold spaces; the longest known one is taken.

use std::ops::Range;

use circuit::{Access, BranchId, ChannelId, Circuit, MonitorId, PointId, Role, parse_set_up};

use crate::error::TextError;
use crate::test::{Alternating, Placement, Test};

/// The words for instruments.
const INSTRUMENTS: [&str; 12] = [
    "voltmeter",
    "ac",
    "frequency",
    "duty",
    "ohmmeter",
    "diode",
    "continuity",
    "ammeter",
    "clamp",
    "light",
    "scan",
    "code",
];
const KNOWN: &str = "voltmeter, ac, frequency, duty, ohmmeter, diode, continuity, ammeter, clamp, light, scan, code";

/// What is left to read, with its place in the whole text.
struct Rest<'t> {
    text: &'t str,
    from: usize,
}

impl<'t> Rest<'t> {
    fn skip_space(&mut self) {
        let trimmed = self.text.trim_start();
        self.from += self.text.len() - trimmed.len();
        self.text = trimmed.trim_end();
    }

    /// The first word, not taken.
    fn word(&self) -> &'t str {
        self.text.split_whitespace().next().unwrap_or("")
    }

    fn range(&self, length: usize) -> Range<usize> {
        self.from..self.from + length
    }

    fn take(&mut self, length: usize) {
        self.text = &self.text[length..];
        self.from += length;
        self.skip_space();
    }

    /// The longest name that the rest starts with, the first of several alike, ending at a space or at the end; as written first, then whatever its
    /// case.
    fn name<'n>(&mut self, names: &(impl Iterator<Item = &'n str> + Clone)) -> Option<(usize, Range<usize>)> {
        let starts = |name: &str, exact: bool| {
            let head = self.text.get(..name.len())?;
            let same = if exact {
                head == name
            } else {
                head.to_lowercase() == name.to_lowercase()
            };
            let ends = self.text[name.len()..].chars().next().is_none_or(char::is_whitespace);
            (same && ends && !name.is_empty()).then_some(name.len())
        };
        let find = |exact| {
            names
                .clone()
                .enumerate()
                .filter_map(|(at, name)| Some((starts(name, exact)?, at)))
                .min_by_key(|hit| std::cmp::Reverse(hit.0))
        };
        let (length, at) = find(true).or_else(|| find(false))?;
        let range = self.range(length);
        self.take(length);
        Some((at, range))
    }

    fn known<'n>(
        &mut self,
        what: &'static str,
        example: &'static str,
        names: impl Iterator<Item = &'n str> + Clone,
    ) -> Result<(usize, Range<usize>), TextError> {
        if self.text.is_empty() {
            return Err(TextError::Missing {
                at: self.range(0),
                missing: what,
                example,
            });
        }
        if let Some(found) = self.name(&names) {
            return Ok(found);
        }
        let found = self.word();
        let nearest = nearest(found, names);
        Err(TextError::Unknown {
            at: self.range(found.len()),
            found: found.to_owned(),
            what,
            nearest,
        })
    }

    fn point(&mut self, circuit: &Circuit, example: &'static str) -> Result<PointId, TextError> {
        let (at, range) = self.known("point", example, circuit.points.iter().map(|point| point.path.as_str()))?;
        let point = &circuit.points[at];
        if point.access == Access::Inside {
            return Err(TextError::OutOfReach {
                at: range,
                path: point.path.clone(),
                words: point.words.clone(),
            });
        }
        Ok(PointId::from(at))
    }
}

fn nearest<'n>(found: &str, names: impl Iterator<Item = &'n str>) -> Option<String> {
    let found = found.to_lowercase();
    names
        .map(|name| (strsim::damerau_levenshtein(&found, &name.to_lowercase()), name))
        .filter(|(distance, name)| *distance <= (name.chars().count() / 3).max(1))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, name)| name.to_owned())
}

/// Whether a clamp fits around a branch.
pub(crate) fn clampable(role: Role) -> bool {
    matches!(
        role,
        Role::Wire | Role::Ground | Role::Battery | Role::Charger | Role::Fuse | Role::Splice | Role::Crimp
    )
}

/// Reads an instrument and where it is placed.
///
/// ```text
/// voltmeter RED [BLACK]   ohmmeter RED [BLACK]   diode RED [BLACK]   continuity RED [BLACK]
/// ac RED [BLACK]          frequency RED [BLACK]  duty RED [BLACK]
/// ammeter RED BLACK       light TIP [CLIP]       clamp WIRE          scan VALUE    code CODE
/// ```
///
/// # Errors
/// [`TextError`] with the range of bytes to blame and, for a name that is nearly one of the circuit's, that one.
pub fn parse_placement(circuit: &Circuit, text: &str) -> Result<Placement, TextError> {
    placement(circuit, Rest { text, from: 0 })
}

fn placement(circuit: &Circuit, mut rest: Rest<'_>) -> Result<Placement, TextError> {
    rest.skip_space();
    let word = rest.word();
    if word.is_empty() {
        return Err(TextError::Empty {
            at: rest.range(0),
            expected: "a test, e.g. voltmeter S1.2",
        });
    }
    let Some(instrument) = INSTRUMENTS.into_iter().find(|known| word.eq_ignore_ascii_case(known)) else {
        let nearest = nearest(word, INSTRUMENTS.into_iter());
        let at = rest.range(word.len());
        return Err(TextError::NoInstrument {
            at,
            found: word.to_owned(),
            nearest,
            known: KNOWN,
        });
    };
    rest.take(word.len());
    let placed = match instrument {
        "clamp" => clamp(circuit, &mut rest)?,
        "scan" => {
            let names = circuit.channels.iter().map(|channel| channel.id.as_str());
            let (at, _) = rest.known("scan value", "scan pressure", names)?;
            Placement::Scan {
                channel: ChannelId::from(at),
            }
        }
        "code" => {
            let names = circuit.monitors.iter().map(|monitor| monitor.code.as_str());
            let (at, _) = rest.known("trouble code", "code P0532", names)?;
            Placement::Code {
                monitor: MonitorId::from(at),
            }
        }
        _ => two_leads(circuit, instrument, &mut rest)?,
    };
    if rest.text.is_empty() {
        return Ok(placed);
    }
    let expected = "write one test, e.g. voltmeter S1.2 battery-";
    Err(TextError::LeftOver {
        at: rest.range(rest.text.len()),
        found: rest.text.to_owned(),
        expected,
    })
}

fn clamp(circuit: &Circuit, rest: &mut Rest<'_>) -> Result<Placement, TextError> {
    let names = circuit.branches.iter().map(|branch| branch.path.as_str());
    let (at, range) = rest.known("wire", "clamp W3", names)?;
    let branch = &circuit.branches[at];
    if !clampable(branch.role) {
        return Err(TextError::NothingToClamp {
            at: range,
            path: branch.path.clone(),
        });
    }
    Ok(Placement::Clamp {
        around: BranchId::from(at),
    })
}

fn two_leads(circuit: &Circuit, instrument: &str, rest: &mut Rest<'_>) -> Result<Placement, TextError> {
    let red = rest.point(circuit, "voltmeter S1.2 battery-")?;
    let from = rest.from;
    let black = if rest.text.is_empty() && instrument != "ammeter" {
        circuit.battery_minus
    } else {
        rest.point(circuit, "ammeter S1.1 S1.1/pin")?
    };
    if red == black {
        return Err(TextError::SamePoint {
            at: from..rest.from,
            path: circuit.points[red.idx()].path.clone(),
        });
    }
    let alternating = |shows| Placement::Alternating { shows, red, black };
    Ok(match instrument {
        "ohmmeter" => Placement::Ohmmeter { red, black },
        "diode" => Placement::DiodeTest { red, black },
        "continuity" => Placement::Continuity { red, black },
        "ammeter" => Placement::Ammeter { red, black },
        "light" => Placement::TestLight { tip: red, clip: black },
        "ac" => alternating(Alternating::Volts),
        "frequency" => alternating(Alternating::Hertz),
        "duty" => alternating(Alternating::Duty),
        _ => Placement::Voltmeter { red, black },
    })
}

/// Reads a test with its set-up: the instrument first, then the items of the set-up, all separated by `;`.
///
/// # Errors
/// As [`parse_placement`] and [`parse_set_up`], with places in the whole text.
pub fn parse_test(circuit: &Circuit, text: &str) -> Result<Test, TextError> {
    let end = text.find(';').unwrap_or(text.len());
    let placement = placement(
        circuit,
        Rest {
            text: &text[..end],
            from: 0,
        },
    )?;
    let from = (end + 1).min(text.len());
    let set_up = parse_set_up(circuit, &text[from..]).map_err(|source| {
        let at = source.at();
        TextError::SetUp {
            at: at.start + from..at.end + from,
            source: Box::new(source),
        }
    })?;
    Ok(Test { placement, set_up })
}

impl Placement {
    /// The text that [`parse_placement`] reads back, for placements within this circuit.
    pub fn to_text(&self, circuit: &Circuit) -> String {
        let point = |id: &PointId| circuit.points.get(id.idx()).map_or("?", |point| point.path.as_str());
        let leads = |word: &str, red, black| format!("{word} {} {}", point(red), point(black));
        match self {
            Self::Voltmeter { red, black } => leads("voltmeter", red, black),
            Self::Ohmmeter { red, black } => leads("ohmmeter", red, black),
            Self::DiodeTest { red, black } => leads("diode", red, black),
            Self::Continuity { red, black } => leads("continuity", red, black),
            Self::Ammeter { red, black } => leads("ammeter", red, black),
            Self::Alternating { shows, red, black } => {
                let word = match shows {
                    Alternating::Volts => "ac",
                    Alternating::Hertz => "frequency",
                    Alternating::Duty => "duty",
                };
                leads(word, red, black)
            }
            Self::TestLight { tip, clip } => leads("light", tip, clip),
            Self::Clamp { around } => {
                format!(
                    "clamp {}",
                    circuit
                        .branches
                        .get(around.idx())
                        .map_or("?", |branch| branch.path.as_str())
                )
            }
            Self::Scan { channel } => {
                format!(
                    "scan {}",
                    circuit
                        .channels
                        .get(channel.idx())
                        .map_or("?", |channel| channel.id.as_str())
                )
            }
            Self::Code { monitor } => {
                format!(
                    "code {}",
                    circuit
                        .monitors
                        .get(monitor.idx())
                        .map_or("?", |monitor| monitor.code.as_str())
                )
            }
        }
    }
}

impl Test {
    /// The text that [`parse_test`] reads back.
    pub fn to_text(&self, circuit: &Circuit) -> String {
        format!("{}; {}", self.placement.to_text(circuit), self.set_up.to_text(circuit))
    }
}

/// Shared with the readings' text: a name near `found`.
pub(crate) fn nearest_of(found: &str, names: &[&'static str]) -> Option<String> {
    nearest(found, names.iter().copied())
}
