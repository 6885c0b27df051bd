//! The places of the foredeck that the drawing numbers, in the order in which a newcomer is led round.

/// One place of the drawn foredeck.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// Its number on the drawing.
    pub number: u32,
    /// What the crew calls it.
    pub name: &'static str,
    /// The kinds of gear that stand there, by their short names.
    pub kinds: &'static [&'static str],
    /// The procedure that is about it most.
    pub slug: &'static str,
}

const fn place(
    number: u32,
    name: &'static str,
    kinds: &'static [&'static str],
    slug: &'static str,
) -> Place {
    Place {
        number,
        name,
        kinds,
        slug,
    }
}

/// The places, the first one first. Which kinds stand where is common practice, no source: a ship's own plan says otherwise.
pub const PLACES: &[Place] = &[
    place(
        1,
        "the way in",
        &["radio", "protective-gear"],
        "anchors-ready",
    ),
    place(
        2,
        "controls and emergency stop",
        &["windlass-motor"],
        "windlass-weekly",
    ),
    place(
        3,
        "windlass and clutch",
        &["windlass", "clutch", "foundation"],
        "windlass-monthly",
    ),
    place(
        4,
        "gypsy and line of the cable",
        &["gypsy", "cable", "length", "joining-shackle"],
        "chain-measurement",
    ),
    place(5, "brake", &["brake"], "windlass-monthly"),
    place(
        6,
        "chain stopper",
        &["chain-stopper", "chain-guide"],
        "secured-for-sea",
    ),
    place(
        7,
        "claws and lashings",
        &["devils-claw", "lashing"],
        "sea-lashings",
    ),
    place(
        8,
        "hawse pipe and anchor",
        &["hawse-pipe", "anchor", "swivel"],
        "letting-go",
    ),
    place(9, "spurling pipe", &["spurling-pipe"], "secured-for-sea"),
    place(
        10,
        "the locker's hatch",
        &["hatch", "enclosed-space", "locker-drain", "penetration"],
        "locker-entry",
    ),
    place(
        11,
        "release of the bitter end",
        &["bitter-end"],
        "windlass-monthly",
    ),
    place(
        12,
        "hydrant, hose box and wash",
        &[
            "hydrant",
            "hose",
            "nozzle",
            "hose-box",
            "anchor-wash",
            "wash-pump",
            "fire-pump",
            "emergency-fire-pump",
        ],
        "hose-drill",
    ),
    place(
        13,
        "bitts, fairleads and lines",
        &[
            "drum",
            "mooring-line",
            "tail",
            "stopper-line",
            "bollard",
            "fairlead",
        ],
        "mooring-lines",
    ),
    place(
        14,
        "ball, lights and bell",
        &["ball", "anchor-light", "bell", "gong"],
        "at-anchor",
    ),
    place(
        15,
        "rescue gear",
        &["gas-meter", "breathing-set", "rescue-line", "tripod", "fan"],
        "entry-drill",
    ),
];

/// Finds a place by its number.
pub fn numbered(number: u32) -> Option<&'static Place> {
    PLACES.iter().find(|place| place.number == number)
}

/// Finds the place where a kind of gear stands.
pub fn of_kind(kind: &str) -> Option<&'static Place> {
    PLACES.iter().find(|place| place.kinds.contains(&kind))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{gear, library};

    #[test]
    fn places_are_numbered_in_order_and_each_names_a_procedure() {
        for (place, number) in PLACES.iter().zip(1..) {
            assert_eq!(place.number, number);
            assert_eq!(numbered(number), Some(place));
            assert!(
                library::slugs().any(|slug| slug == place.slug),
                "{}",
                place.slug
            );
        }
        assert_eq!(numbered(0), None);
    }

    #[test]
    fn every_kind_of_gear_stands_at_one_place() {
        let kinds = gear::kinds();
        assert!(kinds.len() > 30);
        for kind in kinds {
            let here = PLACES
                .iter()
                .filter(|place| place.kinds.contains(&&*kind.key));
            assert_eq!(here.count(), 1, "{}", kind.key);
        }
    }

    #[test]
    fn the_tour_goes_to_every_place_in_its_order() {
        let all = library::all();
        let tour = all.iter().find(|one| one.slug() == "foredeck-induction");
        let steps = tour.expect("it is in the library").steps();
        let places: Vec<u32> = steps.iter().filter_map(|step| step.place).collect();
        let numbers: Vec<u32> = PLACES.iter().map(|place| place.number).collect();
        assert_eq!(places, numbers);
        for step in steps.iter().filter(|step| step.place.is_some()) {
            assert_eq!(
                step.how().len(),
                3,
                "{}: job, danger, when it fails",
                step.id
            );
        }
    }
}
