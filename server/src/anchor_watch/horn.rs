//! Alarms that leave the program: a command that sounds a horn, and NMEA 0183 sentences for a relay or another bridge unit.
//!
//! What nobody has seen is sounded again and again, and goes on: first to the bridge, then to the master, then to all. Who
//! listens at which stage is the command's own matter, which is told the stage.

use crate::instruments::address::BadSource;
use chrono::DateTime;
use journal::watch::AlarmLine;
use std::collections::BTreeMap;
use std::net::{Ipv4Addr, SocketAddr};
use std::process::Stdio;
use std::time::Duration;
use tokio::process::Command;

/// Between two soundings of one alarm, ms.
/// Source: MSC.252(83), from memory: silenced for at most 30 s.
const AGAIN_MS: i64 = 30_000;
/// Between two sentences about one that stands and is seen, ms.
/// Source: our own, common practice, no source.
const TOLD_MS: i64 = 10_000;
/// After so long unseen an alarm goes on to the next, where nobody says otherwise, s.
/// Source: our own, common practice, no source: to be set by the ship.
pub const ESCALATE_S: u32 = 120;
/// How long the command may take.
const PATIENCE: Duration = Duration::from_secs(20);
/// How much text a sentence of 82 characters has room for.
const TEXT: usize = 48;

/// To whom an alarm has gone on, by how long nobody has seen it.
pub const STAGES: [&str; 3] = ["bridge", "master", "all"];

/// Where alarms go beside the pages.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Ways {
    /// What is run: a line for the shell.
    pub horn: Option<String>,
    /// Where sentences are sent.
    pub out: Option<SocketAddr>,
    /// After so long unseen an alarm goes on to the next, s.
    pub escalate_s: u32,
}

impl Ways {
    /// Reads what was given.
    ///
    /// # Errors
    /// [`BadSource`] if the address for sentences is none.
    pub fn of(
        horn: Option<String>,
        out: Option<&str>,
        escalate_s: Option<u32>,
    ) -> Result<Self, BadSource> {
        let out = out
            .map(|text| {
                let address = text.strip_prefix("udp://").unwrap_or(text);
                let no_address = |_| BadSource::NoAddress(address.to_owned());
                address.parse().map_err(no_address)
            })
            .transpose()?;
        Ok(Self {
            horn,
            out,
            escalate_s: escalate_s.unwrap_or(ESCALATE_S).max(1),
        })
    }

    /// Returns to whom an alarm has gone on, as [`STAGES`] counts them.
    pub fn stage(&self, line: &AlarmLine, now_ms: i64) -> u8 {
        let is_waiting = line.level >= 2 && line.seen_by.is_empty() && !line.is_over;
        let stages = (now_ms - line.at_ms).max(0) / (i64::from(self.escalate_s) * 1000);
        if is_waiting {
            u8::try_from(stages.min(2)).unwrap_or(2)
        } else {
            0
        }
    }
}

/// Something that leaves the program.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Sounding {
    line: AlarmLine,
    stage: u8,
    /// The horn sounds too, and not the sentence alone.
    is_loud: bool,
}

/// Decides what leaves the program, and when.
#[derive(Debug, Default)]
pub struct Horn {
    /// When each alarm was sounded and told last, and how it stood then.
    given: BTreeMap<String, (i64, i64, AlarmLine, u8)>,
}

impl Horn {
    /// Looks at what stands, and gives on what is due.
    pub fn look(&mut self, ways: &Ways, lines: &[AlarmLine], now_ms: i64) {
        for sounding in self.due(ways, lines, now_ms) {
            let ways = ways.clone();
            // A horn that hangs holds nothing up.
            tokio::spawn(async move {
                for told in give(&ways, &sounding, now_ms).await {
                    if let Err(error) = told {
                        tracing::error!(error, "an alarm did not get out");
                    }
                }
            });
        }
    }

