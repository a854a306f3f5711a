//! What a module pin bears in volts, where voltage and not current is what ends it.
//!
//! An input with clamps is ended by its current, one pulled to the feed is made for that voltage, and so are feeds and
//! drivers: they have no such limit unless the file gives one.

use super::super::defaults as d;
use super::super::keys::PinKeys;
use super::super::unsaid::{AlternativeKeys, Unsaid};
use super::super::value::Value;
use crate::model::PinKind;

/// Most volts on a pin against the module's ground, as the file says or by kind. `rail`: volts of the module's rail.
pub(super) fn most_volts(kind: PinKind, keys: &PinKeys, rail: f64) -> Option<f64> {
    let to_feed = keys.pull_up_to.as_ref().is_some_and(|to| to.text == "feed");
    let by_voltage = match kind {
        PinKind::Reference => true,
        PinKind::Input => !to_feed && may_lack_clamps(keys),
        _ => false,
    };
    let given = keys
        .volts
        .iter()
        .chain(alternatives(keys).iter().flat_map(|one| &one.volts));
    let nominal = given.map(Value::value).reduce(f64::min).unwrap_or(rail);
    let usual = by_voltage.then_some(d::OVER_VOLTAGE * nominal);
    keys.rating_volts.as_ref().map(Value::value).or(usual)
}

/// Whether an input has no clamps, or none for all that is known.
fn may_lack_clamps(keys: &PinKeys) -> bool {
    match (keys.clamps, &keys.insides) {
        (Some(clamps), _) => !clamps,
        (None, Some(Unsaid::Usual(_))) => true,
        (None, _) => alternatives(keys).iter().any(|one| one.clamps == Some(false)),
    }
}

fn alternatives(keys: &PinKeys) -> &[AlternativeKeys] {
    match &keys.insides {
        Some(Unsaid::OneOf(alternatives, _)) => alternatives,
        _ => &[],
    }
}
