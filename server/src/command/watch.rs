//! Replays a night at anchor in the terminal.

use super::Done;
use seamanship::watch::{Call, Replay, Setup};
use std::io::{BufRead, BufReader, Write};
use std::path::Path;
use std::process::ExitCode;

/// The longest line that is read; what is longer is passed over, and counted.
const LONGEST_LINE: usize = 1024;
/// The largest setup.
const LARGEST_SETUP: u64 = 64 * 1024;

/// Replays a night's sentences and writes what the watch would have said, a JSON line each.
pub(super) fn command(night: &Path, setup: &Path) -> Done {
    let setup = read_setup(setup)?;
    let lines: Box<dyn BufRead> = if night == Path::new("-") {
        Box::new(std::io::stdin().lock())
    } else {
        let file = std::fs::File::open(night);
        let file = file.map_err(|error| format!("{}: {error}", night.display()))?;
        Box::new(BufReader::new(file))
    };
    let out = std::io::BufWriter::new(std::io::stdout().lock());
    match replay(setup, lines, out) {
        // Whoever reads has heard enough.
        Err(error) if error.kind() == std::io::ErrorKind::BrokenPipe => Ok(ExitCode::SUCCESS),
        done => Ok(done.map(|()| ExitCode::SUCCESS)?),
    }
}

fn read_setup(path: &Path) -> Result<Setup, Box<dyn std::error::Error>> {
    use std::io::Read as _;
    let named = |error: std::io::Error| format!("{}: {error}", path.display());
    let mut text = String::new();
    let file = std::fs::File::open(path).map_err(named)?;
    let read = file.take(LARGEST_SETUP + 1).read_to_string(&mut text);
    if read.map_err(named)? as u64 > LARGEST_SETUP {
        return Err(format!("{}: larger than any setup", path.display()).into());
    }
    let (setup, unknown) = Setup::read(&text)
        .map_err(|error| format!("{}: {}", path.display(), crate::api::error::told(&error)))?;
    for key in unknown {
        eprintln!("{}: {key} means nothing here", path.display());
    }
    Ok(setup)
}

fn replay(setup: Setup, mut lines: impl BufRead, mut out: impl Write) -> std::io::Result<()> {
    let mut replay = Replay::new(setup);
    let mut line = Vec::new();
    loop {
        line.clear();
        match next_line(&mut lines, &mut line)? {
            Line::None => break,
            Line::TooLong => replay.too_long(),
            Line::Whole => {
                let calls = replay.line(&line);
                tell(&calls, &mut out)?;
            }
        }
    }
    let (calls, end) = replay.end();
    tell(&calls, &mut out)?;
    serde_json::to_writer(&mut out, &end)?;
    writeln!(out)?;
    out.flush()
}

/// Writes calls at once, so that they are heard while the night goes on.
fn tell(calls: &[Call], out: &mut impl Write) -> std::io::Result<()> {
    for call in calls {
        serde_json::to_writer(&mut *out, call)?;
        writeln!(out)?;
    }
    if calls.is_empty() {
        Ok(())
    } else {
        out.flush()
    }
}

/// What came of looking for a line.
#[derive(Debug, PartialEq, Eq)]
enum Line {
    None,
    TooLong,
    Whole,
}

/// Reads up to the end of a line, and keeps no more of it than [`LONGEST_LINE`].
fn next_line(lines: &mut impl BufRead, line: &mut Vec<u8>) -> std::io::Result<Line> {
    let mut has_any = false;
    let mut is_too_long = false;
    loop {
        let bytes = match lines.fill_buf() {
            Err(error) if error.kind() == std::io::ErrorKind::Interrupted => continue,
            bytes => bytes?,
        };
        if bytes.is_empty() {
            break;
        }
        has_any = true;
        let end = bytes.iter().position(|byte| *byte == b'\n');
        let part = &bytes[..end.unwrap_or(bytes.len())];
        if line.len() + part.len() > LONGEST_LINE {
            is_too_long = true;
            line.clear();
        } else if !is_too_long {
            line.extend_from_slice(part);
        }
        let used = end.map_or(bytes.len(), |end| end + 1);
        lines.consume(used);
        if end.is_some() {
            break;
        }
    }
    Ok(match (has_any, is_too_long) {
        (false, _) => Line::None,
        (true, true) => Line::TooLong,
        (true, false) => Line::Whole,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_without_end_is_passed_over_and_the_next_is_read() {
        let mut text = vec![b'x'; 1_000_000];
        text.extend(b"\nshort\n\nlast");
        let mut lines = BufReader::with_capacity(100, &text[..]);
        let mut line = Vec::new();
        let mut next = || {
            line.clear();
            let read = next_line(&mut lines, &mut line).expect("it can be read");
            (read, String::from_utf8_lossy(&line).into_owned())
        };
        assert_eq!(next(), (Line::TooLong, String::new()));
        assert_eq!(next(), (Line::Whole, "short".to_owned()));
        assert_eq!(next(), (Line::Whole, String::new()));
        assert_eq!(next(), (Line::Whole, "last".to_owned()));
        assert_eq!(next().0, Line::None);
    }

    #[test]
    fn a_night_of_rubbish_ends_with_its_count() {
        let mut out = Vec::new();
        let lines = b"rubbish\n5 $GPGGA\n\xff\xfe\n-3 $HEHDT,1.0,T*29\n\n".as_slice();
        replay(Setup::default(), lines, &mut out).expect("it is written");
        let last = String::from_utf8(out).expect("text");
        assert!(
            last.starts_with(r#"{"end":true,"sentences":0,"refused":4,"#),
            "{last}"
        );
        assert_eq!(last.lines().count(), 1);
    }
}
