//! A printable card of a procedure, for the day the phone dies.

use std::fmt::Write;

use crate::definition::{Condition, NeedState, Point, Procedure, Span, Step};
use crate::gear;
use crate::library;
use crate::requirement::{Requirement, What};
use crate::settings::Settings;
use crate::words;

/// Writes the card as one HTML `article`, with every limit as a number of this ship's and its source. All text is
/// escaped; the page that holds it brings the style.
pub fn html(procedure: &Procedure, settings: &Settings) -> String {
    let mut out = String::new();
    let mut sources: Vec<String> = Vec::new();
    let hash = procedure.hash().to_string();
    push(
        &mut out,
        "<article class=\"card\"><header><h1>",
        &procedure.title,
        "</h1>",
    );
    push(
        &mut out,
        "<p class=\"card-purpose\">",
        &procedure.purpose,
        "</p>",
    );
    let edition = format!("edition {}, identity {}", procedure.edition, &hash[..16]);
    push(
        &mut out,
        "<p class=\"card-identity\">",
        &edition,
        "</p></header>",
    );
    out.push_str("<p class=\"card-blanks\">Ship ________ Date (UTC) ________ Place ________ In charge ________</p>");
    cautions(&mut out, &procedure.cautions);
    let mut section = "";
    let mut list_open = false;
    for (s, step) in procedure.steps.iter().enumerate() {
        if step.section != section || !list_open {
            if list_open {
                out.push_str("</ol>");
            }
            section = &step.section;
            if !section.is_empty() {
                push(&mut out, "<h2>", section, "</h2>");
            }
            let _ = write!(out, "<ol start=\"{}\">", s + 1);
            list_open = true;
        }
        card_step(&mut out, procedure, settings, step, &mut sources);
    }
    if list_open {
        out.push_str("</ol>");
    }
    if !sources.is_empty() {
        out.push_str("<section class=\"card-sources\"><h2>Where the limits come from</h2><ul>");
        for source in &sources {
            push(&mut out, "<li>", source, "</li>");
        }
        out.push_str("</ul></section>");
    }
    out.push_str(
        "<footer><p>Closed: time ________ name ________ signature ________</p></footer></article>",
    );
    out
}

/// Says of which items there is a result each.
fn each(items: &[String], side: Option<&str>, at_least: Option<u32>, may_leave: bool) -> String {
    let names: Vec<&str> = items.iter().map(|kind| gear::kind_name(kind)).collect();
    let side = side.map_or_else(String::new, |side| format!(", {side}"));
    let least = at_least.map_or_else(String::new, |least| format!(", at least {least} good"));
    let leave = if may_leave {
        ", some may be left out"
    } else {
        ""
    };
    format!("Each {}{side}{least}{leave}", names.join(", each "))
}

fn card_step(
    out: &mut String,
    procedure: &Procedure,
    settings: &Settings,
    step: &Step,
    sources: &mut Vec<String>,
) {
    push(
        out,
        "<li class=\"card-step\"><p class=\"card-do\">",
        &step.instruction,
        "</p>",
    );
    if !step.when.is_empty() {
        let when: Vec<_> = step.when.iter().map(|c| condition(procedure, c)).collect();
        push(
            out,
            "<p class=\"card-when\">",
            &format!("Only when {}.", when.join(" and ")),
            "</p>",
        );
    }
    for need in &step.needs {
        let said = match &need.state {
            NeedState::NoneOpen => format!("First: no run of '{}' is open.", need.procedure),
            NeedState::ClosedWithin(s) => {
                format!(
                    "First: '{}' completed within {}.",
                    need.procedure,
                    span(settings, s)
                )
            }
        };
        push(out, "<p class=\"card-needs\">", &said, "</p>");
    }
    cautions(out, &step.cautions);
    if !step.how().is_empty() {
        out.push_str("<ul class=\"card-how\">");
        for line in step.how() {
            push(out, "<li>", line, "</li>");
        }
        out.push_str("</ul>");
    }
    if !step.why.is_empty() {
        push(out, "<p class=\"card-why\">", &step.why, "</p>");
    }
    required(out, settings, &step.kind.requirement(), sources);
    let mut marks = Vec::new();
    if let Some(good_for) = &step.good_for {
        marks.push(format!("good for {}", span(settings, good_for)));
    }
    if !step.other_than.is_empty() {
        let names: Vec<_> = step
            .other_than
            .iter()
            .filter_map(|id| procedure.index_of(id))
            .map(|s| s + 1)
            .collect();
        let names: Vec<_> = names.iter().map(ToString::to_string).collect();
        marks.push(format!(
            "by someone other than did step {}",
            names.join(", ")
        ));
    }
    if step.by != crate::Role::Crew {
        marks.push(format!("by the {}", step.by.words()));
    }
    if !marks.is_empty() {
        push(out, "<p class=\"card-marks\">", &marks.join("; "), "</p>");
    }
    out.push_str("<p class=\"card-sign\">Time ______ Name ____________");
    if step.second_may_be_later() {
        out.push_str(" Second person, at once or later ____________");
    } else if step.second {
        out.push_str(" Second person ____________");
    }
    out.push_str("</p></li>");
}

