//! What a module shows in scan data.

use std::ops::Range;

use super::super::defaults as d;
use super::super::keys::ChannelKeys;
use super::super::value::Value;
use super::module::Inside;
use super::{Builder, words_or};
use crate::id::PointId;
use crate::model::{Channel, Pin, PinKind};

impl Builder<'_, '_, '_> {
    pub(super) fn channel(&mut self, inside: Inside, id: &str, keys: &ChannelKeys) {
        if let Some(other) = self.circuit.channels.iter().find(|channel| channel.id == id) {
            let message = format!("`{}` is a channel of another module already", other.id);
            self.slips.push("duplicate", &keys.at, message);
        }
        let scaling = self.scaling(keys);
        let sense = self.channel_point(inside, &keys.pin.text, &keys.pin.at, true);
        let against = match &keys.against {
            Some(pin) => self.channel_point(inside, &pin.text, &pin.at, false),
            None => Some(inside.ground),
        };
        let span = keys
            .converter
            .as_ref()
            .map_or(d::CONVERTER_VOLTS, |between| (between.span.low, between.span.high));
        if let Some(at) = keys
            .converter
            .as_ref()
            .filter(|_| span.0 >= span.1)
            .map(|converter| &converter.at)
        {
            self.slips.push("limits", at, "a converter's range must have a width");
        }
        let bits = keys.bits.as_ref().map_or(d::CONVERTER_BITS, |bits| bits.value);
        if let Some(bits) = keys.bits.as_ref().filter(|bits| !(1..=24).contains(&bits.value)) {
            self.slips.push("limits", &bits.at, "a converter has 1 to 24 bits");
        }
        let (Some(sense), Some(against)) = (sense, against) else {
            return;
        };
        self.circuit.channels.push(Channel {
            id: id.to_owned(),
            words: words_or(keys.name.as_ref(), id),
            module: inside.module,
            sense,
            against,
            ratiometric: keys.ratiometric.unwrap_or(true),
            low_volts: span.0,
            high_volts: span.1,
            steps: (1_u32 << bits.min(24)) - 1,
            scaling,
            unit: keys.unit.as_ref().map_or_else(String::new, |unit| unit.text.clone()),
            filter_seconds: keys.filter.as_ref().map_or(0.0, Value::value),
            counts: keys
                .counts
                .as_ref()
                .map(|between| (between.span.low, between.span.high)),
            substitute: keys.substitute.as_ref().map(|number| number.value),
        });
    }

    /// Rows of volts, or of hertz where it counts, and what is shown.
    fn scaling(&mut self, keys: &ChannelKeys) -> Vec<(f64, f64)> {
        let (rows, of): (Vec<_>, _) = if keys.counts.is_some() {
            let rows = keys.rates.iter().flatten();
            let rows = rows.map(|row| (row.first.value(), row.second.value, &row.at)).collect();
            (rows, "rates")
        } else {
            let rows = keys.scaling.iter().flatten();
            let rows = rows.map(|row| (row.first.value(), row.second.value, &row.at)).collect();
            (rows, "scaling")
        };
        for pair in rows.windows(2) {
            if pair[1].0 <= pair[0].0 {
                let message = "rows must rise: this one does not lie above the one before";
                self.slips.push("table-order", pair[1].2, message);
            }
        }
        if rows.is_empty() {
            let (message, help) = if of == "rates" {
                (
                    "a channel that counts needs `rates`",
                    "e.g. `rates = [[\"0 Hz\", 0], [\"200 Hz\", 12000]]`",
                )
            } else {
                (
                    "a channel needs `scaling`",
                    "e.g. `scaling = [[\"0.5 V\", 0], [\"4.5 V\", 100]]`",
                )
            };
            self.slips.push_help("missing-key", &keys.at, message, help);
        }
        let unused = match (keys.counts.is_some(), &keys.scaling, &keys.rates) {
            (true, Some(_), _) => Some("`scaling` means nothing for a channel that counts: it takes `rates`"),
            (false, _, Some(_)) => Some("`rates` belong to a channel that counts: `counts` says between which volts"),
            _ => None,
        };
        if let Some(message) = unused {
            self.slips.push("limits", &keys.at, message);
        }
        if let Some(counts) = keys
            .counts
            .as_ref()
            .filter(|counts| counts.span.low >= counts.span.high)
        {
            self.slips
                .push("limits", &counts.at, "the first voltage must lie below the second");
        }
        rows.into_iter().map(|(from, shown, _)| (from, shown)).collect()
    }

    /// The point of a channel's pin: behind its series resistor if `sensed`. A module also watches its own references and feeds.
    fn channel_point(&mut self, inside: Inside, path: &str, at: &Range<usize>, sensed: bool) -> Option<PointId> {
        let pins = &self.circuit.modules[inside.module.idx()].pins;
        let path_of = |pin: &Pin| format!("{}.{}", self.plugs[pin.connector.idx()].id, pin.cavity);
        let found = pins
            .iter()
            .find(|pin| path_of(pin) == path)
            .map(|pin| (pin.point, pin.kind));
        let Some((point, kind)) = found else {
            if !self.is_unread(path) {
                let paths: Vec<String> = pins.iter().map(path_of).collect();
                let message = format!("`{path}` is no pin of {}", self.part_words(inside.part));
                self.slips
                    .unknown("unknown-pin", at, message, path, paths.iter().map(String::as_str));
            }
            return None;
        };
        if sensed && !matches!(kind, PinKind::Input | PinKind::Reference | PinKind::Feed) {
            let message = format!("the pin `{path}` of a channel must be of kind input, reference or feed");
            self.slips.push("pin-kind", at, message);
        }
        Some(
            self.points
                .get(&format!("{path}/sense"))
                .copied()
                .filter(|_| sensed)
                .unwrap_or(point),
        )
    }
}
