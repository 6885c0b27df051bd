//! The foredeck drawn from above, with the locker in section below it: a schematic with the numbered places of the tour.

use crate::words::forward as words;
use leptos::prelude::*;
use procedure::places::PLACES;

/// Where each place's number stands on the drawing, x and y; the order is that of the places.
const AT: [(u32, u32); 15] = [
    (160, 386),
    (160, 346),
    (160, 228),
    (226, 206),
    (76, 232),
    (92, 168),
    (160, 140),
    (92, 122),
    (92, 268),
    (160, 300),
    (252, 480),
    (58, 336),
    (264, 290),
    (160, 64),
    (252, 372),
];

/// The drawing.
#[component]
pub fn Foredeck(
    /// The place that is meant, by its number: it alone is filled.
    #[prop(optional_no_strip, into)]
    here: Option<u32>,
    /// The places at which something is not as it should be.
    #[prop(optional)]
    wrong: Vec<u32>,
    /// Whether each number leads to its part of the page below.
    #[prop(optional)]
    leads: bool,
) -> impl IntoView {
    let number = move |(number, x, y): (u32, u32, u32)| {
        let is_here = here == Some(number);
        let is_wrong = wrong.contains(&number);
        let mark = view! {
            <g class="foredeck-place" class:is-here=is_here class:is-wrong=is_wrong data-place=number.to_string()>
                {is_wrong.then(|| view! { <rect x=x - 18 y=y - 18 width="36" height="36" class="foredeck-wrong" /> })}
                <circle cx=x cy=y r="14" />
                <text x=x y=y + 5>{number.to_string()}</text>
            </g>
        };
        if leads {
            let address = format!("#place-{number}");
            // In the drawing's own namespace: a link of HTML's is not drawn there.
            leptos::svg::a()
                .child(mark)
                .attr("href", address)
                .into_any()
        } else {
            mark.into_any()
        }
    };
    let numbers = PLACES
        .iter()
        .zip(AT)
        .map(|(place, (x, y))| (place.number, x, y));
    let numbers: Vec<_> = numbers.map(number).collect();
    // A picture has no parts that can be pressed; a group has.
    let role = if leads { "group" } else { "img" };
    let label = here.and_then(procedure::places::numbered).map_or_else(
        || words::FOREDECK_DRAWN.to_string(),
        |place| words::foredeck_here(&place.number.to_string(), place.name),
    );
    view! {
        <svg class="foredeck" viewBox="0 0 320 560" role=role aria-label=label>
            <path class="foredeck-deck" d="M160 14C92 74 40 176 32 300V404H288V300C280 176 228 74 160 14Z" />
            <path class="foredeck-rail" d="M160 26C100 82 52 180 44 300V404M160 26C220 82 268 180 276 300V404" />
            <path class="foredeck-chain" d="M118 112V262M202 112V262" />
            <circle class="foredeck-pipe" cx="118" cy="106" r="10" />
            <circle class="foredeck-pipe" cx="202" cy="106" r="10" />
            <rect class="foredeck-gear" x="107" y="158" width="22" height="20" rx="3" />
            <rect class="foredeck-gear" x="191" y="158" width="22" height="20" rx="3" />
            <path class="foredeck-line" d="M118 150L140 136M202 150L180 136" />
            <rect class="foredeck-gear" x="98" y="214" width="124" height="28" rx="6" />
            <circle class="foredeck-wheel" cx="118" cy="228" r="19" />
            <circle class="foredeck-wheel" cx="202" cy="228" r="19" />
            <circle class="foredeck-pipe" cx="118" cy="268" r="8" />
            <circle class="foredeck-pipe" cx="202" cy="268" r="8" />
            <rect class="foredeck-hatch" x="138" y="280" width="44" height="40" rx="4" />
            <rect class="foredeck-gear" x="140" y="330" width="40" height="32" rx="4" />
            <path class="foredeck-line" d="M52 320V352M70 320V352M256 274V306M274 274V306" />
            <rect class="foredeck-gear" x="230" y="352" width="44" height="40" rx="4" />
            <path class="foredeck-line" d="M160 44V84" />
            <path class="foredeck-ground" d="M32 430H288" />
            <path class="foredeck-line" d="M118 430V458M202 430V458" />
            <rect class="foredeck-locker" x="84" y="450" width="152" height="96" rx="4" />
            <path class="foredeck-chain" d="M118 452C118 500 96 520 120 534H200C224 520 202 500 202 452" />
            <path class="foredeck-line" d="M236 480H246" />
            {numbers}
        </svg>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_place_has_its_own_spot_on_the_drawing() {
        assert_eq!(AT.len(), PLACES.len());
        for (i, (x, y)) in AT.iter().enumerate() {
            assert!((14..=306).contains(x) && (14..=546).contains(y), "{i}");
            for (other_x, other_y) in &AT[..i] {
                let apart = x.abs_diff(*other_x).pow(2) + y.abs_diff(*other_y).pow(2);
                assert!(apart >= 28_u32.pow(2), "{i}: two numbers lie on each other");
            }
        }
    }
}
