//! From a circuit in a set-up to a netlist, and how each value in it is moved.
//!
//! Every branch becomes exactly one element, at the same position: an [`ElementId`] below the number of branches *is* a
//! [`BranchId`]. After them comes one resistor from each point to battery negative, absent until a voltmeter stands
//! there, so that the common reading needs no netlist of its own. What faults, set-ups and tools add is appended. The
//! battery's negative post is the reference node.

use circuit::{At, Branch, BranchId, BranchKind, Circuit, DeviceId, Law, OPEN_OHMS, PointId, Role, SetUp};
use network::{Element, ElementId, Netlist, NodeId, Parameter};

use crate::lowered::{Cause, Drive, Healthy, Lowered};

/// A value given as less than this is taken as this, ohms: the ends of a track, a contact said to have none. Far below
/// what any lead or meter resolves, far above what would spoil the arithmetic.
pub(crate) const LEAST_OHMS: f64 = 1e-4;

/// A coil voltage that no vehicle has: the contact stays as it is. Used for stuck and pulled relays.
pub(crate) const NEVER_VOLTS: f64 = 1e9;

/// Which node each point is.
#[derive(Debug)]
pub(crate) struct Layout {
    node_of: Vec<NodeId>,
    n_branches: usize,
}

impl Layout {
    pub(crate) fn new(circuit: &Circuit) -> Self {
        let mut next = 0;
        let node_of = (0..circuit.points.len())
            .map(|point| {
                if point == circuit.battery_minus.idx() {
                    return NodeId::GROUND;
                }
                next += 1;
                NodeId(next)
            })
            .collect();
        Self {
            node_of,
            n_branches: circuit.branches.len(),
        }
    }

    pub(crate) fn node(&self, point: PointId) -> NodeId {
        self.node_of[point.idx()]
    }

    pub(crate) fn n_points(&self) -> usize {
        self.node_of.len()
    }

    pub(crate) fn n_branches(&self) -> usize {
        self.n_branches
    }

    /// The voltmeter's place between a point and battery negative.
    pub(crate) fn probe(&self, point: PointId) -> ElementId {
        ElementId((self.n_branches + point.idx()) as u32)
    }

    /// Voltages of the points from those of the nodes.
    pub(crate) fn point_volts(&self, node_volts: &[f64]) -> Vec<f64> {
        self.node_of.iter().map(|node| node_volts[node.0 as usize]).collect()
    }
}

impl Lowered {
    /// The circuit in a set-up, healthy, nothing clipped in.
    pub(crate) fn healthy(circuit: &Circuit, layout: &Layout, set_up: &SetUp, theta: &[f64]) -> Self {
        let at = At {
            theta,
            ..At::centre(circuit, set_up)
        };
        let mut elements = Vec::with_capacity(layout.n_branches + layout.n_points());
        let mut all_drives = Vec::with_capacity(2 * layout.n_branches);
        for (position, branch) in circuit.branches.iter().enumerate() {
            let (element, drives) = element(branch, layout, &at);
            elements.push(element);
            let id = ElementId(position as u32);
            let by_param = drives
                .iter()
                .flat_map(|(value, law)| law.derivatives(&at).map(|moved| (*value, moved)));
            all_drives.extend(
                by_param
                    .filter(|(_, (_, slope))| *slope != 0.0)
                    .map(|(value, (param, slope))| Drive {
                        element: id,
                        value,
                        cause: Cause::Param(param),
                        slope,
                    }),
            );
        }
        for &node in &layout.node_of {
            let absent = Element::Resistor {
                a: node,
                b: NodeId::GROUND,
                ohms: f64::INFINITY,
            };
            elements.push(absent);
        }
        let netlist = Netlist {
            n_nodes: layout.n_points(),
            elements,
        };
        let mut lowered = Self::new(&Healthy::new(netlist, all_drives));
        lowered.pull(circuit, set_up);
        if lowered.changed().is_empty() {
            return lowered;
        }
        Self::new(&lowered.settled())
    }

    /// Fuses and relays that the set-up takes out, the battery's lead that it lifts.
    fn pull(&mut self, circuit: &Circuit, set_up: &SetUp) {
        for fuse in set_up.fuses_out.iter().filter_map(|fuse| circuit.fuses.get(fuse.idx())) {
            self.open(fuse.branch);
        }
        for relay in set_up.relays_out.iter().chain(&set_up.relays_bridged) {
            let Some(found) = circuit.relays.get(relay.idx()) else {
                continue;
            };
            self.open(found.coil);
            for &contact in &found.contacts {
                let bridged = set_up.relays_bridged.contains(relay);
                if bridged {
                    self.hold_closed(contact);
                } else {
                    self.hold_open(contact);
                }
            }
        }
        if set_up.battery_off {
            let batteries = circuit
                .branches
                .iter()
                .enumerate()
                .filter(|(_, branch)| branch.role == Role::Battery);
            for (position, _) in batteries {
                self.open(BranchId::from(position));
            }
        }
    }

