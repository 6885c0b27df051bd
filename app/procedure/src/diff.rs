//! What differs between two procedures, such as a ship's copy and the library's.

use serde::{Deserialize, Serialize};

use crate::definition::{Bound, Condition, Limits, Need, NeedState, Procedure, Span, Step};
use crate::ids::StepId;
use crate::kind::{Kind, LogSide};
use crate::requirement::What;
use crate::words;

/// One difference.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Difference {
    /// The step; none for the procedure as a whole.
    pub step: Option<StepId>,
    /// What sort of difference it is.
    pub change: Change,
}

/// What sort of difference it is, from the first procedure to the second.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Change {
    /// The second has the step and the first has not.
    Added {
        /// What the step says.
        instruction: String,
    },
    /// The first has the step and the second has not.
    Removed {
        /// What the step said.
        instruction: String,
    },
    /// The step stands elsewhere among those that both have.
    Moved,
    /// A part of it says something else.
    Changed {
        /// Which part.
        part: String,
        /// In the first.
        from: String,
        /// In the second.
        to: String,
    },
}

/// Lists what differs from `a` to `b`: the whole first, then step by step in the order of `b`, then what `b` lacks.
pub fn diff(a: &Procedure, b: &Procedure) -> Vec<Difference> {
    let mut all = Vec::new();
    parts(None, &whole(a), &whole(b), &mut all);
    let common = |of: &Procedure, other: &Procedure| -> Vec<StepId> {
        of.steps()
            .iter()
            .filter(|step| other.step(&step.id).is_some())
            .map(|step| step.id.clone())
            .collect()
    };
    let moved = moved(&common(a, b), &common(b, a));
    for step in b.steps() {
        let Some(before) = a.step(&step.id) else {
            let change = Change::Added {
                instruction: step.instruction.clone(),
            };
            all.push(Difference {
                step: Some(step.id.clone()),
                change,
            });
            continue;
        };
        if moved.contains(&step.id) {
            all.push(Difference {
                step: Some(step.id.clone()),
                change: Change::Moved,
            });
        }
        parts(Some(&step.id), &of_step(before), &of_step(step), &mut all);
    }
    for step in a.steps().iter().filter(|step| b.step(&step.id).is_none()) {
        let change = Change::Removed {
            instruction: step.instruction.clone(),
        };
        all.push(Difference {
            step: Some(step.id.clone()),
            change,
        });
    }
    all
}

/// Names the fewest steps whose moving turns one order into the other.
fn moved(a: &[StepId], b: &[StepId]) -> Vec<StepId> {
    // The longest run of steps that both have in the same order stays; the others moved.
    let mut longest: Vec<Vec<usize>> = Vec::with_capacity(b.len());
    let place = |id: &StepId| a.iter().position(|other| other == id).unwrap_or(0);
    for (i, id) in b.iter().enumerate() {
        let before = (0..i)
            .filter(|j| place(&b[*j]) < place(id))
            .max_by_key(|j| longest[*j].len());
        let mut chain = before.map_or_else(Vec::new, |j| longest[j].clone());
        chain.push(i);
        longest.push(chain);
    }
    let stays = longest.into_iter().max_by_key(Vec::len).unwrap_or_default();
    let mut moved = b.iter().enumerate().filter(|(i, _)| !stays.contains(i));
    moved.by_ref().map(|(_, id)| id.clone()).collect()
}

