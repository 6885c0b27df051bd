//! What the register and the settings know for an anchoring plan, figure by figure, each with where it comes from.

use crate::ledger::Ledger;
use procedure::cable::{BOTH, Side, side_word};
use procedure::gear::{ItemFile, ItemSide, Service};
use procedure::{Cable, Decimal};

/// A figure that a plan may take.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Offer {
    /// Where it stands in a plan.
    pub path: String,
    /// The figure, as it is typed.
    pub text: String,
    /// What it comes from, in words.
    pub from: String,
    /// Only where this anchor is used; none where it holds for both.
    pub side: Option<Side>,
}

/// Figures of an item by its kind: its name, where it stands in a plan, and whether that place is one of each cable.
const FIGURES: [(&str, &str, &str, bool); 9] = [
    ("anchor", "mass", "anchor_mass_kg", true),
    ("cable", "new-diameter", "chain_diameter_mm", true),
    ("length", "new-diameter", "chain_diameter_mm", true),
    ("windlass", "pull", "gear.windlass_pull_kilonewtons", false),
    ("windlass", "speed", "gear.windlass_speed_m_per_min", false),
    ("brake", "holding", "gear.brake_holding_kilonewtons", false),
    ("hawse-pipe", "height", "ship.hawse_height_m", false),
    ("cable", "grade", "chain_grade", true),
    ("length", "grade", "chain_grade", true),
];

/// Finds what all items of a kind on a side say of a figure, with one of them: nothing where they differ.
fn agreed<'a>(
    ledger: &'a Ledger,
    side: Side,
    kind: &str,
    figure: &str,
) -> Option<(Decimal, &'a ItemFile)> {
    let items = ledger.register().items().filter(|file| {
        let state = file.now();
        let is_here = state
            .card
            .side
            .is_none_or(|on| on == ItemSide::CentreLine || on.is_of(side));
        state.card.kind == kind && is_here && !matches!(state.service, Service::Out(_))
    });
    let mut said = items.filter_map(|file| Some((file.now().card.figure(figure)?, file)));
    let first = said.next()?;
    said.all(|(value, _)| value == first.0).then_some(first)
}

fn of_cable(side: Side, cable: &Cable, out: &mut Vec<Offer>) {
    let count = cable.lengths.len();
    #[expect(
        clippy::cast_precision_loss,
        reason = "a cable has a few dozen lengths at most"
    )]
    let mean = Decimal::from_f64(cable.total_m() / count as f64, 2);
    let figures = [
        ("shackles_aboard", Some(count.to_string())),
        ("shackle_length_m", mean.map(|mean| mean.to_string())),
        ("kept_inboard_m", Some(cable.keep_m.to_string())),
    ];
    for (name, text) in figures {
        let Some(text) = text else { continue };
        out.push(Offer {
            path: format!("cable.{}.{name}", side_word(side)),
            text,
            from: format!("the {} cable in the settings", side_word(side)),
            side: None,
        });
    }
}

/// Lists what the register and the settings know for a plan.
pub fn offers(ledger: &Ledger) -> Vec<Offer> {
    let mut out: Vec<Offer> = Vec::new();
    if let Some(body) = ledger.particulars().filter(|body| !body.name.is_empty()) {
        out.push(Offer {
            path: "ship.name".to_owned(),
            text: body.name.clone(),
            from: "the ship's particulars".to_owned(),
            side: None,
        });
    }
    let settings = ledger.settings();
    for side in BOTH {
        for (kind, figure, place, is_of_cable) in FIGURES {
            let Some((value, file)) = agreed(ledger, side, kind, figure) else {
                continue;
            };
            let path = if is_of_cable {
                format!("cable.{}.{place}", side_word(side))
            } else {
                place.to_owned()
            };
            let side = (!is_of_cable).then_some(side);
            if out
                .iter()
                .any(|known| known.path == path && known.side == side)
            {
                continue;
            }
            // A grade is one of three, by its name in a plan.
            let is_grade = figure == "grade";
            out.push(Offer {
                path,
                text: if is_grade {
                    format!("grade{value}")
                } else {
                    value.to_string()
                },
                from: format!("{} ({})", file.now().card.name, file.code),
                side,
            });
        }
        if let Some(cable) = settings.cables.of(side) {
            of_cable(side, cable, &mut out);
        }
    }
    out
}
