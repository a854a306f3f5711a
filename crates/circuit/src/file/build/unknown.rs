//! Pins whose insides nobody documented: what they may be, each as a change to the likeliest, which is compiled.

use quantity::Unit;

use super::super::defaults as d;
use super::super::keys::PinKeys;
use super::super::unsaid::{AlternativeKeys, Unsaid};
use super::super::value::{Doubtful, Value};
use super::Builder;
use super::module::Inside;
use crate::branch::{BranchKind, OPEN_OHMS, Role};
use crate::fault::{Change, Fault, Mode};
use crate::id::{BranchId, PointId};
use crate::unknown::{Alternative, Unknown};

/// What an input may have inside.
#[derive(Clone, Copy)]
pub(super) struct Pull {
    /// Pull-up and pull-down, ohms.
    sides: [Option<f64>; 2],
    clamps: bool,
    chance: f64,
}

/// An input that may be one of several.
pub(super) struct Pulls {
    /// The likeliest first.
    each: Vec<Pull>,
    /// Relative deviation of what is pulled with.
    factor: f64,
    /// Chance that clamps are missing, whatever pulls.
    pub(super) no_clamps: f64,
}

impl Pulls {
    /// Whether clamps may be there at all.
    pub(super) fn may_have_clamps(&self) -> bool {
        self.each.iter().any(|one| one.clamps)
    }
}

/// A resistor that some of the alternatives have, and its ohms as compiled.
pub(super) type Doubted = Option<(BranchId, f64)>;

