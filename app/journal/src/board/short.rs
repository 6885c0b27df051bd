//! What is shown of much: the newest of many runs and entries, and how many more there are.

use super::{OPEN_SHOWN, RunCard};
use crate::ledger::{Ledger, RunFile, RunId};
use std::collections::BTreeSet;

/// How many lines of a run's history a board carries, and entries of each of its logs.
pub const BOARD_LINES: usize = 30;

/// Lists the runs under way that a board shows, and how many more there are. Where people are in a space, or the
/// work was stopped, comes first, then what has the newest news.
pub fn open_shown(ledger: &Ledger) -> (Vec<RunId>, usize) {
    let is_open = |file: &&RunFile| file.state.is_some() && file.closed_ms.is_none();
    let runs = ledger.runs().values().filter(is_open);
    let runs = runs.filter(|file| file.past.is_some());
    let mut open: Vec<_> = runs
        .map(|file| {
            (
                !file.is_pressing(),
                std::cmp::Reverse(file.newest_ms),
                file.id,
            )
        })
        .collect();
    open.sort_unstable();
    let more = open.len().saturating_sub(OPEN_SHOWN);
    open.truncate(OPEN_SHOWN);
    (open.into_iter().map(|(.., run)| run).collect(), more)
}

/// Leaves of a run's history the newest lines and those that its steps name, and of each log the newest entries.
pub fn card(mut card: RunCard, lines: usize) -> RunCard {
    let view = &mut card.view;
    let events = view.steps.iter().filter_map(|step| step.event);
    let awaited = view
        .steps
        .iter()
        .filter_map(|step| step.awaiting_countersign.as_ref());
    let named: BTreeSet<[u8; 32]> = events.chain(awaited.map(|consent| consent.event)).collect();
    let all = view.history.len();
    let old = all.saturating_sub(lines);
    let mut place = 0;
    view.history.retain(|line| {
        place += 1;
        place > old || named.contains(&line.id)
    });
    card.earlier = all - view.history.len();
    for step in &mut view.steps {
        let old = step.log.len().saturating_sub(lines);
        step.log.drain(..old);
    }
    card
}

/// Leaves of a run what its strip of chain shows: each step's words, its state, who did it and when, and its values.
/// How a step is done, its cautions and its limits stand on the run's own page.
pub fn strip(card: RunCard) -> RunCard {
    let mut card = self::card(card, 1);
    let view = &mut card.view;
    view.cautions.clear();
    view.questions.clear();
    view.messages.clear();
    view.open_before_close.clear();
    for step in &mut view.steps {
        step.section.clear();
        step.why.clear();
        step.how.clear();
        step.cautions.clear();
        step.words.clear();
        step.options.clear();
        step.items.clear();
        step.log.clear();
        step.defects.clear();
        step.points.retain(|point| point.value.is_some());
        for point in &mut step.points {
            point.label.clear();
            point.limits = procedure::LimitsView::default();
        }
    }
    card
}
