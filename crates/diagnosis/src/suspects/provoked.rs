//! A fault that comes and goes, while something is done at a place: how much likelier it shows, and where that is worth
//! trying.

use std::collections::BTreeMap;

use circuit::{PartId, Provocation, Provoked};

use super::ways::chance_there;
use super::{Belief, Component};

impl Belief<'_> {
    /// The points at `points` of what comes and goes, with their other half: the point with the fault there, then the one
    /// without, and the chance of the first at a next reading during which this is done.
    pub(crate) fn pairs_of<'s>(
        &'s self,
        points: &'s [usize],
        provoked: Provoked,
    ) -> impl Iterator<Item = (usize, usize, f64)> + 's {
        points.iter().filter_map(move |&at| {
            let coming = self.components.get(at)?.coming?;
            let fault = self.faults.get(self.components[at].fault?)?;
            let there = if coming.is_there { at } else { at.checked_sub(1)? };
            Some((there, there + 1, coming.chance(fault, Some(provoked))))
        })
    }

    /// Turns what a test shows under each point (rows of `n` chances) into what it shows while this is done: a point of
    /// what comes and goes then shows the fault as often as it is brought out.
    pub(crate) fn brought_out(&self, provoked: Option<Provoked>, n: usize, rows: &mut [f64]) {
        let Some(provoked) = provoked else { return };
        let all: Vec<usize> = (0..self.components.len()).collect();
        let is_there = |at: &usize| self.components[*at].coming.is_some_and(|coming| coming.is_there);
        let firsts: Vec<usize> = all.into_iter().filter(is_there).collect();
        for (there, absent, chance) in self.pairs_of(&firsts, provoked) {
            if let Some([one, other]) = rows.get_mut(there * n..(absent + 1) * n).map(|both| {
                let (one, other) = both.split_at_mut(n);
                [one, other]
            }) {
                for (there, absent) in one.iter_mut().zip(other) {
                    let mixed = chance * *there + (1.0 - chance) * *absent;
                    (*there, *absent) = (mixed, mixed);
                }
            }
        }
    }

    /// What may be done at which part so that a fault that comes and goes shows, with the chance that such a fault is
    /// there, likeliest first.
    pub(crate) fn provocations(&self) -> Vec<(Provoked, f64)> {
        let mut sums: BTreeMap<(PartId, Provocation), f64> = BTreeMap::new();
        for component in &self.components {
            let Component {
                coming: Some(_),
                fault: Some(fault),
                chance,
                ..
            } = component
            else {
                continue;
            };
            let fault = &self.faults[*fault];
            for &at in &fault.parts {
                for how in Provocation::ALL {
                    if chance_there(fault, Some(Provoked { how, at })) > chance_there(fault, None) {
                        *sums.entry((at, how)).or_default() += chance;
                    }
                }
            }
        }
        let mut all: Vec<(Provoked, f64)> = sums
            .into_iter()
            .map(|((at, how), chance)| (Provoked { how, at }, chance))
            .collect();
        all.sort_by(|a, b| b.1.total_cmp(&a.1));
        all
    }
}
