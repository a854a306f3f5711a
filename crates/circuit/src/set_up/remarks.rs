//! What of a set-up has no effect, though nothing in it is wrong.

use super::{Condition, SetUp};
use crate::branch::At;
use crate::id::RhythmId;
use crate::model::Circuit;

impl SetUp {
    /// One sentence for each thing that it says and that changes nothing: a duty of pulses that do not go, a sensed value that
    /// what repeats sets itself. Empty where all counts.
    pub fn remarks(&self, circuit: &Circuit) -> Vec<String> {
        let at = At::centre(circuit, self);
        let all = self.duty.keys().chain(self.held.keys());
        let idle = all.filter_map(|named| {
            let rhythm = &circuit.rhythms[named.idx()];
            // Held in a phase that sets what is sensed, it counts without going.
            let sets = self.held.contains_key(named) && rhythm.phases.iter().any(|phase| phase.sets.is_some());
            let (id, words) = (&rhythm.id, &rhythm.words);
            if rhythm.runs.holds(&at) {
                let still = self.duty.contains_key(named) && rhythm.rate.value(&at) <= 0.0;
                return still.then(|| format!("`{id}` has no effect: {words} stand still, at 0 Hz"));
            }
            let goes = rhythm.runs.lacking(&at).unwrap_or_default();
            (!sets).then(|| format!("`{id}` has no effect: {words} do not go in this set-up{goes}"))
        });
        let going = circuit.going(self).map(|(id, _)| (id, true));
        let held = self.held.keys().map(|id| (*id, false));
        let overrun = going
            .chain(held)
            .filter_map(|(id, goes)| self.overrun(circuit, id, goes));
        idle.chain(overrun).collect()
    }

    /// Sensed values given that a rhythm's phases set otherwise.
    fn overrun(&self, circuit: &Circuit, id: RhythmId, goes: bool) -> Option<String> {
        let rhythm = &circuit.rhythms[id.idx()];
        let phases = rhythm.phases.iter().enumerate();
        let mut here = phases.filter(|(at, _)| goes || self.held.get(&id) == Some(&Some(*at)));
        here.find_map(|(_, phase)| {
            let (sensed, value) = phase.sets?;
            let given = self.sensed.get(&sensed).filter(|given| goes || **given != value)?;
            let sensed = &circuit.sensed[sensed.idx()];
            let (name, words, phase) = (&sensed.id, &rhythm.words, &phase.name);
            let instead = if goes {
                let id = &rhythm.id;
                format!(
                    "holds only where no phase sets it: {words} set it to {value} in `{phase}`; to hold it still, write `{id} \
                     in {phase}` or `{id} in rest`"
                )
            } else {
                format!("counts for nothing: {words}, held in `{phase}`, set it to {value}; leave one of the two out")
            };
            Some(format!("`{name} {given}` {instead}"))
        })
    }
}

impl Condition {
    /// What is lacking for it to hold, as the end of a sentence; `None` where no plain words are at hand.
    fn lacking(&self, at: &At<'_>) -> Option<String> {
        let quoted = |words: Vec<String>| (!words.is_empty()).then(|| format!("; they go with {}", words.join(" or ")));
        match self {
            Self::Commanded(load) => quoted(vec![format!("`{} commanded`", at.circuit.loads[load.idx()].id)]),
            Self::KeyIn(keys) => quoted(keys.iter().map(|key| format!("`key {}`", key.word())).collect()),
            Self::All(all) => all.iter().filter(|one| !one.holds(at)).find_map(|one| one.lacking(at)),
            Self::Any(any) => any.iter().find_map(|one| one.lacking(at)),
            _ => None,
        }
    }
}
