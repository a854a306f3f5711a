//! One binary: every command, and the page.
//!
//! Exit codes: 0 done; 1 the answer is no (mistakes in a file, a test refused); 2 the command line is wrong; 3 something
//! could not be read, written or solved.
mod args;
mod bare;
mod beside;
mod code;
mod commands;
mod data;
mod learn;
mod library;
mod log;
mod optimum;
mod out;
mod plan;
mod play;
mod proof;
mod ready;
mod serve;
mod show;
mod source;
mod text;
mod trials;
mod vin;
mod why;
mod write_up;

use std::io::Write as _;
use std::process::ExitCode;

use clap::Parser as _;

/// Predictions are many small things made on all cores and kept: a seventh of the time against the system's allocator.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> ExitCode {
    let args = args::Args::parse();
    library::at(args.library.clone());
    match commands::run(args) {
        Ok(commands::Answer::No) => ExitCode::from(1),
        Ok(commands::Answer::Done) | Err(source::Failure::Closed) => ExitCode::SUCCESS,
        Err(failure) => {
            // Where nobody reads what went wrong, the exit code still says that something did.
            let _ = writeln!(std::io::stderr(), "{failure}");
            ExitCode::from(failure.exit_code())
        }
    }
}
