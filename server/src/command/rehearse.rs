//! Tries a procedure's file in the terminal.

use super::Done;
use procedure::Settings;
use procedure::rehearsal::{Act, Rehearsal, plain_acts};
use std::io::{BufRead, BufReader, Write as _};
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;

/// Plays a procedure's file: as it would be worked plainly, or by the acts of another file.
///
/// Exit status 1 says that the file has mistakes, that it cannot be worked to its end, or that an act was refused.
pub(super) fn command(file: &Path, events: Option<&Path>) -> Done {
    let text = std::fs::read_to_string(file)?;
    let name = file.file_name().unwrap_or_default().to_string_lossy();
    let procedure = match procedure::parse(&name, &text) {
        Ok(procedure) => Arc::new(procedure),
        Err(mistakes) => {
            for mistake in mistakes {
                eprintln!("{mistake}");
            }
            return Ok(ExitCode::from(1));
        }
    };
    let settings = Settings::defaults();
    let mut out = std::io::stdout().lock();
    let Some(events) = events else {
        return match plain_acts(&procedure, &settings) {
            Ok(acts) => {
                for act in acts {
                    writeln!(out, "{}", serde_json::to_string(&act)?)?;
                }
                Ok(ExitCode::SUCCESS)
            }
            Err(open) => {
                eprintln!("it cannot be worked to its end: {}", open.join("; "));
                Ok(ExitCode::from(1))
            }
        };
    };
    let lines: Box<dyn BufRead> = if events == Path::new("-") {
        Box::new(std::io::stdin().lock())
    } else {
        Box::new(BufReader::new(std::fs::File::open(events)?))
    };
    let mut run = Rehearsal::begin(procedure, settings);
    let mut is_refused = false;
    for (number, line) in (1..).zip(lines.lines()) {
        let line = line?;
        if line.trim().is_empty() {
            continue;
        }
        let act: Act =
            serde_json::from_str(&line).map_err(|error| format!("line {number}: {error}"))?;
        let played = run.play(&act);
        is_refused |= played.refused.is_some();
        writeln!(out, "{}", serde_json::to_string(&played)?)?;
    }
    Ok(ExitCode::from(u8::from(is_refused)))
}
