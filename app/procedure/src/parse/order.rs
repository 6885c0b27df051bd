//! Checks that steps name each other rightly: only earlier ones, so that no order can bite its tail.

use super::{Notes, Placed, StepCheck};
use crate::definition::{Bound, Condition, Point, Step};

/// Checks one step against those before it.
pub(super) fn check(check: &mut StepCheck<'_, '_>) {
    let step = check.step;
    if check.earlier(&step.id).is_some() {
        check.mistake("id", format!("two steps have the id \"{}\"", step.id));
    }
    let lists = [
        ("after", &step.after),
        ("stands_on", &step.stands_on),
        ("other_than", &step.other_than),
    ];
    for (key, names) in lists {
        for name in names {
            check.names_earlier(key, name);
        }
    }
    step.kind.rules().check(check);
    for condition in &step.when {
        check_condition(check, condition);
    }
    check_what_the_kind_takes(check);
    check_readings(check);
    for gear in step.uses() {
        if !step.gear.contains(gear) {
            check.mistake(
                "uses",
                format!("'uses' names \"{gear}\", which 'gear' does not"),
            );
        }
    }
}

/// Checks that a limit which names a reading names one that is taken before: at an earlier step, or at an earlier
/// point of the same.
fn check_readings(check: &mut StepCheck<'_, '_>) {
    let points = check.step.kind.points();
    for (p, point) in points.iter().enumerate() {
        let limits = &point.limits;
        let bounds = [&limits.min, &limits.above, &limits.max, &limits.below];
        let calls = point.calls.iter().flatten().map(|call| &call.from);
        for bound in bounds.into_iter().flatten().chain(calls) {
            let Bound::Read { step, point: key } = bound else {
                continue;
            };
            let has = |points: &[Point]| points.iter().any(|point| point.key == *key);
            let before = |other: &Step| other.kind.answers_by_point() && has(other.kind.points());
            let is_there = if *step == check.step.id {
                check.step.kind.answers_by_point() && has(&points[..p])
            } else {
                check.earlier(step).is_some_and(before)
            };
            if !is_there {
                check.mistake(
                    "point",
                    format!("a limit names the reading \"{step}/{key}\", but nothing of that name is read before"),
                );
            }
        }
    }
}

fn check_condition(check: &mut StepCheck<'_, '_>, condition: &Condition) {
    let Condition::Chosen { choice, is } = condition else {
        return;
    };
    let mut steps = check.before.iter().map(|placed| &placed.step);
    let found = steps.find(|step| step.id.as_str() == choice);
    let options = found.map_or(&[][..], |step| step.kind.options());
    if options.is_empty() {
        check.mistake(
            "when",
            format!("'when' names the choice \"{choice}\", but no earlier step of kind choice has that id"),
        );
        return;
    }
    for name in is {
        if !options.iter().any(|option| option.key == *name) {
            let what = format!("'when' names \"{name}\", which \"{choice}\" does not offer");
            check.mistake("when", what);
        }
    }
}

/// Checks that a second signs later only where waiting cannot hurt: a list of people inside is kept by those who are
/// there, and a result that expires is relied on from the first minute.
fn check_later(check: &mut StepCheck<'_, '_>) {
    let step = check.step;
    let is_people = step.kind.rules().people().is_some();
    if step.second_may_be_later() && (is_people || step.good_for.is_some()) {
        check.mistake(
            "second",
            "a second signs later only where nobody is inside and the result does not expire",
        );
    }
}

/// Checks that a step has nothing that has no sense for its kind.
fn check_what_the_kind_takes(check: &mut StepCheck<'_, '_>) {
    let step = check.step;
    let name = step.kind.name();
    let rules = step.kind.rules();
    if step.second && (rules.consent().is_some() || rules.keeps_time()) {
        check.mistake(
            "second",
            format!("a {name} takes no second person's signature"),
        );
    }
    check_later(check);
    if step.good_for.is_some() && rules.keeps_time() {
        check.mistake(
            "good_for",
            format!("a {name} has no result that could go stale"),
        );
    }
    if !step.renewed_by.is_empty() && !rules.answered_by_point() {
        check.mistake(
            "renewed_by",
            format!("a {name} cannot be renewed; only a reading can"),
        );
    }
    if !step.renewed_by.is_empty() && step.good_for.is_none() {
        check.mistake("renewed_by", "'renewed_by' has no sense without 'good_for'");
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
