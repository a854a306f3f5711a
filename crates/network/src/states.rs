//! Discrete states (contacts, fuses, drivers) and which of them a solution contradicts.
//!
//! One event at a time, the fastest kind first: drivers (microseconds), contacts (milliseconds), fuses (tens of
//! milliseconds and more); within a kind the one furthest beyond its limit, relative to it. Common practice, no source.
//! Contacts with the same coil terminals and thresholds are one relay and move together.

use crate::{Element, ElementId, Netlist, NodeId};

/// The discrete state of every element: for a relay contact whether it is closed, for a fuse whether it is blown, for a
/// driver whether it is tripped; nothing for other elements.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct States(Vec<Option<bool>>);

impl States {
    /// Relays at rest (coil unpowered), fuses whole, drivers not tripped.
    pub fn initial(netlist: &Netlist) -> Self {
        Self(netlist.elements.iter().map(initial).collect())
    }

    /// The state of an element; `None` if it has none.
    pub fn get(&self, element: ElementId) -> Option<bool> {
        self.0.get(element.0 as usize).copied().flatten()
    }

    /// Sets the state of an element. One that has no state stays without.
    pub fn set(&mut self, element: ElementId, state: bool) {
        if let Some(Some(held)) = self.0.get_mut(element.0 as usize) {
            *held = state;
        }
    }

    /// These, with the initial states of changed elements and of appended ones, which come last.
    #[must_use]
    pub fn renewed(&self, changed: &[(ElementId, Element)]) -> Self {
        let mut all = Vec::with_capacity(self.0.len() + changed.len());
        all.extend_from_slice(&self.0);
        for (id, element) in changed {
            match all.get_mut(id.0 as usize) {
                Some(state) => *state = initial(element),
                None => all.push(initial(element)),
            }
        }
        Self(all)
    }

    /// Whether there are no elements.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Number of elements.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// These, and the initial ones of what `netlist` has more.
    pub(crate) fn extended(&self, netlist: &Netlist) -> Self {
        let mut all = Self::initial(netlist);
        all.0[..self.len()].copy_from_slice(&self.0);
        all
    }

    /// Those of the first elements.
    pub(crate) fn first(&self, n_elements: usize) -> Self {
        Self(self.0[..n_elements.min(self.0.len())].to_vec())
    }

    pub(crate) fn at(&self, element: usize) -> bool {
        self.0.get(element).copied().flatten() == Some(true)
    }

    /// The elements in which two differ.
    pub(crate) fn differing(&self, other: &Self) -> impl Iterator<Item = ElementId> {
        self.0
            .iter()
            .zip(&other.0)
            .enumerate()
            .filter(|(_, (a, b))| a != b)
            .map(|(at, _)| ElementId(at as u32))
    }

    /// Moves every contact, among `elements`, of the relay that `contact` belongs to so that its coil counts as `powered`.
    pub(crate) fn move_relay<'a>(
        &mut self,
        elements: impl Iterator<Item = (usize, &'a Element)>,
        contact: &Element,
        powered: bool,
    ) {
        let Some(relay) = relay(contact) else { return };
        for (at, element) in elements {
            if let Element::RelayContact { normally_closed, .. } = *element
                && self::relay(element).is_some_and(|other| other == relay)
            {
                self.0[at] = Some(powered != normally_closed);
            }
        }
    }

    /// Changes the state, among those of `elements`, that `volts` and `amps` contradict most. False if none is contradicted.
    pub(crate) fn step<'a>(
        &mut self,
        elements: impl Iterator<Item = (usize, &'a Element)> + Clone,
        volts: &[f64],
        amps: &[f64],
    ) -> bool {
        let mut worst: Option<(u8, f64, (usize, &Element), bool)> = None;
        for (at, element) in elements.clone() {
            let (rank, beyond, next) = match Keeps::of(element, self.at(at)) {
                Some(Keeps::Whole { most_amps }) => {
                    let rank = if matches!(element, Element::Driver { .. }) {
                        2
                    } else {
                        0
                    };
                    (rank, excess(amps[at].abs(), most_amps), true)
                }
                Some(Keeps::Out { coil, below_volts }) => {
                    let volts = across(volts, coil);
                    let beyond = if volts >= below_volts {
                        excess(volts, below_volts).max(f64::MIN_POSITIVE)
                    } else {
                        0.0
                    };
                    (1, beyond, true)
                }
                Some(Keeps::In { coil, least_volts }) => {
                    let volts = across(volts, coil);
                    (1, (least_volts - volts) / least_volts, false)
                }
                None => continue,
            };
            if beyond > 0.0 && worst.is_none_or(|(r, b, ..)| (rank, beyond) > (r, b)) {
                worst = Some((rank, beyond, (at, element), next));
            }
        }
        let Some((rank, _, (at, element), next)) = worst else {
            return false;
        };
        if rank == 1 {
            self.move_relay(elements, element, next);
        } else {
            self.0[at] = Some(next);
        }
        true
    }
}

fn initial(element: &Element) -> Option<bool> {
    match *element {
        Element::RelayContact { normally_closed, .. } => Some(normally_closed),
        Element::Fuse { .. } | Element::Driver { .. } => Some(false),
        _ => None,
    }
}

/// What an element needs to keep its discrete state.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Keeps {
    /// A whole fuse, a driver that is on: no more current than this.
    Whole { most_amps: f64 },
    /// A relay at rest: less than this across its coil.
    Out { coil: [NodeId; 2], below_volts: f64 },
    /// A relay that has pulled in: at least this across its coil.
    In { coil: [NodeId; 2], least_volts: f64 },
}

impl Keeps {
    /// `None` where nothing changes the state, or there is none.
    pub(crate) fn of(element: &Element, state: bool) -> Option<Self> {
        match *element {
            Element::Driver {
                limit_amps: most_amps,
                commanded: true,
                ..
            }
            | Element::Fuse {
                rating_amps: most_amps, ..
            } if !state => Some(Self::Whole { most_amps }),
            Element::RelayContact {
                coil_plus,
                coil_minus,
                pull_in_volts,
                drop_out_volts,
                normally_closed,
                ..
            } => {
                let coil = [coil_plus, coil_minus];
                Some(if state == normally_closed {
                    Self::Out {
                        coil,
                        below_volts: pull_in_volts,
                    }
                } else {
                    Self::In {
                        coil,
                        least_volts: drop_out_volts,
                    }
                })
            }
            _ => None,
        }
    }
}

/// Size of the voltage across a coil.
fn across(volts: &[f64], [plus, minus]: [NodeId; 2]) -> f64 {
    (volts[plus.0 as usize] - volts[minus.0 as usize]).abs()
}

/// How far above its limit, relative to it; 0 or less when within.
fn excess(value: f64, limit: f64) -> f64 {
    if value <= limit {
        0.0
    } else {
        ((value - limit) / limit).min(f64::MAX)
    }
}

/// What makes two contacts parts of one relay.
fn relay(element: &Element) -> Option<([u32; 2], [u64; 2])> {
    match *element {
        Element::RelayContact {
            coil_plus,
            coil_minus,
            pull_in_volts,
            drop_out_volts,
            ..
        } => {
            let (a, b) = (coil_plus.0.min(coil_minus.0), coil_plus.0.max(coil_minus.0));
            Some(([a, b], [pull_in_volts.to_bits(), drop_out_volts.to_bits()]))
        }
        _ => None,
    }
}
