//! Reads one step.

use toml::de::DeTable;

use super::fields::Fields;
use super::{ABOARD, Notes, Placed, place};
use crate::definition::{
    ChoiceOption, Condition, Kind, Need, NeedState, OnFault, Point, Skip, Step, Watch, Way,
};
use crate::ids::{Role, StepId};

const KINDS: &[(&str, &str)] = &[
    ("confirm", "confirm"),
    ("reading", "reading"),
    ("choice", "choice"),
    ("count", "count"),
    ("position", "position"),
    ("text", "text"),
    ("photo", "photo"),
    ("hold", "hold"),
    ("wait", "wait"),
    ("log", "log"),
    ("people", "people"),
];

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
    let kind = if table.contains_key("kind") {
        fields.word(notes, "kind", KINDS)
    } else {
        Some("confirm")
    };
    let kind = kind.and_then(|name| read_kind(notes, &mut fields, table, at, name, previous));
    let is_hold = matches!(kind, Some(Kind::Hold { .. }));
    let on_fault = fields
        .word(notes, "on_fault", ON_FAULT)
        .unwrap_or(OnFault::Officer);
    // What nobody can go past, nobody leaves out, unless the file says so.
    let skip_otherwise = if is_hold || on_fault == OnFault::Stop {
        Skip::Never
    } else {
        Skip::Officer
    };
    let step = Step {
        id: id.clone().unwrap_or_else(|| StepId::new("")),
        section,
        instruction: instruction.clone().unwrap_or_default(),
        why,
        cautions,
        kind: kind.clone().unwrap_or(Kind::Confirm),
        after: fields
            .steps(notes, "after")
            .unwrap_or_else(|| previous.map(|step| step.id.clone()).into_iter().collect()),
        stands_on: fields.steps(notes, "stands_on").unwrap_or_default(),
        needs: read_needs(notes, &mut fields),
        when: read_conditions(notes, &mut fields),
        by: fields.word(notes, "by", ABOARD).unwrap_or(Role::Crew),
        second: fields.yes_or_no(notes, "second"),
        other_than: fields.steps(notes, "other_than").unwrap_or_default(),
        good_for: fields.span(notes, "good_for"),
        renewed_by: fields.steps(notes, "renewed_by").unwrap_or_default(),
        on_fault,
        skip: fields.word(notes, "skip", SKIP).unwrap_or(skip_otherwise),
        when_stopped: fields.yes_or_no(notes, "when_stopped"),
        gear: fields.texts(notes, "gear").unwrap_or_default(),
    };
    if kind.is_some() {
        fields.no_others(notes);
    }
    (id.is_some() && instruction.is_some() && kind.is_some()).then_some(step)
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

fn read_kind(
    notes: &mut Notes<'_>,
    fields: &mut Fields<'_, '_>,
    table: &DeTable<'_>,
    at: usize,
    name: &str,
    previous: Option<&Step>,
) -> Option<Kind> {
    Some(match name {
        "reading" => {
            let points = read_points(notes, fields);
            if points.is_empty() {
                notes.mistake(at, "a reading needs at least one [[step.point]]");
            }
            Kind::Reading { points }
        }
        "choice" => Kind::Choice {
            options: read_options(notes, fields, at),
        },
        "count" => Kind::Count {
            of: fields.need_text(notes, "of")?,
            limits: fields.limits(notes),
            same_as: fields.text(notes, "same_as").map(StepId::new),
        },
        "position" => Kind::Position,
        "text" => Kind::Text,
        "photo" => Kind::Photo,
        "hold" => {
            let consent = fields.word(notes, "consent", &ABOARD[1..]);
            if !table.contains_key("consent") {
                notes.mistake(at, "a hold needs 'consent': \"officer\" or \"master\"");
            }
            let network_only = fields.yes_or_no(notes, "network_only");
            Kind::Hold {
                consent: consent?,
                radio: !network_only,
            }
        }
        "wait" => {
            let span = fields.span(notes, "for");
            if !table.contains_key("for") {
                notes.mistake(at, "a wait needs 'for', such as \"10 min\"");
            }
            let from = fields.text(notes, "from").map(StepId::new);
            let from = from.or_else(|| previous.map(|step| step.id.clone()));
            if from.is_none() {
                notes.mistake(at, "a wait needs a step before it to count from");
            }
            Kind::Wait {
                span: span?,
                from: from?,
            }
        }
        "log" => Kind::Log {
            every: fields.span(notes, "every"),
            cable: fields.word(notes, "cable", &[("out", Way::Out), ("home", Way::Home)]),
            points: read_points(notes, fields),
            newest_counts: fields.yes_or_no(notes, "newest_counts").then_some(true),
        },
        "people" => Kind::People {
            call_every: fields.span(notes, "call_every"),
            at_least: fields.whole(notes, "at_least").unwrap_or(1),
            watch: read_watch(notes, fields),
        },
        _ => Kind::Confirm,
    })
}

/// Reads how people inside are watched over; none where the file says nothing of it.
fn read_watch(notes: &mut Notes<'_>, fields: &mut Fields<'_, '_>) -> Option<Watch> {
    let watch = Watch {
        attendant: fields.yes_or_no(notes, "attendant"),
        points: read_points(notes, fields),
    };
    (watch != Watch::default()).then_some(watch)
}

fn read_points(notes: &mut Notes<'_>, fields: &mut Fields<'_, '_>) -> Vec<Point> {
    let mut points: Vec<Point> = Vec::new();
    for (table, at) in fields.tables(notes, "point") {
        let mut fields = Fields::new(table, at);
        let key = fields.need_name(notes, "key");
        let label = fields.need_text(notes, "label");
        let unit = fields.text(notes, "unit").unwrap_or_default();
        let limits = fields.limits(notes);
        fields.no_others(notes);
        let (Some(key), Some(label)) = (key, label) else {
            continue;
        };
        if points.iter().any(|point| point.key == key) {
            notes.mistake(
                place(table, "key", at),
                format!("two points have the key \"{key}\""),
            );
        }
        points.push(Point {
            key,
            label,
            unit,
            limits,
        });
    }
    points
}

fn read_options(
    notes: &mut Notes<'_>,
    fields: &mut Fields<'_, '_>,
    at: usize,
) -> Vec<ChoiceOption> {
    let mut options: Vec<ChoiceOption> = Vec::new();
    for (table, at) in fields.tables(notes, "option") {
        let mut fields = Fields::new(table, at);
        let key = fields.need_name(notes, "key");
        let label = fields.need_text(notes, "label");
        let bad = fields.yes_or_no(notes, "bad");
        fields.no_others(notes);
        let (Some(key), Some(label)) = (key, label) else {
            continue;
        };
        if options.iter().any(|option| option.key == key) {
            notes.mistake(
                place(table, "key", at),
                format!("two options have the key \"{key}\""),
            );
        }
        options.push(ChoiceOption { key, label, bad });
    }
    if options.len() < 2 {
        notes.mistake(at, "a choice needs at least two [[step.option]]");
    }
    options
}

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
        } else {
            notes.mistake(at, "'when' names either a choice or a setting");
        }
        fields.no_others(notes);
    }
    conditions
}
