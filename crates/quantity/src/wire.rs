//! Resistance of copper wire from its cross-section, and the American wire gauge.
//!
//! Copper is annealed copper of 100 % IACS: 1/58 Ω·mm²/m and 0.393 %/K, both at 20 °C (IEC 60028). Strands of a cable
//! are twisted, so each is longer than the cable, and the metal in a nominal cross-section is a little less than its
//! name says. Plated strands, alloys and corroded wire are not covered.

/// Resistivity of annealed copper at 20 °C, Ω·mm²/m. Source: IEC 60028, 100 % IACS.
pub const COPPER_OHM_MM2_PER_METRE: f64 = 1.0 / 58.0;

/// Change of copper's resistance per kelvin, as a fraction of its value at 20 °C. Source: IEC 60028.
pub const COPPER_TEMPERATURE_COEFFICIENT: f64 = 0.00393;

/// Length of a strand over length of its cable. Twisting adds about 2 % (from memory, as in the usual allowance for
/// concentric strands). Below every ISO 6722-1 limit in `tests/reference`, whose tightest is 2.5 % above ideal copper.
const LAY: f64 = 1.02;

/// Ω/m at 20 °C of a solid, ideal copper conductor of `mm2`.
pub fn copper_ohms_per_metre(mm2: f64) -> f64 {
    COPPER_OHM_MM2_PER_METRE / mm2
}

/// Ω/m at 20 °C of a stranded vehicle wire with a nominal cross-section of `mm2`, which must be above zero.
///
/// # Source
/// Ideal copper with a 2 % allowance for lay; checked against ISO 6722-1 limits (recalled, not read) and the ASTM B258
/// gauges in `tests/wire.rs`.
pub fn wire_ohms_per_metre(mm2: f64) -> f64 {
    copper_ohms_per_metre(mm2) * LAY
}

/// Half the width of the band around [`wire_ohms_per_metre`] in which a sound wire lies at 20 °C, as a fraction.
///
/// The upper edge reaches the loosest ISO 6722-1 limit (14.3 % above ideal copper at 5 mm²). The lower edge is as far
/// away, for wire with more metal than its name and for lengths that are estimated.
pub fn wire_tolerance() -> f64 {
    0.13
}

/// Ω of `metres` of vehicle wire of `mm2` at `celsius`, linear in temperature.
pub fn wire_ohms(mm2: f64, metres: f64, celsius: f64) -> f64 {
    wire_ohms_per_metre(mm2) * metres * (1.0 + COPPER_TEMPERATURE_COEFFICIENT * (celsius - 20.0))
}

/// Cross-section in mm² of gauge `awg`, where 0 is 1/0 AWG and −3 is 4/0 AWG.
///
/// # Source
/// The rule of ASTM B258: the diameter is 0.127 mm · 92^((36 − n)/39).
pub fn awg_area_mm2(awg: i32) -> f64 {
    let diameter_mm = 0.127 * 92_f64.powf(f64::from(36 - awg) / 39.0);
    std::f64::consts::FRAC_PI_4 * diameter_mm * diameter_mm
}
