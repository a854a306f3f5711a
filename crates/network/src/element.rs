//! What a network is made of: nodes and elements, nothing of vehicles.
//!
//! All values are SI. Node 0 is the reference. Sign conventions are those of each variant's comment.

/// A node. [`NodeId::GROUND`] is the reference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NodeId(pub u32);

impl NodeId {
    /// The reference node, at 0 V.
    pub const GROUND: Self = Self(0);
}

/// Position of an element in its [`Netlist`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ElementId(pub u32);

/// One element. The current of an element is counted from its first named terminal through it to the second.
#[derive(Clone, Debug, PartialEq)]
#[expect(missing_docs, reason = "the comment of each variant names its fields")]
pub enum Element {
    /// `0.0` joins the two nodes; `f64::INFINITY` takes the branch out.
    Resistor { a: NodeId, b: NodeId, ohms: f64 },
    /// Ideal when `ohms` is 0. Current counts from `plus` through the source to `minus`: negative when it delivers.
    VoltageSource {
        plus: NodeId,
        minus: NodeId,
        volts: f64,
        ohms: f64,
    },
    /// `amps` leave node `from` and enter node `to`.
    CurrentSource { from: NodeId, to: NodeId, amps: f64 },
    /// Current `siemens * (v(control_plus) - v(control_minus))` leaves `plus` and enters `minus`.
    VoltageControlledCurrent {
        plus: NodeId,
        minus: NodeId,
        control_plus: NodeId,
        control_minus: NodeId,
        siemens: f64,
    },
    /// `v(plus) - v(minus) = gain * (v(control_plus) - v(control_minus))`.
    VoltageControlledVoltage {
        plus: NodeId,
        minus: NodeId,
        control_plus: NodeId,
        control_minus: NodeId,
        gain: f64,
    },
    /// `v(plus) - v(minus) = ohms * current of the voltage source through`.
    CurrentControlledVoltage {
        plus: NodeId,
        minus: NodeId,
        through: ElementId,
        ohms: f64,
    },
    /// `I = saturation_amps * (exp(v / thermal_volts) - 1)` behind `series_ohms`; `thermal_volts` is n·kT/q.
    Diode {
        anode: NodeId,
        cathode: NodeId,
        saturation_amps: f64,
        thermal_volts: f64,
        series_ohms: f64,
    },
    /// A zener or transient clamp: diode forward, and conducts backwards from `breakdown_volts` on, both behind
    /// `series_ohms`. Backwards it is an exponential of the same `thermal_volts` that reaches [`BREAKDOWN_AMPS`] at
    /// `breakdown_volts`.
    Clamp {
        anode: NodeId,
        cathode: NodeId,
        saturation_amps: f64,
        thermal_volts: f64,
        breakdown_volts: f64,
        series_ohms: f64,
    },
    /// A regulated or ratiometric output fed from `supply`, both measured from `ground`.
    ///
    /// Target `min(offset_volts + gain * (supply - ground), supply - ground - dropout_volts)`. It sources
    /// `max(0, target - v(output,ground)) / ohms` out of `supply`, up to `source_limit_amps`, and sinks
    /// `max(0, v(output,ground) - max(0, target)) / ohms` to `ground`, up to `sink_limit_amps`. Between the two, which is
    /// only without power, it is idle: so it never delivers what its supply does not. The element's current counts out
    /// of `output`.
    Output {
        supply: NodeId,
        ground: NodeId,
        output: NodeId,
        offset_volts: f64,
        gain: f64,
        dropout_volts: f64,
        ohms: f64,
        source_limit_amps: f64,
        sink_limit_amps: f64,
    },
    /// Draws `amps` from `from` to `to` once the voltage across it exceeds `knee_volts`, proportionally less below; nothing backwards.
    CurrentSink {
        from: NodeId,
        to: NodeId,
        amps: f64,
        knee_volts: f64,
    },
    /// Tungsten filament: `R = (rc^4 + (rh * (|v|/rated_volts)^0.45)^4)^(1/4)`, `rh = rated_volts^2 / rated_watts`,
    /// `rc = rh / hot_to_cold`.
    Lamp {
        a: NodeId,
        b: NodeId,
        rated_volts: f64,
        rated_watts: f64,
        hot_to_cold: f64,
    },
    /// Contacts moved by the voltage across a coil (the coil itself is a resistor): pulls in at `pull_in_volts`, drops
    /// out below `drop_out_volts`, keeps its state between. Polarity of the coil does not matter.
    RelayContact {
        a: NodeId,
        b: NodeId,
        closed_ohms: f64,
        coil_plus: NodeId,
        coil_minus: NodeId,
        pull_in_volts: f64,
        drop_out_volts: f64,
        normally_closed: bool,
    },
    /// Blows when its current exceeds `rating_amps`, and stays blown. `f64::INFINITY` never blows.
    Fuse {
        a: NodeId,
        b: NodeId,
        ohms: f64,
        rating_amps: f64,
    },
    /// A saturated switch from `a` to `b` that shuts off above `limit_amps` and stays off. Off (tripped or not commanded)
    /// it leaves `off_ohms`, which may be `f64::INFINITY`.
    Driver {
        a: NodeId,
        b: NodeId,
        on_ohms: f64,
        off_ohms: f64,
        limit_amps: f64,
        commanded: bool,
    },
}

