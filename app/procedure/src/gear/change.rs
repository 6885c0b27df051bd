//! What a record says of an item. The encoded form is frozen: indices are only ever added.

use minicbor::{Decode, Encode};
use serde::{Deserialize, Serialize};

use super::Day;
use crate::Decimal;
use crate::cable::Side;

/// What is said of one item.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct ItemChange {
    /// The item's code, as its label has it: short, never used again for another.
    #[n(0)]
    pub item: String,
    /// What became of it.
    #[n(1)]
    pub change: GearChange,
}

/// What became of an item.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum GearChange {
    /// It is put on the register.
    #[n(0)]
    PutOn {
        /// What it is.
        #[n(0)]
        card: ItemCard,
    },
    /// What stands of it is changed: all of it anew.
    #[n(1)]
    Changed {
        /// What it is.
        #[n(0)]
        card: ItemCard,
    },
    /// It may be used with a restriction.
    #[n(2)]
    Restricted {
        /// How, in words.
        #[n(0)]
        words: String,
    },
    /// It is taken out of service.
    #[n(3)]
    OutOfService,
    /// It is put back into service without restriction.
    #[n(4)]
    PutBack,
    /// It is taken off the register: it has left the ship, or is scrapped.
    #[n(5)]
    TakenOff,
}

/// What an item is.
#[derive(Debug, Clone, PartialEq, Eq, Encode, Decode, Serialize, Deserialize)]
pub struct ItemCard {
    /// Its kind.
    #[n(0)]
    pub kind: String,
    /// What the crew calls it.
    #[n(1)]
    pub name: String,
    /// On which side it is; none for what has no side.
    #[n(2)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub side: Option<ItemSide>,
    /// Where it is.
    #[n(3)]
    pub room: Room,
    /// Its certificate's number; empty where there is none.
    #[n(4)]
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub certificate: String,
    /// Its serial number; empty where there is none.
    #[n(5)]
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub serial: String,
    /// Its dates.
    #[n(6)]
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub dates: Vec<(DateKind, Day)>,
    /// Its figures by the name that its kind gives them, in the kind's units.
    #[n(7)]
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub figures: Vec<(String, Decimal)>,
    /// The code of the item under which it stands: a length stands under its cable.
    #[n(8)]
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub under: Option<String>,
}

impl ItemCard {
    /// Returns a date.
    pub fn date(&self, kind: DateKind) -> Option<Day> {
        let mut dates = self.dates.iter();
        dates.find(|(of, _)| *of == kind).map(|(_, day)| *day)
    }

    /// Returns a figure.
    pub fn figure(&self, key: &str) -> Option<Decimal> {
        let mut figures = self.figures.iter();
        figures.find(|(of, _)| of == key).map(|(_, value)| *value)
    }

    /// Sets a figure, in place of what stood there.
    pub(super) fn set_figure(&mut self, key: &str, value: Decimal) {
        self.figures.retain(|(of, _)| of != key);
        self.figures.push((key.to_owned(), value));
    }
}

/// A date of an item's.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum DateKind {
    /// When it was made.
    #[n(0)]
    Made,
    /// When it was fitted.
    #[n(1)]
    Fitted,
    /// Until when its test holds.
    #[n(2)]
    TestedUntil,
    /// Until when its calibration holds.
    #[n(3)]
    CalibratedUntil,
    /// By when it must be renewed.
    #[n(4)]
    RenewBy,
}

impl DateKind {
    /// Every kind of date, in order.
    pub const ALL: [Self; 5] = [
        Self::Made,
        Self::Fitted,
        Self::TestedUntil,
        Self::CalibratedUntil,
        Self::RenewBy,
    ];

    /// Returns its name, in files and tables.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Fitted => "fitted",
            Self::TestedUntil => "tested-until",
            Self::CalibratedUntil => "calibrated-until",
            Self::RenewBy => "renew-by",
        }
    }

    /// Returns it in words.
    pub const fn words(self) -> &'static str {
        match self {
            Self::Made => "made",
            Self::Fitted => "fitted",
            Self::TestedUntil => "tested until",
            Self::CalibratedUntil => "calibrated until",
            Self::RenewBy => "renew by",
        }
    }

    /// Returns whether an item may not be used after it.
    pub const fn is_end(self) -> bool {
        match self {
            Self::Made | Self::Fitted => false,
            Self::TestedUntil | Self::CalibratedUntil | Self::RenewBy => true,
        }
    }
}

/// On which side an item is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum ItemSide {
    /// Port.
    #[n(0)]
    Port,
    /// Starboard.
    #[n(1)]
    Starboard,
    /// On the centre line.
    #[n(2)]
    CentreLine,
}

impl ItemSide {
    /// Every side, in order.
    pub const ALL: [Self; 3] = [Self::Port, Self::Starboard, Self::CentreLine];

    /// Returns its name, in files and tables.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Port => "port",
            Self::Starboard => "starboard",
            Self::CentreLine => "centre-line",
        }
    }

    /// Returns whether what is there belongs to the anchor of a side.
    pub fn is_of(self, side: Side) -> bool {
        self == Self::from(side)
    }
}

impl From<Side> for ItemSide {
    fn from(side: Side) -> Self {
        match side {
            Side::Port => Self::Port,
            Side::Starboard => Self::Starboard,
        }
    }
}

/// Where an item is.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Encode, Decode, Serialize, Deserialize,
)]
#[cbor(index_only)]
#[serde(rename_all = "kebab-case")]
pub enum Room {
    /// On deck.
    #[n(0)]
    Deck,
    /// In the chain locker.
    #[n(1)]
    Locker,
    /// On the bridge.
    #[n(2)]
    Bridge,
    /// In a store.
    #[n(3)]
    Store,
}

impl Room {
    /// Every place, in order.
    pub const ALL: [Self; 4] = [Self::Deck, Self::Locker, Self::Bridge, Self::Store];

    /// Returns its name, in files and tables.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Deck => "deck",
            Self::Locker => "locker",
            Self::Bridge => "bridge",
            Self::Store => "store",
        }
    }
}
