//! What of a set-up has no effect, though nothing in it is wrong.

use super::{Condition, Key, SetUp};
use crate::branch::At;
use crate::id::{LoadId, RhythmId, SensedId};
use crate::model::Circuit;
use crate::rhythm::Rhythm;

/// One thing that a set-up says and that changes nothing.
enum Remark {
    /// A duty of something that stands still, at 0 Hz.
    Still(RhythmId),
    /// A duty or phase of something that does not go, and with what it would.
    Idle(RhythmId, Vec<Lack>),
    /// A sensed value, which a rhythm sets to another in a phase: while it goes, or held there.
    Overrun {
        sensed: SensedId,
        given: f64,
        rhythm: RhythmId,
        phase: usize,
        goes: bool,
    },
}

/// With what something would go.
#[derive(Clone, Copy)]
enum Lack {
    Load(LoadId),
    Key(Key),
}

impl SetUp {
    /// One sentence, in the words of the circuit file, for each thing that it says and that changes nothing: a duty of pulses
    /// that do not go, a sensed value that what repeats sets itself. Empty where all counts.
    pub fn remarks(&self, circuit: &Circuit) -> Vec<String> {
        self.without_effect(circuit)
            .iter()
            .map(|one| one.in_text(circuit))
            .collect()
    }

    /// The same in the technician's words.
    pub fn remarks_in_words(&self, circuit: &Circuit) -> Vec<String> {
        self.without_effect(circuit)
            .iter()
            .map(|one| one.in_words(circuit))
            .collect()
    }

    fn without_effect(&self, circuit: &Circuit) -> Vec<Remark> {
        let at = At::centre(circuit, self);
        let all = self.duty.keys().chain(self.held.keys());
        let idle = all.filter_map(|named| {
            let rhythm = &circuit.rhythms[named.idx()];
            // Held in a phase that sets what is sensed, it counts without going.
            let sets = self.held.contains_key(named) && rhythm.phases.iter().any(|phase| phase.sets.is_some());
            if rhythm.runs.holds(&at) {
                let still = self.duty.contains_key(named) && rhythm.rate.value(&at) <= 0.0;
                return still.then_some(Remark::Still(*named));
            }
            let lacking = || rhythm.runs.lacking(&at).unwrap_or_default();
            (!sets).then(|| Remark::Idle(*named, lacking()))
        });
        let going = circuit.going(self).map(|(id, _)| (id, true));
        let held = self.held.keys().map(|id| (*id, false));
        let overrun = going
            .chain(held)
            .filter_map(|(id, goes)| self.overrun(circuit, id, goes));
        idle.chain(overrun).collect()
    }

    /// Sensed values given that a rhythm's phases set otherwise.
    fn overrun(&self, circuit: &Circuit, rhythm: RhythmId, goes: bool) -> Option<Remark> {
        let phases = circuit.rhythms[rhythm.idx()].phases.iter().enumerate();
        let mut here = phases.filter(|(at, _)| goes || self.held.get(&rhythm) == Some(&Some(*at)));
        here.find_map(|(phase, sets)| {
            let (sensed, value) = sets.sets?;
            let given = *self.sensed.get(&sensed).filter(|given| goes || **given != value)?;
            Some(Remark::Overrun {
                sensed,
                given,
                rhythm,
                phase,
                goes,
            })
        })
    }
}

impl Remark {
    fn rhythm<'c>(&self, circuit: &'c Circuit) -> &'c Rhythm {
        let (Self::Still(id) | Self::Idle(id, _) | Self::Overrun { rhythm: id, .. }) = self;
        &circuit.rhythms[id.idx()]
    }

    /// The phase in question, and what it sets the sensed value to.
    fn set_to(&self, circuit: &Circuit) -> (String, f64) {
        let Self::Overrun { phase, .. } = self else {
            return (String::new(), 0.0);
        };
        let phase = self.rhythm(circuit).phases.get(*phase);
        let value = phase.and_then(|phase| phase.sets).map_or(0.0, |(_, value)| value);
        (phase.map_or_else(String::new, |phase| phase.name.clone()), value)
    }

    fn in_text(&self, circuit: &Circuit) -> String {
        let Rhythm { id, words, .. } = self.rhythm(circuit);
        match self {
            Self::Still(_) => format!("`{id}` has no effect: {words} stand still, at 0 Hz"),
            Self::Idle(_, lacking) => {
                let lacking = lacking.iter().map(|one| match one {
                    Lack::Load(load) => format!("`{} commanded`", circuit.loads[load.idx()].id),
                    Lack::Key(key) => format!("`key {}`", key.word()),
                });
                let goes = goes_with(&lacking.collect::<Vec<_>>());
                format!("`{id}` has no effect: {words} do not go in this set-up{goes}")
            }
            Self::Overrun {
                sensed, given, goes, ..
            } => {
                let name = &circuit.sensed[sensed.idx()].id;
                let (phase, value) = self.set_to(circuit);
                let instead = if *goes {
                    format!(
                        "holds only where no phase sets it: {words} set it to {value} in `{phase}`; to hold it still, write `{id} in \
                         {phase}` or `{id} in rest`"
                    )
                } else {
                    format!(
                        "counts for nothing: {words}, held in `{phase}`, set it to {value}; leave one of the two out"
                    )
                };
                format!("`{name} {given}` {instead}")
            }
        }
    }

    fn in_words(&self, circuit: &Circuit) -> String {
        let words = &self.rhythm(circuit).words;
        match self {
            Self::Still(_) => format!("{words} stand still, so their share of the time has no effect"),
            Self::Idle(_, lacking) => {
                let lacking = lacking.iter().map(|one| match one {
                    Lack::Load(load) => format!("{} on", circuit.loads[load.idx()].words),
                    Lack::Key(key) => key.words().to_owned(),
                });
                let goes = goes_with(&lacking.collect::<Vec<_>>());
                format!("{words} do not go as the vehicle stands, so what is said of them has no effect{goes}")
            }
            Self::Overrun { sensed, goes, .. } => {
                let of = &circuit.sensed[sensed.idx()];
                let (_, value) = self.set_to(circuit);
                let (name, unit) = (&of.words, &of.unit);
                let held = if *goes {
                    "while they pass"
                } else {
                    "held where they are"
                };
                format!("{words} set {name} to {value} {unit} {held}, whatever is said of it")
            }
        }
    }
}

/// The end of a sentence: with what something would go; empty where no words are at hand.
fn goes_with(lacking: &[String]) -> String {
    if lacking.is_empty() {
        String::new()
    } else {
        format!("; they go with {}", lacking.join(" or "))
    }
}

impl Condition {
    /// What is lacking for it to hold, each enough by itself; `None` where it is nothing that has words.
    fn lacking(&self, at: &At<'_>) -> Option<Vec<Lack>> {
        match self {
            Self::Commanded(load) => Some(vec![Lack::Load(*load)]),
            Self::KeyIn(keys) => Some(keys.iter().copied().map(Lack::Key).collect()),
            Self::All(all) => all.iter().filter(|one| !one.holds(at)).find_map(|one| one.lacking(at)),
            Self::Any(any) => any.iter().find_map(|one| one.lacking(at)),
            _ => None,
        }
    }
}
