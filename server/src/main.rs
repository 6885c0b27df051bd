//! The one program that a ship or an office installs.

use clap::Parser as _;
use std::process::ExitCode;

#[tokio::main]
async fn main() -> ExitCode {
    server::command::run(server::command::Arguments::parse()).await
}
