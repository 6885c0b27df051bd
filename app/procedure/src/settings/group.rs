//! What settings are for, so that those which belong together are looked at together.

use serde::{Deserialize, Serialize};

/// What a setting is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SettingGroup {
    /// The windlass and its brakes.
    Windlass,
    /// Fire main, anchor wash and hoses.
    Water,
    /// Air, ventilation, permit and rescue of an enclosed space.
    Entry,
    /// Anchoring, the anchor watch and the securing for sea.
    Anchoring,
    /// How often rounds, drills and surveys are due, and how much wear is allowed.
    Rounds,
    /// What is left: the program's own.
    Program,
}

/// The beginnings of the settings' names, group by group.
const BEGINS: [(SettingGroup, &[&str]); 5] = [
    (
        SettingGroup::Windlass,
        &["hydraulic_", "oil_", "lining_", "grease_"],
    ),
    (
        SettingGroup::Water,
        &["hydrant_", "wash_", "shared_wash", "hose_"],
    ),
    (
        SettingGroup::Entry,
        &[
            "air_", "vent_", "locker_", "fan_", "permit_", "call_", "ba_",
        ],
    ),
    (
        SettingGroup::Anchoring,
        &["sog_", "ukc_", "watch_", "sea_look", "lashings_"],
    ),
    (
        SettingGroup::Rounds,
        &[
            "weekly",
            "monthly",
            "yearly",
            "chain_",
            "marks_",
            "lines_",
            "drill_",
            "induction_",
            "survey_",
            "rope_",
        ],
    ),
];

impl SettingGroup {
    /// Every group, those first without which no anchor is made ready.
    pub const ALL: [Self; 6] = [
        Self::Windlass,
        Self::Water,
        Self::Entry,
        Self::Anchoring,
        Self::Rounds,
        Self::Program,
    ];

    /// Returns the group of a setting.
    pub fn of(key: &str) -> Self {
        let mut groups = BEGINS.iter();
        let found = groups.find(|(_, begins)| begins.iter().any(|begin| key.starts_with(begin)));
        found.map_or(Self::Program, |(group, _)| *group)
    }
}

#[cfg(test)]
mod tests {
    use super::super::Settings;
    use super::*;

    #[test]
    fn every_limit_has_a_group_and_only_the_phones_own_is_the_programs() {
        let of = |group| Settings::names().filter(move |key| SettingGroup::of(key) == group);
        for group in SettingGroup::ALL {
            assert!(of(group).count() > 0, "{group:?}");
        }
        assert_eq!(of(SettingGroup::Program).collect::<Vec<_>>(), ["key_open"]);
        assert_eq!(SettingGroup::of("hydraulic_min"), SettingGroup::Windlass);
        assert_eq!(SettingGroup::of("wash_min"), SettingGroup::Water);
        assert_eq!(SettingGroup::of("locker_volume"), SettingGroup::Entry);
    }
}
