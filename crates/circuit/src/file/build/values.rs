//! The values of one device, and the laws that formulas make of them.

use std::collections::{BTreeMap, BTreeSet};

use super::super::formula::Expression;
use super::super::kind::{Compiled, CompiledCondition, OWN_LOAD, OWN_RHYTHM, OWN_SENSED};
use super::super::tabulate::{interpolate, tabulate};
use crate::branch::{Base, Law, Moved};
use crate::id::{LoadId, ParamId, RhythmId, SensedId};
use crate::rhythm::Rhythm;
use crate::set_up::Condition;

/// A device's values, ready for its elements' formulas.
pub(super) struct Values<'k> {
    /// In order: each depends on those before it only.
    pub(super) names: Vec<(&'k str, Entry)>,
    pub(super) sensed: Option<(SensedId, f64, f64, f64)>,
    pub(super) load: Option<LoadId>,
    pub(super) rhythm: Option<(RhythmId, Rhythm)>,
}

pub(super) struct Entry {
    pub(super) is: Compiled,
    pub(super) param: Option<ParamId>,
}

/// A step of one parameter while the rest stand still.
type Step = Option<(ParamId, f64)>;

impl Values<'_> {
    /// Where the set-up says nothing of what is sensed.
    fn usual(&self) -> f64 {
        self.sensed.map_or(0.0, |(.., usual)| usual)
    }

    /// Follows a bare name to what it stands for, so that one of two values may stand behind a name.
    fn behind<'c>(&'c self, mut compiled: &'c Compiled) -> &'c Compiled {
        for _ in 0..=self.names.len() {
            let Compiled::Formula(Expression::Name(name)) = compiled else {
                break;
            };
            match self.names.iter().find(|(known, _)| known == name) {
                Some((_, entry)) if entry.param.is_none() => compiled = &entry.is,
                _ => break,
            }
        }
        compiled
    }

    pub(super) fn law(&self, compiled: &Compiled, positive: bool) -> Law {
        let compiled = self.behind(compiled);
        if let Compiled::When(condition, then, otherwise) = compiled {
            let at_usual = self.at(self.usual(), None);
            let base = Base::When {
                condition: self.condition(condition),
                then: at_usual.expression(then),
                otherwise: at_usual.expression(otherwise),
            };
            return Law {
                base,
                moved_by: Vec::new(),
            };
        }
        let depends = self.depends(compiled);
        let at_usual = self.at(self.usual(), None).value(compiled);
        let base = match self.sensed {
            Some((by, least, most, _)) if depends.sensed => {
                let law = |x: f64| self.at(x, None).value(compiled);
                let (rows, logarithmic) = tabulate((least, most), &depends.rows, &law);
                Base::Table { by, rows, logarithmic }
            }
            _ => Base::Fixed(at_usual),
        };
        // Of a standard deviation: small against any bend, large against rounding.
        let step = 1e-5;
        let moved = |param: ParamId| {
            let value = |theta| self.at(self.usual(), Some((param, theta))).value(compiled);
            let slope = (value(step) - value(-step)) / (2.0 * step);
            if positive && at_usual > 0.0 {
                Moved {
                    param,
                    factor: slope / at_usual,
                    shift: 0.0,
                }
            } else {
                Moved {
                    param,
                    factor: 0.0,
                    shift: slope,
                }
            }
        };
        let moved_by = depends.params.into_iter().map(moved);
        Law {
            base,
            moved_by: moved_by
                .filter(|moved| moved.factor != 0.0 || moved.shift != 0.0)
                .collect(),
        }
    }

    /// Every name's value at one place.
    fn at(&self, sensed: f64, step: Step) -> Evaluated<'_> {
        let (least, most) = self
            .sensed
            .map_or((f64::NAN, f64::NAN), |(_, least, most, _)| (least, most));
        let known = [
            ("sensed", sensed),
            ("least", least),
            ("most", most),
            ("usual", self.usual()),
        ];
        let mut evaluated = Evaluated {
            sensed,
            names: known.into(),
        };
        for (name, entry) in &self.names {
            let value = match (&entry.is, entry.param, step) {
                (Compiled::Constant(value), Some(param), Some((moved, theta))) if param == moved => {
                    value.centre * (value.factor * theta).exp() + value.shift * theta
                }
                (compiled, ..) => evaluated.value(compiled),
            };
            evaluated.names.insert(name, value);
        }
        evaluated
    }

    /// What a value depends on, directly or through other names.
    fn depends(&self, compiled: &Compiled) -> Depends {
        let mut known: BTreeMap<&str, Depends> = BTreeMap::new();
        known.insert(
            "sensed",
            Depends {
                sensed: true,
                ..Depends::default()
            },
        );
        for (name, entry) in &self.names {
            let mut depends = Depends::of(&entry.is, &known);
            depends.params.extend(entry.param);
            known.insert(name, depends);
        }
        Depends::of(compiled, &known)
    }

    pub(super) fn condition(&self, compiled: &CompiledCondition) -> Condition {
        self.own(&compiled.condition, compiled)
    }

    /// The condition with this device's own sensed value, load and rhythm in place of the kind's.
    fn own(&self, condition: &Condition, compiled: &CompiledCondition) -> Condition {
        match condition {
            Condition::SensedAtLeast(OWN_SENSED, position) => {
                let threshold = compiled.thresholds.get(*position as usize);
                match (self.sensed, threshold) {
                    (Some((sensed, ..)), Some(threshold)) => {
                        Condition::SensedAtLeast(sensed, self.at(self.usual(), None).expression(threshold))
                    }
                    _ => Condition::Never,
                }
            }
            Condition::Commanded(OWN_LOAD) => self.load.map_or(Condition::Never, Condition::Commanded),
            Condition::InPhase(OWN_RHYTHM, position) => {
                let named = self.rhythm.as_ref().zip(compiled.phases.get(*position));
                match named.and_then(|((id, rhythm), name)| Some((*id, rhythm.phase(name)??))) {
                    Some((id, phase)) => Condition::InPhase(id, phase),
                    None => Condition::Never,
                }
            }
            Condition::Not(inner) => Condition::Not(Box::new(self.own(inner, compiled))),
            Condition::All(inner) => Condition::All(inner.iter().map(|inner| self.own(inner, compiled)).collect()),
            Condition::Any(inner) => Condition::Any(inner.iter().map(|inner| self.own(inner, compiled)).collect()),
            other => other.clone(),
        }
    }
}

