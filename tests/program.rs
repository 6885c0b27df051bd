//! The program that the system tests start: the server's command line as `clearhawse` has it.

use clap::Parser as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    server::command::run_to_end(server::command::Arguments::parse())
}