/// Reverse current of a [`Element::Clamp`] at its breakdown voltage. 1 mA: the default test current (IBV) of SPICE diodes.
pub const BREAKDOWN_AMPS: f64 = 1e-3;

impl Element {
    /// Kind and terminals, controlling ones included; unused places repeat the reference.
    pub(crate) fn shape(&self) -> (u8, [NodeId; 4], Option<ElementId>) {
        const G: NodeId = NodeId::GROUND;
        match *self {
            Self::Resistor { a, b, .. } => (0, [a, b, G, G], None),
            Self::VoltageSource { plus, minus, .. } => (1, [plus, minus, G, G], None),
            Self::CurrentSource { from, to, .. } => (2, [from, to, G, G], None),
            Self::VoltageControlledCurrent {
                plus,
                minus,
                control_plus,
                control_minus,
                ..
            } => (3, [plus, minus, control_plus, control_minus], None),
            Self::VoltageControlledVoltage {
                plus,
                minus,
                control_plus,
                control_minus,
                ..
            } => (4, [plus, minus, control_plus, control_minus], None),
            Self::CurrentControlledVoltage {
                plus, minus, through, ..
            } => (5, [plus, minus, G, G], Some(through)),
            Self::Diode { anode, cathode, .. } => (6, [anode, cathode, G, G], None),
            Self::Clamp { anode, cathode, .. } => (7, [anode, cathode, G, G], None),
            Self::Output {
                supply, ground, output, ..
            } => (8, [output, ground, supply, G], None),
            Self::CurrentSink { from, to, .. } => (9, [from, to, G, G], None),
            Self::Lamp { a, b, .. } => (10, [a, b, G, G], None),
            Self::RelayContact {
                a,
                b,
                coil_plus,
                coil_minus,
                ..
            } => (11, [a, b, coil_plus, coil_minus], None),
            Self::Fuse { a, b, .. } => (12, [a, b, G, G], None),
            Self::Driver { a, b, .. } => (13, [a, b, G, G], None),
        }
    }

    /// Whether its law is no straight line, so that it has to be linearised.
    pub(crate) fn is_bent(&self) -> bool {
        matches!(
            self,
            Self::Diode { .. }
                | Self::Clamp { .. }
                | Self::Output { .. }
                | Self::CurrentSink { .. }
                | Self::Lamp { .. }
        )
    }

    /// Whether it has a discrete state.
    pub(crate) fn has_state(&self) -> bool {
        matches!(
            self,
            Self::RelayContact { .. } | Self::Fuse { .. } | Self::Driver { .. }
        )
    }

    /// Resistance in its discrete state of an element whose law is ohms alone, infinite where it is open; `None` for others.
    pub(crate) fn ohms(&self, state: bool) -> Option<f64> {
        match *self {
            Self::Resistor { ohms, .. } | Self::VoltageSource { ohms, .. } => Some(ohms),
            Self::RelayContact { closed_ohms, .. } => Some(if state { closed_ohms } else { f64::INFINITY }),
            Self::Fuse { ohms, .. } => Some(if state { f64::INFINITY } else { ohms }),
            Self::Driver {
                on_ohms,
                off_ohms,
                commanded,
                ..
            } => Some(if commanded && !state { on_ohms } else { off_ohms }),
            _ => None,
        }
    }

    /// Whether it is one of the controlled sources, which can leave a circuit without an answer.
    pub(crate) fn is_controlled(&self) -> bool {
        matches!(
            self,
            Self::VoltageControlledCurrent { .. }
                | Self::VoltageControlledVoltage { .. }
                | Self::CurrentControlledVoltage { .. }
        )
    }

    /// All nodes it touches, controlling ones included, the reference possibly repeated.
    pub fn terminals(&self) -> [NodeId; 4] {
        self.shape().1
    }
}

/// Nodes and elements.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Netlist {
    /// Number of nodes, the reference included; node ids are below it.
    pub n_nodes: usize,
    /// The elements; an [`ElementId`] is a position in it.
    pub elements: Vec<Element>,
}

impl Netlist {
    /// Elements with their ids.
    pub fn iter(&self) -> impl Iterator<Item = (ElementId, &Element)> {
        self.elements
            .iter()
            .enumerate()
            .map(|(at, element)| (ElementId(at as u32), element))
    }
}
