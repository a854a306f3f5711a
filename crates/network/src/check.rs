//! Shape before sums: terminals and values are checked before anything is computed.

use crate::{Element, ElementId, Netlist, NetworkError};

/// Sizes above this are not electricity; they would only overflow.
const LARGEST: f64 = 1e15;
/// Nonzero resistances below this are meant as 0.
const SMALLEST_OHMS: f64 = 1e-12;

/// What a quantity may hold.
#[derive(Clone, Copy)]
enum May {
    /// Any finite number.
    Signed,
    /// Finite, not negative.
    NotNegative,
    /// Finite, above 0.
    Positive,
    /// Not negative, or infinite.
    Limit,
    /// 0, 1e-12 and more, or infinite.
    Ohms,
    /// 0, 1e-12 and more, finite.
    FiniteOhms,
    /// 1e-12 and more, finite.
    PositiveOhms,
    /// At least 1.
    AtLeastOne,
}

impl May {
    fn holds(self, v: f64) -> bool {
        let finite = v.abs() <= LARGEST;
        match self {
            Self::Signed => finite,
            Self::NotNegative => finite && v >= 0.0,
            Self::Positive => finite && v >= f64::MIN_POSITIVE,
            Self::Limit => v >= 0.0,
            Self::Ohms => v == 0.0 || v >= SMALLEST_OHMS,
            Self::FiniteOhms => v == 0.0 || (finite && v >= SMALLEST_OHMS),
            Self::PositiveOhms => finite && v >= SMALLEST_OHMS,
            Self::AtLeastOne => finite && v >= 1.0,
        }
    }

    fn words(self) -> &'static str {
        match self {
            Self::Signed => "a number of size up to 1e15",
            Self::NotNegative => "0 to 1e15",
            Self::Positive => "above 0, up to 1e15",
            Self::Limit => "0 or more, or infinite",
            Self::Ohms => "0, or 1e-12 or more, or infinite",
            Self::FiniteOhms => "0, or 1e-12 to 1e15",
            Self::PositiveOhms => "1e-12 to 1e15",
            Self::AtLeastOne => "1 to 1e15",
        }
    }
}

/// Terminals and values of all elements.
pub(crate) fn netlist(netlist: &Netlist) -> Result<(), NetworkError> {
    if netlist.n_nodes == 0 {
        return Err(NetworkError::NoNodes);
    }
    for (id, element) in netlist.iter() {
        nodes(id, element, netlist.n_nodes)?;
        if let Element::CurrentControlledVoltage { through, .. } = *element
            && !matches!(
                netlist.elements.get(through.0 as usize),
                Some(Element::VoltageSource { .. })
            )
        {
            return Err(NetworkError::NotAVoltageSource { element: id, through });
        }
    }
    values(netlist)
}

/// Terminals and values of one element.
pub(crate) fn element(id: ElementId, element: &Element, n_nodes: usize) -> Result<(), NetworkError> {
    nodes(id, element, n_nodes)?;
    value(id, element)
}

fn nodes(element: ElementId, of: &Element, n_nodes: usize) -> Result<(), NetworkError> {
    let beyond = of.terminals().into_iter().find(|node| node.0 as usize >= n_nodes);
    beyond.map_or(Ok(()), |node| Err(NetworkError::NoSuchNode { element, node, n_nodes }))
}

/// Values of all elements.
pub(crate) fn values(netlist: &Netlist) -> Result<(), NetworkError> {
    netlist.iter().try_for_each(|(id, element)| value(id, element))
}

fn value(element: ElementId, of: &Element) -> Result<(), NetworkError> {
    use May::{AtLeastOne, FiniteOhms, Limit, NotNegative, Ohms, Positive, PositiveOhms, Signed};
    let all = |checks: &[(&'static str, f64, May)]| {
        for &(quantity, value, may) in checks {
            if !may.holds(value) {
                return Err(NetworkError::BadValue {
                    element,
                    quantity,
                    value,
                    expected: may.words(),
                });
            }
        }
        Ok(())
    };
    match *of {
        Element::Resistor { ohms, .. } => all(&[("ohms", ohms, Ohms)]),
        Element::VoltageSource { volts, ohms, .. } => all(&[("volts", volts, Signed), ("ohms", ohms, FiniteOhms)]),
        Element::CurrentSource { amps, .. } => all(&[("amps", amps, Signed)]),
        Element::VoltageControlledCurrent { siemens, .. } => all(&[("siemens", siemens, Signed)]),
        Element::VoltageControlledVoltage { gain, .. } => all(&[("gain", gain, Signed)]),
        Element::CurrentControlledVoltage { ohms, .. } => all(&[("ohms", ohms, Signed)]),
        Element::Diode {
            saturation_amps,
            thermal_volts,
            series_ohms,
            ..
        } => all(&[
            ("saturation_amps", saturation_amps, Positive),
            ("thermal_volts", thermal_volts, Positive),
            ("series_ohms", series_ohms, FiniteOhms),
        ]),
        Element::Clamp {
            saturation_amps,
            thermal_volts,
            breakdown_volts,
            series_ohms,
            ..
        } => all(&[
            ("saturation_amps", saturation_amps, Positive),
            ("thermal_volts", thermal_volts, Positive),
            ("breakdown_volts", breakdown_volts, Positive),
            ("series_ohms", series_ohms, FiniteOhms),
        ]),
        Element::Output {
            offset_volts,
            gain,
            dropout_volts,
            ohms,
            source_limit_amps,
            sink_limit_amps,
            ..
        } => all(&[
            ("offset_volts", offset_volts, Signed),
            ("gain", gain, Signed),
            ("dropout_volts", dropout_volts, NotNegative),
            ("ohms", ohms, PositiveOhms),
            ("source_limit_amps", source_limit_amps, Limit),
            ("sink_limit_amps", sink_limit_amps, Limit),
        ]),
        Element::CurrentSink { amps, knee_volts, .. } => {
            all(&[("amps", amps, NotNegative), ("knee_volts", knee_volts, Positive)])
        }
        Element::Lamp {
            rated_volts,
            rated_watts,
            hot_to_cold,
            ..
        } => all(&[
            ("rated_volts", rated_volts, Positive),
            ("rated_watts", rated_watts, Positive),
            ("hot_to_cold", hot_to_cold, AtLeastOne),
        ]),
        Element::RelayContact {
            closed_ohms,
            pull_in_volts,
            drop_out_volts,
            ..
        } => {
            all(&[
                ("closed_ohms", closed_ohms, FiniteOhms),
                ("pull_in_volts", pull_in_volts, Positive),
                ("drop_out_volts", drop_out_volts, NotNegative),
            ])?;
            if drop_out_volts > pull_in_volts {
                let (quantity, expected) = ("drop_out_volts", "at most pull_in_volts");
                return Err(NetworkError::BadValue {
                    element,
                    quantity,
                    value: drop_out_volts,
                    expected,
                });
            }
            Ok(())
        }
        Element::Fuse { ohms, rating_amps, .. } => {
            all(&[("ohms", ohms, FiniteOhms), ("rating_amps", rating_amps, Limit)])
        }
        Element::Driver {
            on_ohms,
            off_ohms,
            limit_amps,
            ..
        } => all(&[
            ("on_ohms", on_ohms, FiniteOhms),
            ("off_ohms", off_ohms, Ohms),
            ("limit_amps", limit_amps, Limit),
        ]),
    }
}
