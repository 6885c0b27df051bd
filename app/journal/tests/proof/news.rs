//! News of a board: what has changed makes the same board, and a tick is little.

use crate::aboard::Aboard;
use crate::order::{Deed, deed, play};
use journal::board::{self, BoardNews, CLOSED_SHOWN, OPEN_SHOWN};
use journal::{Board, Body, Ledger};
use procedure::{Event, LogEntry, Outcome};
use proptest::prelude::*;
use std::collections::BTreeMap;

fn board_of(ledger: &Ledger, now_ms: i64) -> Board {
    board::board(ledger, &BTreeMap::new(), now_ms)
}

/// News as they travel.
fn sent(news: BoardNews) -> Vec<String> {
    let parts = news.into_parts().into_iter();
    parts
        .map(|part| serde_json::to_string(&part).expect("plain values"))
        .collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    #[test]
    fn news_of_a_board_make_that_board_of_the_one_before(
        deeds in prop::collection::vec(deed(), 0..24),
        cut in 0..24_usize,
    ) {
        let early = play(&deeds[..cut.min(deeds.len())]);
        let late = play(&deeds);
        let before = board_of(early.ledger(1), early.now_ms);
        let now = board_of(late.ledger(1), late.now_ms + 600_000);
        let parts = sent(BoardNews::between(&before, &now));
        let made = BoardNews::read(&parts, Some(before));
        prop_assert_eq!(made.as_ref(), Some(&now));
        let parts = sent(BoardNews::whole(&now));
        prop_assert_eq!(BoardNews::read(&parts, None), Some(now));
        for (place, part) in parts.iter().enumerate() {
            // The page knows the last part by its end, and does not read the others for it.
            let has_more = part.ends_with(r#""has_more":true}"#);
            prop_assert_eq!(has_more, place + 1 < parts.len());
        }
    }
}

fn ticked(step: &str) -> Body {
    Body::Run(Box::new(Event::Done {
        step: step.into(),
        outcome: Outcome::Confirmed,
    }))
}

#[test]
fn a_tick_sends_one_step_of_one_run_of_twenty() {
    let mut aboard = Aboard::mustered();
    let runs: Vec<_> = (0..20).map(|_| aboard.starts(0, "anchors-ready")).collect();
    let before = board_of(aboard.ledger(0), aboard.now_ms);
    assert_eq!((before.open.len(), before.open_more), (20, 0));
    aboard.says(0, Some(runs[7]), ticked("protection"));
    let now = board_of(aboard.ledger(0), aboard.now_ms);
    let news = BoardNews::between(&before, &now);
    assert_eq!(news.cards.len(), 1);
    assert_eq!(news.cards[0].card.run, runs[7]);
    assert!(
        news.cards[0].changed.len() <= 3,
        "{:?}",
        news.cards[0].changed
    );
    assert_eq!(news.cards[0].history.len(), 1);
    let whole = serde_json::to_string(&now).expect("plain values").len();
    let parts = sent(news);
    let bytes: usize = parts.iter().map(String::len).sum();
    assert!(bytes < 16_000, "{bytes} bytes of {whole}");
    assert_eq!(BoardNews::read(&parts, Some(before)), Some(now));
}

#[test]
fn news_that_build_on_another_board_are_refused() {
    let mut aboard = Aboard::mustered();
    let run = aboard.starts(0, "anchors-ready");
    let first = board_of(aboard.ledger(0), aboard.now_ms);
    aboard.says(0, Some(run), ticked("protection"));
    let second = board_of(aboard.ledger(0), aboard.now_ms);
    aboard.says(0, Some(run), ticked("protection"));
    let third = board_of(aboard.ledger(0), aboard.now_ms);
    let news = BoardNews::between(&second, &third);
    assert!(news.clone().apply(Some(second)).is_ok());
    assert!(
        news.clone().apply(Some(first)).is_err(),
        "a line is missing"
    );
    assert!(news.apply(None).is_err(), "there is no board");
}

#[test]
fn a_board_of_a_thousand_open_runs_shows_those_that_matter_and_says_how_many_more_there_are() {
    let mut aboard = Aboard::mustered();
    let stopped = aboard.starts(2, "anchors-ready");
    let stop = Event::Stop {
        cause: "man in the way".to_owned(),
    };
    aboard.says(2, Some(stopped), Body::Run(Box::new(stop)));
    for _ in 0..OPEN_SHOWN + 9 {
        aboard.starts(2, "windlass-weekly");
    }
    let board = board_of(aboard.ledger(2), aboard.now_ms);
    assert_eq!((board.open.len(), board.open_more), (OPEN_SHOWN, 10));
    assert_eq!(board.vessel.open_runs, OPEN_SHOWN + 10);
    let mut shown = board.open.iter().map(|card| card.run);
    assert!(shown.any(|run| run == stopped), "a stop is never left out");
    assert!(board.closed.len() <= CLOSED_SHOWN);
}

#[test]
fn a_card_and_a_page_carry_the_newest_entries_and_say_how_many_are_earlier() {
    let mut aboard = Aboard::mustered();
    let run = aboard.starts(0, "at-anchor");
    for number in 0..120 {
        let entry = LogEntry {
            remark: Some(format!("entry {number}")),
            ..LogEntry::default()
        };
        let log = Event::Log {
            step: "watch".into(),
            entry,
        };
        aboard.says(0, Some(run), Body::Run(Box::new(log)));
    }
    let board = board_of(aboard.ledger(0), aboard.now_ms);
    let card = &board.open[0];
    assert_eq!(card.view.history.len() + card.earlier, 121);
    assert!(card.view.history.len() < 60, "{}", card.view.history.len());
    let newest = card.view.history.last().expect("the newest");
    assert!(newest.words.contains("entry 119"), "{}", newest.words);
    let watch = card
        .view
        .steps
        .iter()
        .find(|step| step.id == "watch".into());
    assert!(watch.expect("the log").log.len() < 60);
    let most = 50;
    let page = board::whole_run_page(aboard.ledger(0), run, aboard.now_ms, most);
    let page = page.expect("it is here");
    assert_eq!((page.records.len(), page.earlier), (most, 121 - most));
    assert!(page.records.last().expect("one").says.contains("entry 119"));
}

#[test]
fn a_vessels_page_shows_some_runs_and_the_next_page_those_before_them() {
    let mut aboard = Aboard::mustered();
    let all: Vec<_> = (0..board::RUNS_SHOWN + 5)
        .map(|_| aboard.starts(0, "windlass-weekly"))
        .collect();
    let first = board::vessel_page(aboard.ledger(0), aboard.now_ms);
    assert_eq!((first.runs.len(), first.earlier), (board::RUNS_SHOWN, 5));
    assert_eq!(Some(&first.runs[0].run), all.last());
    let last = first.runs.last().map(|card| card.run);
    let second = board::vessel_page_before(aboard.ledger(0), last, aboard.now_ms);
    assert_eq!((second.runs.len(), second.earlier), (5, 0));
    assert_eq!(second.runs.last().map(|card| card.run), Some(all[0]));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    #[test]
    fn a_strip_says_of_each_step_what_the_runs_own_page_says_in_less(
        deeds in prop::collection::vec(deed(), 1..24),
    ) {
        let aboard = play(&deeds);
        let (ledger, now_ms) = (aboard.ledger(1), aboard.now_ms);
        for strip in board::vessel_page(ledger, now_ms).runs {
            let whole = board::run_page(ledger, strip.run, now_ms).expect("it is here").card;
            let said = |card: &board::RunCard| -> Vec<_> {
                let steps = card.view.steps.iter().cloned();
                let values = |step: &procedure::StepView| -> Vec<_> {
                    let points = step.points.iter();
                    points.filter_map(|point| Some((point.value?, point.unit.clone()))).collect()
                };
                steps.map(|step| {
                    let values = values(&step);
                    (step.instruction, step.status, step.by, step.at_ms, step.spent, step.event, values)
                }).collect()
            };
            prop_assert_eq!(said(&strip), said(&whole));
            prop_assert_eq!(&strip.view.closed, &whole.view.closed);
            prop_assert_eq!(&strip.view.defects, &whole.view.defects);
            let bytes = |card: &board::RunCard| serde_json::to_string(card).expect("plain values").len();
            prop_assert!(bytes(&strip) * 3 < bytes(&whole) * 2);
        }
    }
}

#[test]
fn nothing_new_is_no_news() {
    let aboard = play(&[] as &[Deed]);
    let board = board_of(aboard.ledger(1), aboard.now_ms);
    assert!(BoardNews::between(&board, &board).is_empty());
}
