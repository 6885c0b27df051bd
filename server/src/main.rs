//! The one program that a ship or an office installs.

use clap::Parser as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    server::command::run_to_end(server::command::Arguments::parse())
}
