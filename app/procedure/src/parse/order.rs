//! Checks that steps name each other rightly: only earlier ones, so that no order can bite its tail.

use toml::de::DeTable;

use super::{Notes, Placed, place};
use crate::definition::{Condition, Kind, Skip, Step};
use crate::ids::StepId;

/// Checks one step against those before it.
pub(super) fn check(
    notes: &mut Notes<'_>,
    step: &Step,
    table: &DeTable<'_>,
    at: usize,
    before: &[Placed],
) {
    if before.iter().any(|placed| placed.step.id == step.id) {
        notes.mistake(
            place(table, "id", at),
            format!("two steps have the id \"{}\"", step.id),
        );
    }
    let lists = [
        ("after", &step.after),
        ("stands_on", &step.stands_on),
        ("other_than", &step.other_than),
    ];
    for (key, names) in lists {
        for name in names {
            earlier(notes, key, name, place(table, key, at), before);
        }
    }
    match &step.kind {
        Kind::Wait { from, .. } => earlier(notes, "from", from, place(table, "from", at), before),
        Kind::Count {
            same_as: Some(other),
            ..
        } => {
            let at = place(table, "same_as", at);
            earlier(notes, "same_as", other, at, before);
            let found = before.iter().find(|placed| placed.step.id == *other);
            if found.is_some_and(|placed| !matches!(placed.step.kind, Kind::Count { .. })) {
                notes.mistake(
                    at,
                    format!("'same_as' names \"{other}\", which is not a count"),
                );
            }
        }
        _ => {}
    }
    for condition in &step.when {
        check_condition(notes, condition, place(table, "when", at), before);
    }
    check_kind(notes, step, table, at);
}

fn earlier(notes: &mut Notes<'_>, key: &str, name: &StepId, at: usize, before: &[Placed]) {
    if !before.iter().any(|placed| placed.step.id == *name) {
        notes.mistake(
            at,
            format!("'{key}' names \"{name}\", but no earlier step has that id"),
        );
    }
}

fn check_condition(notes: &mut Notes<'_>, condition: &Condition, at: usize, before: &[Placed]) {
    let Condition::Chosen { choice, is } = condition else {
        return;
    };
    let found = before
        .iter()
        .find(|placed| placed.step.id.as_str() == choice);
    let Some(Kind::Choice { options }) = found.map(|placed| &placed.step.kind) else {
        notes.mistake(at, format!("'when' names the choice \"{choice}\", but no earlier step of kind choice has that id"));
        return;
    };
    for name in is {
        if !options.iter().any(|option| option.key == *name) {
            notes.mistake(
                at,
                format!("'when' names \"{name}\", which \"{choice}\" does not offer"),
            );
        }
    }
}

/// Checks what a kind cannot have.
fn check_kind(notes: &mut Notes<'_>, step: &Step, table: &DeTable<'_>, at: usize) {
    let name = step.kind.name();
    let is_hold = matches!(step.kind, Kind::Hold { .. });
    let keeps_time = matches!(
        step.kind,
        Kind::Wait { .. } | Kind::Log { .. } | Kind::People { .. }
    );
    if is_hold && step.skip != Skip::Never {
        notes.mistake(
            place(table, "skip", at),
            "a hold can never be left out; take 'skip' away",
        );
    }
    if step.second && (is_hold || keeps_time) {
        notes.mistake(
            place(table, "second", at),
            format!("a {name} takes no second person's signature"),
        );
    }
    if step.good_for.is_some() && keeps_time {
        notes.mistake(
            place(table, "good_for", at),
            format!("a {name} has no result that could go stale"),
        );
    }
    if !step.renewed_by.is_empty() && !matches!(step.kind, Kind::Reading { .. }) {
        notes.mistake(
            place(table, "renewed_by", at),
            format!("a {name} cannot be renewed; only a reading can"),
        );
    }
    if let Kind::Log {
        points,
        newest_counts: Some(true),
        ..
    } = &step.kind
        && points.is_empty()
    {
        notes.mistake(
            place(table, "newest_counts", at),
            "'newest_counts' has no sense without a [[step.point]]",
        );
    }
    if !step.renewed_by.is_empty() && step.good_for.is_none() {
        notes.mistake(
            place(table, "renewed_by", at),
            "'renewed_by' has no sense without 'good_for'",
        );
    }
    if table.contains_key("by") && is_hold {
        notes.mistake(
            place(table, "by", at),
            "a hold names who may pass it with 'consent', not 'by'",
        );
    }
}

/// Checks that a reading is renewed by a reading that reads one of the same points.
pub(super) fn check_renewals(notes: &mut Notes<'_>, steps: &[Placed]) {
    for placed in steps {
        notes.step = Some(placed.step.id.to_string());
        for name in &placed.step.renewed_by {
            let other = steps.iter().find(|other| other.step.id == *name);
            let reads = |step: &Step, key: &str| step.kind.points().iter().any(|p| p.key == key);
            let mut own = placed.step.kind.points().iter();
            let shared = other.is_some_and(|other| own.any(|point| reads(&other.step, &point.key)));
            if !shared {
                notes.mistake(placed.at, format!("'renewed_by' names \"{name}\", but no step of that id reads the same points"));
            }
        }
    }
    notes.step = None;
}
