//! Builds the program, writes the demo vessels' records and serves them.

use std::process::Command;

use crate::fault::Fault;
use crate::run::{self, note, stage};
use crate::{paths, program};

const ADDRESS: &str = "127.0.0.1:8787";

/// Runs the demo until it is interrupted. `--keep` keeps what an earlier demo recorded; every
/// other argument goes to `clearhawse serve`.
pub fn run(arguments: &[String]) -> Result<(), Fault> {
    let binary = program::build(program::Profile::Release)?;
    let data = paths::target().join("demo-data");
    let keep = arguments.iter().any(|argument| argument == "--keep");
    if keep && data.is_dir() {
        note(&format!("keeping the records in {}", data.display()));
    } else {
        stage("demo: two vessels' records", || {
            paths::remove(&data)?;
            run::run(Command::new(&binary).arg("demo").arg("--data").arg(&data))
        })?;
    }
    stage("demo: a code for each of the crew, for /bow/enrol", || {
        run::run(
            Command::new(&binary)
                .args(["code", "--all", "--data"])
                .arg(&data),
        )
    })?;
    note(&format!(
        "more codes later: {} code --data {} orrin",
        binary.display(),
        data.display()
    ));
    let mut serve = Command::new(&binary);
    serve.arg("serve").arg("--data").arg(&data);
    if !arguments
        .iter()
        .any(|argument| argument.starts_with("--listen"))
    {
        serve.args(["--listen", ADDRESS]);
    }
    serve.args(arguments.iter().filter(|argument| *argument != "--keep"));
    eprintln!("==> serving; Ctrl-C ends it");
    become_program(&mut serve)
}

/// Turns this process into the server, so that signals reach it directly.
#[cfg(unix)]
fn become_program(command: &mut Command) -> Result<(), Fault> {
    use std::os::unix::process::CommandExt as _;
    let source = command.exec();
    Err(Fault::Spawn {
        command: "clearhawse serve".to_owned(),
        source,
    })
}

#[cfg(not(unix))]
fn become_program(command: &mut Command) -> Result<(), Fault> {
    run::run(command)
}
