//! Faults as edits of a lowered circuit.
//!
//! Several faults compose: what devices sense is shifted first, because that computes values afresh; then factors and
//! replacements; then added resistance and bridges. Blown fuses are states, not values: see [`blown`].

use circuit::{At, BranchId, Change, FuseId, PointId, Severity};
use network::{Element, ElementId, Parameter};

use crate::error::BenchError;
use crate::lower::{LEAST_OHMS, Layout, NEVER_VOLTS, least};
use crate::lowered::{Cause, Drive, Lowered};
use crate::prediction::Hypothesis;

/// A severity with what its derivative is taken by.
#[derive(Clone, Copy)]
struct Dose {
    position: usize,
    value: f64,
    /// d value / d ln value, or 1 where the scale is linear, or 0 where the fault has no severity.
    slope: f64,
}

impl Dose {
    fn of(position: usize, severity: Option<Severity>, value: f64) -> Self {
        let slope = severity.map_or(0.0, |severity| if severity.logarithmic { value } else { 1.0 });
        Self { position, value, slope }
    }

    fn drive(self, element: ElementId, value: Parameter, by_value: f64) -> Drive {
        Drive {
            element,
            value,
            cause: Cause::Severity(self.position),
            slope: by_value * self.slope,
        }
    }
}

/// Whether the hypothesis names only what the circuit has, with usable severities.
///
/// # Errors
/// The first thing that it names wrongly.
pub(crate) fn check(at: &At<'_>, hypothesis: &Hypothesis<'_>) -> Result<(), BenchError> {
    let circuit = at.circuit;
    let point = |point: PointId| match circuit.points.get(point.idx()) {
        Some(_) => Ok(()),
        None => Err(BenchError::NoSuchPoint {
            point,
            n_points: circuit.points.len(),
        }),
    };
    let branch = |branch: BranchId| match circuit.branches.get(branch.idx()) {
        Some(_) => Ok(()),
        None => Err(BenchError::NoSuchBranch {
            branch,
            n_branches: circuit.branches.len(),
        }),
    };
    for &(fault, severity) in &hypothesis.faults {
        let fits = |of: Severity| severity.is_finite() && (severity >= 0.0 || !of.logarithmic);
        if fault.severity.is_some_and(|of| !fits(of)) {
            return Err(BenchError::BadSeverity {
                fault: fault.path.clone(),
                severity,
            });
        }
        for change in &fault.changes {
            match *change {
                Change::AddSeries(b)
                | Change::Open(b)
                | Change::Scale(b)
                | Change::Times(b, _)
                | Change::Set(b, _)
                | Change::StuckClosed(b)
                | Change::StuckOpen(b) => branch(b)?,
                Change::Bridge(a, b) | Change::BridgeOhms(a, b, _) => {
                    point(a)?;
                    point(b)?;
                }
                Change::ShiftSensed(device) if device.idx() >= circuit.devices.len() => {
                    return Err(BenchError::NoSuchPart {
                        what: "device",
                        position: device.0,
                    });
                }
                Change::Blown(fuse) if fuse.idx() >= circuit.fuses.len() => {
                    return Err(BenchError::NoSuchPart {
                        what: "fuse",
                        position: fuse.0,
                    });
                }
                Change::ShiftSensed(_) | Change::Blown(_) => {}
            }
        }
    }
    Ok(())
}

/// Fuses that the hypothesis says are blown.
pub(crate) fn blown<'a>(hypothesis: &'a Hypothesis<'_>) -> impl Iterator<Item = FuseId> + 'a {
    hypothesis
        .faults
        .iter()
        .flat_map(|(fault, _)| &fault.changes)
        .filter_map(|change| match *change {
            Change::Blown(fuse) => Some(fuse),
            _ => None,
        })
}

impl Lowered {
    /// Breaks the circuit. The hypothesis must have passed [`check`].
    pub(crate) fn apply(&mut self, layout: &Layout, at: &At<'_>, hypothesis: &Hypothesis<'_>) {
        let coils: Vec<f64> = at.circuit.relays.iter().map(|relay| self.ohms(relay.coil)).collect();
        for stage in [Self::shift, Self::alter, Self::add] {
            for (position, &(fault, severity)) in hypothesis.faults.iter().enumerate() {
                let dose = Dose::of(position, fault.severity, severity);
                for change in &fault.changes {
                    stage(self, layout, at, change, dose);
                }
            }
        }
        for (relay, before) in at.circuit.relays.iter().zip(coils) {
            self.weaken(&relay.contacts, self.ohms(relay.coil) / before);
        }
    }