impl Builder<'_, '_, '_> {
    /// What an input may be that says `insides`; `None` for one that does not, or is mistaken.
    pub(super) fn pulls(&mut self, keys: &PinKeys) -> Option<Pulls> {
        let insides = keys.insides.as_ref()?;
        let said = [
            ("pull_up", keys.pull_up.is_some()),
            ("pull_down", keys.pull_down.is_some()),
        ];
        for (key, _) in said.iter().filter(|said| said.1) {
            let help = format!("take `{key}` into the alternatives, or leave out `insides`");
            let message = format!("`{key}` is said beside `insides`");
            self.slips.push_help("pin-key", insides.at(), message, help);
        }
        let mut pulls = match insides {
            Unsaid::Usual(_) => {
                let usual = |&(up, down, chance): &(Option<f64>, Option<f64>, f64)| Pull {
                    sides: [up, down],
                    clamps: keys.clamps.unwrap_or(true),
                    chance,
                };
                Pulls {
                    each: d::PULLS.iter().map(usual).collect(),
                    factor: d::ROUND_FACTOR,
                    no_clamps: if keys.clamps.is_none() { d::NO_CLAMPS } else { 0.0 },
                }
            }
            Unsaid::OneOf(listed, at) => {
                let mut factor = 0.0_f64;
                let mut each = Vec::new();
                for one in listed {
                    let sides = [&one.pull_up, &one.pull_down].map(|side| {
                        self.positive(side.as_ref());
                        let doubt = Doubtful::from_amount(side.as_ref()?.amount, d::ALTERNATIVE_SPREAD);
                        factor = factor.max(doubt.factor).max(doubt.shift / doubt.centre);
                        Some(doubt.centre)
                    });
                    if let (Some(_), Some(_)) = (one.clamps, keys.clamps) {
                        self.slips
                            .push("pin-key", &one.at, "`clamps` is said of the pin already");
                    }
                    self.only(one, &[("volts", one.volts.is_some())], "an input");
                    each.push(Pull {
                        sides,
                        clamps: one.clamps.or(keys.clamps).unwrap_or(true),
                        chance: self.chance_of(one),
                    });
                }
                self.enough(listed, at);
                Pulls {
                    each,
                    factor,
                    no_clamps: 0.0,
                }
            }
        };
        let sum: f64 = pulls.each.iter().map(|one| one.chance).sum();
        for one in &mut pulls.each {
            one.chance /= sum;
        }
        pulls.each.sort_by(|a, b| b.chance.total_cmp(&a.chance));
        (!pulls.each.is_empty() && sum > 0.0).then_some(pulls)
    }

    /// The resistors that any of the alternatives has, as the likeliest has them.
    pub(super) fn doubted_pulls(
        &mut self,
        inside: Inside,
        path: &str,
        words: &str,
        pulls: &Pulls,
        ends: [(PointId, PointId); 2],
    ) -> [Doubted; 2] {
        let sides = [("pull-up", "pull_up"), ("pull-down", "pull_down")];
        [0, 1].map(|side: usize| {
            pulls.each.iter().find_map(|one| one.sides[side])?;
            let ohms = pulls.each.first()?.sides[side].unwrap_or(OPEN_OHMS);
            let (name, key) = sides[side];
            let value = Doubtful {
                centre: ohms,
                factor: pulls.factor,
                shift: 0.0,
            };
            let path = format!("{path}/{key}");
            let words = format!("{name} of {words} as a part of its round value, {path}");
            let law = self.law(&path, &words, value, Unit::Ohm);
            // Which value it is a part of is not known: what is learnt is the part.
            if let Some(param) = law
                .moved_by
                .first()
                .and_then(|moved| self.circuit.params.get_mut(moved.param.idx()))
            {
                (param.nominal, param.unit) = (1.0, Unit::One);
            }
            let (a, b) = ends[side];
            let kind = BranchKind::Resistor { a, b, ohms: law };
            Some((self.branch(path, inside.part, Role::Pull, None, kind), ohms))
        })
    }

    /// Lists what an input may be. `clamps` are its diodes.
    pub(super) fn doubt_pulls(
        &mut self,
        (path, words, keys): (&str, &str, &PinKeys),
        pulls: &Pulls,
        resistors: [Doubted; 2],
        clamps: &[BranchId],
    ) {
        let place = format!("{words} at {path}");
        let no_clamps = || clamps.iter().map(|&diode| Change::Open(diode));
        let alternatives = pulls.each.iter().map(|one| {
            let mut changes: Vec<Change> = Vec::new();
            for (ohms, resistor) in one.sides.iter().zip(resistors) {
                match (ohms, resistor) {
                    (Some(ohms), Some((branch, compiled))) if *ohms != compiled => {
                        changes.push(Change::Times(branch, ohms / compiled));
                    }
                    (None, Some((branch, _))) => changes.push(Change::Open(branch)),
                    _ => {}
                }
            }
            let (what, size) = match one.sides {
                [Some(up), None] => ("a pull-up".to_owned(), Some((up, Unit::Ohm))),
                [None, Some(down)] => ("a pull-down".to_owned(), Some((down, Unit::Ohm))),
                [None, None] => ("neither pull-up nor pull-down".to_owned(), None),
                [Some(up), Some(down)] => {
                    let [up, down] = [up, down].map(|ohms| quantity::Amount::new(ohms, Unit::Ohm));
                    (format!("a pull-up of about {up} and a pull-down of about {down}"), None)
                }
            };
            let bare = !one.clamps && !clamps.is_empty();
            if bare {
                changes.extend(no_clamps());
            }
            let what = if bare {
                format!("no clamp diodes and {what}")
            } else {
                what
            };
            alternative(what, size, one.chance, changes)
        });
        let alternatives = alternatives.collect();
        self.unknown(keys, format!("{path}/pull"), &place, alternatives);
        if pulls.no_clamps > 0.0 {
            let there = alternative("clamp diodes".into(), None, 1.0 - pulls.no_clamps, Vec::new());
            let missing = alternative("no clamp diodes".into(), None, pulls.no_clamps, no_clamps().collect());
            self.unknown(keys, format!("{path}/clamps"), &place, vec![there, missing]);
        }
    }

    /// What a reference may give: (volts, chance), the likeliest first; empty where the file says nothing of it.
    pub(super) fn reference_alternatives(&mut self, keys: &PinKeys, usual_volts: f64) -> Vec<(f64, f64)> {
        let mut each: Vec<(f64, f64)> = match &keys.insides {
            None => Vec::new(),
            Some(Unsaid::Usual(_)) => {
                let volts = keys.volts.as_ref().map_or(usual_volts, Value::value);
                d::REFERENCES
                    .iter()
                    .map(|&(part, chance)| (part * volts, chance))
                    .collect()
            }
            Some(Unsaid::OneOf(listed, at)) => {
                if let Some(volts) = &keys.volts {
                    let help = "take it into the alternatives, or leave out `insides`";
                    self.slips
                        .push_help("pin-key", &volts.at, "`volts` is said beside `insides`", help);
                }
                self.enough(listed, at);
                let mut each = Vec::new();
                for one in listed {
                    let others = [
                        ("pull_up", one.pull_up.is_some()),
                        ("pull_down", one.pull_down.is_some()),
                        ("clamps", one.clamps.is_some()),
                    ];
                    self.only(one, &others, "a reference");
                    self.positive(one.volts.as_ref());
                    let chance = self.chance_of(one);
                    match &one.volts {
                        Some(volts) => each.push((volts.value(), chance)),
                        None => self.slips.push("missing-key", &one.at, "`volts` is missing here"),
                    }
                }
                each
            }
        };
        let sum: f64 = each.iter().map(|one| one.1).sum();
        for one in &mut each {
            one.1 /= sum;
        }
        each.sort_by(|a, b| b.1.total_cmp(&a.1));
        each
    }

    /// Lists what a reference may give.
    pub(super) fn doubt_reference(
        &mut self,
        (path, words, keys): (&str, &str, &PinKeys),
        each: &[(f64, f64)],
        branch: BranchId,
    ) {
        let Some(&(compiled, _)) = each.first() else { return };
        let alternatives = each.iter().map(|&(volts, chance)| {
            let changes = if volts == compiled {
                Vec::new()
            } else {
                vec![Change::Times(branch, volts / compiled)]
            };
            alternative("a voltage".into(), Some((volts, Unit::Volt)), chance, changes)
        });
        let alternatives = alternatives.collect();
        self.unknown(
            keys,
            format!("{path}/volts"),
            &format!("{words} at {path}"),
            alternatives,
        );
    }

    fn unknown(&mut self, keys: &PinKeys, path: String, place: &str, mut alternatives: Vec<Alternative>) {
        for one in &mut alternatives {
            one.changes.path.clone_from(&path);
        }
        self.circuit.unknowns.push(Unknown {
            path,
            place: place.to_owned(),
            alternatives,
        });
        let each = self.circuit.unknowns.iter().map(|one| one.alternatives.len());
        let combinations = each.fold(1_usize, usize::saturating_mul);
        let before = combinations
            / self
                .circuit
                .unknowns
                .last()
                .map_or(1, |one| one.alternatives.len())
                .max(1);
        if combinations > d::MOST_COMBINATIONS && before <= d::MOST_COMBINATIONS {
            let at = keys.insides.as_ref().map_or(&keys.at, Unsaid::at);
            let most = d::MOST_COMBINATIONS;
            let message = format!("what is unknown makes {combinations} combinations up to here, more than {most}");
            let help = "say `clamps = true` or fewer alternatives for one of the pins";
            self.slips.push_help("limits", at, message, help);
        }
    }

    fn enough(&mut self, listed: &[AlternativeKeys], at: &std::ops::Range<usize>) {
        if listed.len() < 2 {
            let help = "with one there is no doubt: write its keys at the pin";
            self.slips
                .push_help("limits", at, "`insides` lists at least two alternatives", help);
        }
    }

    fn only(&mut self, one: &AlternativeKeys, others: &[(&str, bool)], of: &str) {
        for (key, _) in others.iter().filter(|other| other.1) {
            self.slips
                .push("pin-key", &one.at, format!("`{key}` means nothing for {of}"));
        }
    }

    /// How likely an alternative is against the others; above zero.
    fn chance_of(&mut self, one: &AlternativeKeys) -> f64 {
        match &one.chance {
            Some(chance) if chance.value <= 0.0 => {
                self.slips.push("limits", &chance.at, "this must be above zero");
                1.0
            }
            Some(chance) => chance.value,
            None => 1.0,
        }
    }
}

fn alternative(what: String, size: Option<(f64, Unit)>, chance: f64, changes: Vec<Change>) -> Alternative {
    Alternative {
        what,
        size,
        chance,
        changes: Fault::unlisted("", Mode::ModuleInside, changes),
    }
}
