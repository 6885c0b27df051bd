//! What has changed on a board since the one before: what travels when somebody ticks a step.

use super::{Board, DeviceCard, PlanCard, RunCard, VesselCard};
use crate::body::Person;
use crate::ledger::RunId;
use procedure::{HistoryLine, StepView};
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// More steps than any procedure has.
const MOST_STEPS: usize = 10_000;

/// The parts of a board that are not what they were; what is none is as it was.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct BoardNews {
    /// When the board was made, ms UTC by the server's clock.
    pub now_ms: i64,
    /// The vessel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vessel: Option<VesselCard>,
    /// Which runs are shown as under way, in their order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub open: Option<Vec<RunId>>,
    /// Which runs are shown as closed, in their order.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed: Option<Vec<RunId>>,
    /// The runs that have changed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub cards: Vec<CardNews>,
    /// The devices.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub devices: Option<Vec<DeviceCard>>,
    /// The crew.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub crew: Option<Vec<Person>>,
    /// The plans.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plans: Option<Vec<PlanCard>>,
    /// What is wrong with the ship's roll.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log: Option<Vec<crate::log::Trouble>>,
    /// What is wrong with the server.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub server: Option<Vec<crate::server_trouble::ServerTrouble>>,
    /// How many more runs are under way than are shown.
    #[serde(default)]
    pub open_more: usize,
    /// More of these news follows, and only with that do they make a board.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub has_more: bool,
}

/// What has changed of a run.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CardNews {
    /// The run, without the steps and the history.
    pub card: RunCard,
    /// How many steps it has.
    pub steps: usize,
    /// The steps that have changed, with their places from 0.
    pub changed: Vec<(usize, StepView)>,
    /// How many lines at the beginning of the history are gone.
    pub dropped: usize,
    /// How many after those are as they were.
    pub kept: usize,
    /// The lines after those.
    pub history: Vec<HistoryLine>,
}

/// The news do not follow on the board that is here: a whole one is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("these news are of a later board")]
pub struct Behind;

fn other<T: PartialEq + Clone>(before: &T, now: &T) -> Option<T> {
    (before != now).then(|| now.clone())
}

fn names(cards: &[RunCard]) -> Vec<RunId> {
    cards.iter().map(|card| card.run).collect()
}

impl BoardNews {
    /// Returns what is otherwise on `now` than on `before`.
    pub fn between(before: &Board, now: &Board) -> Self {
        let known: BTreeMap<RunId, &RunCard> = cards(before).map(|card| (card.run, card)).collect();
        let news = |card: &RunCard| CardNews::between(known.get(&card.run).copied(), card);
        Self {
            now_ms: now.now_ms,
            vessel: other(&before.vessel, &now.vessel),
            open: other(&names(&before.open), &names(&now.open)),
            closed: other(&names(&before.closed), &names(&now.closed)),
            cards: cards(now).filter_map(news).collect(),
            devices: other(&before.devices, &now.devices),
            crew: other(&before.crew, &now.crew),
            plans: other(&before.plans, &now.plans),
            log: other(&before.log, &now.log),
            server: other(&before.server, &now.server),
            open_more: now.open_more,
            has_more: false,
        }
    }

    /// Returns everything of a board, for who has none.
    pub fn whole(now: &Board) -> Self {
        Self {
            now_ms: now.now_ms,
            vessel: Some(now.vessel.clone()),
            open: Some(names(&now.open)),
            closed: Some(names(&now.closed)),
            cards: cards(now)
                .filter_map(|card| CardNews::between(None, card))
                .collect(),
            devices: Some(now.devices.clone()),
            crew: Some(now.crew.clone()),
            plans: Some(now.plans.clone()),
            log: Some(now.log.clone()),
            server: Some(now.server.clone()),
            open_more: now.open_more,
            has_more: false,
        }
    }

    /// Returns `true` if nothing but the time is otherwise.
    pub fn is_empty(&self) -> bool {
        let bare = Self {
            now_ms: self.now_ms,
            open_more: self.open_more,
            ..Self::default()
        };
        *self == bare
    }

    /// Cuts the news into parts that each carry one run at most; all but the last say that more follows.
    pub fn into_parts(mut self) -> Vec<Self> {
        let mut cards = std::mem::take(&mut self.cards);
        self.cards.extend(cards.pop());
        let (now_ms, open_more) = (self.now_ms, self.open_more);
        let before = cards.into_iter().map(|card| Self {
            now_ms,
            open_more,
            cards: vec![card],
            has_more: true,
            ..Self::default()
        });
        before.chain(std::iter::once(self)).collect()
    }