    /// Ohms of a branch that is a resistor; NaN for others.
    fn ohms(&self, branch: BranchId) -> f64 {
        match self.element(ElementId(branch.0)) {
            Some(Element::Resistor { ohms, .. }) => *ohms,
            _ => f64::NAN,
        }
    }

    /// A coil's contacts move by its current: with so many times its resistance they need as many times the voltage at its
    /// terminals. Shorted turns take resistance and pull alike, and change nothing.
    fn weaken(&mut self, contacts: &[BranchId], resistance: f64) {
        if resistance.is_nan() || resistance <= 1.0 {
            return;
        }
        for contact in contacts {
            if let Element::RelayContact {
                pull_in_volts,
                drop_out_volts,
                ..
            } = self.element_mut(ElementId(contact.0))
            {
                for volts in [pull_in_volts, drop_out_volts] {
                    *volts = (*volts * resistance).min(NEVER_VOLTS);
                }
            }
        }
    }

    fn shift(&mut self, layout: &Layout, at: &At<'_>, change: &Change, dose: Dose) {
        if let Change::ShiftSensed(device) = *change {
            self.shift_sensed(layout, at, device, dose.value, dose.position, dose.slope);
        }
    }

    fn alter(&mut self, _: &Layout, at: &At<'_>, change: &Change, dose: Dose) {
        match *change {
            Change::Scale(branch) => self.scale(branch, dose),
            Change::Times(branch, factor) => self.scale(
                branch,
                Dose {
                    value: factor,
                    slope: 0.0,
                    ..dose
                },
            ),
            Change::Set(branch, value) => self.set(branch, value),
            Change::Open(branch) => self.open(branch),
            Change::StuckOpen(branch) => self.hold_open(branch),
            Change::StuckClosed(branch) => self.close(branch, at),
            _ => {}
        }
    }

    fn add(&mut self, layout: &Layout, _: &At<'_>, change: &Change, dose: Dose) {
        match *change {
            Change::AddSeries(branch) => self.add_series(branch, dose),
            Change::Bridge(a, b) => {
                let bridge = self.bridge(layout, a, b, dose.value);
                self.add_drive(dose.drive(bridge, Parameter::Ohms, 1.0));
            }
            Change::BridgeOhms(a, b, ohms) => {
                self.bridge(layout, a, b, ohms);
            }
            _ => {}
        }
    }

    fn bridge(&mut self, layout: &Layout, a: PointId, b: PointId, ohms: f64) -> ElementId {
        let (a, b) = (layout.node(a), layout.node(b));
        // One order for both, so that the two share a structure.
        let (a, b) = if a <= b { (a, b) } else { (b, a) };
        self.append(Element::Resistor {
            a,
            b,
            ohms: least(ohms),
        })
    }

    fn add_series(&mut self, branch: BranchId, dose: Dose) {
        let id = ElementId(branch.0);
        let which = match self.element_mut(id) {
            Element::Resistor { ohms, .. }
            | Element::VoltageSource { ohms, .. }
            | Element::Fuse { ohms, .. }
            | Element::Output { ohms, .. } => grow(ohms, dose, &[Parameter::Ohms]),
            Element::Diode { series_ohms, .. } | Element::Clamp { series_ohms, .. } => {
                grow(series_ohms, dose, &[Parameter::SeriesOhms])
            }
            Element::RelayContact { closed_ohms, .. } => grow(closed_ohms, dose, &[Parameter::ClosedOhms]),
            Element::Driver { on_ohms, off_ohms, .. } => {
                *off_ohms += dose.value;
                grow(on_ohms, dose, &[Parameter::OnOhms, Parameter::OffOhms])
            }
            _ => return self.add_series_node(id, dose),
        };
        for &value in which {
            self.add_drive(dose.drive(id, value, 1.0));
        }
    }