fn required(
    out: &mut String,
    settings: &Settings,
    required: &Requirement<'_>,
    sources: &mut Vec<String>,
) {
    match &required.what {
        What::Confirmation => out.push_str("<p class=\"card-answer\">☐ done</p>"),
        What::Readings => {}
        What::OneOf(options) => {
            out.push_str("<ul class=\"card-options\">");
            for option in *options {
                let bad = if option.bad { " (not right)" } else { "" };
                push(out, "<li>☐ ", &format!("{}{bad}", option.label), "</li>");
            }
            out.push_str("</ul>");
        }
        What::Count { of, limits, .. } => {
            let limits = limits.resolve(settings, of);
            let said = format!("________ {of} {}", limits.words);
            push(out, ANSWER, &said, "</p>");
        }
        What::Item { kind } => {
            let said = format!(
                "Which {}, by its label: ____________",
                gear::kind_name(kind)
            );
            push(out, ANSWER, &said, "</p>");
        }
        What::Each {
            items,
            side,
            at_least,
            may_leave,
            all_within,
        } => {
            if let Some(within) = all_within {
                let said = format!("Every one of them within {}.", span(settings, within));
                push(out, EVERY, &said, "</p>");
            }
            let said = each(items, *side, *at_least, *may_leave);
            push(out, ANSWER, &format!("{said}:"), "</p>");
            push(out, ANSWER, "________________________________", "</p>");
        }
        What::Names {
            at_least,
            counts_for,
            in_date,
        } => {
            let said = format!("Names, at least {at_least}: ________________________________");
            push(out, ANSWER, &said, "</p>");
            if let Some(counts) = counts_for {
                let said = format!("Counts for each of them for {}.", span(settings, counts));
                push(out, EVERY, &said, "</p>");
            }
            in_date_for(out, in_date);
        }
        What::Position => push(out, ANSWER, "Lat ____________ Long ____________", "</p>"),
        What::Text => push(out, ANSWER, "________________________________", "</p>"),
        What::Photo => push(out, ANSWER, "☐ photograph, or a sketch overleaf", "</p>"),
        What::Consent { of, radio } => {
            let how = if *radio {
                "in person or by radio"
            } else {
                "in person, signed here"
            };
            let said = format!(
                "HOLD: do not go on without the {}'s consent ({how}). From ____________ at ______",
                of.words()
            );
            push(
                out,
                "<p class=\"card-hold\"><strong>",
                &said,
                "</strong></p>",
            );
        }
        What::Time { span: s, .. } => {
            let said = format!("Wait {}. From ______ until ______", span(settings, s));
            push(out, ANSWER, &said, "</p>");
        }
        What::Entries { .. } => {
            if let Some(every) = required.every {
                let said = format!("An entry every {}.", span(settings, every));
                push(out, EVERY, &said, "</p>");
            }
        }
        What::People {
            at_least,
            attendant,
            in_date,
        } => {
            let call = required
                .every
                .map(|s| format!(" Call them every {}.", span(settings, s)));
            let said = format!(
                "Never fewer than {at_least} inside.{}",
                call.unwrap_or_default()
            );
            push(out, EVERY, &said, "</p>");
            if *attendant {
                let said = "Attends at the hatch and never goes in: ____________";
                push(out, ANSWER, said, "</p>");
            }
            in_date_for(out, in_date);
        }
    }
    points(out, settings, required.points, sources);
    match &required.what {
        What::Entries { cable: None, .. } => table(out, &["Time", "Entry", "Name"], 8),
        What::Entries { cable: Some(_), .. } => table(out, CABLE_LOG, 8),
        What::People { .. } => table(out, &["Name", "In", "Out", "In", "Out"], 4),
        _ => {}
    }
}

