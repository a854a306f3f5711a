//! Files of device kinds that a circuit includes: mistakes are in the file that has them, and a circuit can be kept as one
//! text that needs no other.

use circuit::{Mistake, in_one_text, parse, parse_with};

const KINDS: &str = r#"# A kind, its tables scattered.
[kind.sender]
about = "A \"sender\" with a stop."
pins = ["signal", "ground"]
inner = ["middle"]
value.empty = { unit = "Ω", default = "280 Ω ± 5 %" }
local.part = "(sensed - least) / (most - least)"
local.alone = "1 - part"
[kind.sender.value.full]
unit = "Ω"
default = "40 Ω ± 5 %"
[kind.sender.element]
float = { is = "resistor", between = ["signal", "middle"], ohms = "full + (empty - full) * alone" }
[kind.sender.element.stop]
is = "resistor"
between = [
    "middle", # inside
    "ground",
]
ohms = [[0, "2 Ω"], [100, "3 Ω"]]
"#;

const CIRCUIT: &str = r#"title = "a tank"
include = [
    "kinds/tank.toml",
]
sensed.tank.range = [0, 100]
[device.gauge]
kind = "sender"
senses = "tank"
pins = { signal = "battery+", ground = "body" }
[kind.mine]
pins = ["a", "b"]
element.r = { is = "resistor", between = ["a", "b"], ohms = "3 Ω" }
"#;

fn read(name: &str) -> Result<String, String> {
    match name {
        "kinds/tank.toml" => Ok(KINDS.to_owned()),
        _ => Err(format!("`{name}` is not there")),
    }
}

#[test]
fn a_circuit_and_what_it_includes_become_one_text() {
    let (circuit, text) = in_one_text(CIRCUIT, &mut read).unwrap();
    assert_eq!(circuit, parse_with(CIRCUIT, &mut read).unwrap());
    assert_eq!(circuit, parse(&text).unwrap());
    assert!(circuit.branch("gauge/stop").is_some());
    // Lines keep their numbers.
    let line = |text: &str| text.lines().position(|line| line == "[device.gauge]");
    assert_eq!(line(CIRCUIT), line(&text));
    // A text that includes nothing stays as it is.
    assert_eq!(in_one_text(circuit::DEMO, &mut read).unwrap().1, circuit::DEMO);
}

#[test]
fn a_mistake_in_an_included_file_is_reported_there() {
    let broken = KINDS.replace(
        "between = [\"signal\", \"middle\"]",
        "between = [\"signal\", \"midle\"]",
    );
    let mistakes = in_one_text(CIRCUIT, &mut |_| Ok(broken.clone())).unwrap_err();
    let [
        Mistake {
            file, line, message, ..
        },
    ] = &mistakes[..]
    else {
        panic!("{mistakes:#?}")
    };
    assert_eq!((file.as_deref(), *line), (Some("kinds/tank.toml"), 13), "{message}");
    assert!(message.contains("midle"), "{message}");
}

#[test]
fn a_file_that_is_not_there_is_blamed_where_it_is_named() {
    let text = CIRCUIT.replace("kinds/tank", "kinds/tonk");
    let mistakes = in_one_text(&text, &mut read).unwrap_err();
    let first = &mistakes[0];
    assert_eq!(
        (first.line, first.column, first.file.as_deref()),
        (3, 5, None),
        "{first}"
    );
    assert!(first.message.contains("`kinds/tonk.toml` is not there"), "{first}");
}

#[test]
fn what_cannot_become_one_text_is_refused() {
    let text = CIRCUIT
        .split("[kind.mine]")
        .next()
        .unwrap()
        .replace("sensed.tank", "kind = { mine = { pins = [\"a\", \"b\"], element = { r = { is = \"resistor\", between = [\"a\", \"b\"], ohms = \"3 Ω\" } } } }\nsensed.tank");
    assert!(parse_with(&text, &mut read).is_ok());
    let mistakes = in_one_text(&text, &mut read).unwrap_err();
    assert!(
        mistakes.len() == 1 && mistakes[0].line == 2 && mistakes[0].code == "include",
        "{mistakes:#?}"
    );
}
