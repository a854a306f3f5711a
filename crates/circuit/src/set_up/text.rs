//! The text form of a set-up, read and written.
//!
//! Items are separated by `;`. What is not named is as usual: key on, everything joined and fitted, sensed values as the
//! circuit gives them.
//!
//! ```text
//! key off | accessory | on | cranking | running | held | asleep
//! S1 apart                     a connector              battery off       battery negative lifted
//! dongle out                   an accessory             pressure 8 bar    a sensed value
//! fuse F3 out                                           fan commanded     a load
//! relay K1 out | bridged
//! jumper S1.1 S1.2 [fused 3 A]                          overlay S1.2 M1.27
//! resistor S1.1 S1.3 4.7k                               bulb P1.1 P1.2 21 W
//! source S1.2 battery- 2.5 V 10 mA                      positive end first
//! pulses 30 %                  another duty of what repeats      pulses in on | rest    held in a phase
//! wiggle S1 | heat | soak | load                        what is done to a part meanwhile
//! ```
//!
//! Names are found whatever their case, exact spelling first. Whether a probe or clip reaches a point depends on the rest
//! of the set-up and is judged where the set-up is used; only points that nothing ever reaches are refused here.

use std::ops::Range;

use quantity::{Spread, Unit};

use super::written::sensed_text;
use super::{Key, Placed, Provocation, Provoked, SetUp, SetUpError};
use crate::branch::Access;
use crate::file::suggestion;
use crate::id::{LoadId, PartId, PointId, RhythmId, SensedId};
use crate::model::{Circuit, PartKind, Sensed};
use crate::rhythm::Rhythm;

/// Reads a set-up. The empty text is [`SetUp::normal`].
///
/// # Errors
/// [`SetUpError`] for the first item that is not understood, names what the circuit lacks, or contradicts an earlier one.
pub fn parse_set_up(circuit: &Circuit, text: &str) -> Result<SetUp, SetUpError> {
    let mut reader = Reader {
        circuit,
        set_up: SetUp::normal(),
        key_given: false,
    };
    let mut start = 0;
    for raw in text.split(';') {
        let item = Piece { text: raw, start }.trimmed();
        if !item.text.is_empty() {
            reader.item(item)?;
        }
        start += raw.len() + 1;
    }
    Ok(reader.set_up)
}

/// A piece of the text and where it starts.
#[derive(Clone, Copy)]
struct Piece<'t> {
    text: &'t str,
    start: usize,
}

impl Piece<'_> {
    fn at(&self) -> Range<usize> {
        self.start..self.start + self.text.len()
    }

    fn found(&self) -> String {
        self.text.to_owned()
    }

    fn trimmed(self) -> Self {
        let left = self.text.trim_start();
        Self {
            text: left.trim_end(),
            start: self.start + self.text.len() - left.len(),
        }
    }

    /// The first word and the rest.
    fn split_first(self) -> (Self, Self) {
        self.split_at(self.text.find(char::is_whitespace).unwrap_or(self.text.len()))
    }

    /// What stands before the last word, and the last word.
    fn split_last(self) -> (Self, Self) {
        let last = self.text.rfind(char::is_whitespace).map_or(0, |space| {
            space
                + self
                    .text
                    .get(space..)
                    .and_then(|rest| rest.chars().next())
                    .map_or(0, char::len_utf8)
        });
        self.split_at(last)
    }

    /// Two trimmed pieces; `middle` is on a character boundary.
    fn split_at(self, middle: usize) -> (Self, Self) {
        let (left, right) = self.text.split_at(middle);
        (
            Self { text: left, ..self }.trimmed(),
            Self {
                text: right,
                start: self.start + middle,
            }
            .trimmed(),
        )
    }

    fn is(&self, word: &str) -> bool {
        self.text.eq_ignore_ascii_case(word)
    }

    fn expected(&self, expected: &'static str) -> SetUpError {
        SetUpError::Expected {
            at: self.at(),
            found: self.found(),
            expected,
        }
    }

    /// A value without a tolerance.
    fn value(&self, unit: Unit) -> Result<f64, SetUpError> {
        let amount = quantity::parse(self.text, unit).map_err(|source| {
            let blame = source.at();
            SetUpError::Value {
                at: self.start + blame.start..self.start + blame.end,
                source,
            }
        })?;
        match amount.spread {
            Spread::Unstated => Ok(amount.value),
            _ => Err(SetUpError::Tolerance {
                at: self.at(),
                found: self.found(),
            }),
        }
    }

    fn positive(&self, unit: Unit) -> Result<f64, SetUpError> {
        let value = self.value(unit)?;
        if (LEAST..=MOST).contains(&value) {
            Ok(value)
        } else {
            Err(SetUpError::Unusable {
                at: self.at(),
                found: self.found(),
            })
        }
    }
}

