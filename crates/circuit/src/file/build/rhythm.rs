//! What repeats.

use super::super::decode::Named;
use super::super::defaults as d;
use super::super::keys::{PhaseKeys, RhythmKeys};
use super::super::mistake::suggestion;
use super::super::value::Text;
use super::{Builder, words_or};
use crate::branch::{Base, Law};
use crate::id::SensedId;
use crate::rhythm::{MOST_COMBINATIONS, Phase, Rhythm};
use crate::set_up::Condition;

impl<'f> Builder<'f, '_, '_> {
    pub(super) fn rhythms(&mut self) {
        let file = self.file;
        let mut combinations = 1_usize;
        for Named { name, at, is } in file.rhythm.iter() {
            let Some(keys) = is else { continue };
            if file.sensed.names().chain(file.load.names()).any(|other| other == name) {
                let help = "its set-up would mean two things: give it a name of its own";
                self.slips.push_help(
                    "duplicate",
                    at,
                    format!("`{name}` is sensed or commanded already"),
                    help,
                );
            }
            let (Some(phases), Some(rate)) = (self.phases(keys), self.rate(name, keys)) else {
                self.unread.insert(name.clone());
                continue;
            };
            let runs = keys
                .runs
                .as_ref()
                .map_or(Some(Condition::Always), |runs| self.condition(runs));
            combinations = combinations.saturating_mul(phases.len() + 1);
            if combinations > MOST_COMBINATIONS {
                let message =
                    format!("too much repeats at once here: more than {MOST_COMBINATIONS} combinations of phases");
                self.slips
                    .push_help("limits", at, message, "leave out what the fault at hand does not touch");
            }
            self.circuit.rhythms.push(Rhythm {
                id: name.clone(),
                words: words_or(keys.name.as_ref(), name),
                phases,
                rate,
                runs: runs.unwrap_or(Condition::Never),
            });
        }
    }

    fn phases(&mut self, keys: &'f RhythmKeys) -> Option<Vec<Phase>> {
        let mut phases = Vec::new();
        for Named { name, at, is } in keys.phase.iter() {
            self.check_name(name, at);
            if name == Rhythm::REST {
                let message = "`rest` is what is left of the time: it is not written";
                self.slips.push("duplicate", at, message);
            }
            let keys = is.as_ref()?;
            let share = keys.share.value() / 100.0;
            if !(share > 0.0 && share <= 1.0) {
                self.slips
                    .push("limits", &keys.share.at, "a share lies above 0 and is 100 % at most");
            }
            let sets = self.sets(keys);
            phases.push(Phase {
                name: name.clone(),
                share,
                sets,
            });
        }
        if phases.is_empty() {
            let help = "e.g. `phase.on = { share = \"30 %\" }`";
            self.slips
                .push_help("missing-key", &keys.at, "what repeats has a phase at least", help);
            return None;
        }
        let whole: f64 = phases.iter().map(|phase| phase.share).sum();
        if whole > 1.0 + 1e-9 {
            let message = format!(
                "the shares of its phases add up to {:.1} %, more than 100 %",
                whole * 100.0
            );
            self.slips.push("limits", &keys.at, message);
        }
        Some(phases)
    }

    fn sets(&mut self, keys: &PhaseKeys) -> Option<(SensedId, f64)> {
        match (&keys.sets, &keys.to) {
            (Some(name), Some(to)) => Some((self.sensed_named(name)?, to.value)),
            (None, None) => None,
            _ => {
                let message = "`sets` and `to` belong together: what is sensed, and its value meanwhile";
                self.slips.push("missing-key", &keys.at, message);
                None
            }
        }
    }

    fn sensed_named(&mut self, name: &Text) -> Option<SensedId> {
        let found = self.circuit.sensed.iter().position(|sensed| sensed.id == name.text);
        if found.is_none() && !self.is_unread(&name.text) {
            let message = format!("there is no sensed value `{}`", name.text);
            let help = suggestion(&name.text, self.file.sensed.names()).unwrap_or_default();
            self.slips.push_help("unknown-sensed", &name.at, message, help);
        }
        found.map(SensedId::from)
    }

    fn rate(&mut self, id: &str, keys: &RhythmKeys) -> Option<Law> {
        let words = format!("rate of {}", words_or(keys.name.as_ref(), id));
        match (&keys.rate, &keys.rates, &keys.by) {
            (Some(rate), None, None) => {
                self.positive(Some(rate));
                Some(self.given(&format!("{id}/rate"), &words, Some(rate), d::RATE))
            }
            (None, Some(rates), Some(by)) => {
                let by = self.sensed_named(by)?;
                for pair in rates.windows(2) {
                    if pair[1].first.value <= pair[0].first.value {
                        let message = "rows must rise: this one does not lie above the one before";
                        self.slips.push("table-order", &pair[1].at, message);
                    }
                }
                let rows = rates.iter().map(|row| (row.first.value, row.second.value())).collect();
                Some(Law {
                    base: Base::Table {
                        by,
                        rows,
                        logarithmic: false,
                    },
                    moved_by: Vec::new(),
                })
            }
            _ => {
                let help =
                    "write `rate = \"20 Hz\"`, or `by = \"speed\"` and `rates = [[0, \"0 Hz\"], [6000, \"6 kHz\"]]`";
                let message = "how often it repeats is missing, or said twice";
                self.slips.push_help("missing-key", &keys.at, message, help);
                None
            }
        }
    }
}
