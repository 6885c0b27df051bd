//! Running other programs, and saying what is being done and how long it took.

use std::io::{BufRead as _, BufReader};
use std::process::{Command, Stdio};
use std::time::Instant;

use crate::fault::Fault;
use crate::paths;

/// Does `work`, saying what it is before and how long it took after.
pub fn stage<T>(what: &str, work: impl FnOnce() -> Result<T, Fault>) -> Result<T, Fault> {
    eprintln!("==> {what}");
    let start = Instant::now();
    let done = work();
    let how = if done.is_ok() { "done" } else { "FAILED" };
    eprintln!("    {how} in {:.1} s", start.elapsed().as_secs_f64());
    done
}

/// Prints a remark that belongs to the stage under way.
pub fn note(text: &str) {
    eprintln!("    {text}");
}

/// Returns cargo, as it was called for this program, without the traces of that call.
///
/// Build scripts that watch those variables would otherwise run again each time.
pub fn cargo() -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or("cargo".into()));
    for (name, _) in std::env::vars_os() {
        let known = name.to_string_lossy();
        if known.starts_with("CARGO_PKG_")
            || known.starts_with("CARGO_MANIFEST_")
            || known.starts_with("CARGO_BIN_")
            || known == "CARGO_CRATE_NAME"
            || known == "LD_LIBRARY_PATH"
        {
            command.env_remove(&name);
        }
    }
    command.current_dir(paths::root());
    command
}

/// Runs `command` with its output going where ours goes.
///
/// # Errors
/// [`Fault::Spawn`] if it cannot be started, [`Fault::Command`] if it ends with a failure.
pub fn run(command: &mut Command) -> Result<(), Fault> {
    let text = describe(command);
    note(&text);
    let status = command.status().map_err(|source| Fault::Spawn {
        command: text.clone(),
        source,
    })?;
    if status.success() {
        Ok(())
    } else {
        Err(Fault::Command {
            command: text,
            status,
        })
    }
}

/// Runs `command` and shows what it printed when it has ended, in one piece, so that what runs beside it does
/// not stand between.
///
/// # Errors
/// As [`run`].
pub fn run_apart(command: &mut Command) -> Result<(), Fault> {
    let text = describe(command);
    let start = Instant::now();
    let output = command.output().map_err(|source| Fault::Spawn {
        command: text.clone(),
        source,
    })?;
    let (told, warned) = (
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr),
    );
    let took = start.elapsed().as_secs_f64();
    eprintln!("    {text} ({took:.0} s)\n{told}{warned}");
    if output.status.success() {
        Ok(())
    } else {
        Err(Fault::Command {
            command: text,
            status: output.status,
        })
    }
}

/// Runs `command`, shows what it prints, and returns it too.
///
/// # Errors
/// As [`run`].
pub fn run_and_read(command: &mut Command) -> Result<String, Fault> {
    let text = describe(command);
    note(&text);
    let fault = |source| Fault::Spawn {
        command: text.clone(),
        source,
    };
    let mut child = command.stdout(Stdio::piped()).spawn().map_err(fault)?;
    let mut told = String::new();
    if let Some(output) = child.stdout.take() {
        for line in BufReader::new(output).lines() {
            let line = line.map_err(fault)?;
            println!("{line}");
            told.push_str(&line);
            told.push('\n');
        }
    }
    let status = child.wait().map_err(fault)?;
    if status.success() {
        Ok(told)
    } else {
        Err(Fault::Command {
            command: text,
            status,
        })
    }
}

/// Returns a command as one would type it.
pub fn describe(command: &Command) -> String {
    let program = std::path::Path::new(command.get_program());
    let name = program.file_name().unwrap_or(command.get_program());
    let mut text = name.to_string_lossy().into_owned();
    for argument in command.get_args() {
        text.push(' ');
        text.push_str(&argument.to_string_lossy());
    }
    text
}
