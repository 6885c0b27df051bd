//! Defects: raised by "not so", and open until they are handed over and closed.

use crate::crew::Crew;
use crate::definition::Procedure;
use crate::event::{DefectChange, Event, RecordedEvent};
use crate::history::History;
use crate::ids::Role;
use crate::view::{DefectLine, DefectView};
use crate::words;

/// Lists the defects that some runs raised, with what became of each.
///
/// `events` may come from any number of runs, in any order and with repetitions; `procedures` are those that
/// the runs work, and say which gear a step touches; `crew` says what people are called.
pub fn defects(
    procedures: &[&Procedure],
    events: &[RecordedEvent],
    crew: &Crew,
) -> Vec<DefectView> {
    let history = History::of(events);
    let mut found = Vec::new();
    for (i, stamped) in history.events.iter().enumerate() {
        let Event::NotSo {
            step,
            severity,
            text,
            photo,
            terms,
        } = &stamped.event
        else {
            continue;
        };
        if !stamped.roles.may_act_as(Role::Crew) || struck(&history, i) {
            continue;
        }
        let mut homes = procedures.iter().filter_map(|p| Some((*p, p.step(step)?)));
        let home = homes.next();
        let mut defect = DefectView {
            id: stamped.id,
            slug: home.map_or_else(String::new, |(procedure, _)| procedure.slug().to_owned()),
            step: step.clone(),
            gear: home.map(|(_, step)| step.gear.clone()).unwrap_or_default(),
            severity: *severity,
            text: text.clone(),
            photo: *photo,
            by: stamped.person.clone(),
            at_ms: stamped.at_ms,
            open: true,
            item: terms.as_ref().and_then(|terms| terms.item.clone()),
            due: terms.as_ref().and_then(|terms| terms.due),
            due_holds: stamped.roles.may_act_as(Role::Master)
                && terms.as_ref().is_some_and(|terms| terms.due.is_some()),
            handed_to: terms.as_ref().and_then(|terms| terms.owner.clone()),
            accepted_until_ms: None,
            restriction: None,
            restricted_until_ms: None,
            history: vec![DefectLine {
                by: stamped.person.clone(),
                at_ms: stamped.at_ms,
                words: words::event(&stamped.event, None, crew),
            }],
        };
        for later in &history.events {
            change(&mut defect, later, crew);
        }
        found.push(defect);
    }
    found
}

fn struck(history: &History, target: usize) -> bool {
    let stamped = &history.events[target];
    history
        .events
        .iter()
        .enumerate()
        .any(|(i, later)| match &later.event {
            Event::StrikeOut { event, .. } => {
                let may = later.person == stamped.person && later.roles.may_act_as(Role::Crew)
                    || later.roles.may_act_as(Role::Officer);
                *event == stamped.id && may && history.had_seen(i, target)
            }
            _ => false,
        })
}

fn change(defect: &mut DefectView, later: &RecordedEvent, crew: &Crew) {
    let Event::Defect {
        defect: id,
        change,
        text,
    } = &later.event
    else {
        return;
    };
    let needed = match change {
        DefectChange::Noted | DefectChange::HandedOver { .. } => Role::Crew,
        DefectChange::Accepted { .. } | DefectChange::Closed | DefectChange::Due { .. } => {
            Role::Officer
        }
    };
    if *id != defect.id || !later.roles.may_act_as(needed) {
        return;
    }
    match change {
        DefectChange::Noted => {}
        DefectChange::HandedOver { to } => defect.handed_to = Some(to.clone()),
        DefectChange::Accepted { until_ms } => {
            defect.accepted_until_ms = Some(*until_ms);
            if later.roles.may_act_as(Role::Master) {
                defect.restriction = Some(text.clone());
                defect.restricted_until_ms = Some(*until_ms);
            }
        }
        DefectChange::Closed => defect.open = false,
        DefectChange::Due { due } => {
            defect.due = Some(*due);
            defect.due_holds = later.roles.may_act_as(Role::Master);
        }
    }
    let what = words::defect_change(change, crew);
    let words = if text.trim().is_empty() {
        what
    } else {
        format!("{what}: {text}")
    };
    defect.history.push(DefectLine {
        by: later.person.clone(),
        at_ms: later.at_ms,
        words,
    });
}
