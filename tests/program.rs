//! The program that the system tests start: the server's command line as `clearhawse` has it.

use clap::Parser as _;
use std::process::ExitCode;

#[tokio::main]
async fn main() -> ExitCode {
    server::command::run(server::command::Arguments::parse()).await
}