/// Says for what whoever is named should be in date.
fn in_date_for(out: &mut String, slugs: &[String]) {
    if slugs.is_empty() {
        return;
    }
    let title = |slug: &String| library::title(slug).unwrap_or(slug).to_owned();
    let titles: Vec<String> = slugs.iter().map(title).collect();
    let said = format!("In date for: {}.", titles.join("; "));
    push(out, EVERY, &said, "</p>");
}

const ANSWER: &str = "<p class=\"card-answer\">";
const EVERY: &str = "<p class=\"card-every\">";
const CABLE_LOG: &[&str] = &[
    "Time",
    "Port or starboard",
    "Mark (shackles)",
    "Lead, o'clock",
    "Stay",
    "Weight 0 to 4",
    "Remark",
    "Name",
];

fn points(out: &mut String, settings: &Settings, points: &[Point], sources: &mut Vec<String>) {
    if points.is_empty() {
        return;
    }
    out.push_str(
        "<table class=\"card-points\"><tr><th>Reading</th><th>Limit</th><th>Read</th></tr>",
    );
    for point in points {
        let limits = point.resolve(settings);
        push(out, "<tr><td>", &point.label, "</td>");
        push(out, "<td>", &limits.words, "</td>");
        push(out, "<td>________ ", &point.unit, "</td></tr>");
        if !limits.source.is_empty() {
            let source = format!("{}: {}", point.label, limits.source);
            if !sources.contains(&source) {
                sources.push(source);
            }
        }
    }
    out.push_str("</table>");
}

fn table(out: &mut String, columns: &[&str], rows: usize) {
    out.push_str("<table class=\"card-log\"><tr>");
    for column in columns {
        push(out, "<th>", column, "</th>");
    }
    out.push_str("</tr>");
    for _ in 0..rows {
        out.push_str("<tr>");
        for _ in columns {
            out.push_str("<td>&nbsp;</td>");
        }
        out.push_str("</tr>");
    }
    out.push_str("</table>");
}

fn cautions(out: &mut String, cautions: &[String]) {
    for caution in cautions {
        push(
            out,
            "<p class=\"card-caution\"><strong>Caution:</strong> ",
            caution,
            "</p>",
        );
    }
}

fn condition(procedure: &Procedure, condition: &Condition) -> String {
    match condition {
        Condition::Chosen { choice, is } => {
            let step = procedure
                .steps
                .iter()
                .enumerate()
                .find(|(_, step)| step.id.as_str() == choice);
            let options = step.map_or(&[][..], |(_, step)| step.kind.options());
            let label = |key: &String| {
                let option = options.iter().find(|option| option.key == *key);
                option.map_or_else(|| key.clone(), |option| option.label.clone())
            };
            let number = step.map_or_else(|| choice.clone(), |(s, _)| (s + 1).to_string());
            format!(
                "step {number} says '{}'",
                is.iter().map(label).collect::<Vec<_>>().join("' or '")
            )
        }
        Condition::Setting { setting, is } => {
            let numbers: Vec<_> = is.iter().map(ToString::to_string).collect();
            let name = Settings::words(setting).unwrap_or(setting);
            format!("the ship's setting is {} ({name})", numbers.join(" or "))
        }
        Condition::Gear { kind, has } => {
            let has = if *has { "has a" } else { "has no" };
            format!("the gear register {has} {}", gear::kind_name(kind))
        }
    }
}

fn span(settings: &Settings, span: &Span) -> String {
    match (span, settings.span_ms(span)) {
        (_, Some(ms)) => words::duration(ms),
        (Span::Computed(_), None) => "the time computed for this run".to_owned(),
        _ => "a time that is not set".to_owned(),
    }
}

fn push(out: &mut String, before: &str, text: &str, after: &str) {
    out.push_str(before);
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            _ => out.push(letter),
        }
    }
    out.push_str(after);
}
