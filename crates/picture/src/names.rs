//! What stands beside things on a picture.

use circuit::{Base, Circuit, Key, Law, PartId, PointId, WireId};

use crate::places::{Kind, Place};

/// Name of a part; empty if there is none.
pub(crate) fn of_part(circuit: &Circuit, part: PartId) -> String {
    circuit.parts.get(part.idx()).map_or_else(String::new, |part| {
        if part.name.is_empty() {
            part.id.clone()
        } else {
            part.name.clone()
        }
    })
}

/// Name of a place.
pub(crate) fn of_place(circuit: &Circuit, place: &Place) -> String {
    match (place.part, place.kind) {
        (_, Kind::Post(point)) if point == circuit.battery_plus => "battery +".to_owned(),
        (_, Kind::Post(point)) if point == circuit.battery_minus => "battery −".to_owned(),
        (_, Kind::Post(_)) => "body metal".to_owned(),
        (Some(part), _) => of_part(circuit, part),
        (None, Kind::Loose(point)) => of_point(circuit, point),
        (None, _) => String::new(),
    }
}

/// What stands under the name of a place: its id, rating, when it is live.
pub(crate) fn under(circuit: &Circuit, place: &Place) -> String {
    let part = place.part.and_then(|part| circuit.parts.get(part.idx()));
    // An id that stands as the name already is not said twice.
    let id = part
        .filter(|part| !part.name.is_empty() && part.name != part.id)
        .map_or("", |part| part.id.as_str());
    match place.kind {
        Kind::Fuse(i) => circuit.fuses.get(i).map_or_else(String::new, |fuse| {
            let amps = figure(fuse.rating_amps);
            if id.is_empty() {
                format!("{amps} A")
            } else {
                format!("{id} · {amps} A")
            }
        }),
        Kind::Feed(i) => circuit
            .feeds
            .get(i)
            .map_or_else(String::new, |feed| live(&feed.live_in)),
        Kind::Post(_) | Kind::Loose(_) | Kind::Module(_) | Kind::Device(_) => String::new(),
        _ => id.to_owned(),
    }
}

fn live(keys: &[Key]) -> String {
    let all = [
        Key::Off,
        Key::Accessory,
        Key::On,
        Key::Cranking,
        Key::Running,
        Key::Held,
        Key::Asleep,
    ];
    if all.iter().all(|key| keys.contains(key)) {
        return "always live".to_owned();
    }
    let words: Vec<&str> = all
        .iter()
        .filter(|key| keys.contains(key))
        .map(|key| key_word(*key))
        .collect();
    if words.is_empty() {
        String::new()
    } else {
        format!("live: {}", words.join(", "))
    }
}

fn key_word(key: Key) -> &'static str {
    match key {
        Key::Off => "off",
        Key::Accessory => "accessory",
        Key::On => "on",
        Key::Cranking => "crank",
        Key::Running => "run",
        Key::Held => "held",
        Key::Asleep => "asleep",
    }
}

/// Colours of a wire as one says them: "violet / yellow".
pub(crate) fn of_wire(circuit: &Circuit, wire: WireId) -> String {
    let Some(wire) = circuit.wires.get(wire.idx()) else {
        return String::new();
    };
    match &wire.tracer {
        Some(tracer) if !tracer.is_empty() => format!("{} / {tracer}", wire.colour),
        _ => wire.colour.clone(),
    }
}

/// Where a point is, in words and as its path.
pub(crate) fn of_point(circuit: &Circuit, point: PointId) -> String {
    circuit.points.get(point.idx()).map_or_else(String::new, |point| {
        if point.words.is_empty() {
            point.path.clone()
        } else {
            point.words.clone()
        }
    })
}

/// A number with at most three figures, as a technician writes it.
pub(crate) fn figure(value: f64) -> String {
    if !value.is_finite() {
        return "?".to_owned();
    }
    if value == 0.0 {
        return "0".to_owned();
    }
    let places = (2 - value.abs().log10().floor() as i32).clamp(0, 6) as usize;
    let text = format!("{value:.places$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// Ohms of a law that stays the same in every set-up: "2.2 kΩ", with "?" where it is known to less than a third.
pub(crate) fn ohms(law: &Law) -> String {
    let Base::Fixed(ohms) = law.base else {
        return String::new();
    };
    let (value, unit) = match ohms.abs() {
        v if v >= 1e6 => (ohms / 1e6, "MΩ"),
        v if v >= 1e3 => (ohms / 1e3, "kΩ"),
        _ => (ohms, "Ω"),
    };
    let doubt = if law.moved_by.iter().any(|moved| moved.factor > 0.33) {
        " ?"
    } else {
        ""
    };
    format!("{} {unit}{doubt}", figure(value))
}

/// Volts of a law that stays the same in every set-up: "5 V".
pub(crate) fn volts(law: &Law) -> String {
    match law.base {
        Base::Fixed(volts) => format!("{} V", figure(volts)),
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_short() {
        assert_eq!(
            [figure(5.0), figure(4.7), figure(0.05), figure(1234.0), figure(f64::NAN)],
            ["5", "4.7", "0.05", "1234", "?"]
        );
    }
}
