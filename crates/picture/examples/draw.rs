//! Draws a circuit file as SVG: `cargo run -p picture --example draw -- circuits/van-31.toml wiring.svg ["set-up"]`.

#![expect(
    clippy::print_stdout,
    clippy::print_stderr,
    reason = "an example talks to whoever runs it"
)]

use std::process::ExitCode;

use picture::{Look, Marks, wiring};

fn main() -> ExitCode {
    let args: Vec<String> = std::env::args().skip(1).collect();
    match draw(&args) {
        Ok(said) => {
            println!("{said}");
            ExitCode::SUCCESS
        }
        Err(wrong) => {
            eprintln!("{wrong}");
            ExitCode::FAILURE
        }
    }
}

fn draw(args: &[String]) -> Result<String, String> {
    let [from, to, rest @ ..] = args else {
        return Err("say which circuit file to draw, and where to: draw CIRCUIT.toml WIRING.svg [SET-UP]".to_owned());
    };
    let text = std::fs::read_to_string(from).map_err(|e| format!("{from} cannot be read: {e}"))?;
    let circuit = circuit::parse(&text).map_err(|mistakes| {
        mistakes
            .iter()
            .map(|mistake| format!("{from}: {mistake}"))
            .collect::<Vec<_>>()
            .join("\n")
    })?;
    let set_up = match rest.first() {
        Some(text) => circuit::parse_set_up(&circuit, text).map_err(|e| e.to_string())?,
        None => circuit::SetUp::default(),
    };
    let picture = wiring(
        &circuit,
        &set_up,
        &Marks::default(),
        &Look {
            fill_width: 960.0,
            ..Look::default()
        },
    );
    std::fs::write(to, &picture.svg).map_err(|e| format!("{to} cannot be written: {e}"))?;
    Ok(format!(
        "{to}: {:.0} × {:.0}, {} points to tap",
        picture.width,
        picture.height,
        picture.spots.len()
    ))
}
