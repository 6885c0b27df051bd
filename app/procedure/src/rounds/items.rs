//! Rounds that take but some items each time: which items still need a result, so that all have one within their time.

use serde::{Deserialize, Serialize};

use crate::definition::Procedure;
use crate::gear::{Register, Service};
use crate::settings::Settings;
use crate::state::PastRun;

/// How the items of a round stand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct ItemsRound {
    /// The procedure's short name.
    pub slug: String,
    /// What the kind of its items is called.
    pub kind: String,
    /// How many items there are.
    pub all: usize,
    /// Those that have no result within their time: code and name.
    pub left: Vec<(String, String)>,
}

/// Lists how the items of each round stand of which a run takes but some.
pub fn items_rounds(
    procedures: &[Procedure],
    settings: &Settings,
    past: &[PastRun],
    register: &Register,
    now_ms: i64,
) -> Vec<ItemsRound> {
    let mut all = Vec::new();
    for procedure in procedures {
        let each = procedure.steps().iter().filter_map(|step| step.kind.each());
        for each in each {
            let Some(within) = each
                .all_within
                .as_ref()
                .and_then(|span| settings.span_ms(span))
            else {
                continue;
            };
            for kind in &each.items {
                let has_result = |code: &String| {
                    past.iter().any(|run| {
                        let closed = run.closed_at_ms.filter(|_| run.completed);
                        run.slug == procedure.slug()
                            && closed.is_some_and(|at| now_ms - at <= within)
                            && run.items.contains(code)
                    })
                };
                let items = register.items().filter(|file| {
                    let state = file.now();
                    state.card.kind == *kind && !matches!(state.service, Service::Out(_))
                });
                let items: Vec<(String, String)> = items
                    .map(|file| (file.code.clone(), file.now().card.name.clone()))
                    .collect();
                let count = items.len();
                let left = items.into_iter().filter(|(code, _)| !has_result(code));
                if count > 0 {
                    all.push(ItemsRound {
                        slug: procedure.slug().to_owned(),
                        kind: register.kind_name(kind).to_owned(),
                        all: count,
                        left: left.collect(),
                    });
                }
            }
        }
    }
    all
}