    /// The branches of a device as they are when it senses `percent` of the span more than there is.
    pub(crate) fn shift_sensed(
        &mut self,
        layout: &Layout,
        at: &At<'_>,
        device: DeviceId,
        percent: f64,
        severity: usize,
        slope: f64,
    ) {
        let at = at.shifted(percent);
        for &branch in &at.circuit.devices[device.idx()].inside {
            let id = ElementId(branch.0);
            let (element, values) = element(&at.circuit.branches[branch.idx()], layout, &at);
            *self.element_mut(id) = element;
            self.forget(branch);
            for (value, law) in values {
                let by_param = law.derivatives(&at).map(|(param, slope)| (Cause::Param(param), slope));
                let by_severity = (Cause::Severity(severity), law.by_shift(&at) * slope);
                let moved = by_param.chain([by_severity]).filter(|(_, slope)| *slope != 0.0);
                for (cause, slope) in moved {
                    self.add_drive(Drive {
                        element: id,
                        value,
                        cause,
                        slope,
                    });
                }
            }
        }
    }

    /// The branch conducts no more than insulation does.
    pub(crate) fn open(&mut self, branch: BranchId) {
        self.forget(branch);
        match self.element_mut(ElementId(branch.0)) {
            Element::Resistor { ohms, .. }
            | Element::Diode { series_ohms: ohms, .. }
            | Element::Clamp { series_ohms: ohms, .. } => *ohms = OPEN_OHMS,
            Element::VoltageSource { volts, ohms, .. } => (*volts, *ohms) = (0.0, OPEN_OHMS),
            Element::Output {
                ohms,
                source_limit_amps,
                sink_limit_amps,
                ..
            } => {
                (*ohms, *source_limit_amps, *sink_limit_amps) = (OPEN_OHMS, 0.0, 0.0);
            }
            Element::CurrentSink { amps, .. } => *amps = 0.0,
            Element::Lamp {
                rated_volts,
                rated_watts,
                hot_to_cold,
                ..
            } => {
                *rated_watts = *rated_volts * *rated_volts / (OPEN_OHMS * *hot_to_cold);
            }
            Element::RelayContact { closed_ohms, .. } => *closed_ohms = OPEN_OHMS,
            Element::Fuse { ohms, rating_amps, .. } => (*ohms, *rating_amps) = (OPEN_OHMS, f64::INFINITY),
            Element::Driver {
                on_ohms,
                off_ohms,
                limit_amps,
                ..
            } => {
                (*on_ohms, *off_ohms, *limit_amps) = (OPEN_OHMS, OPEN_OHMS, f64::INFINITY);
            }
            _ => {}
        }
    }

    /// Contacts or a transistor that stay open.
    pub(crate) fn hold_open(&mut self, branch: BranchId) {
        self.forget(branch);
        match self.element_mut(ElementId(branch.0)) {
            Element::RelayContact {
                pull_in_volts,
                drop_out_volts,
                normally_closed,
                ..
            } => {
                (*pull_in_volts, *drop_out_volts, *normally_closed) = (NEVER_VOLTS, NEVER_VOLTS, false);
            }
            Element::Driver { commanded, .. } => *commanded = false,
            _ => self.open(branch),
        }
    }

    /// Contacts or a transistor that stay closed: welded, or punched through, so that nothing protects it any more.
    /// A switch that the set-up opens is closed with [`Self::close`] instead.
    pub(crate) fn hold_closed(&mut self, branch: BranchId) {
        match self.element_mut(ElementId(branch.0)) {
            Element::RelayContact {
                pull_in_volts,
                drop_out_volts,
                normally_closed,
                ..
            } => {
                (*pull_in_volts, *drop_out_volts, *normally_closed) = (NEVER_VOLTS, NEVER_VOLTS, true);
            }
            Element::Driver {
                commanded, limit_amps, ..
            } => (*commanded, *limit_amps) = (true, f64::INFINITY),
            _ => {}
        }
    }

    /// A switch closes whatever the set-up says.
    pub(crate) fn close(&mut self, branch: BranchId, at: &At<'_>) {
        match &at.circuit.branches[branch.idx()].kind {
            BranchKind::Switch { closed_ohms, .. } => {
                self.forget(branch);
                if let Element::Resistor { ohms, .. } = self.element_mut(ElementId(branch.0)) {
                    *ohms = least(closed_ohms.value(at));
                }
            }
            _ => self.hold_closed(branch),
        }
    }
}

pub(crate) fn least(ohms: f64) -> f64 {
    // Not `max`: NaN must stay, so that it is reported.
    if ohms < LEAST_OHMS { LEAST_OHMS } else { ohms }
}

