//! Running other programs, and saying what is being done and how long it took.

#![expect(clippy::disallowed_methods, reason = "says how long each step took")]

use std::fs::File;
use std::io::{BufRead as _, BufReader};
use std::path::PathBuf;
use std::process::{Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::fault::Fault;
use crate::paths;

/// How often a program that may take too long is looked at.
const LOOK_AGAIN: Duration = Duration::from_millis(100);

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
/// not stand between. What has not ended after `longest` is ended, with what it has started itself.
///
/// # Errors
/// As [`run`]; [`Fault::TooLong`] if it had to be ended, [`Fault::File`] if what it prints cannot be kept.
pub fn run_apart(command: &mut Command, longest: Duration) -> Result<(), Fault> {
    let text = describe(command);
    let start = Instant::now();
    let printed = Printed::new()?;
    let mut child = printed
        .of(command)?
        .spawn()
        .map_err(|source| Fault::Spawn {
            command: text.clone(),
            source,
        })?;
    let status = loop {
        let ended = child.try_wait().map_err(|source| Fault::Spawn {
            command: text.clone(),
            source,
        })?;
        if ended.is_some() || start.elapsed() > longest {
            break ended;
        }
        std::thread::sleep(LOOK_AGAIN);
    };
    if status.is_none() {
        // Where there is no such program its children end when what they talk to is gone.
        let parent = child.id().to_string();
        let _ = Command::new("pkill")
            .args(["-KILL", "-P", &parent])
            .status();
        let _ = child.kill();
        let _ = child.wait();
    }
    let took = start.elapsed().as_secs_f64();
    eprintln!("    {text} ({took:.0} s)\n{}", printed.take());
    match status {
        Some(status) if status.success() => Ok(()),
        Some(status) => Err(Fault::Command {
            command: text,
            status,
        }),
        None => Err(Fault::TooLong {
            command: text,
            seconds: longest.as_secs(),
        }),
    }
}

/// Where the output of a program goes that may leave others behind, which would hold a pipe open.
struct Printed(PathBuf);

impl Printed {
    fn new() -> Result<Self, Fault> {
        static NEXT: AtomicUsize = AtomicUsize::new(0);
        let number = NEXT.fetch_add(1, Ordering::Relaxed);
        let name = format!("printed-{}-{number}", std::process::id());
        let file = paths::target().join(name);
        paths::write(&file, b"")?;
        Ok(Self(file))
    }

    fn of<'a>(&self, command: &'a mut Command) -> Result<&'a mut Command, Fault> {
        let fault = |source| Fault::File {
            doing: "write",
            path: self.0.clone(),
            source,
        };
        let file = File::options().append(true).open(&self.0).map_err(fault)?;
        let same = file.try_clone().map_err(fault)?;
        Ok(command.stdin(Stdio::null()).stdout(file).stderr(same))
    }

    fn take(self) -> String {
        let printed = std::fs::read(&self.0).unwrap_or_default();
        let _ = std::fs::remove_file(&self.0);
        String::from_utf8_lossy(&printed).into_owned()
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_program_that_does_not_end_is_ended() {
        let mut sleeper = Command::new("sleep");
        sleeper.arg("600");
        let ended = run_apart(&mut sleeper, Duration::from_millis(50));
        assert!(matches!(ended, Err(Fault::TooLong { .. })), "{ended:?}");
        let mut quick = Command::new("true");
        run_apart(&mut quick, Duration::from_mins(1)).expect("it ends by itself");
    }
}