type Part = (&'static str, String);

fn parts(step: Option<&StepId>, a: &[Part], b: &[Part], all: &mut Vec<Difference>) {
    for ((part, from), (_, to)) in a.iter().zip(b) {
        if from != to {
            let change = Change::Changed {
                part: (*part).to_owned(),
                from: from.clone(),
                to: to.clone(),
            };
            all.push(Difference {
                step: step.cloned(),
                change,
            });
        }
    }
}

fn whole(procedure: &Procedure) -> Vec<Part> {
    vec![
        ("title", procedure.title.clone()),
        ("edition", procedure.edition.clone()),
        ("purpose", procedure.purpose.clone()),
        ("cautions", procedure.cautions.join(" / ")),
        ("closed by", procedure.close_by.words().to_owned()),
        (
            "every",
            procedure.every.as_ref().map(span).unwrap_or_default(),
        ),
    ]
}

fn of_step(step: &Step) -> Vec<Part> {
    let names = |ids: &[StepId]| {
        ids.iter()
            .map(StepId::as_str)
            .collect::<Vec<_>>()
            .join(", ")
    };
    vec![
        ("section", step.section.clone()),
        ("do", step.instruction.clone()),
        ("why", step.why.clone()),
        ("cautions", step.cautions.join(" / ")),
        ("kind", kind(&step.kind)),
        ("after", names(&step.after)),
        ("stands on", names(&step.stands_on)),
        (
            "needs",
            step.needs.iter().map(need).collect::<Vec<_>>().join(", "),
        ),
        (
            "when",
            step.when
                .iter()
                .map(condition)
                .collect::<Vec<_>>()
                .join(" and "),
        ),
        ("by", step.by.words().to_owned()),
        (
            "second person",
            if step.second_may_be_later() {
                "must sign, at once or later".to_owned()
            } else if step.second {
                "must sign".to_owned()
            } else {
                String::new()
            },
        ),
        ("other than", names(&step.other_than)),
        (
            "good for",
            step.good_for.as_ref().map(span).unwrap_or_default(),
        ),
        ("renewed by", names(&step.renewed_by)),
        ("on fault", format!("{:?}", step.on_fault).to_lowercase()),
        (
            "may be left out by",
            format!("{:?}", step.skip).to_lowercase(),
        ),
        (
            "when stopped",
            if step.when_stopped {
                "worked".to_owned()
            } else {
                String::new()
            },
        ),
        ("gear", step.gear.join(", ")),
        ("how", step.how().join(" / ")),
        ("uses", step.uses().join(", ")),
        (
            "place",
            step.place
                .map(|place| place.to_string())
                .unwrap_or_default(),
        ),
        (
            "again",
            step.again
                .map_or_else(String::new, |_| "the same day".to_owned()),
        ),
    ]
}

fn span(span: &Span) -> String {
    match span {
        Span::Fixed(ms) => words::duration(*ms),
        Span::Setting(key) => format!("setting:{key}"),
        Span::Computed(key) => format!("computed:{key}"),
    }
}

fn bound(bound: &Bound) -> String {
    match bound {
        Bound::Number(number) => number.to_string(),
        Bound::Setting(key) => format!("setting:{key}"),
        Bound::Computed(key) => format!("computed:{key}"),
        Bound::Read { step, point } => format!("reading:{step}/{point}"),
    }
}

fn limits(limits: &Limits) -> String {
    let named = [
        ("min", &limits.min),
        ("above", &limits.above),
        ("max", &limits.max),
        ("below", &limits.below),
    ];
    let set = named
        .iter()
        .filter_map(|(name, b)| Some(format!(" {name} {}", bound(b.as_ref()?))));
    let date = limits.not_past.map(|_| " not past".to_owned());
    set.chain(date).collect()
}

fn points(points: &[crate::Point]) -> String {
    let point = |p: &crate::Point| {
        let call = |call: &crate::Call| format!(", from {} \"{}\"", bound(&call.from), call.say);
        let calls: String = p.calls.iter().flatten().map(call).collect();
        let only = p.only_if.as_ref();
        let only = only.map_or_else(String::new, |key| format!(", only if setting {key}"));
        format!(
            "{} \"{}\" {}{}{calls}{only}",
            p.key,
            p.label,
            p.unit,
            limits(&p.limits)
        )
    };
    points.iter().map(point).collect::<Vec<_>>().join("; ")
}

fn kind(kind: &Kind) -> String {
    let name = kind.name();
    let required = kind.requirement();
    let read = points(required.points);
    let often = |before: &str| {
        let every = required.every;
        every.map_or_else(String::new, |s| format!("{before}every {}", span(s)))
    };
    let said = match required.what {
        What::Confirmation | What::Position | What::Text | What::Photo => name.to_owned(),
        What::Readings => format!("{name}: {read}"),
        What::Item { kind } => format!("{name}: {kind}"),
        What::Each {
            items,
            side,
            at_least,
            may_leave,
            all_within,
        } => {
            let within =
                all_within.map_or_else(String::new, |s| format!(", all within {}", span(s)));
            let side = side.map_or_else(String::new, |side| format!(" {side}"));
            let least = at_least.map_or_else(String::new, |n| format!(", at least {n}"));
            let leave = if may_leave { ", may be left out" } else { "" };
            format!(
                "{name} {}{side}{least}{leave}{within} {read}",
                items.join(", ")
            )
        }
        What::Names {
            at_least,
            counts_for,
            in_date,
        } => {
            let counts =
                counts_for.map_or_else(String::new, |s| format!(", counts for {}", span(s)));
            format!("{name}: at least {at_least}{counts}{}", dated(in_date))
        }
        What::OneOf(options) => {
            let option = |o: &crate::ChoiceOption| {
                let bad = if o.bad { " (bad)" } else { "" };
                format!("{} \"{}\"{bad}", o.key, o.label)
            };
            let options: Vec<String> = options.iter().map(option).collect();
            format!("{name}: {}", options.join("; "))
        }
        What::Count {
            of,
            limits: set,
            same_as,
        } => {
            let same = same_as.map_or_else(String::new, |id| format!(" same as {id}"));
            format!("{name} of {of}{}{same}", limits(set))
        }
        What::Consent { of, radio } => {
            let radio = if radio { "" } else { ", not by radio" };
            format!("{name}: {}{radio}", of.words())
        }
        What::Time { span: s, from } => {
            let from = from.map_or_else(String::new, |id| format!(" from {id}"));
            format!("{name}: {}{from}", span(s))
        }
        What::Entries {
            cable,
            newest_counts,
            side,
            begins_home,
        } => {
            let cable = cable
                .map(|way| format!(" of the cable, {way:?}").to_lowercase())
                .unwrap_or_default();
            let counts = if newest_counts {
                ", the newest counts"
            } else {
                ""
            };
            let side = match side {
                None => String::new(),
                Some(LogSide::Either) => ", of either side".to_owned(),
                Some(LogSide::Chosen(step)) => format!(", of the side of {step}"),
            };
            let home = if begins_home { ", from home" } else { "" };
            format!("{name}{cable}{side}{home}{}{counts} {read}", often(" "))
        }
        What::People {
            at_least,
            attendant,
            in_date,
        } => {
            let attended = if attendant { ", someone attends" } else { "" };
            let call = often(", called ");
            let dated = dated(in_date);
            format!("{name}: at least {at_least}{call}{attended}{dated} {read}")
        }
    };
    said.trim().to_owned()
}

/// Says for what whoever is named should be in date.
fn dated(slugs: &[String]) -> String {
    if slugs.is_empty() {
        return String::new();
    }
    format!(", in date for {}", slugs.join(", "))
}

fn need(need: &Need) -> String {
    match &need.state {
        NeedState::NoneOpen => format!("no open run of {}", need.procedure),
        NeedState::ClosedWithin(s) => format!("{} completed within {}", need.procedure, span(s)),
    }
}

fn condition(condition: &Condition) -> String {
    match condition {
        Condition::Chosen { choice, is } => format!("{choice} is {}", is.join(" or ")),
        Condition::Setting { setting, is } => {
            let numbers: Vec<_> = is.iter().map(ToString::to_string).collect();
            format!("setting {setting} is {}", numbers.join(" or "))
        }
        Condition::Gear { kind, has } => {
            let has = if *has { "a" } else { "no" };
            format!("the register has {has} {kind}")
        }
    }
}
