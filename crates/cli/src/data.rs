//! `data`: bytes of a PID to values or bits, a value to the nearest bytes, or what a PID can say.

use std::fmt::Write as _;

use codes::scan::{Formula, Nearest, ScanError, Value, monitors, of, read_bytes, read_pid, supported};
use serde_json::{Value as Json, json};

use crate::args::DataArgs;
use crate::commands::{Answer, print_json};
use crate::out;
use crate::source::Failure;
use crate::text::count;

/// A formula with what was asked of it.
struct Told {
    formula: &'static Formula,
    value: Option<Value>,
    nearest: Option<Nearest>,
}

pub(crate) fn data(args: &DataArgs) -> Result<Answer, Failure> {
    let refused = |place: &str, why: String| Failure::Text {
        place: place.into(),
        why,
    };
    let wrong = |place: &'static str| move |why: ScanError| refused(place, why.to_string());
    let pid = read_pid(&args.pid).map_err(wrong("PID"))?;
    if let Some(bits) = bits(pid) {
        return flags(pid, bits, args);
    }
    let mut formulas = of(pid).map_err(wrong("PID"))?;
    if let Some(field) = &args.field {
        let fields: Vec<&str> = formulas.iter().filter_map(|one| one.field.as_deref()).collect();
        let why = format!("PID {pid:02X} has no value `{field}`: it has {}", fields.join(" and "));
        formulas.retain(|one| one.field.as_ref() == Some(field));
        if formulas.is_empty() {
            return Err(refused("--field", why));
        }
    } else if args.value.is_some() {
        formulas.truncate(1);
    }
    let bytes = args
        .bytes
        .as_deref()
        .map(read_bytes)
        .transpose()
        .map_err(wrong("bytes"))?;
    let told: Vec<Told> = formulas
        .into_iter()
        .map(|formula| {
            let value = bytes
                .as_ref()
                .map(|bytes| formula.value(bytes))
                .transpose()
                .map_err(wrong("bytes"))?;
            let nearest = args
                .value
                .map(|value| formula.nearest(value))
                .transpose()
                .map_err(wrong("--value"))?;
            Ok(Told {
                formula,
                value,
                nearest,
            })
        })
        .collect::<Result<_, Failure>>()?;
    if args.json {
        print_json(
            &json!({ "pid": format!("{pid:02X}"), "values": told.iter().map(Told::to_json).collect::<Json>(), "supported": null, "monitors": null }),
        )?;
    } else {
        out::print(told.iter().map(|one| one.to_text(pid)).collect::<String>())?;
    }
    Ok(Answer::Done)
}

/// PIDs whose bytes are bits.
#[derive(Clone, Copy)]
enum Bits {
    Supported,
    Monitors,
}

const fn bits(pid: u8) -> Option<Bits> {
    match pid {
        0x01 | 0x41 => Some(Bits::Monitors),
        _ if pid.is_multiple_of(0x20) => Some(Bits::Supported),
        _ => None,
    }
}

fn flags(pid: u8, bits: Bits, args: &DataArgs) -> Result<Answer, Failure> {
    let refused = |why: String| Failure::Text {
        place: "bytes".into(),
        why,
    };
    let bytes = read_bytes(args.bytes.as_deref().unwrap_or_default()).map_err(|why| refused(why.to_string()))?;
    let bytes: [u8; 4] = bytes
        .try_into()
        .map_err(|bytes: Vec<u8>| refused(format!("PID {pid:02X} is four bytes of bits, here are {}", bytes.len())))?;
    let mut value = json!({ "pid": format!("{pid:02X}"), "values": [], "supported": null, "monitors": null });
    let mut out = String::new();
    match bits {
        Bits::Supported => {
            let pids: Vec<String> = supported(pid, bytes).iter().map(|pid| format!("{pid:02X}")).collect();
            let _ = writeln!(out, "{pid:02X}  the module knows these PIDs: {}", pids.join(" "));
            value["supported"] = json!(pids);
        }
        Bits::Monitors => {
            let told = monitors(bytes);
            let since = if pid == 0x01 {
                "since codes were cleared"
            } else {
                "in this drive"
            };
            let lamp = if told.lamp { "on" } else { "off" };
            let _ = writeln!(
                out,
                "{pid:02X}  checks {since}; warning lamp commanded {lamp}, {}",
                count(told.n_codes.into(), "code")
            );
            for one in &told.monitors {
                let state = if one.complete {
                    "has run"
                } else {
                    "has not run to its end: that its codes are not set says nothing"
                };
                let _ = writeln!(out, "    {}: {state}", one.name);
            }
            let list: Vec<Json> = told
                .monitors
                .iter()
                .map(|one| json!({ "name": one.name, "complete": one.complete }))
                .collect();
            value["monitors"] =
                json!({ "lamp": told.lamp, "codes": told.n_codes, "compression": told.compression, "list": list });
        }
    }
    if args.json {
        print_json(&value)?;
    } else {
        out::print(out)?;
    }
    Ok(Answer::Done)
}

impl Told {
    fn number(&self) -> Option<f64> {
        match (self.value, &self.nearest) {
            (Some(Value::Number(value)), _) => Some(value),
            (_, Some(nearest)) => Some(nearest.value),
            _ => None,
        }
    }

    /// At which end of its range the value is.
    fn end(&self) -> Option<&'static str> {
        match self.number()? {
            value if value <= self.formula.low() => Some("low"),
            value if value >= self.formula.high() => Some("high"),
            _ => None,
        }
    }

    fn to_text(&self, pid: u8) -> String {
        let formula = self.formula;
        let unit = if formula.unit.is_empty() {
            String::new()
        } else {
            format!(" {}", formula.unit)
        };
        let said = match (self.value, self.number()) {
            (Some(Value::NotUsed), _) => ": not used".to_owned(),
            (_, Some(value)) => format!(": {}{unit}", rounded(value)),
            _ => String::new(),
        };
        let bytes = self
            .nearest
            .as_ref()
            .map(|nearest| format!(" = bytes {}", hex(&nearest.bytes)));
        let mut out = format!(
            "{pid:02X}  {}{said}{}\n",
            formula.full_name(),
            bytes.unwrap_or_default()
        );
        let (low, high, step) = (
            rounded(formula.low()),
            rounded(formula.high()),
            rounded(formula.resolution()),
        );
        let _ = writeln!(
            out,
            "    {}: {low} to {high}{unit} in steps of {step}",
            formula.in_words()
        );
        if let Some(end) = self.end() {
            let _ = writeln!(
                out,
                "    At the {end} end of what it can say: the true value is there or beyond it."
            );
        }
        out
    }

    fn to_json(&self) -> Json {
        let formula = self.formula;
        json!({
            "name": formula.name, "field": formula.field, "unit": formula.unit, "formula": formula.in_words(),
            "low": formula.low(), "high": formula.high(), "resolution": formula.resolution(),
            "value": self.number(), "not_used": self.value == Some(Value::NotUsed), "at_end": self.end(),
            "bytes": self.nearest.as_ref().map(|nearest| hex(&nearest.bytes)),
            "source": formula.source, "status": formula.status,
        })
    }
}

/// Seven significant digits, without zeros at the end.
fn rounded(value: f64) -> String {
    let digits = if value == 0.0 {
        0
    } else {
        (6 - value.abs().log10().floor() as i32).clamp(0, 9) as usize
    };
    let text = format!("{value:.digits$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

fn hex(bytes: &[u8]) -> String {
    let bytes: Vec<String> = bytes.iter().map(|byte| format!("{byte:02X}")).collect();
    bytes.join(" ")
}