    /// A resistance in series that the element has no field for: a node between them.
    fn add_series_node(&mut self, id: ElementId, dose: Dose) {
        let between = self.new_node();
        let end = match self.element_mut(id) {
            Element::Lamp { b, .. } => b,
            Element::CurrentSink { to, .. } => to,
            _ => return,
        };
        let far = std::mem::replace(end, between);
        let series = Element::Resistor {
            a: between,
            b: far,
            ohms: least(dose.value),
        };
        self.shape.push([9, id.0, between.0, far.0, 0]);
        let added = self.append(series);
        self.add_drive(dose.drive(added, Parameter::Ohms, 1.0));
    }

    fn scale(&mut self, branch: BranchId, dose: Dose) {
        let id = ElementId(branch.0);
        let mut whole = vec![];
        let factor = dose.value;
        let mut times = |value: &mut f64, which: Parameter| {
            let before = *value;
            *value *= factor;
            whole.push((which, before));
        };
        match self.element_mut(ElementId(branch.0)) {
            Element::Resistor { ohms, .. } | Element::Fuse { ohms, .. } => times(ohms, Parameter::Ohms),
            Element::RelayContact { closed_ohms, .. } => times(closed_ohms, Parameter::ClosedOhms),
            Element::Driver { on_ohms, .. } => times(on_ohms, Parameter::OnOhms),
            Element::Diode { series_ohms, .. } => times(series_ohms, Parameter::SeriesOhms),
            Element::VoltageSource { volts, .. } => times(volts, Parameter::Volts),
            Element::Clamp { breakdown_volts, .. } => times(breakdown_volts, Parameter::BreakdownVolts),
            Element::CurrentSink { amps, .. } => times(amps, Parameter::Amps),
            Element::Lamp { rated_watts, .. } => times(rated_watts, Parameter::RatedWatts),
            // The whole target: what a ratiometric output adds scales with what it follows.
            Element::Output { offset_volts, gain, .. } => {
                times(offset_volts, Parameter::OffsetVolts);
                times(gain, Parameter::Gain);
            }
            _ => {}
        }
        for (which, before) in whole {
            for drive in self.drives_of(id).filter(|drive| drive.value == which) {
                drive.slope *= factor;
            }
            self.add_drive(dose.drive(id, which, before));
        }
    }

    fn set(&mut self, branch: BranchId, to: f64) {
        let id = ElementId(branch.0);
        let which = match self.element_mut(ElementId(branch.0)) {
            Element::Resistor { ohms, .. } | Element::Fuse { ohms, .. } => {
                replace(ohms, to.max(LEAST_OHMS), Parameter::Ohms)
            }
            Element::RelayContact { closed_ohms, .. } => {
                replace(closed_ohms, to.max(LEAST_OHMS), Parameter::ClosedOhms)
            }
            Element::Driver { on_ohms, .. } => replace(on_ohms, to.max(LEAST_OHMS), Parameter::OnOhms),
            Element::VoltageSource { volts, .. } => replace(volts, to, Parameter::Volts),
            Element::Clamp { breakdown_volts, .. } => replace(breakdown_volts, to, Parameter::BreakdownVolts),
            Element::CurrentSink { amps, .. } => replace(amps, to, Parameter::Amps),
            Element::Lamp { rated_watts, .. } => replace(rated_watts, to, Parameter::RatedWatts),
            // A regulator's volts, or the share of its supply that a ratiometric output gives.
            Element::Output { offset_volts, gain, .. } => {
                if *gain == 0.0 {
                    replace(offset_volts, to, Parameter::OffsetVolts)
                } else {
                    replace(gain, to, Parameter::Gain)
                }
            }
            _ => return,
        };
        for drive in self.drives_of(id).filter(|drive| drive.value == which) {
            drive.slope = 0.0;
        }
    }
}

/// Adds a dose to ohms; gives the values that it moves.
fn grow(ohms: &mut f64, dose: Dose, moves: &'static [Parameter]) -> &'static [Parameter] {
    *ohms += dose.value;
    moves
}

fn replace(value: &mut f64, to: f64, which: Parameter) -> Parameter {
    *value = to;
    which
}
