//! What may be the cause: faults that one repair cures are one cause, since that is what is done about them.

use std::collections::BTreeMap;

use circuit::{Circuit, Fault, FaultId, PartId};
use diagnosis::{Belief, Findings};

use super::account::chances;
use crate::{outcomes, words};

/// Least chance of a fault that is a member of its cause.
const LEAST: f64 = 1e-4;
/// Share of a cause's chance from which it is told that it comes and goes.
const COMES: f64 = 0.5;

/// Faults that one repair cures.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Cause {
    /// The repair: see [`Repair::key`](circuit::Repair).
    pub(super) key: String,
    /// Likeliest first, each with its chance; never empty.
    pub(super) members: Vec<(FaultId, f64)>,
    /// Chance that its repair is needed.
    pub(super) chance: f64,
    /// A second fault at the same time, where two together are what is likeliest.
    pub(super) also: Option<FaultId>,
    /// The likeliest member most likely comes and goes.
    pub(super) comes_and_goes: bool,
    /// Most plausible severity of the likeliest member and a range that holds eight of ten, in its unit.
    pub(super) severity: Option<(f64, f64, f64)>,
}

/// All causes, likeliest first; ties in the order of the faults.
pub(super) fn ranked(belief: &Belief<'_>, findings: &Findings) -> Vec<Cause> {
    let faults = belief.faults();
    let needed: BTreeMap<&str, f64> = belief.repairs().into_iter().collect();
    let mut causes: Vec<Cause> = Vec::new();
    let mut at_key: BTreeMap<&str, usize> = BTreeMap::new();
    for (at, chance) in chances(belief).into_iter().enumerate() {
        if chance < LEAST {
            continue;
        }
        let key = faults[at].repair.key.as_str();
        let position = *at_key.entry(key).or_insert(causes.len());
        if position == causes.len() {
            causes.push(Cause {
                key: key.to_owned(),
                members: Vec::new(),
                chance: needed.get(key).copied().unwrap_or(0.0),
                also: None,
                comes_and_goes: false,
                severity: None,
            });
        }
        causes[position].members.push((FaultId::from(at), chance));
    }
    for cause in &mut causes {
        cause.members.sort_by(|a, b| b.1.total_cmp(&a.1));
        let leader = cause.leader();
        cause.comes_and_goes = belief.comes_and_goes(leader) >= COMES;
        let of_leader = |also: bool| {
            let mut suspects = findings.suspects.iter();
            suspects.find(|one| one.fault == leader && one.also.is_some() == also)
        };
        let (alone, pair) = (of_leader(false), of_leader(true));
        cause.severity = alone.and_then(|one| one.severity);
        let of = |one: Option<&diagnosis::Suspect>| one.map_or(0.0, |one| one.chance);
        cause.also = pair.filter(|_| of(pair) > of(alone)).and_then(|pair| pair.also);
    }
    causes.sort_by(|a, b| b.chance.total_cmp(&a.chance));
    causes
}

impl Cause {
    /// What a repair would have cured, at these chances of the faults; nothing is left of it now.
    pub(super) fn of_key(faults: &[Fault], key: &str, chances: &[f64]) -> Self {
        let of_key = faults
            .iter()
            .zip(chances)
            .enumerate()
            .filter(|(_, (fault, _))| fault.repair.key == key);
        let mut members: Vec<(FaultId, f64)> = of_key.map(|(at, (_, chance))| (FaultId::from(at), *chance)).collect();
        members.sort_by(|a, b| b.1.total_cmp(&a.1));
        Self {
            key: key.to_owned(),
            members,
            chance: 0.0,
            also: None,
            comes_and_goes: false,
            severity: None,
        }
    }

    /// The likeliest member.
    pub(super) fn leader(&self) -> FaultId {
        self.members.first().map_or(FaultId(0), |member| member.0)
    }

    /// What it is and where, in one line.
    pub(super) fn words(&self, faults: &[Fault]) -> String {
        let one = outcomes::together(faults, &self.members);
        match self.also.map(|also| outcomes::short(&faults[also.idx()])) {
            Some(also) => format!("{one}, and at the same time {also}"),
            None => one,
        }
    }

    /// How severe, where that is a resistance: "about 1.5 kΩ (between 0.9 kΩ and 2.4 kΩ)".
    pub(super) fn severity(&self, faults: &[Fault]) -> Option<String> {
        let range = faults[self.leader().idx()].severity?;
        let (value, low, high) = self.severity?;
        let said = |value| quantity::with_digits(value, range.unit, 2);
        Some(format!(
            "about {} (most likely {} to {})",
            said(value),
            said(low),
            said(high)
        ))
    }

    /// Whether the fault lies in this part.
    pub(super) fn is_at(&self, faults: &[Fault], part: PartId) -> bool {
        self.members
            .iter()
            .any(|(fault, _)| faults[fault.idx()].parts.contains(&part))
    }
}

/// Parts that were replaced in vain, each with the chance that it is to blame after all.
pub(super) fn replaced(circuit: &Circuit, causes: &[Cause], faults: &[Fault], said: &[PartId]) -> Vec<(PartId, f64)> {
    let is_new = |at: &usize| circuit.parts[*at].is_new || said.contains(&PartId::from(*at));
    let parts = (0..circuit.parts.len()).filter(is_new).map(PartId::from);
    let blame = |part: PartId| {
        let members = causes.iter().flat_map(|cause| &cause.members);
        members
            .filter(|(fault, _)| faults[fault.idx()].parts.contains(&part))
            .map(|(_, chance)| chance)
            .sum()
    };
    parts.map(|part| (part, blame(part))).collect()
}

/// "57 %", and of what is nearly certain how nearly.
pub(super) fn sure(chance: f64) -> String {
    words::percent(chance.clamp(0.0, 1.0))
}
