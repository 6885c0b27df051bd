//! The office's pages: vessels, a vessel's runs, one run's full record.

pub mod head;
pub mod one_ship;
pub mod run;
pub mod vessel;
pub mod vessels;
