//! What is said of items of gear names one that is on the register.

use super::{Refusal, WriteCheck};
use crate::event::{DefectTerms, Outcome};

impl WriteCheck<'_> {
    pub(super) fn knows_item(&self, outcome: &Outcome) -> Result<(), Refusal> {
        match outcome {
            Outcome::Item { item } | Outcome::Each { item, .. } => self.is_there(item),
            _ => Ok(()),
        }
    }

    pub(super) fn knows_item_of(&self, terms: Option<&DefectTerms>) -> Result<(), Refusal> {
        let item = terms.and_then(|terms| terms.item.as_ref());
        item.map_or(Ok(()), |item| self.is_there(item))
    }

    fn is_there(&self, item: &str) -> Result<(), Refusal> {
        match self.at.run.gear.item(item) {
            Some(file) if file.code == item => Ok(()),
            _ => Err(Refusal::NoSuchItem(item.to_owned())),
        }
    }
}
