//! The small parts that pages share: props in, callbacks out.
//!
//! Each file draws one thing and has one style sheet of the same name under `style/parts`. Its root
//! element's class is the file's name with hyphens. No part reads a clock, a store or the network.

pub mod action_sheet;
pub mod age;
pub mod banner;
pub mod bridge_card;
pub mod cable;
pub mod catenary_view;
pub mod caution;
pub mod chain;
pub mod choice;
pub mod defect_card;
pub mod defer;
pub mod depth_view;
pub mod empty;
pub mod foredeck;
pub mod hold_button;
pub mod keypad;
pub mod lead_dial;
pub mod light_switch;
pub mod person_pick;
pub mod pin_pad;
pub mod plot;
pub mod qr;
pub mod reading_bar;
pub mod seal;
pub mod status_word;
pub mod swing_view;
pub mod sync_line;

#[cfg(test)]
mod contrast;

pub use action_sheet::{ActionSheet, SheetState};
pub use age::Age;
pub use banner::{Banner, Notice};
pub use bridge_card::BridgeCard;
pub use cable::{CableMark, CableScale};
pub use catenary_view::CatenaryView;
pub use caution::Caution;
pub use chain::{
    ChainLegend, ChainLine, ChainLink, ChainStrip, Follow, LinkMark, LinkState, StripSize,
};
pub use choice::{Answer, Choice};
pub use defect_card::{Defect, DefectCard, Severity};
pub use defer::Defer;
pub use depth_view::DepthView;
pub use empty::Empty;
pub use foredeck::Foredeck;
pub use hold_button::HoldButton;
pub use keypad::{Keypad, Minus, Verdict};
pub use lead_dial::LeadDial;
pub use light_switch::{Light, LightButton, LightSwitch};
pub use person_pick::{Person, PersonPick};
pub use qr::Qr;
pub use reading_bar::{Limits, ReadingBar};
pub use seal::{Seal, Sealed};
pub use status_word::{StatusWord, Tone};
pub use swing_view::{Danger, SwingView, Swinging};
pub use sync_line::{SyncLine, SyncState};