    fn due(&mut self, ways: &Ways, lines: &[AlarmLine], now_ms: i64) -> Vec<Sounding> {
        let mut due = Vec::new();
        let name = |line: &AlarmLine| format!("{}/{}", line.about, line.level);
        for line in lines.iter().filter(|line| line.level >= 2) {
            let stage = ways.stage(line, now_ms);
            let is_waiting = line.seen_by.is_empty() && !line.is_over;
            let before = self.given.get(&name(line));
            let is_loud = is_waiting
                && before
                    .is_none_or(|(loud, _, _, was)| now_ms - loud >= AGAIN_MS || *was != stage);
            let is_told = before.is_none_or(|(_, told, was, _)| {
                let stands = |line: &AlarmLine| (line.is_over, line.seen_by.is_empty());
                stands(was) != stands(line) || (!line.is_over && now_ms - told >= TOLD_MS)
            });
            if is_loud || is_told {
                let loud_ms = before.map_or(i64::MIN / 2, |(loud, ..)| *loud);
                let loud_ms = if is_loud { now_ms } else { loud_ms };
                let given = (loud_ms, now_ms, line.clone(), stage);
                self.given.insert(name(line), given);
                due.push(Sounding {
                    line: line.clone(),
                    stage,
                    is_loud,
                });
            }
        }
        // What is not listed any more is over and seen: that is told once.
        let listed: Vec<String> = lines.iter().map(name).collect();
        let gone: Vec<String> = self
            .given
            .keys()
            .filter(|known| !listed.contains(known))
            .cloned()
            .collect();
        for (_, _, mut line, _) in gone.iter().filter_map(|known| self.given.remove(known)) {
            line.is_over = true;
            due.push(Sounding {
                line,
                stage: 0,
                is_loud: false,
            });
        }
        due
    }
}

/// Tries every way once; says of each what came of it.
pub async fn trial(ways: &Ways, now_ms: i64) -> Vec<Result<String, String>> {
    let line = AlarmLine {
        id: String::new(),
        about: "trial".to_owned(),
        level: 3,
        text: "trial of the alarm".to_owned(),
        at_ms: now_ms,
        is_over: false,
        seen_by: String::new(),
        stage: 0,
    };
    let sounding = Sounding {
        line,
        stage: 0,
        is_loud: true,
    };
    give(ways, &sounding, now_ms).await
}

async fn give(ways: &Ways, sounding: &Sounding, now_ms: i64) -> Vec<Result<String, String>> {
    let mut told = Vec::new();
    if let Some(out) = ways.out {
        let sent = send(out, &alr(&sounding.line, now_ms)).await;
        let sent = sent.map(|()| format!("a sentence was sent to {out}"));
        told.push(sent.map_err(|error| format!("no sentence to {out}: {error}")));
    }
    if let Some(horn) = ways.horn.as_ref().filter(|_| sounding.is_loud) {
        told.push(run(horn, sounding).await);
    }
    told
}

async fn send(out: SocketAddr, sentence: &str) -> std::io::Result<()> {
    let socket = tokio::net::UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).await?;
    socket.set_broadcast(true)?;
    socket.send_to(sentence.as_bytes(), out).await.map(drop)
}

async fn run(horn: &str, sounding: &Sounding) -> Result<String, String> {
    let mut command = Command::new("sh");
    command
        .args(["-c", horn])
        .env("CLEARHAWSE_ALARM", &sounding.line.about)
        .env("CLEARHAWSE_ALARM_LEVEL", sounding.line.level.to_string())
        .env("CLEARHAWSE_ALARM_TEXT", &sounding.line.text)
        .env(
            "CLEARHAWSE_ALARM_STAGE",
            STAGES[usize::from(sounding.stage.min(2))],
        )
        .stdin(Stdio::null())
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .kill_on_drop(true);
    let failed = |why: String| format!("the horn's command failed: {why}");
    match tokio::time::timeout(PATIENCE, command.status()).await {
        Err(_) => Err(failed("it took longer than 20 s and was ended".to_owned())),
        Ok(Err(error)) => Err(failed(error.to_string())),
        Ok(Ok(status)) if status.success() => Ok("the horn's command has ended well".to_owned()),
        Ok(Ok(status)) => Err(failed(status.to_string())),
    }
}

