//! How the joints are painted: the ship's own table.

use serde::{Deserialize, Serialize};

use crate::error::OutOfRange;

/// The paint and wire of one joint.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Paint {
    /// Which joint, from the anchor; 1 is the first.
    pub mark: usize,
    /// Colour of the joining link.
    pub joint: String,
    /// Colour of the marked links.
    pub links: String,
    /// Marked links on each side, counted from the joint.
    pub links_each_side: usize,
    /// Whether a whole length is painted rather than single links.
    pub is_whole_length: bool,
}

/// The ship's own table of marks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Scheme {
    /// One row for each joint.
    pub marks: Vec<Paint>,
}

impl Scheme {
    /// Returns the traditional marks: on each side of the n-th joint the n-th link white, with wire.
    ///
    /// # Source
    /// Admiralty Manual of Seamanship, from memory.
    pub fn traditional(joints: usize) -> Self {
        Self {
            marks: (1..=joints)
                .map(|mark| Paint {
                    mark,
                    joint: "unpainted".to_owned(),
                    links: "white".to_owned(),
                    links_each_side: mark,
                    is_whole_length: false,
                })
                .collect(),
        }
    }

    /// Returns the US marks: joints red, white, blue in turn, n white links each side; the last
    /// length but one yellow, the last red.
    ///
    /// # Source
    /// Common practice in US ships, no source that can be named; yachts differ.
    pub fn red_white_blue(joints: usize) -> Self {
        const TURN: [&str; 3] = ["red", "white", "blue"];
        let mut marks: Vec<Paint> = (1..=joints)
            .map(|mark| Paint {
                mark,
                joint: TURN[(mark - 1) % 3].to_owned(),
                links: "white".to_owned(),
                links_each_side: mark,
                is_whole_length: false,
            })
            .collect();
        for (from_end, colour) in [(1, "red"), (2, "yellow")] {
            if let Some(paint) = joints
                .checked_sub(from_end)
                .and_then(|index| marks.get_mut(index))
            {
                colour.clone_into(&mut paint.links);
                paint.is_whole_length = true;
            }
        }
        Self { marks }
    }

    /// Returns what the person at the gypsy sees when this joint passes.
    pub fn paint_of(&self, mark: usize) -> Option<&Paint> {
        self.marks.iter().find(|paint| paint.mark == mark)
    }

    /// Returns which joint a sight of the gypsy is.
    ///
    /// # Errors
    /// [`OutOfRange`] if no joint is painted so, or more than one is: then count the links too.
    pub fn mark_of(
        &self,
        joint: &str,
        links_each_side: Option<usize>,
    ) -> Result<usize, OutOfRange> {
        let mut fitting = self.marks.iter().filter(|paint| {
            paint.joint == joint
                && links_each_side.is_none_or(|count| paint.links_each_side == count)
        });
        match (fitting.next(), fitting.next()) {
            (Some(paint), None) => Ok(paint.mark),
            (Some(_), Some(_)) => Err(OutOfRange::no_answer(
                "joint",
                "several joints are painted so: count the marked links as well",
            )),
            (None, _) => Err(OutOfRange::no_answer(
                "joint",
                "no joint of this cable is painted so",
            )),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_mark_is_known_by_its_paint() {
        let scheme = Scheme::red_white_blue(7);
        for paint in &scheme.marks {
            let mark = scheme.mark_of(&paint.joint, Some(paint.links_each_side));
            assert_eq!(mark.unwrap(), paint.mark);
        }
        assert_eq!(scheme.paint_of(6).unwrap().links, "yellow");
        assert_eq!(scheme.paint_of(7).unwrap().links, "red");
        assert_eq!(
            Scheme::traditional(4).paint_of(4).unwrap().links_each_side,
            4
        );
    }

    #[test]
    fn a_colour_that_comes_twice_asks_for_the_links() {
        let scheme = Scheme::red_white_blue(7);
        assert!(scheme.mark_of("red", None).is_err());
        assert!(scheme.mark_of("green", None).is_err());
        assert!(Scheme::red_white_blue(0).marks.is_empty());
    }
}
