//! `vin`: what a vehicle's number says, and whether it may have been misread.

use clap::Args as ClapArgs;
use codes::vin::{ModelYear, Vin, read};
use serde_json::{Value, json};

use crate::commands::{Answer, print_json};
use crate::out;
use crate::source::Failure;

/// A vehicle's number.
#[derive(Debug, ClapArgs)]
pub(crate) struct VinArgs {
    /// Seventeen characters; spaces and hyphens between them do not count.
    pub(crate) vin: String,
    /// Print JSON.
    #[arg(long)]
    pub(crate) json: bool,
}

pub(crate) fn vin(args: &VinArgs) -> Result<Answer, Failure> {
    let vin = read(&args.vin).map_err(|why| Failure::Text {
        place: "vin".into(),
        why: why.to_string(),
    })?;
    if args.json {
        print_json(&to_json(&vin))?;
    } else {
        out::print(to_text(&vin))?;
    }
    Ok(Answer::Done)
}

/// Other readings of the number are worth a look only where its check digit does not hold.
fn near(vin: &Vin) -> Vec<String> {
    if vin.check().holds() {
        return Vec::new();
    }
    vin.one_slip_away().iter().map(ToString::to_string).collect()
}

fn to_text(vin: &Vin) -> String {
    let (maker, region, serial) = (vin.maker(), vin.region().words(), vin.serial());
    let first = format!("{vin}  maker {maker}, {region}, serial {serial}\n");
    vin.told().iter().fold(first, |text, line| text + "  " + line + "\n")
}

fn to_json(vin: &Vin) -> Value {
    let check = vin.check();
    let year = match vin.model_year() {
        ModelYear::ByPosition7 { year, otherwise } => json!({ "light": year, "otherwise": otherwise }),
        ModelYear::None => Value::Null,
    };
    json!({
        "vin": vin.to_string(), "maker": vin.maker(), "region": vin.region().words(), "serial": vin.serial(),
        "check": { "sum": check.sum, "expected": check.expected, "found": check.found, "holds": check.holds() },
        "one_slip_away": near(vin), "model_year": year,
    })
}
