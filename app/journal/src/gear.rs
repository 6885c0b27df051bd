//! The pages of the ship's gear, as plain values made from a ledger; codes for new items; the table that goes out and in.

mod code;
mod page;
mod table;
mod wear;

pub use crate::csv::TableFault;
pub use code::new_code;
pub use page::{GearPage, GearRow, ItemLine, ItemPage, LineWhat, gear_page, item_page};
pub use table::{Filled, HEADINGS, read_table, write_table};
pub use wear::Wear;
