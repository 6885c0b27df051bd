//! Rounds: what is due by interval, from the records alone.

mod items;

use serde::{Deserialize, Serialize};

use crate::definition::Procedure;
use crate::settings::Settings;
use crate::state::PastRun;

pub use items::{ItemsRound, items_rounds};

/// How a round stands.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Round {
    /// The procedure's short name.
    pub slug: String,
    /// The procedure's title.
    pub title: String,
    /// The interval, ms; none when it names a setting that nobody has set.
    pub every_ms: Option<i64>,
    /// When it was last completed, ms UTC.
    pub last_at_ms: Option<i64>,
    /// By when it is to be done again, ms UTC; none when it was never done.
    pub due_at_ms: Option<i64>,
    /// A run of it is open.
    pub under_way: bool,
    /// How it stands.
    pub state: RoundState,
}

/// How a round stands at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum RoundState {
    /// Its time is past.
    Overdue,
    /// It was never done, as far as the records go.
    NeverDone,
    /// Its interval is not set, so nobody can say.
    NotSet,
    /// It is to be done soon: the last tenth of its interval runs.
    Due,
    /// It is done, and not yet due again.
    Done,
}

/// A date by which a round is due whatever its interval, such as a survey.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct DueDate {
    /// The procedure's short name.
    pub slug: String,
    /// From when doing it counts for this date, ms UTC.
    pub opens_at_ms: i64,
    /// By when, ms UTC.
    pub due_at_ms: i64,
}

/// Says how each procedure that is due at intervals stands, the worst first.
///
/// The last completion counts, also where it lies ahead of this clock; a run broken off is no completion.
pub fn rounds(
    procedures: &[Procedure],
    settings: &Settings,
    past: &[PastRun],
    now_ms: i64,
) -> Vec<Round> {
    rounds_by_date(procedures, settings, past, &[], now_ms)
}

/// Says how each procedure that is due at intervals or by a date stands, the worst first.
///
/// A date is met by a completion since it opened; until then it counts when it comes before the interval's end.
pub fn rounds_by_date(
    procedures: &[Procedure],
    settings: &Settings,
    past: &[PastRun],
    dates: &[DueDate],
    now_ms: i64,
) -> Vec<Round> {
    let of = |procedure: &Procedure| {
        let own: Vec<&DueDate> = dates
            .iter()
            .filter(|date| date.slug == procedure.slug())
            .collect();
        (procedure.every().is_some() || !own.is_empty())
            .then(|| round(procedure, settings, past, &own, now_ms))
    };
    let mut all: Vec<Round> = procedures.iter().filter_map(of).collect();
    all.sort_by(|a, b| (a.state, a.due_at_ms, &a.slug).cmp(&(b.state, b.due_at_ms, &b.slug)));
    all
}

fn round(
    procedure: &Procedure,
    settings: &Settings,
    past: &[PastRun],
    dates: &[&DueDate],
    now_ms: i64,
) -> Round {
    let every_ms = procedure
        .every()
        .and_then(|every| settings.span_ms(every))
        .filter(|ms| *ms > 0);
    let runs = || past.iter().filter(|run| run.slug == procedure.slug());
    let last_at_ms = runs()
        .filter(|run| run.completed)
        .filter_map(|run| run.closed_at_ms)
        .max();
    let unmet = |date: &&&DueDate| last_at_ms.is_none_or(|last| last < date.opens_at_ms);
    let by_date = dates
        .iter()
        .filter(unmet)
        .map(|date| (date.due_at_ms, date.opens_at_ms));
    let by_interval = last_at_ms.zip(every_ms).map(|(last, every)| {
        let due = last.saturating_add(every);
        (due, due.saturating_sub(every / 10))
    });
    let due = by_date.chain(by_interval).min();
    let state = match due {
        Some((due, _)) if now_ms >= due => RoundState::Overdue,
        None if procedure.every().is_some() && every_ms.is_none() => RoundState::NotSet,
        _ if last_at_ms.is_none() => RoundState::NeverDone,
        Some((_, soon)) if now_ms >= soon => RoundState::Due,
        _ => RoundState::Done,
    };
    Round {
        slug: procedure.slug().to_owned(),
        title: procedure.title().to_owned(),
        every_ms,
        last_at_ms,
        due_at_ms: due.map(|(due, _)| due),
        under_way: runs().any(|run| run.closed_at_ms.is_none()),
        state,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400_000;

    fn weekly() -> Vec<Procedure> {
        let text = "slug = \"round\"\ntitle = \"Round\"\nedition = \"1\"\npurpose = \"p\"\nevery = \"7 d\"\n[[step]]\nid = \"a\"\ndo = \"b\"\n";
        vec![crate::parse("round.toml", text).expect("a whole procedure")]
    }

    fn run(closed: Option<i64>, completed: bool) -> PastRun {
        PastRun {
            slug: "round".into(),
            started_at_ms: 0,
            closed_at_ms: closed,
            completed,
            named: Vec::new(),
            items: Vec::new(),
        }
    }

    fn state_at(past: &[PastRun], now: i64) -> RoundState {
        rounds(&weekly(), &Settings::empty(), past, now)[0].state
    }

    #[test]
    fn a_round_is_done_then_due_then_overdue_to_the_millisecond() {
        let past = [run(Some(100 * DAY), true)];
        assert_eq!(state_at(&past, 101 * DAY), RoundState::Done);
        assert_eq!(state_at(&past, 107 * DAY - 1), RoundState::Due);
        assert_eq!(state_at(&past, 107 * DAY), RoundState::Overdue);
    }

    #[test]
    fn a_run_broken_off_or_open_does_not_count_as_done() {
        assert_eq!(
            state_at(&[run(Some(100 * DAY), false)], 101 * DAY),
            RoundState::NeverDone
        );
        let open = rounds(&weekly(), &Settings::empty(), &[run(None, false)], DAY);
        assert!(open[0].under_way);
        assert_eq!(open[0].state, RoundState::NeverDone);
    }

    #[test]
    fn clocks_at_their_ends_do_not_overflow() {
        let past = [run(Some(i64::MAX), true)];
        assert_eq!(state_at(&past, i64::MIN), RoundState::Done);
        assert_eq!(
            state_at(&[run(Some(i64::MIN), true)], i64::MAX),
            RoundState::Overdue
        );
    }

    #[test]
    fn a_date_that_comes_before_the_interval_counts_until_it_is_met() {
        let date = |opens: i64, due: i64| {
            [DueDate {
                slug: "round".into(),
                opens_at_ms: opens * DAY,
                due_at_ms: due * DAY,
            }]
        };
        let state = |past: &[PastRun], dates: &[DueDate], now: i64| {
            rounds_by_date(&weekly(), &Settings::empty(), past, dates, now * DAY)[0].state
        };
        let done = [run(Some(99 * DAY), true)];
        assert_eq!(
            state(&done, &date(90, 102), 103),
            RoundState::Done,
            "met since it opened"
        );
        assert_eq!(
            state(&done, &date(90, 102), 106),
            RoundState::Overdue,
            "the interval still counts"
        );
        assert_eq!(
            state(&done, &date(100, 101), 99),
            RoundState::Done,
            "not open yet"
        );
        assert_eq!(state(&done, &date(100, 101), 100), RoundState::Due);
        assert_eq!(
            state(&done, &date(100, 101), 101),
            RoundState::Overdue,
            "done before it opened"
        );
        assert_eq!(state(&[], &date(100, 102), 101), RoundState::NeverDone);
        assert_eq!(state(&[], &date(100, 102), 102), RoundState::Overdue);
    }
}