/// Returns an alarm as a sentence: time, number, whether it stands, whether it is seen, text.
///
/// Source: NMEA 0183 and IEC 61162-1, sentence ALR, from memory, not opened.
fn alr(line: &AlarmLine, now_ms: i64) -> String {
    const NAMES: [&str; 9] = [
        "outside",
        "anchor-moves",
        "not-recovering",
        "shoal",
        "wind",
        "neighbour",
        "blind",
        "master",
        "trial",
    ];
    let time = DateTime::from_timestamp_millis(now_ms);
    let time = time.map_or_else(String::new, |at| at.format("%H%M%S.00").to_string());
    let number = NAMES.iter().position(|name| *name == line.about);
    let number = number.map_or(99, |at| at + 1);
    let letter = |is_so: bool| if is_so { 'A' } else { 'V' };
    // Signs that a sentence reserves, and those beyond it, would end it or change its sum.
    let is_plain = |sign: &char| {
        matches!(sign, ' '..='~') && !matches!(sign, '$' | '*' | ',' | '!' | '\\' | '^' | '~')
    };
    let text: String = line.text.chars().filter(is_plain).take(TEXT).collect();
    let body = format!(
        "IIALR,{time},{number:03},{},{},{text}",
        letter(!line.is_over),
        letter(!line.seen_by.is_empty()),
    );
    let sum = body.bytes().fold(0, |sum, byte| sum ^ byte);
    format!("${body}*{sum:02X}\r\n")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn line(at_ms: i64) -> AlarmLine {
        AlarmLine {
            id: "x".to_owned(),
            about: "outside".to_owned(),
            level: 3,
            text: "dragging: 173 m, 160 m allowed *".to_owned(),
            at_ms,
            is_over: false,
            seen_by: String::new(),
            stage: 0,
        }
    }

    fn ways() -> Ways {
        Ways::of(None, Some("udp://127.0.0.1:9"), Some(120)).unwrap()
    }

    #[test]
    fn an_alarm_sounds_again_and_goes_on_until_it_is_seen() {
        let (mut horn, ways, mut alarm) = (Horn::default(), ways(), line(0));
        let mut loud = Vec::new();
        for second in 0..400 {
            let due = horn.due(&ways, std::slice::from_ref(&alarm), second * 1000);
            loud.extend(
                due.iter()
                    .filter(|one| one.is_loud)
                    .map(|one| (second, one.stage)),
            );
        }
        let apart = loud.windows(2).map(|two| two[1].0 - two[0].0);
        assert!(apart.clone().all(|apart| apart <= 30), "{loud:?}");
        assert!(
            loud.contains(&(120, 1)) && loud.contains(&(240, 2)),
            "{loud:?}"
        );
        alarm.seen_by = "Ravi Thorne".to_owned();
        let due = horn.due(&ways, std::slice::from_ref(&alarm), 400_000);
        assert_eq!(
            due.iter()
                .map(|one| (one.is_loud, one.stage))
                .collect::<Vec<_>>(),
            [(false, 0)]
        );
        assert_eq!(horn.due(&ways, &[alarm], 401_000), []);
        let over = horn.due(&ways, &[], 402_000);
        assert!(over.len() == 1 && over[0].line.is_over && !over[0].is_loud);
        assert_eq!(horn.due(&ways, &[], 403_000), []);
    }

    #[test]
    fn a_sentence_is_one_whatever_the_text() {
        let sentence = alr(&line(0), 45_296_000);
        assert_eq!(sentence.lines().count(), 1);
        assert!(
            sentence.starts_with("$IIALR,123456.00,001,A,V,dragging: 173 m 160 m allowed *"),
            "{sentence}"
        );
        assert!(sentence.len() <= 82, "{sentence}");
        let read = seamanship::nmea::read(sentence.as_bytes());
        assert!(read.is_ok(), "its checksum is right: {read:?}");
    }

    #[tokio::test]
    async fn a_command_that_fails_says_so() {
        let of = |horn: &str| Ways {
            horn: Some(horn.to_owned()),
            out: None,
            escalate_s: 1,
        };
        let good = trial(&of("test \"$CLEARHAWSE_ALARM_STAGE\" = bridge"), 0).await;
        assert!(matches!(good.as_slice(), [Ok(_)]), "{good:?}");
        let bad = trial(&of("exit 3"), 0).await;
        assert!(
            matches!(bad.as_slice(), [Err(why)] if why.contains('3')),
            "{bad:?}"
        );
    }
}
