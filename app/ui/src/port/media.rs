//! What the device measures and takes: its position, and photographs.

use leptos::prelude::*;
use std::collections::BTreeMap;

/// A position as the device measured it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fix {
    /// Latitude, degrees, north positive.
    pub lat_deg: f64,
    /// Longitude, degrees, east positive.
    pub lon_deg: f64,
    /// Radius within which the position lies with 95 % confidence, m, as the device says.
    pub accuracy_m: f64,
    /// When it was measured, ms UTC.
    pub at_ms: i64,
}

/// How it stands with a position that was asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Fixing {
    /// None was asked for.
    #[default]
    Idle,
    /// The device is measuring.
    Asked,
    /// It has measured.
    Got(Fix),
    /// It could not; why, in words.
    Failed(String),
}

/// How it stands with a photograph that was taken.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Taking {
    /// None was taken.
    #[default]
    Idle,
    /// It is being made smaller and put on the disk.
    Working,
    /// It is on the disk, under its SHA-256.
    Kept([u8; 32]),
    /// It could not be kept; why, in words.
    Failed(String),
}

/// How it stands with a voice note.
#[derive(Debug, Clone, PartialEq, Default)]
pub enum Speaking {
    /// Nobody speaks.
    #[default]
    Idle,
    /// The microphone is on.
    Listening,
    /// What was said is being put on the disk.
    Working,
    /// It is on the disk, under its SHA-256.
    Kept([u8; 32]),
    /// It could not be kept; why, in words.
    Failed(String),
}

/// A photograph or a voice note as a page can show it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Picture {
    /// Looked for on this device and aboard.
    Looking,
    /// Here, as an address that holds it.
    Here(String),
    /// Neither on this device nor aboard yet.
    NotHere,
}

/// Position and photographs, as pages see them. Cheap to copy.
#[derive(Debug, Clone, Copy, Default)]
pub struct MediaSignals {
    /// The position that was asked for last.
    pub fix: RwSignal<Fixing>,
    /// The photograph that was taken last.
    pub taking: RwSignal<Taking>,
    /// The voice note that was spoken last.
    pub speaking: RwSignal<Speaking>,
    /// The text of the file that was chosen last; none where it could not be read.
    pub text: RwSignal<Option<String>>,
    /// Photographs and voice notes by their SHA-256.
    pub pictures: RwSignal<BTreeMap<[u8; 32], Picture>>,
}
