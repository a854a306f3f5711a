//! What is clipped in: things that a set-up places, and tools. Each is an element (or two) appended to the circuit.
//!
//! Figures are common practice, no source, unless a line says otherwise.

use circuit::Placed;
use network::{Element, ElementId, NodeId};

use crate::error::BenchError;
use crate::lower::Layout;
use crate::lowered::Lowered;

/// Input resistance of a digital voltmeter.
pub(crate) const VOLTMETER_OHMS: f64 = 10e6;
/// Shunt and leads of an ammeter in series.
pub(crate) const AMMETER_OHMS: f64 = 0.05;
/// The fuse of a multimeter's ampere socket: above it nothing is shown.
pub(crate) const AMMETER_LIMIT_AMPS: f64 = 10.0;
/// Jumper wire with its clips.
const JUMPER_OHMS: f64 = 0.02;
/// An overlay wire with its clips.
const OVERLAY_OHMS: f64 = 0.1;
/// A test light's filament, and any bulb used as a load.
const BULB_VOLTS: f64 = 12.0;
/// Power of the bulb in an incandescent test light.
const TEST_LIGHT_WATTS: f64 = 3.0;
/// Hot over cold resistance of a small tungsten lamp.
const HOT_TO_COLD: f64 = 10.0;
/// Output resistance of a bench source.
const SOURCE_OHMS: f64 = 0.05;

/// A source that drives a test current: a voltage behind a resistance.
#[derive(Clone, Copy, Debug)]
pub(crate) struct TestCurrent {
    /// Between open leads, volts.
    pub(crate) open_volts: f64,
    /// In series with it, ohms.
    pub(crate) series_ohms: f64,
}

/// An ohmmeter or continuity beeper: 20 µA at most and too little voltage to open a silicon junction, so that clamp
/// diodes do not spoil the reading. Real meters differ between 0.2 V and 0.6 V.
pub(crate) const OHMMETER: TestCurrent = TestCurrent {
    open_volts: 0.2,
    series_ohms: 10e3,
};
/// A diode test: 3 V open, 1 mA into a short.
pub(crate) const DIODE_TEST: TestCurrent = TestCurrent {
    open_volts: 3.0,
    series_ohms: 3e3,
};

/// The element of a test light or of a bulb used as a load.
pub(crate) fn bulb(a: NodeId, b: NodeId, rated_watts: f64) -> Element {
    Element::Lamp {
        a,
        b,
        rated_volts: BULB_VOLTS,
        rated_watts,
        hot_to_cold: HOT_TO_COLD,
    }
}

/// The element of a test light.
pub(crate) fn test_light(tip: NodeId, clip: NodeId) -> Element {
    bulb(tip, clip, TEST_LIGHT_WATTS)
}

impl TestCurrent {
    /// Its element between the leads.
    pub(crate) fn element(self, red: NodeId, black: NodeId) -> Element {
        Element::VoltageSource {
            plus: red,
            minus: black,
            volts: self.open_volts,
            ohms: self.series_ohms,
        }
    }
}

impl Lowered {
    /// Clips in what the set-up places. The elements are in its order; a source counts as its output.
    ///
    /// # Errors
    /// A point that the circuit lacks, or a value that is not above 0.
    pub(crate) fn place(&mut self, layout: &Layout, placed: &[Placed]) -> Result<Vec<ElementId>, BenchError> {
        placed.iter().map(|thing| self.place_one(layout, thing)).collect()
    }

    fn place_one(&mut self, layout: &Layout, placed: &Placed) -> Result<ElementId, BenchError> {
        let (a, b) = placed.ends();
        for point in [a, b] {
            if point.idx() >= layout.n_points() {
                return Err(BenchError::NoSuchPoint {
                    point,
                    n_points: layout.n_points(),
                });
            }
        }
        let above_zero = |quantity, value: f64| {
            let fits = value > 0.0 && value.is_finite();
            if fits {
                Ok(value)
            } else {
                Err(BenchError::BadPlaced { quantity, value })
            }
        };
        let (a, b) = (layout.node(a), layout.node(b));
        let element = match *placed {
            Placed::Jumper { fuse_amps: None, .. } => Element::Resistor {
                a,
                b,
                ohms: JUMPER_OHMS,
            },
            Placed::Jumper {
                fuse_amps: Some(rating),
                ..
            } => Element::Fuse {
                a,
                b,
                ohms: JUMPER_OHMS,
                rating_amps: above_zero("a fuse of", rating)?,
            },
            Placed::Resistor { ohms, .. } => Element::Resistor {
                a,
                b,
                ohms: above_zero("a resistance of", ohms)?,
            },
            Placed::Bulb { watts, .. } => bulb(a, b, above_zero("a power of", watts)?),
            Placed::OverlayWire { .. } => Element::Resistor {
                a,
                b,
                ohms: OVERLAY_OHMS,
            },
            Placed::Source { volts, limit_amps, .. } => {
                let volts = above_zero("a voltage of", volts)?;
                let source_limit_amps = above_zero("a current limit of", limit_amps)?;
                let inside = self.new_node();
                // Anything above its volts will do: the output below regulates.
                let supply = Element::VoltageSource {
                    plus: inside,
                    minus: b,
                    volts: volts + 1.0,
                    ohms: 1e-3,
                };
                self.append(supply);
                Element::Output {
                    supply: inside,
                    ground: b,
                    output: a,
                    offset_volts: volts,
                    gain: 0.0,
                    dropout_volts: 0.0,
                    ohms: SOURCE_OHMS,
                    source_limit_amps,
                    sink_limit_amps: 0.0,
                }
            }
        };
        Ok(self.append(element))
    }
}