/// Least and most of what can be clipped in, ohms, watts, volts or amperes.
const LEAST: f64 = 1e-3;
const MOST: f64 = 1e9;

/// The first words of items, for a hint when an item is not understood.
const FIRST_WORDS: [&str; 13] = [
    "key", "fuse", "relay", "battery", "jumper", "resistor", "bulb", "source", "overlay", "wiggle", "heat", "soak",
    "load",
];

/// What follows the name of something that repeats.
const DUTY_OR_PHASE: &str = "a share of the time from 0 to 100 %, or `in` and a phase, e.g. `in rest`,";

struct Reader<'c> {
    circuit: &'c Circuit,
    set_up: SetUp,
    key_given: bool,
}

impl Reader<'_> {
    fn item(&mut self, item: Piece<'_>) -> Result<(), SetUpError> {
        let (first, rest) = item.split_first();
        let (before, last) = item.split_last();
        let contradiction = || SetUpError::Contradiction {
            at: item.at(),
            found: item.found(),
        };
        if last.is("apart") {
            let connector = self.part(before, "connector", |kind| match kind {
                PartKind::Connector(id) => Some(id),
                _ => None,
            })?;
            self.set_up.apart.insert(connector);
        } else if first.is("key") {
            let key = key(rest)?;
            if self.key_given && key != self.set_up.key {
                return Err(contradiction());
            }
            self.set_up.key = key;
            self.key_given = true;
        } else if first.is("fuse") {
            let (name, last) = rest.split_last();
            if !last.is("out") {
                return Err(end_of(item).expected("`out` after the fuse"));
            }
            let fuse = self.part(name, "fuse", |kind| match kind {
                PartKind::Fuse(id) => Some(id),
                _ => None,
            })?;
            self.set_up.fuses_out.insert(fuse);
        } else if first.is("relay") {
            let (name, last) = rest.split_last();
            if !last.is("out") && !last.is("bridged") {
                return Err(end_of(item).expected("`out` or `bridged` after the relay"));
            }
            let relay = self.part(name, "relay", |kind| match kind {
                PartKind::Relay(id) => Some(id),
                _ => None,
            })?;
            let (list, other) = if last.is("out") {
                (&mut self.set_up.relays_out, &self.set_up.relays_bridged)
            } else {
                (&mut self.set_up.relays_bridged, &self.set_up.relays_out)
            };
            if other.contains(&relay) {
                return Err(contradiction());
            }
            list.insert(relay);
        } else if first.is("battery") && rest.is("off") {
            self.set_up.battery_off = true;
        } else if last.is("out") {
            let accessory = self.part(before, "accessory", |kind| match kind {
                PartKind::Device(id) if self.circuit.devices[id.idx()].accessory => Some(id),
                _ => None,
            })?;
            self.set_up.taken_out.insert(accessory);
        } else if last.is("commanded") {
            let loads = self
                .circuit
                .loads
                .iter()
                .enumerate()
                .map(|(idx, load)| (LoadId::from(idx), load.id.as_str()));
            self.set_up
                .commanded
                .insert(find(before, "load that can be commanded", loads)?);
        } else if let Some((id, rest)) = self.rhythm(item) {
            self.rhythm_item(item, id, rest)?;
        } else if let Some(how) = self.provocation(first) {
            let parts = self.circuit.parts.iter().enumerate();
            let at = find(
                rest,
                "part",
                parts.map(|(idx, part)| (PartId::from(idx), part.id.as_str())),
            )?;
            let provoked = Provoked { how, at };
            if self
                .set_up
                .provoked
                .replace(provoked)
                .is_some_and(|other| other != provoked)
            {
                return Err(contradiction());
            }
        } else if let Some(placed) = self.placed(first, rest)? {
            self.set_up.placed.push(placed);
        } else {
            let (sensed, value) = self.sensed(item)?;
            if self
                .set_up
                .sensed
                .insert(sensed, value)
                .is_some_and(|earlier| earlier != value)
            {
                return Err(contradiction());
            }
        }
        Ok(())
    }

    /// A rhythm that the item starts with, and the rest of it.
    fn rhythm<'t>(&self, item: Piece<'t>) -> Option<(RhythmId, Piece<'t>)> {
        let rhythms = self.circuit.rhythms.iter().enumerate();
        let ids = rhythms.map(|(idx, rhythm)| (RhythmId::from(idx), rhythm.id.as_str()));
        let (id, length) = longest_name(item.text, ids)?;
        Some((id, item.split_at(length).1))
    }

    /// `30 %`, or `in on`, but not both: held still, nothing takes a share of the time.
    fn rhythm_item(&mut self, item: Piece<'_>, id: RhythmId, rest: Piece<'_>) -> Result<(), SetUpError> {
        let contradiction = || SetUpError::Contradiction {
            at: item.at(),
            found: item.found(),
        };
        let (word, name) = rest.split_first();
        if word.is("in") {
            let rhythm = &self.circuit.rhythms[id.idx()];
            let names = rhythm
                .phases
                .iter()
                .enumerate()
                .map(|(at, phase)| (Some(at), phase.name.as_str()));
            let phase = find(name, "phase", names.chain([(None, Rhythm::REST)]))?;
            let other = self.set_up.held.insert(id, phase);
            self.not_both(item, id)?;
            return if other.is_some_and(|other| other != phase) {
                Err(contradiction())
            } else {
                Ok(())
            };
        }
        if rest.text.starts_with(char::is_alphabetic) || rest.text.is_empty() {
            return Err(rest.expected(DUTY_OR_PHASE));
        }
        let duty = rest.value(Unit::Percent)?;
        if !(0.0..=100.0).contains(&duty) {
            return Err(rest.expected(DUTY_OR_PHASE));
        }
        let other = self.set_up.duty.insert(id, duty);
        self.not_both(item, id)?;
        if other.is_some_and(|other| other != duty) {
            Err(contradiction())
        } else {
            Ok(())
        }
    }

    fn not_both(&self, item: Piece<'_>, id: RhythmId) -> Result<(), SetUpError> {
        if self.set_up.held.contains_key(&id) && self.set_up.duty.contains_key(&id) {
            return Err(SetUpError::HeldWithDuty {
                at: item.at(),
                rhythm: self.circuit.rhythms[id.idx()].id.clone(),
            });
        }
        Ok(())
    }

    /// What is done to a part, unless the circuit has a sensed value of that name.
    fn provocation(&self, word: Piece<'_>) -> Option<Provocation> {
        let sensed = self.circuit.sensed.iter().any(|sensed| word.is(&sensed.id));
        let all = Provocation::ALL.into_iter();
        all.filter(|_| !sensed).find(|how| word.is(how.word()))
    }

    fn part<Id>(
        &self,
        name: Piece<'_>,
        kind: &'static str,
        pick: impl Fn(PartKind) -> Option<Id>,
    ) -> Result<Id, SetUpError> {
        let parts = self
            .circuit
            .parts
            .iter()
            .filter_map(|part| Some((pick(part.kind)?, part.id.as_str())));
        find(name, kind, parts)
    }

    /// A sensed quantity and its value.
    fn sensed(&self, item: Piece<'_>) -> Result<(SensedId, f64), SetUpError> {
        let ids = self
            .circuit
            .sensed
            .iter()
            .enumerate()
            .map(|(idx, sensed)| (SensedId::from(idx), sensed.id.as_str()));
        let Some((id, length)) = longest_name(item.text, ids) else {
            let sensed = self.circuit.sensed.iter().map(|sensed| sensed.id.as_str());
            let hint = suggestion(item.split_first().0.text, FIRST_WORDS.into_iter().chain(sensed));
            return Err(SetUpError::UnknownItem {
                at: item.at(),
                found: item.found(),
                hint,
            });
        };
        let sensed = &self.circuit.sensed[id.idx()];
        let written = item.split_at(length).1;
        let value = if let Some(unit) = sensed_unit(sensed) {
            written.value(unit)?
        } else {
            let number = written.text.strip_suffix(sensed.unit.as_str()).unwrap_or(written.text);
            Piece {
                text: number,
                ..written
            }
            .trimmed()
            .value(Unit::One)?
        };
        if value < sensed.range.0 || value > sensed.range.1 {
            return Err(SetUpError::OutOfRange {
                at: written.at(),
                found: written.found(),
                words: sensed.words.clone(),
                least: sensed_text(sensed, sensed.range.0),
                most: sensed_text(sensed, sensed.range.1),
            });
        }
        Ok((id, value))
    }

    /// What is clipped in, if the first word says so.
    fn placed(&self, first: Piece<'_>, rest: Piece<'_>) -> Result<Option<Placed>, SetUpError> {
        if !["jumper", "resistor", "bulb", "source", "overlay"]
            .iter()
            .any(|word| first.is(word))
        {
            return Ok(None);
        }
        let (a, after) = self.point(rest)?;
        let (b, value) = self.point(after)?;
        if a == b {
            return Err(SetUpError::SameEnds {
                at: rest.at(),
                found: self.circuit.points[a.idx()].path.clone(),
            });
        }
        Ok(Some(if first.is("jumper") {
            let (fused, rating) = value.split_first();
            let fuse_amps = match fused.text {
                "" => None,
                _ if fused.is("fused") => Some(rating.positive(Unit::Ampere)?),
                _ => return Err(value.expected("nothing, or `fused` with its rating")),
            };
            Placed::Jumper { a, b, fuse_amps }
        } else if first.is("resistor") {
            Placed::Resistor {
                a,
                b,
                ohms: value.positive(Unit::Ohm)?,
            }
        } else if first.is("bulb") {
            Placed::Bulb {
                a,
                b,
                watts: value.positive(Unit::Watt)?,
            }
        } else if first.is("source") {
            let (volts, limit) = volts_and_limit(value)?;
            Placed::Source {
                plus: a,
                minus: b,
                volts,
                limit_amps: limit.positive(Unit::Ampere)?,
            }
        } else if value.text.is_empty() {
            Placed::OverlayWire { a, b }
        } else {
            return Err(value.expected("nothing more"));
        }))
    }

    /// The point that the text starts with, and the rest.
    fn point<'t>(&self, text: Piece<'t>) -> Result<(PointId, Piece<'t>), SetUpError> {
        if text.text.is_empty() {
            return Err(text.expected("a point, e.g. S1.2"));
        }
        let names = || {
            self.circuit
                .points
                .iter()
                .enumerate()
                .map(|(idx, point)| (PointId::from(idx), point.path.as_str()))
        };
        let Some((id, length)) = longest_name(text.text, names()) else {
            let word = text.split_first().0;
            let hint = suggestion(word.text, names().map(|(_, name)| name));
            return Err(SetUpError::UnknownName {
                at: word.at(),
                found: word.found(),
                kind: "point",
                hint,
            });
        };
        let (name, rest) = text.split_at(length);
        let point = &self.circuit.points[id.idx()];
        if point.access == Access::Inside {
            return Err(SetUpError::OutOfReach {
                at: name.at(),
                found: name.found(),
                words: point.words.clone(),
            });
        }
        Ok((id, rest))
    }
}

