//! Who is in date for what: drills and inductions by name and date, from the records alone.

use serde::{Deserialize, Serialize};

use crate::definition::Procedure;
use crate::ids::PersonId;
use crate::settings::Settings;
use crate::state::PastRun;

/// How a person stands to one procedure that counts for those whom it names.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct InDate {
    /// The procedure's short name.
    pub slug: String,
    /// The procedure's title.
    pub title: String,
    /// When a run that names the person was last completed, ms UTC.
    pub last_at_ms: Option<i64>,
    /// Until when that counts, ms UTC.
    pub until_ms: Option<i64>,
    /// How the person stands.
    pub state: DateState,
}

/// How a person stands at a moment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum DateState {
    /// No completed run names them, as far as the records go.
    Never,
    /// The last one is too long ago.
    Past,
    /// How long it counts is not set, so nobody can say.
    NotSet,
    /// In date, and the last tenth of the time runs.
    Soon,
    /// In date.
    In,
}

impl InDate {
    /// Returns whether the person is in date.
    pub fn is_in(&self) -> bool {
        matches!(self.state, DateState::In | DateState::Soon)
    }
}

/// Returns whether a procedure counts for those whom it names.
pub fn counts(procedure: &Procedure) -> bool {
    span_of(procedure).is_some()
}

fn span_of(procedure: &Procedure) -> Option<&crate::definition::Span> {
    let mut named = procedure
        .steps()
        .iter()
        .filter_map(|step| step.kind.names());
    named.find_map(|names| names.counts_for.as_ref())
}

/// Says how a person stands to a procedure at a moment; `None` where the procedure counts for nobody.
///
/// The last completed run counts, also where it lies ahead of this clock; a run broken off counts for nobody.
pub fn in_date(
    procedure: &Procedure,
    settings: &Settings,
    past: &[PastRun],
    who: &PersonId,
    now_ms: i64,
) -> Option<InDate> {
    let span = span_of(procedure)?;
    let span_ms = settings.span_ms(span).filter(|ms| *ms > 0);
    let names_them = |run: &&PastRun| {
        let is_named = run.named.iter().any(|named| named.is_same(who));
        run.slug == procedure.slug() && run.completed && is_named
    };
    let completed = past.iter().filter(names_them);
    let last_at_ms = completed.filter_map(|run| run.closed_at_ms).max();
    let until_ms = last_at_ms
        .zip(span_ms)
        .map(|(last, span)| last.saturating_add(span));
    let state = match (last_at_ms, span_ms, until_ms) {
        (None, _, _) => DateState::Never,
        (_, Some(_), Some(until)) if now_ms >= until => DateState::Past,
        (_, Some(span), Some(until)) if now_ms >= until.saturating_sub(span / 10) => {
            DateState::Soon
        }
        (_, Some(_), Some(_)) => DateState::In,
        _ => DateState::NotSet,
    };
    Some(InDate {
        slug: procedure.slug().to_owned(),
        title: procedure.title().to_owned(),
        last_at_ms,
        until_ms,
        state,
    })
}

/// Lists how a person stands to each procedure that counts for those whom it names, in the procedures' order.
pub fn all_in_date(
    procedures: &[Procedure],
    settings: &Settings,
    past: &[PastRun],
    who: &PersonId,
    now_ms: i64,
) -> Vec<InDate> {
    let of = |procedure| in_date(procedure, settings, past, who, now_ms);
    procedures.iter().filter_map(of).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const DAY: i64 = 86_400_000;

    fn drill() -> Procedure {
        let text = "slug = \"drill\"\ntitle = \"Drill\"\nedition = \"1\"\npurpose = \"p\"\n[[step]]\nid = \"who\"\ndo = \"Name them\"\nkind = \"names\"\ncounts_for = \"60 d\"\n";
        crate::parse("drill.toml", text).expect("a whole procedure")
    }

    fn run(slug: &str, closed_day: Option<i64>, completed: bool, named: &[&str]) -> PastRun {
        PastRun {
            slug: slug.into(),
            started_at_ms: 0,
            closed_at_ms: closed_day.map(|day| day * DAY),
            completed,
            named: named.iter().map(|who| PersonId::new(*who)).collect(),
            items: Vec::new(),
        }
    }

    fn stands(past: &[PastRun], who: &str, now_ms: i64) -> DateState {
        let who = PersonId::new(who);
        let found = in_date(&drill(), &Settings::empty(), past, &who, now_ms);
        found.expect("the drill counts").state
    }

    #[test]
    fn a_person_is_in_date_then_soon_then_past_to_the_millisecond() {
        let past = [run("drill", Some(100), true, &["ana", "ben"])];
        assert_eq!(stands(&past, "ana", 101 * DAY), DateState::In);
        assert_eq!(stands(&past, "ana", 154 * DAY - 1), DateState::In);
        assert_eq!(stands(&past, "ana", 154 * DAY), DateState::Soon);
        assert_eq!(stands(&past, "ana", 160 * DAY - 1), DateState::Soon);
        assert_eq!(stands(&past, "ana", 160 * DAY), DateState::Past);
    }

    #[test]
    fn only_a_completed_run_of_that_procedure_counts_and_only_for_who_is_named() {
        let open = run("drill", None, false, &["ana"]);
        let broken_off = run("drill", Some(100), false, &["ana"]);
        let other = run("other", Some(100), true, &["ana"]);
        let others = run("drill", Some(100), true, &["ben"]);
        let past = [open, broken_off, other, others];
        assert_eq!(stands(&past, "ana", 101 * DAY), DateState::Never);
        assert_eq!(stands(&past, "ben", 101 * DAY), DateState::In);
    }

    #[test]
    fn the_last_of_several_counts_and_clocks_at_their_ends_do_not_overflow() {
        let past = [
            run("drill", Some(300), true, &["ana"]),
            run("drill", Some(100), true, &["ana"]),
        ];
        assert_eq!(stands(&past, "ana", 301 * DAY), DateState::In);
        assert_eq!(stands(&past, "ana", i64::MAX), DateState::Past);
        assert_eq!(stands(&past, "ana", i64::MIN), DateState::In);
    }

    #[test]
    fn a_procedure_that_names_nobody_counts_for_nobody() {
        let text = "slug = \"x\"\ntitle = \"X\"\nedition = \"1\"\npurpose = \"p\"\n[[step]]\nid = \"who\"\ndo = \"Name them\"\nkind = \"names\"\n";
        let free = crate::parse("x.toml", text).expect("a whole procedure");
        assert!(!counts(&free) && counts(&drill()));
        let ana = PersonId::new("ana");
        let all = all_in_date(&[free, drill()], &Settings::empty(), &[], &ana, 0);
        let slugs: Vec<&str> = all.iter().map(|one| one.slug.as_str()).collect();
        assert_eq!(slugs, ["drill"]);
    }

    #[test]
    fn a_time_that_nobody_has_set_is_no_time() {
        let text = "slug = \"drill\"\ntitle = \"Drill\"\nedition = \"1\"\npurpose = \"p\"\n[[step]]\nid = \"who\"\ndo = \"Name them\"\nkind = \"names\"\ncounts_for = \"setting:drill_entry\"\n";
        let drill = crate::parse("drill.toml", text).expect("a whole procedure");
        let past = [run("drill", Some(100), true, &["ana"])];
        let ana = PersonId::new("ana");
        let state = |settings: &Settings| {
            let found = in_date(&drill, settings, &past, &ana, 101 * DAY);
            found.expect("it counts").state
        };
        assert_eq!(state(&Settings::empty()), DateState::NotSet);
        assert_eq!(state(&Settings::defaults()), DateState::In);
    }
}