/// The values of all names at one sensed value.
struct Evaluated<'v> {
    sensed: f64,
    names: BTreeMap<&'v str, f64>,
}

impl Evaluated<'_> {
    fn expression(&self, expression: &Expression) -> f64 {
        expression.value(&|name| self.names.get(name).copied().unwrap_or(f64::NAN))
    }

    fn value(&self, compiled: &Compiled) -> f64 {
        match compiled {
            Compiled::Constant(value) => value.centre,
            Compiled::Formula(expression) => self.expression(expression),
            Compiled::Rows(rows) => {
                let rows: Vec<_> = rows.iter().map(|(x, y)| (*x, self.expression(y))).collect();
                interpolate(&rows, self.sensed)
            }
            Compiled::When(..) => f64::NAN, // stands on its own only, which the kind's check has seen to
        }
    }
}

/// What a value depends on.
#[derive(Clone, Default)]
struct Depends {
    sensed: bool,
    params: BTreeSet<ParamId>,
    rows: Vec<f64>,
}

impl Depends {
    fn of(compiled: &Compiled, known: &BTreeMap<&str, Depends>) -> Self {
        let mut depends = Self::default();
        match compiled {
            Compiled::Constant(_) => {}
            Compiled::Formula(expression) => depends.add(expression, known),
            Compiled::Rows(rows) => {
                depends.sensed = true;
                depends.rows.extend(rows.iter().map(|row| row.0));
                for (_, expression) in rows {
                    depends.add(expression, known);
                }
            }
            Compiled::When(_, then, otherwise) => {
                depends.add(then, known);
                depends.add(otherwise, known);
            }
        }
        depends
    }

    fn add(&mut self, expression: &Expression, known: &BTreeMap<&str, Depends>) {
        let mut names = Vec::new();
        expression.names(&mut names);
        for depends in names.iter().filter_map(|name| known.get(name.as_str())) {
            self.sensed |= depends.sensed;
            self.params.extend(&depends.params);
            self.rows.extend(&depends.rows);
        }
        self.rows.sort_by(f64::total_cmp);
        self.rows.dedup();
    }
}
