//! What a step asks for and between which limits, in words, with where each limit comes from.

use crate::words::{engine, forward, ship as words};
use procedure::{Kind, LimitsView, Point, Settings, Span, What};
use procedure::{gear, library};

/// One thing that is read, with its limits and their source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limit {
    /// What, and between which limits.
    pub words: String,
    /// Where the limits come from; empty where they stand in the file.
    pub source: String,
}

fn limit(name: &str, unit: &str, view: LimitsView) -> Limit {
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
    let of = |point: &Point| limit(&point.label, &point.unit, point.resolve(settings));
    points.iter().map(of).collect()
}

/// Says for what whoever is named should be in date.
fn dated(slugs: &[String]) -> Option<Limit> {
    let title = |slug: &String| library::title(slug).unwrap_or(slug).to_owned();
    let titles: Vec<String> = slugs.iter().map(title).collect();
    (!titles.is_empty()).then(|| Limit {
        words: forward::should_be_in_date(&titles.join(", ")),
        source: String::new(),
    })
}

fn span(span: &Span, settings: &Settings) -> String {
    match span {
        Span::Fixed(ms) => crate::time::span(*ms),
        Span::Setting(key) => settings.get(key).map_or_else(
            || words::as_setting(key),
            |set| format!("{} {}", set.value, set.unit),
        ),
        Span::Computed(key) => words::as_computed(key),
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
    let required = kind.requirement();
    let every = |s: &&Span| span(s, settings);
    let every = required.every.as_ref().map(every);
    let mut all = match required.what {
        What::Confirmation | What::Readings => Vec::new(),
        What::OneOf(options) => {
            let labels: Vec<&str> = options.iter().map(|option| option.label.as_str()).collect();
            plain(words::one_of(&labels.join("; ")))
        }
        What::Count { of, limits, .. } => {
            vec![limit(
                &words::count_of(of),
                "",
                limits.resolve(settings, ""),
            )]
        }
        What::Item { kind } => plain(words::asks_item(gear::kind_name(kind))),
        What::Position => plain(words::ASKS_POSITION.to_owned()),
        What::Text => plain(words::ASKS_WORDS.to_owned()),
        What::Photo => plain(words::ASKS_PHOTO.to_owned()),
        What::Consent { of, radio } => plain(if radio {
            words::held_until_heard(&engine::role(of))
        } else {
            words::held_until_signed(&engine::role(of))
        }),
        What::Time { span: time, .. } => plain(words::wait_for(&span(time, settings))),
        What::Entries { .. } => plain(every.map_or_else(
            || words::ENTRIES_AS_THEY_COME.to_owned(),
            |every| words::entry_every(&every),
        )),
        What::Each {
            items,
            side,
            at_least,
            may_leave,
            all_within,
        } => {
            let names: Vec<&str> = items.iter().map(|kind| gear::kind_name(kind)).collect();
            let mut all = plain(words::asks_each(
                &names.join(", "),
                side.unwrap_or_default(),
            ));
            let least = at_least.map(|least| words::asks_each_least(&least.to_string()));
            all.extend(least.into_iter().flat_map(plain));
            if may_leave {
                all.extend(plain(words::ASKS_EACH_LEAVE.to_owned()));
            }
            let within = all_within.map(|s| words::asks_each_within(&span(s, settings)));
            all.extend(within.into_iter().flat_map(plain));
            all
        }
        What::Names {
            at_least,
            counts_for,
            in_date,
        } => {
            let mut all = plain(forward::asks_names(&at_least.to_string()));
            let counts = counts_for.map(|s| forward::counts_for(&span(s, settings)));
            all.extend(counts.into_iter().flat_map(plain));
            all.extend(dated(in_date));
            all
        }
        What::People {
            attendant, in_date, ..
        } => {
            let mut all = plain(every.map_or_else(
                || words::IN_AND_OUT.to_owned(),
                |every| words::in_and_out_called(&every),
            ));
            if attendant {
                all.extend(plain(words::ASKS_ATTENDANT.to_owned()));
            }
            all.extend(dated(in_date));
            all
        }
    };
    all.extend(limits(required.points, settings));
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use procedure::{Bound, ChoiceOption, Limits, Role, Watch, kind};

    fn words(kind: &Kind) -> Vec<String> {
        let asked = asked(kind, &Settings::defaults()).into_iter();
        asked.map(|limit| limit.words).collect()
    }

    fn oxygen() -> Point {
        let setting = |key: &str| Some(Bound::Setting(key.to_owned()));
        Point {
            key: "o2".to_owned(),
            label: "oxygen".to_owned(),
            unit: "%".to_owned(),
            limits: Limits {
                min: setting("air_o2_min"),
                max: setting("air_o2_max"),
                ..Limits::default()
            },
            calls: None,
            only_if: None,
        }
    }

    #[test]
    fn a_limit_is_shown_as_the_ships_number_with_where_it_comes_from() {
        let points = vec![oxygen()];
        let all = asked(
            &Kind::Reading(kind::Reading { points }),
            &Settings::defaults(),
        );
        assert_eq!(all[0].words, "oxygen: at least 20.9, at most 21.5 %");
        assert!(all[0].source.contains("MSC.581"), "{}", all[0].source);
        assert!(
            all[0].source.contains("not yet confirmed"),
            "{}",
            all[0].source
        );
    }

    #[test]
    fn a_limit_that_nobody_has_set_is_named() {
        let points = vec![oxygen()];
        let all = asked(&Kind::Reading(kind::Reading { points }), &Settings::empty());
        assert!(
            all[0].words.contains("not set: setting air_o2_min"),
            "{}",
            all[0].words
        );
    }

    #[test]
    fn a_number_without_limits_is_named_with_its_unit() {
        let limits = Limits::default();
        let point = Point { limits, ..oxygen() };
        assert_eq!(
            words(&Kind::Reading(kind::Reading {
                points: vec![point]
            })),
            ["oxygen, %"]
        );
    }

    #[test]
    fn a_time_is_fixed_or_as_a_setting_says_or_computed() {
        let wait = |span| {
            Kind::Wait(kind::Wait {
                span,
                from: "fan".into(),
            })
        };
        let rows = [
            (Span::Setting("air_settle".to_owned()), "Wait: 10 min"),
            (
                Span::Setting("none".to_owned()),
                "Wait: as the setting none says",
            ),
            (
                Span::Computed("vent_time".to_owned()),
                "Wait: as computed: vent_time",
            ),
        ];
        for (span, expected) in rows {
            assert_eq!(words(&wait(span)), [expected]);
        }
    }

    #[test]
    fn whoever_may_give_consent_is_named_with_the_way_it_may_come() {
        let hold = |radio| {
            Kind::Hold(kind::Hold {
                consent: Role::Master,
                radio,
            })
        };
        assert!(words(&hold(true))[0].ends_with("may be heard by radio"));
        assert!(words(&hold(false))[0].ends_with("signed; radio does not do"));
    }

    #[test]
    fn the_answers_of_a_choice_stand_in_their_order() {
        let option = |label: &str| ChoiceOption {
            key: label.to_owned(),
            label: label.to_owned(),
            bad: false,
        };
        let options = vec![option("starboard"), option("port")];
        assert_eq!(
            words(&Kind::Choice(kind::Choice { options })),
            ["One of: starboard; port"]
        );
    }

    #[test]
    fn what_is_asked_of_names_says_for_how_long_and_what_each_should_be_in_date_for() {
        let kind = Kind::Names(kind::Names {
            at_least: 2,
            counts_for: Some(Span::Setting("drill_entry".to_owned())),
            in_date: Some(vec!["entry-drill".to_owned()]),
        });
        assert_eq!(
            words(&kind),
            [
                "Names of who takes part, at least 2",
                "Counts for each of them: 60 d",
                "Who is not in date is said: Entry and rescue drill",
            ]
        );
    }

    #[test]
    fn what_is_asked_of_people_inside_names_the_attendant_and_the_air() {
        let kind = |watch| {
            Kind::People(kind::People {
                call_every: Some(Span::Setting("call_every".to_owned())),
                at_least: 2,
                watch,
                in_date: None,
            })
        };
        assert_eq!(
            words(&kind(None)),
            ["Everyone in and out is written down; people inside are called every 5 min"]
        );
        let watched = words(&kind(Some(Watch {
            attendant: true,
            points: vec![oxygen()],
        })));
        assert_eq!(watched.len(), 3);
        assert!(watched[1].starts_with("Someone attends"), "{watched:?}");
        assert!(watched[2].starts_with("oxygen: at least"), "{watched:?}");
    }
}
