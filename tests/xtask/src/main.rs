//! Builds, runs, tests and measures the project: `cargo xtask <command>`.

mod bench;
mod demo;
mod fault;
mod fuzz;
mod lint;
mod paths;
mod program;
mod run;
mod site;
mod test;
mod tools;

use std::process::ExitCode;

use fault::Fault;

const HELP: &str = "\
cargo xtask <command>

  build                 the program, its web pages inside, at target/release/clearhawse
  site                  the web pages alone, at target/site
  demo  [--keep] [..]   build, write the demo vessels' records, serve; --keep keeps what an
                        earlier demo recorded; what follows goes to `clearhawse serve`
  test  [--only STAGE]  every test; STAGE is one of native, wasm, browser, outside, fuzz (repeatable)
  fuzz  [--seconds N] [TARGET]
                        look for bytes that break a reader; each target for a minute
  bench                 the budgets, as ratios measured in one run
  lint                  formatting and clippy, warnings denied
";

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    match dispatch(&arguments) {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("error: {}", fault::with_causes(&fault));
            ExitCode::FAILURE
        }
    }
}

fn dispatch(arguments: &[String]) -> Result<(), Fault> {
    let (command, rest) = match arguments {
        [] => ("help", arguments),
        [command, rest @ ..] => (command.as_str(), rest),
    };
    match (command, rest) {
        ("build", []) => program::build().map(drop),
        ("site", []) => site::build().map(drop),
        ("demo", _) => demo::run(rest),
        ("test", _) => test::run(rest),
        ("fuzz", _) => fuzz::run_command(rest),
        ("bench", []) => bench::run(),
        ("lint", []) => lint::run(),
        ("help" | "--help" | "-h", _) => {
            print!("{HELP}");
            Ok(())
        }
        _ => Err(Fault::Usage {
            given: arguments.join(" "),
        }),
    }
}
