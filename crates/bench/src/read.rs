//! What an instrument shows in a solved circuit, and how parameters and severities move it.
//!
//! Derivatives come from the adjoint of the operating point with the instrument in place. A voltmeter whose load moves
//! its own reading by no more than [`SMALL_LOAD_VOLTS`] is not solved for: the base solve and the resistance behind the
//! points give its reading and derivatives.

use std::sync::Arc;

use circuit::{BranchId, PointId, SetUp};
use network::{Adjoint, Element, ElementId, Outcome, Parameter, Solution};

use crate::attach::{self, AMMETER_LIMIT_AMPS, AMMETER_OHMS, DIODE_TEST, OHMMETER, TestCurrent, VOLTMETER_OHMS};
use crate::error::BenchError;
use crate::ghost::Neighbours;
use crate::history::{Ready, Shop, carried};
use crate::lowered::{Cause, Lowered};
use crate::prediction::{Kind, Prediction, Unsaid};
use crate::test::Placement;

/// A voltmeter that changes its reading by less is treated to first order. A silicon junction then errs by
/// (0.5 mV / 26 mV)² / 2 of 26 mV: 5 µV, and derivatives by the same share.
const SMALL_LOAD_VOLTS: f64 = 5e-4;
/// An ohmmeter across more than this sits on a live circuit (as the bank of outside cases has it; common practice).
const LIVE_VOLTS: f64 = 5e-3;
/// Above this an ohmmeter shows over-range.
const OHMMETER_LIMIT: f64 = 50e6;
/// Above this a diode test shows over-range, volts.
const DIODE_TEST_LIMIT: f64 = 2.5;

/// Derivatives of a reading.
#[derive(Clone, Debug, Default)]
pub(crate) struct Slopes {
    pub(crate) by_param: Vec<f64>,
    pub(crate) by_severity: Vec<f64>,
}

impl Slopes {
    pub(crate) fn zero(case: &Case<'_>) -> Self {
        Self {
            by_param: vec![0.0; case.shop.circuit.params.len()],
            by_severity: vec![0.0; case.n_faults],
        }
    }

    fn add(&mut self, cause: Cause, slope: f64) {
        match cause {
            Cause::Param(param) => {
                if let Some(sum) = self.by_param.get_mut(param.idx()) {
                    *sum += slope;
                }
            }
            Cause::Severity(position) => self.by_severity[position] += slope,
        }
    }

    /// Of the adjoint's reading.
    pub(crate) fn of(case: &Case<'_>, lowered: &Lowered, adjoint: &Adjoint<'_>) -> Self {
        let mut slopes = Self::zero(case);
        for drive in lowered.drives() {
            slopes.add(drive.cause, adjoint.by_value(drive.element, drive.value) * drive.slope);
        }
        slopes
    }

    pub(crate) fn times(mut self, factor: f64) -> Self {
        self.by_param
            .iter_mut()
            .chain(&mut self.by_severity)
            .for_each(|slope| *slope *= factor);
        self
    }
}

/// A prediction that is no voltage.
pub(crate) fn number(kind: Kind, value: f64, slopes: Slopes) -> Prediction {
    let Slopes { by_param, by_severity } = slopes;
    Prediction {
        kind,
        value,
        beyond: 0.0,
        by_param,
        by_severity,
        source_ohms: 0.0,
        ghost_volts: (0.0, 0.0),
        unsaid: None,
    }
}

/// One hypothesis in one set-up, solved without a tool.
pub(crate) struct Case<'a> {
    pub(crate) shop: Shop<'a>,
    pub(crate) neighbours: &'a Neighbours,
    pub(crate) set_up: &'a SetUp,
    pub(crate) ready: Arc<Ready>,
    pub(crate) lowered: Lowered,
    pub(crate) base: Solution,
    pub(crate) n_faults: usize,
}

/// The circuit with a tool in place.
pub(crate) struct WithTool {
    pub(crate) lowered: Lowered,
    pub(crate) solution: Solution,
    /// The tool.
    pub(crate) element: ElementId,
}

/// A prediction with what flows are read from; `None` where the base solve tells them.
pub(crate) type Read = (Prediction, Option<WithTool>);