    /// Makes a board out of the one before and all parts of the news of it, as they travel; `None` where they cannot
    /// be read, or build on another board.
    pub fn read(parts: &[String], before: Option<Board>) -> Option<Board> {
        let mut cards = Vec::new();
        let mut last = None;
        for text in parts {
            let mut part: Self = crate::json::read(text).ok()?;
            cards.append(&mut part.cards);
            last = Some(part);
        }
        let news = Self { cards, ..last? };
        news.apply(before).ok()
    }

    /// Makes the board of these news out of the one before them, or of all there is where there is none.
    ///
    /// # Errors
    /// [`Behind`] if they build on another board.
    pub fn apply(self, board: Option<Board>) -> Result<Board, Behind> {
        let Some(board) = board else {
            return self.apply_to_none();
        };
        let (open, closed) = (names(&board.open), names(&board.closed));
        let all = board.open.into_iter().chain(board.closed);
        let mut known: BTreeMap<RunId, RunCard> = all.map(|card| (card.run, card)).collect();
        for news in self.cards {
            let run = news.card.run;
            let card = news.apply(known.remove(&run))?;
            known.insert(run, card);
        }
        let mut take = |names: Vec<RunId>| -> Result<Vec<RunCard>, Behind> {
            let cards = names
                .into_iter()
                .map(|run| known.remove(&run).ok_or(Behind));
            cards.collect()
        };
        Ok(Board {
            vessel: self.vessel.unwrap_or(board.vessel),
            now_ms: self.now_ms,
            open: take(self.open.unwrap_or(open))?,
            closed: take(self.closed.unwrap_or(closed))?,
            devices: self.devices.unwrap_or(board.devices),
            crew: self.crew.unwrap_or(board.crew),
            plans: self.plans.unwrap_or(board.plans),
            log: self.log.unwrap_or(board.log),
            server: self.server.unwrap_or(board.server),
            open_more: self.open_more,
        })
    }

    fn apply_to_none(self) -> Result<Board, Behind> {
        let whole = Board {
            vessel: self.vessel.clone().ok_or(Behind)?,
            now_ms: self.now_ms,
            open: Vec::new(),
            closed: Vec::new(),
            devices: self.devices.clone().ok_or(Behind)?,
            crew: self.crew.clone().ok_or(Behind)?,
            plans: self.plans.clone().ok_or(Behind)?,
            log: self.log.clone().ok_or(Behind)?,
            server: self.server.clone().ok_or(Behind)?,
            open_more: self.open_more,
        };
        self.apply(Some(whole))
    }
}

impl CardNews {
    fn between(before: Option<&RunCard>, now: &RunCard) -> Option<Self> {
        if before == Some(now) {
            return None;
        }
        let mut card = now.clone();
        let steps = std::mem::take(&mut card.view.steps);
        let history = std::mem::take(&mut card.view.history);
        let before_steps = before.map_or(&[][..], |before| &before.view.steps);
        let before_lines = before.map_or(&[][..], |before| &before.view.history);
        let count = steps.len();
        let is_other = |(place, step): &(usize, StepView)| before_steps.get(*place) != Some(step);
        let changed = steps.into_iter().enumerate().filter(is_other).collect();
        // Lines leave at the beginning and come at the end; where it is otherwise, all are sent.
        let first = history.first();
        let dropped = before_lines.iter().take_while(|line| Some(*line) != first);
        let dropped = dropped.count();
        let left = before_lines[dropped..].iter().zip(&history);
        let kept = left.take_while(|(before, now)| before == now).count();
        Some(Self {
            card,
            steps: count,
            changed,
            dropped,
            kept,
            history: history.into_iter().skip(kept).collect(),
        })
    }

    fn apply(self, before: Option<RunCard>) -> Result<RunCard, Behind> {
        let view = before.map(|card| card.view);
        let (steps, lines) = view.map_or_else(Default::default, |view| (view.steps, view.history));
        let mut card = self.card;
        let mut changed: BTreeMap<usize, StepView> = self.changed.into_iter().collect();
        if self.steps > MOST_STEPS {
            return Err(Behind);
        }
        let mut known = steps.into_iter().map(Some).collect::<Vec<_>>();
        known.resize(self.steps, None);
        let steps = known.into_iter().enumerate();
        let steps = steps.map(|(place, known)| changed.remove(&place).or(known).ok_or(Behind));
        card.view.steps = steps.collect::<Result<_, _>>()?;
        let end = self.dropped.checked_add(self.kept).ok_or(Behind)?;
        let kept = lines.get(self.dropped..end).ok_or(Behind)?;
        card.view.history = kept.iter().cloned().chain(self.history).collect();
        Ok(card)
    }
}

fn cards(board: &Board) -> impl Iterator<Item = &RunCard> {
    board.open.iter().chain(&board.closed)
}
