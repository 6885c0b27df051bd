//! Reads one step.

use toml::de::DeTable;

use super::fields::Fields;
use super::{ABOARD, FileTable, Notes, Placed, place};
use crate::definition::{Condition, Need, NeedState, OnFault, Skip, Step};
use crate::ids::{Role, StepId};
use crate::kind::{self, Kind};
use crate::places;

pub(super) fn read_step(
    notes: &mut Notes<'_>,
    table: &DeTable<'_>,
    at: usize,
    before: &[Placed],
) -> Option<Step> {
    notes.step = table
        .get("id")
        .and_then(|id| id.get_ref().as_str())
        .map(str::to_owned);
    let mut fields = Fields::new(table, at);
    let id = fields.need_name(notes, "id").map(StepId::new);
    let instruction = fields.need_text(notes, "do");
    let previous = before.last().map(|placed| &placed.step);
    let section = fields
        .text(notes, "section")
        .or_else(|| previous.map(|step| step.section.clone()))
        .unwrap_or_default();
    let why = fields.text(notes, "why").unwrap_or_default();
    let cautions = fields.texts(notes, "cautions").unwrap_or_default();
    let mut file = FileTable {
        notes: &mut *notes,
        fields: &mut fields,
        previous,
    };
    let kind = kind::read(&mut file);
    let is_hold = kind.as_ref().is_some_and(|kind| kind.consent().is_some());
    let on_fault = fields
        .word(notes, "on_fault", ON_FAULT)
        .unwrap_or(OnFault::Officer);
    // What nobody can go past, nobody leaves out, unless the file says so.
    let skip_otherwise = if is_hold || on_fault == OnFault::Stop {
        Skip::Never
    } else {
        Skip::Officer
    };
    let after = fields
        .steps(notes, "after")
        .unwrap_or_else(|| previous.map(|step| step.id.clone()).into_iter().collect());
    let stands_on = fields.steps(notes, "stands_on").unwrap_or_default();
    let needs = read_needs(notes, &mut fields);
    let when = read_conditions(notes, &mut fields);
    let by = fields.word(notes, "by", ABOARD).unwrap_or(Role::Crew);
    let (second, later) = fields.second(notes);
    let other_than = fields.steps(notes, "other_than").unwrap_or_default();
    let good_for = fields.span(notes, "good_for");
    let renewed_by = fields.steps(notes, "renewed_by").unwrap_or_default();
    let skip = fields.word(notes, "skip", SKIP).unwrap_or(skip_otherwise);
    let when_stopped = fields.yes_or_no(notes, "when_stopped");
    let gear = fields.texts(notes, "gear").unwrap_or_default();
    let how = fields.texts(notes, "how");
    let uses = fields.texts(notes, "uses");
    let again = fields.yes_or_no(notes, "again");
    let place_number = fields.whole(notes, "place");
    if let Some(number) = place_number
        && notes.slugs.is_some()
        && places::numbered(number).is_none()
    {
        notes.mistake(
            place(table, "place", at),
            format!("'place' names {number}, but the drawn foredeck has no place of that number"),
        );
    }
    // Where the kind cannot be read, nobody knows which other keys it would have taken.
    let kind = kind?;
    if again && (second || good_for.is_some() || on_fault == OnFault::Stop || !may_be_again(&kind))
    {
        notes.mistake(
            place(table, "again", at),
            "'again' is for what is confirmed or chosen: never for what is read, timed, signed by a second or stops the work",
        );
    }
    fields.no_others(notes);
    Some(Step {
        id: id?,
        section,
        instruction: instruction?,
        why,
        cautions,
        kind,
        after,
        stands_on,
        needs,
        when,
        by,
        second,
        other_than,
        good_for,
        renewed_by,
        on_fault,
        skip,
        when_stopped,
        gear,
        how: how.filter(|lines| !lines.is_empty()),
        uses: uses.filter(|gear| !gear.is_empty()),
        again: again.then_some(true),
        place: place_number,
        second_later: later.then_some(true),
    })
}

/// Says whether what was found by a step of this kind can be so still.
fn may_be_again(kind: &Kind) -> bool {
    matches!(kind, Kind::Confirm(_) | Kind::Choice(_))
}

const ON_FAULT: &[(&str, OnFault)] = &[
    ("note", OnFault::Note),
    ("officer", OnFault::Officer),
    ("stop", OnFault::Stop),
];

const SKIP: &[(&str, Skip)] = &[
    ("anyone", Skip::Anyone),
    ("officer", Skip::Officer),
    ("never", Skip::Never),
];

fn read_needs(notes: &mut Notes<'_>, fields: &mut Fields<'_, '_>) -> Vec<Need> {
    let mut needs = Vec::new();
    for (table, at) in fields.tables(notes, "needs") {
        let mut fields = Fields::new(table, at);
        let procedure = fields.need_name(notes, "procedure");
        let none_open = fields.word(notes, "state", &[("none-open", ())]);
        let within = fields.span(notes, "closed_within");
        fields.no_others(notes);
        let state = match (none_open, within) {
            (Some(()), None) => NeedState::NoneOpen,
            (None, Some(span)) => NeedState::ClosedWithin(span),
            _ => {
                notes.mistake(
                    at,
                    "'needs' takes either state = \"none-open\" or closed_within = \"…\"",
                );
                continue;
            }
        };
        if let Some(procedure) = procedure {
            let at = place(table, "procedure", at);
            notes.check_slug(at, "needs", &procedure);
            needs.push(Need { procedure, state });
        }
    }
    needs
}

fn read_conditions(notes: &mut Notes<'_>, fields: &mut Fields<'_, '_>) -> Vec<Condition> {
    let mut conditions = Vec::new();
    for (table, at) in fields.tables(notes, "when") {
        let mut fields = Fields::new(table, at);
        let choice = fields.text(notes, "choice");
        if let Some(choice) = choice {
            if let Some(is) = fields.texts(notes, "is") {
                conditions.push(Condition::Chosen { choice, is });
            } else if !table.contains_key("is") {
                notes.mistake(at, "'when' needs 'is', a list");
            }
        } else if let Some(setting) = fields.text(notes, "setting") {
            notes.check_setting(place(table, "setting", at), "when", &setting);
            if let Some(is) = fields.numbers(notes, "is") {
                conditions.push(Condition::Setting { setting, is });
            } else if !table.contains_key("is") {
                notes.mistake(at, "'when' needs 'is', a list");
            }
        } else if let Some(kind) = fields.need_kind(notes, "gear") {
            let has = !table.contains_key("has") || fields.yes_or_no(notes, "has");
            conditions.push(Condition::Gear { kind, has });
        } else if !table.contains_key("gear") {
            notes.mistake(
                at,
                "'when' names either a choice, a setting or a kind of gear",
            );
        }
        fields.no_others(notes);
    }
    conditions
}