fn end_of(item: Piece<'_>) -> Piece<'_> {
    item.split_at(item.text.len()).1
}

fn key(word: Piece<'_>) -> Result<Key, SetUpError> {
    if word.text.is_empty() {
        return Err(word.expected("a key position"));
    }
    Key::ALL
        .into_iter()
        .find(|key| word.is(key.word()))
        .ok_or_else(|| SetUpError::UnknownKey {
            at: word.at(),
            found: word.found(),
            hint: suggestion(word.text, Key::ALL.iter().map(|key| key.word())),
        })
}

/// `2.5 V 10 mA`: cut where the left side is a voltage and the right side a current.
fn volts_and_limit(value: Piece<'_>) -> Result<(f64, Piece<'_>), SetUpError> {
    value
        .text
        .match_indices(char::is_whitespace)
        .map(|(space, _)| value.split_at(space))
        .find_map(|(volts, limit)| {
            Some((
                volts.value(Unit::Volt).ok()?,
                limit.value(Unit::Ampere).ok().map(|_| limit)?,
            ))
        })
        .ok_or_else(|| value.expected("a voltage and a current limit, e.g. 2.5 V 10 mA"))
}

fn find<'n, Id>(
    name: Piece<'_>,
    kind: &'static str,
    names: impl Iterator<Item = (Id, &'n str)> + Clone,
) -> Result<Id, SetUpError> {
    let exact = names.clone().find(|(_, known)| *known == name.text);
    exact
        .or_else(|| names.clone().find(|(_, known)| name.is(known)))
        .map(|(id, _)| id)
        .ok_or_else(|| SetUpError::UnknownName {
            at: name.at(),
            found: name.found(),
            kind,
            hint: suggestion(name.text, names.map(|(_, known)| known)),
        })
}

/// The longest name that the text starts with as whole words, exact case before other case, and its length in bytes.
fn longest_name<'n, Id>(text: &str, names: impl Iterator<Item = (Id, &'n str)>) -> Option<(Id, usize)> {
    names
        .filter_map(|(id, name)| {
            let (start, rest) = text.split_at_checked(name.len())?;
            let whole = !name.is_empty() && rest.chars().next().is_none_or(char::is_whitespace);
            (whole && start.eq_ignore_ascii_case(name)).then_some((id, name.len(), start == name))
        })
        .max_by_key(|&(_, length, exact)| (length, exact))
        .map(|(id, length, _)| (id, length))
}

/// The unit of a sensed quantity, where it is one that values are written in.
fn sensed_unit(sensed: &Sensed) -> Option<Unit> {
    Unit::ALL.into_iter().find(|unit| unit.symbol() == sensed.unit)
}
