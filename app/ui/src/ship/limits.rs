//! What a step asks for and between which limits, in words, with where each limit comes from.

use procedure::{Kind, Limits, Point, Settings, Span};

/// One thing that is read, with its limits and their source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// What, and between which limits.
    pub words: String,
    /// Where the limits come from; empty where they stand in the file.
    pub source: String,
}

fn limit(name: &str, unit: &str, limits: &Limits, settings: &Settings) -> Limit {
    let view = limits.resolve(settings, unit);
    let words = match (view.words.is_empty(), unit.is_empty()) {
        (true, true) => name.to_owned(),
        (true, false) => format!("{name}, {unit}"),
        (false, _) => format!("{name}: {}", view.words),
    };
    Limit {
        words,
        source: view.source,
    }
}

fn limits(points: &[Point], settings: &Settings) -> Vec<Limit> {
    let of = |point: &Point| limit(&point.label, &point.unit, &point.limits, settings);
    points.iter().map(of).collect()
}

fn span(span: &Span, settings: &Settings) -> String {
    match span {
        Span::Fixed(ms) => crate::time::span(*ms),
        Span::Setting(key) => settings.get(key).map_or_else(
            || format!("as the setting {key} says"),
            |set| format!("{} {}", set.value, set.unit),
        ),
        Span::Computed(key) => format!("as computed: {key}"),
    }
}

/// Returns what a kind of step asks for.
pub fn asked(kind: &Kind, settings: &Settings) -> Vec<Limit> {
    let plain = |words: String| {
        vec![Limit {
            words,
            source: String::new(),
        }]
    };
    match kind {
        Kind::Confirm => Vec::new(),
        Kind::Reading { points } => limits(points, settings),
        Kind::Choice { options } => {
            let labels: Vec<&str> = options.iter().map(|option| option.label.as_str()).collect();
            plain(format!("One of: {}", labels.join("; ")))
        }
        Kind::Count { of, limits, .. } => {
            vec![limit(&format!("Count of {of}"), "", limits, settings)]
        }
        Kind::Position => plain("The ship's position".to_owned()),
        Kind::Text => plain("In words".to_owned()),
        Kind::Photo => plain("A photograph".to_owned()),
        Kind::Hold { consent, radio } => plain(format!(
            "Held until the {} consents{}",
            consent.words(),
            if *radio {
                "; may be heard by radio"
            } else {
                ", signed; radio does not do"
            }
        )),
        Kind::Wait { span: time, .. } => plain(format!("Wait: {}", span(time, settings))),
        Kind::Log { every, points, .. } => {
            let often = every.as_ref().map_or_else(
                || "Entries as they come".to_owned(),
                |every| format!("An entry every {}", span(every, settings)),
            );
            let mut all = plain(often);
            all.extend(limits(points, settings));
            all
        }
        Kind::People {
            call_every, watch, ..
        } => {
            let called = call_every.as_ref().map_or_else(String::new, |every| {
                format!("; people inside are called every {}", span(every, settings))
            });
            let mut all = plain(format!("Everyone in and out is written down{called}"));
            let watch = watch.clone().unwrap_or_default();
            if watch.attendant {
                all.extend(plain(
                    "Someone attends at the hatch, who does not go in".to_owned(),
                ));
            }
            all.extend(limits(&watch.points, settings));
            all
        }
    }
}
