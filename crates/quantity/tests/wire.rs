//! Wire and copper against published tables, and Ohm's law on typed numbers.

use quantity::{
    Amperes, Ohms, Unit, Volts, Watts, copper_ohms_per_metre, parse, wire_ohms, wire_ohms_per_metre, wire_tolerance,
};

/// Rows of a table in `reference`, without comments and heading.
fn rows(table: &str) -> Vec<Vec<&str>> {
    let lines = table.lines().filter(|line| !line.starts_with('#')).skip(1);
    lines.map(|line| line.split(',').collect()).collect()
}

fn number(cell: &str) -> f64 {
    cell.parse().unwrap_or_else(|_| panic!("`{cell}` is no number"))
}

#[track_caller]
fn assert_within(what: &str, got: f64, expect: f64, relative: f64) {
    assert!(
        (got - expect).abs() <= relative * expect.abs(),
        "{what}: {got} is not within {relative} of {expect}"
    );
}

/// Source: the rule of ASTM B258 for areas; for resistances a published table in Ω per 1000 ft, three to four digits.
#[test]
fn gauges_agree_with_the_published_table() {
    let table = rows(include_str!("reference/awg.csv"));
    assert_eq!(table.len(), 34, "4/0 to 30 AWG");
    for row in table {
        let (size, area, ohm_per_kft) = (row[0], number(row[2]), number(row[3]));
        let mm2 = parse(&format!("{size} AWG"), Unit::SquareMillimetre).unwrap().value;
        // The table has four decimals.
        assert!((mm2 - area).abs() < 5.1e-5, "{size} AWG: {mm2} mm² for {area}");
        let metres_per_kft = 304.8;
        // The published figures are rounded to 0.1 % at worst (0.078 for 2/0).
        assert_within(size, copper_ohms_per_metre(mm2) * metres_per_kft, ohm_per_kft, 1e-3);
        // Stranded wire of the gauge: the same with the lay of 2 %.
        assert_within(size, wire_ohms_per_metre(mm2) * metres_per_kft, ohm_per_kft, 2.2e-2);
    }
}

/// Source: ISO 6722-1, recalled rather than read; IEC 60228 class 5, from a stored copy of its table.
#[test]
fn sound_vehicle_wire_lies_below_the_limits_and_its_band_reaches_them() {
    let table = rows(include_str!("reference/cable_mm2.csv"));
    assert_eq!(table.len(), 24);
    for row in table {
        let (mm2, iso_limit) = (number(row[0]), number(row[1]) / 1000.0);
        let nominal = wire_ohms_per_metre(mm2);
        assert!(
            nominal <= iso_limit,
            "{mm2} mm²: nominal {nominal} Ω/m above the limit {iso_limit}"
        );
        let upper = nominal * (1.0 + wire_tolerance());
        assert!(
            upper >= iso_limit,
            "{mm2} mm²: {upper} Ω/m is allowed by the standard, not by the band"
        );
        if !row[3].is_empty() {
            assert!(nominal <= number(row[3]) / 1000.0, "{mm2} mm²: above IEC 60228 class 5");
        }
    }
}

/// Source: IEC 60028, 0.393 %/K at 20 °C.
#[test]
fn wire_warms_by_its_coefficient_and_grows_with_its_length() {
    let cold = wire_ohms(0.75, 2.0, 20.0);
    assert_within("2 m", cold, 2.0 * wire_ohms_per_metre(0.75), 1e-12);
    assert_within(
        "at 80 °C",
        wire_ohms(0.75, 2.0, 80.0) / cold,
        1.0 + 60.0 * 0.00393,
        1e-12,
    );
}

#[test]
fn ohms_law_combines_typed_numbers() {
    let (volts, ohms) = (Volts::new(12.0).unwrap(), Ohms::new(48.0).unwrap());
    let amperes = (volts / ohms).unwrap();
    assert_eq!(amperes, Amperes::new(0.25).unwrap());
    assert_eq!(volts / amperes, Some(ohms));
    assert_eq!(amperes * ohms, Some(volts));
    assert_eq!(ohms * amperes, Some(volts));
    assert_eq!(volts * amperes, Watts::new(3.0));
    assert_eq!(amperes * volts, Watts::new(3.0));
    assert_eq!(Watts::new(3.0).unwrap() / volts, Some(amperes));
    assert_eq!(Watts::new(3.0).unwrap() / amperes, Some(volts));
    assert_eq!((-amperes).abs().to_string(), "250 mA");
}

#[test]
fn typed_numbers_are_finite() {
    assert_eq!(Volts::new(f64::NAN), None);
    assert_eq!(Ohms::new(f64::INFINITY), None);
    assert_eq!(Volts::new(5.0).unwrap() / Ohms::default(), None);
    assert_eq!(Volts::new(1e300).unwrap() * Amperes::new(1e300).unwrap(), None);
}
