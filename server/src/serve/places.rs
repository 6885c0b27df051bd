//! Places for connections: so many in all, so many from one address.

use crate::rate_limit::client_prefix;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

/// How many places there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bounds {
    /// In all.
    pub in_all: usize,
    /// For one address: a whole ship may stand behind one router.
    pub from_one: usize,
}

/// How many connections stand from each address.
#[derive(Debug)]
pub struct Places {
    bounds: Bounds,
    table: Mutex<Table>,
}

#[derive(Debug, Default)]
struct Table {
    in_all: usize,
    from: HashMap<IpAddr, usize>,
}

/// A place that one connection takes, until it is dropped.
#[derive(Debug)]
pub struct Place {
    places: Arc<Places>,
    from: IpAddr,
}

impl Places {
    /// Makes empty places.
    pub fn new(bounds: Bounds) -> Arc<Self> {
        let table = Mutex::default();
        Arc::new(Self { bounds, table })
    }

    fn table(&self) -> MutexGuard<'_, Table> {
        self.table.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes a place for one more connection from an address; none if all are taken, or all that are for it.
    pub fn place(self: &Arc<Self>, from: IpAddr) -> Option<Place> {
        let from = client_prefix(from);
        let mut table = self.table();
        let count = table.from.get(&from).copied().unwrap_or(0);
        if table.in_all >= self.bounds.in_all || count >= self.bounds.from_one {
            return None;
        }
        table.in_all += 1;
        table.from.insert(from, count + 1);
        Some(Place {
            places: Arc::clone(self),
            from,
        })
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut table = self.places.table();
        table.in_all -= 1;
        if let Some(count) = table.from.get_mut(&self.from) {
            *count -= 1;
            if *count == 0 {
                table.from.remove(&self.from);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_cannot_take_every_place_and_gives_back_what_it_took() {
        let places = Places::new(Bounds {
            in_all: 6,
            from_one: 4,
        });
        let (one, other) = ("10.0.0.1".parse().unwrap(), "10.0.0.2".parse().unwrap());
        let mut taken: Vec<_> = (0..4).map(|_| places.place(one).unwrap()).collect();
        assert!(places.place(one).is_none());
        let of_other = [places.place(other).unwrap(), places.place(other).unwrap()];
        taken.pop();
        assert!(
            places.place(one).is_some(),
            "what is given back is free again"
        );
        let last = places.place(other).unwrap();
        assert!(places.place(one).is_none(), "six are all");
        drop((taken, of_other, last));
        assert!(places.table().from.is_empty());
        assert_eq!(places.table().in_all, 0);
    }
}
