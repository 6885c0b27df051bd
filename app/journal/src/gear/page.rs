//! What the pages of the ship's gear show.

use super::wear::{Wear, wear};
use crate::body::Person;
use crate::catalogue::DefectRow;
use crate::ledger::Ledger;
use procedure::gear::{
    DateKind, Day, GearChange, GearKind, ItemCard, ItemFile, LineChange, NotUsable, Service,
};
use serde::{Deserialize, Serialize};

/// One item in the list.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct GearRow {
    /// Its code.
    pub code: String,
    /// What it is.
    pub card: ItemCard,
    /// What its kind is called.
    pub kind_name: String,
    /// How far it may be used.
    pub service: Service,
    /// Why it may not be used today, when it is in service and yet may not.
    pub not_usable: Option<String>,
    /// The end that comes first, and in how many days.
    pub first_end: Option<(DateKind, Day, i64)>,
    /// Open defects of it.
    pub defects: usize,
    /// Somebody else put an item on under its code, which is not on the register.
    pub clashes: Vec<String>,
}

/// The ship's gear.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct GearPage {
    /// The ship's name.
    pub ship: String,
    /// Her items, by kind and name.
    pub rows: Vec<GearRow>,
    /// The kinds that there are.
    pub kinds: Vec<GearKind>,
    /// When they were looked at, ms UTC.
    pub now_ms: i64,
}

/// One line of an item's history.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ItemLine {
    /// Who.
    pub by: String,
    /// When, ms UTC.
    pub at_ms: i64,
    /// What.
    pub what: LineWhat,
    /// Why.
    pub reason: String,
}

/// What a line of an item's history says.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", tag = "is", content = "words")]
pub enum LineWhat {
    /// It was put on.
    PutOn,
    /// What stands of it was changed.
    Changed,
    /// The settings described it.
    Described,
    /// It was restricted.
    Restricted(String),
    /// It was restricted by somebody whose word does not put it back to work.
    NotMasters(String),
    /// It was taken out of service.
    OutOfService,
    /// It was put back.
    PutBack,
    /// It was taken off.
    TakenOff,
    /// Another item was put on under its code.
    Clash(String),
}

/// One item with everything about it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ItemPage {
    /// The item.
    pub row: GearRow,
    /// Its kind, where it is known.
    pub kind: Option<GearKind>,
    /// What became of it, newest first.
    pub lines: Vec<ItemLine>,
    /// What stands under it: code and name.
    pub beneath: Vec<(String, String)>,
    /// What it stands under.
    pub above: Option<(String, String)>,
    /// Its defects, the newest first.
    pub defects: Vec<DefectRow>,
    /// The crew, for names.
    pub crew: Vec<Person>,
    /// The codes and names of other items that it can stand under.
    pub others: Vec<(String, String)>,
    /// How it wears.
    #[serde(default)]
    pub wear: Vec<Wear>,
    /// When it was looked at, ms UTC.
    pub now_ms: i64,
}

fn row(ledger: &Ledger, file: &ItemFile, today: Day, defects: usize) -> GearRow {
    let register = ledger.register();
    let state = file.now();
    let not_usable = register.not_usable(state, today);
    // What the service says stands beside it anyway.
    let not_usable = not_usable
        .filter(|why| !matches!(why, NotUsable::Off | NotUsable::OutOfService(_)))
        .map(|why| why.to_string());
    let first_end = state.first_end();
    GearRow {
        code: file.code.clone(),
        kind_name: register.kind_name(&state.card.kind).to_owned(),
        card: state.card.clone(),
        service: state.service.clone(),
        not_usable,
        first_end: first_end.and_then(|(date, day)| Some((date, day, day.days_after(today)?))),
        defects,
        clashes: file.clashes().map(|card| card.name.clone()).collect(),
    }
}

/// Makes the page of the ship's gear.
pub fn gear_page(ledger: &Ledger, now_ms: i64) -> GearPage {
    let register = ledger.register();
    let today = Day::of_ms(now_ms);
    let open: Vec<String> = ledger
        .defects()
        .into_iter()
        .filter(|(_, defect)| defect.open)
        .filter_map(|(_, defect)| defect.item)
        .collect();
    let mut rows: Vec<GearRow> = register
        .items()
        .map(|file| {
            let defects = open.iter().filter(|item| **item == file.code).count();
            row(ledger, file, today, defects)
        })
        .collect();
    let order = |row: &GearRow| {
        let mut kinds = register.kinds();
        kinds.position(|kind| kind.key == row.card.kind)
    };
    rows.sort_by_cached_key(|row| {
        let at = order(row).unwrap_or(usize::MAX);
        (at, row.card.side, row.card.name.clone(), row.code.clone())
    });
    GearPage {
        ship: ledger
            .particulars()
            .map(|body| body.name.clone())
            .unwrap_or_default(),
        rows,
        kinds: register.kinds().cloned().collect(),
        now_ms,
    }
}

fn what(change: &LineChange) -> LineWhat {
    match change {
        LineChange::Gear(change) => match change {
            GearChange::PutOn { .. } => LineWhat::PutOn,
            GearChange::Changed { .. } => LineWhat::Changed,
            GearChange::Restricted { words } => LineWhat::Restricted(words.clone()),
            GearChange::OutOfService => LineWhat::OutOfService,
            GearChange::PutBack => LineWhat::PutBack,
            GearChange::TakenOff => LineWhat::TakenOff,
        },
        LineChange::Described => LineWhat::Described,
        LineChange::Clash(card) => LineWhat::Clash(card.name.clone()),
        LineChange::NotMasters(words) => LineWhat::NotMasters(words.clone()),
    }
}

/// Makes an item's page; `None` where no item of that code is, or ever was, on the register.
pub fn item_page(ledger: &Ledger, code: &str, now_ms: i64) -> Option<ItemPage> {
    let register = ledger.register();
    let file = register.item(code)?;
    let all = crate::catalogue::defects_page(ledger, now_ms);
    let of_item = |row: &DefectRow| row.defect.item.as_deref() == Some(&file.code);
    let defects: Vec<DefectRow> = all.defects.into_iter().filter(of_item).collect();
    let open = defects.iter().filter(|row| row.defect.open).count();
    let state = file.now();
    let named = |file: &ItemFile| (file.code.clone(), file.now().card.name.clone());
    let others = register.items().filter(|other| other.code != file.code);
    let above = state.card.under.as_ref();
    let lines = file.lines.iter().rev().map(|line| ItemLine {
        by: ledger.name_of(line.by.as_str()).to_owned(),
        at_ms: line.at_ms,
        what: what(&line.change),
        reason: line.reason.clone(),
    });
    Some(ItemPage {
        row: row(ledger, file, Day::of_ms(now_ms), open),
        kind: register.kind(&state.card.kind).cloned(),
        lines: lines.collect(),
        beneath: register
            .items()
            .filter(|other| other.now().card.under.as_deref() == Some(&file.code))
            .map(named)
            .collect(),
        above: above.and_then(|code| register.item(code)).map(named),
        defects,
        crew: all.crew,
        others: others.map(named).collect(),
        wear: wear(file, register.kind(&state.card.kind), &ledger.settings()),
        now_ms,
    })
}
