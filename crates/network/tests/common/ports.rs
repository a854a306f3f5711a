//! A port's strength written into a netlist, as a technician would have it: nothing of the sweep itself.

use network::sweep::Port;
use network::{Element, Netlist};

/// False where the netlist has no plain way to say it.
pub(crate) fn put_in(netlist: &mut Netlist, port: Port, strength: f64) -> bool {
    match port {
        Port::Shunt { a, b } => netlist.elements.push(Element::Resistor {
            a,
            b,
            ohms: 1.0 / strength,
        }),
        Port::Amps { from, to } => netlist.elements.push(Element::CurrentSource {
            from,
            to,
            amps: strength,
        }),
        Port::Series { element } => match &mut netlist.elements[element.0 as usize] {
            Element::Resistor { ohms, .. } => *ohms += strength,
            Element::VoltageSource { ohms, .. } | Element::Fuse { ohms, .. } if strength.is_finite() => {
                *ohms += strength;
            }
            _ => return false,
        },
        Port::Volts { element } => match &mut netlist.elements[element.0 as usize] {
            Element::VoltageSource { volts, .. } => *volts += strength,
            _ => return false,
        },
    }
    true
}