impl Case<'_> {
    pub(crate) fn volts(&self, point: PointId) -> f64 {
        self.base.volts(self.shop.layout.node(point))
    }

    /// Resistance behind two points and the adjoint of the voltage between them.
    fn behind(&self, red: PointId, black: PointId) -> (f64, Adjoint<'_>) {
        let (red, black) = (self.shop.layout.node(red), self.shop.layout.node(black));
        let adjoint = self.base.adjoint(&[(red, 1.0), (black, -1.0)]);
        let ohms = adjoint.resistance_seen();
        // Below 0 only by rounding, or behind a controlled source; a meter sees no such thing.
        (if ohms.is_nan() { f64::INFINITY } else { ohms.max(0.0) }, adjoint)
    }

    pub(crate) fn unknown(&self) -> Prediction {
        Prediction {
            unsaid: Some(Unsaid::Unsettled),
            ..number(Kind::Unknown, 0.0, Slopes::zero(self))
        }
    }

    /// Solves with a tool that `place` puts in.
    pub(crate) fn with(&self, place: impl FnOnce(&mut Lowered) -> ElementId) -> Result<Option<WithTool>, BenchError> {
        let mut lowered = self.lowered.clone();
        let element = place(&mut lowered);
        let start = carried(&self.base.states, &lowered, false);
        let outcome = self
            .ready
            .solve(self.shop.solvers, &lowered, &start, Some(&self.base))?;
        let Outcome::Converged(solution) = outcome else {
            return Ok(None);
        };
        Ok(Some(WithTool {
            lowered,
            solution,
            element,
        }))
    }

    /// Reads one placement. Points and ids must have been checked.
    pub(crate) fn read(&self, placement: &Placement) -> Result<Read, BenchError> {
        match *placement {
            // What it makes of the voltages of all states is for `passing`.
            Placement::Voltmeter { red, black } | Placement::Alternating { red, black, .. } => {
                self.voltmeter(red, black)
            }
            Placement::Ohmmeter { red, black } | Placement::Continuity { red, black } => {
                self.test_current(red, black, OHMMETER, Self::as_ohms)
            }
            Placement::DiodeTest { red, black } => self.test_current(red, black, DIODE_TEST, Self::as_junction),
            Placement::Ammeter { red, black } => self.ammeter(red, black),
            Placement::Clamp { around } => Ok((self.clamp(around)?, None)),
            Placement::TestLight { tip, clip } => self.test_light(tip, clip),
            Placement::Scan { channel } => Ok((self.scan(channel), None)),
            Placement::Code { monitor } => Ok((self.code(monitor)?, None)),
        }
    }

    fn voltmeter(&self, red: PointId, black: PointId) -> Result<Read, BenchError> {
        let open_volts = self.volts(red) - self.volts(black);
        let (ohms, adjoint) = self.behind(red, black);
        let share = VOLTMETER_OHMS / (VOLTMETER_OHMS + ohms);
        let moved = open_volts.abs() * (1.0 - share);
        let (value, slopes, with_tool) = if ohms.is_infinite() || moved <= SMALL_LOAD_VOLTS {
            (
                open_volts * share,
                Slopes::of(self, &self.lowered, &adjoint).times(share),
                None,
            )
        } else {
            let layout = self.shop.layout;
            let placed = self.with(|lowered| {
                let negative = self.shop.circuit.battery_minus;
                let one_lead = if black == negative {
                    Some(red)
                } else {
                    Some(black).filter(|_| red == negative)
                };
                if let Some(point) = one_lead {
                    let probe = layout.probe(point);
                    let (a, b) = (layout.node(point), layout.node(negative));
                    *lowered.element_mut(probe) = Element::Resistor {
                        a,
                        b,
                        ohms: VOLTMETER_OHMS,
                    };
                    probe
                } else {
                    let (a, b) = (layout.node(red), layout.node(black));
                    lowered.append(Element::Resistor {
                        a,
                        b,
                        ohms: VOLTMETER_OHMS,
                    })
                }
            })?;
            let Some(placed) = placed else {
                return Ok((self.unknown(), None));
            };
            let (value, slopes) = self.across(&placed, red, black);
            (value, slopes, Some(placed))
        };
        let prediction = Prediction {
            source_ohms: ohms,
            ghost_volts: self.neighbours.ghost(self, red, black, value, ohms),
            ..number(Kind::Number, value, slopes)
        };
        Ok((prediction, with_tool))
    }

    /// Voltage between two points with a tool in place, and its slopes.
    fn across(&self, placed: &WithTool, red: PointId, black: PointId) -> (f64, Slopes) {
        let (red, black) = (self.shop.layout.node(red), self.shop.layout.node(black));
        let adjoint = placed.solution.adjoint(&[(red, 1.0), (black, -1.0)]);
        let slopes = Slopes::of(self, &placed.lowered, &adjoint);
        (placed.solution.volts(red) - placed.solution.volts(black), slopes)
    }

    fn test_current(
        &self,
        red: PointId,
        black: PointId,
        source: TestCurrent,
        show: fn(&Self, f64, Slopes, TestCurrent) -> Prediction,
    ) -> Result<Read, BenchError> {
        let layout = self.shop.layout;
        let placed = self.with(|lowered| lowered.append(source.element(layout.node(red), layout.node(black))))?;
        let Some(placed) = placed else {
            return Ok((self.unknown(), None));
        };
        let (volts, slopes) = self.across(&placed, red, black);
        let standing = self.volts(red) - self.volts(black);
        let (behind, adjoint) = self.behind(red, black);
        // What stands there on its own once the meter's resistance loads it: a ghost is not live.
        let own = standing * source.series_ohms / (source.series_ohms + behind);
        let prediction = if behind.is_finite() && own.abs() >= LIVE_VOLTS {
            let slopes = Slopes::of(self, &self.lowered, &adjoint);
            number(Kind::Live, standing, slopes)
        } else {
            show(self, volts, slopes, source)
        };
        Ok((
            Prediction {
                source_ohms: behind,
                ..prediction
            },
            Some(placed),
        ))
    }

    fn as_ohms(&self, volts: f64, slopes: Slopes, source: TestCurrent) -> Prediction {
        let left = source.open_volts - volts;
        let ohms = source.series_ohms * volts / left;
        if left <= 0.0 || ohms > OHMMETER_LIMIT {
            return number(Kind::OverRange, OHMMETER_LIMIT, Slopes::zero(self));
        }
        number(
            Kind::Number,
            ohms,
            slopes.times(source.series_ohms * source.open_volts / (left * left)),
        )
    }

    fn as_junction(&self, volts: f64, slopes: Slopes, _: TestCurrent) -> Prediction {
        if volts > DIODE_TEST_LIMIT {
            return number(Kind::OverRange, DIODE_TEST_LIMIT, Slopes::zero(self));
        }
        number(Kind::Number, volts, slopes)
    }

    fn ammeter(&self, red: PointId, black: PointId) -> Result<Read, BenchError> {
        let layout = self.shop.layout;
        let (a, b) = (layout.node(red), layout.node(black));
        let placed = self.with(|lowered| {
            lowered.append(Element::Resistor {
                a,
                b,
                ohms: AMMETER_OHMS,
            })
        })?;
        let Some(placed) = placed else {
            return Ok((self.unknown(), None));
        };
        let (volts, slopes) = self.across(&placed, red, black);
        let amps = volts / AMMETER_OHMS;
        let prediction = if amps.abs() > AMMETER_LIMIT_AMPS {
            number(Kind::OverRange, AMMETER_LIMIT_AMPS.copysign(amps), Slopes::zero(self))
        } else {
            number(Kind::Number, amps, slopes.times(1.0 / AMMETER_OHMS))
        };
        Ok((prediction, Some(placed)))
    }

    fn test_light(&self, tip: PointId, clip: PointId) -> Result<Read, BenchError> {
        let layout = self.shop.layout;
        let (a, b) = (layout.node(tip), layout.node(clip));
        let placed = self.with(|lowered| lowered.append(attach::test_light(a, b)))?;
        let Some(placed) = placed else {
            return Ok((self.unknown(), None));
        };
        let (volts, slopes) = self.across(&placed, tip, clip);
        let prediction = number(
            Kind::Number,
            volts.abs(),
            slopes.times(if volts < 0.0 { -1.0 } else { 1.0 }),
        );
        Ok((
            Prediction {
                source_ohms: self.behind(tip, clip).0,
                ..prediction
            },
            Some(placed),
        ))
    }

    /// The current in a branch: a difference of voltages over a resistance, and that resistance's own share.
    pub(crate) fn clamp(&self, around: BranchId) -> Result<Prediction, BenchError> {
        let id = ElementId(around.0);
        let amps = self.base.amps(id);
        let state = self.base.states.get(id);
        let Some(element) = self.lowered.element(id) else {
            return Ok(self.unknown());
        };
        let straight = match *element {
            Element::Resistor { a, b, ohms } => Some((a, b, ohms, Parameter::Ohms)),
            Element::VoltageSource { plus, minus, ohms, .. } => Some((plus, minus, ohms, Parameter::Ohms)),
            Element::Fuse { a, b, ohms, .. } => Some((a, b, ohms, Parameter::Ohms)).filter(|_| state != Some(true)),
            Element::RelayContact { a, b, closed_ohms, .. } => {
                Some((a, b, closed_ohms, Parameter::ClosedOhms)).filter(|_| state == Some(true))
            }
            Element::Driver {
                a,
                b,
                on_ohms,
                commanded,
                ..
            } => Some((a, b, on_ohms, Parameter::OnOhms)).filter(|_| commanded && state != Some(true)),
            _ => {
                let path = self.shop.circuit.branches[around.idx()].path.clone();
                return Err(BenchError::NothingToClamp { path });
            }
        };
        let Some((a, b, ohms, own)) = straight else {
            return Ok(number(Kind::Number, amps, Slopes::zero(self)));
        };
        let adjoint = self.base.adjoint(&[(a, 1.0 / ohms), (b, -1.0 / ohms)]);
        let mut slopes = Slopes::of(self, &self.lowered, &adjoint);
        for drive in self.lowered.drives().filter(|drive| drive.element == id) {
            if drive.value == own {
                slopes.add(drive.cause, -amps / ohms * drive.slope);
            } else if drive.value == Parameter::Volts {
                slopes.add(drive.cause, -drive.slope / ohms);
            }
        }
        Ok(number(Kind::Number, amps, slopes))
    }
}
