//! Builds, runs, tests and measures the project: `cargo xtask <command>`.

mod bench;
mod demo;
mod fault;
mod faults;
mod fuzz;
mod lint;
mod machine;
mod needs;
mod paths;
mod program;
mod run;
mod site;
mod supply;
mod test;
mod tools;

use std::process::ExitCode;

use fault::Fault;
use machine::Machine;
use needs::Need;

const HELP: &str = "\
cargo xtask <command>

  build                 the program, its web pages inside, at target/release/clearhawse
  site                  the web pages alone, at target/site
  demo  [--keep] [..]   build, write the demo vessels' records, serve; --keep keeps what an
                        earlier demo recorded; what follows goes to `clearhawse serve`
  test  [--only STAGE]  every test; STAGE is one of native, wasm, browser, outside, fuzz (repeatable)
  fuzz  [--seconds N] [TARGET]
                        look for bytes that break a reader; each target for a minute
  faults [--rounds N] [--database N] [--cuts N] [--seed N]
                        kill the server, and the database behind it, at random moments and cut its power; nothing
                        acknowledged may be lost
  bench                 the budgets, as ratios measured in one run
  lint                  formatting, clippy, and the packages that we build on
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
    needs::meet(&Machine::here(), &needs_of(command, rest))?;
    match (command, rest) {
        ("build", []) => program::build(program::Profile::Release).map(drop),
        ("site", []) => site::build().map(drop),
        ("demo", _) => demo::run(rest),
        ("test", _) => test::run(rest),
        ("fuzz", _) => fuzz::run_command(rest),
        ("faults", _) => faults::run_command(rest),
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

/// Returns what has to be on the machine before the command compiles anything.
fn needs_of(command: &str, rest: &[String]) -> Vec<Need> {
    let program = [Need::CCompiler, Need::WasmTarget];
    let further: &[Need] = match command {
        "build" | "site" | "demo" => &[],
        "lint" => &[Need::Rustfmt, Need::Clippy],
        "bench" => &[Need::Node, Need::Chromium],
        "test" => return test::needs(rest),
        "faults" => return vec![Need::CCompiler],
        "fuzz" => return vec![Need::CCompiler, Need::CppCompiler],
        _ => return Vec::new(),
    };
    [&program, further].concat()
}