/// The element of a branch and which of its values follow which laws.
fn element<'b>(branch: &'b Branch, layout: &Layout, at: &At<'_>) -> (Element, Vec<(Parameter, &'b Law)>) {
    let node = |point: PointId| layout.node(point);
    let resistor = |a, b, ohms| Element::Resistor {
        a: node(a),
        b: node(b),
        ohms,
    };
    match &branch.kind {
        BranchKind::Resistor { a, b, ohms } => (resistor(*a, *b, least(ohms.value(at))), vec![(Parameter::Ohms, ohms)]),
        BranchKind::Switch {
            a,
            b,
            closed_ohms,
            closed,
        } => {
            if closed.holds(at) {
                (
                    resistor(*a, *b, least(closed_ohms.value(at))),
                    vec![(Parameter::Ohms, closed_ohms)],
                )
            } else {
                (resistor(*a, *b, OPEN_OHMS), Vec::new())
            }
        }
        BranchKind::Source {
            plus,
            minus,
            volts,
            ohms,
            present,
        } => {
            let (plus, minus) = (node(*plus), node(*minus));
            if present.holds(at) {
                let element = Element::VoltageSource {
                    plus,
                    minus,
                    volts: volts.value(at),
                    ohms: least(ohms.value(at)),
                };
                (element, vec![(Parameter::Volts, volts), (Parameter::Ohms, ohms)])
            } else {
                (
                    Element::VoltageSource {
                        plus,
                        minus,
                        volts: 0.0,
                        ohms: OPEN_OHMS,
                    },
                    Vec::new(),
                )
            }
        }
        BranchKind::Diode {
            anode,
            cathode,
            saturation_amps,
            thermal_volts,
            series_ohms,
        } => {
            let element = Element::Diode {
                anode: node(*anode),
                cathode: node(*cathode),
                saturation_amps: *saturation_amps,
                thermal_volts: *thermal_volts,
                series_ohms: *series_ohms,
            };
            (element, Vec::new())
        }
        BranchKind::Clamp {
            anode,
            cathode,
            breakdown_volts,
            series_ohms,
        } => {
            let element = Element::Clamp {
                anode: node(*anode),
                cathode: node(*cathode),
                // A silicon junction at room temperature (from memory of data sheets of transient clamps).
                saturation_amps: 1e-14,
                thermal_volts: 0.02585,
                breakdown_volts: breakdown_volts.value(at),
                series_ohms: *series_ohms,
            };
            (element, vec![(Parameter::BreakdownVolts, breakdown_volts)])
        }
        BranchKind::Output {
            supply,
            ground,
            output,
            offset_volts,
            gain,
            dropout_volts,
            ohms,
            source_limit_amps,
            sink_limit_amps,
        } => {
            let element = Element::Output {
                supply: node(*supply),
                ground: node(*ground),
                output: node(*output),
                offset_volts: offset_volts.value(at),
                gain: gain.value(at),
                dropout_volts: *dropout_volts,
                ohms: least(ohms.value(at)),
                source_limit_amps: *source_limit_amps,
                sink_limit_amps: *sink_limit_amps,
            };
            let values = vec![
                (Parameter::OffsetVolts, offset_volts),
                (Parameter::Gain, gain),
                (Parameter::Ohms, ohms),
            ];
            (element, values)
        }
        BranchKind::CurrentSink {
            from,
            to,
            amps,
            knee_volts,
            drawn,
        } => {
            let drawn = drawn.holds(at);
            let element = Element::CurrentSink {
                from: node(*from),
                to: node(*to),
                amps: if drawn { amps.value(at) } else { 0.0 },
                knee_volts: *knee_volts,
            };
            (
                element,
                if drawn {
                    vec![(Parameter::Amps, amps)]
                } else {
                    Vec::new()
                },
            )
        }
        BranchKind::Lamp {
            a,
            b,
            rated_volts,
            rated_watts,
            hot_to_cold,
        } => {
            let element = Element::Lamp {
                a: node(*a),
                b: node(*b),
                rated_volts: *rated_volts,
                rated_watts: rated_watts.value(at),
                hot_to_cold: *hot_to_cold,
            };
            (element, vec![(Parameter::RatedWatts, rated_watts)])
        }
        BranchKind::RelayContact {
            a,
            b,
            closed_ohms,
            coil_plus,
            coil_minus,
            pull_in_volts,
            drop_out_volts,
            normally_closed,
            ..
        } => {
            let element = Element::RelayContact {
                a: node(*a),
                b: node(*b),
                closed_ohms: least(closed_ohms.value(at)),
                coil_plus: node(*coil_plus),
                coil_minus: node(*coil_minus),
                pull_in_volts: *pull_in_volts,
                drop_out_volts: *drop_out_volts,
                normally_closed: *normally_closed,
            };
            (element, vec![(Parameter::ClosedOhms, closed_ohms)])
        }
        BranchKind::Fuse {
            a,
            b,
            ohms,
            rating_amps,
            ..
        } => {
            let element = Element::Fuse {
                a: node(*a),
                b: node(*b),
                ohms: least(ohms.value(at)),
                rating_amps: *rating_amps,
            };
            (element, vec![(Parameter::Ohms, ohms)])
        }
        BranchKind::Driver {
            a,
            b,
            on_ohms,
            off_ohms,
            limit_amps,
            commanded,
        } => {
            let element = Element::Driver {
                a: node(*a),
                b: node(*b),
                on_ohms: least(on_ohms.value(at)),
                off_ohms: *off_ohms,
                limit_amps: *limit_amps,
                commanded: commanded.holds(at),
            };
            (element, vec![(Parameter::OnOhms, on_ohms)])
        }
    }
}
