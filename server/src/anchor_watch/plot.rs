//! The plot as the inside of an SVG: the reach as a ring of links, the cable as chain, the ship as a plain bar to scale.
//!
//! Drawn here and not in the page, so that no phone fetches code for it. North is up, the anchor in the middle, one unit a
//! metre. Colours are the style's: `style/pages/watch.css`.

use super::trail::Trail;
use seamanship::position::Position;
use seamanship::watch::{Glance, Place, Spot};
use std::fmt::Write as _;

/// How many links make the ring.
const RING_LINKS: u32 = 48;
/// Beyond this many links of cable they are drawn longer.
const MOST_CABLE_LINKS: f64 = 24.0;
/// How far the plot reaches where nothing says.
const HALF_M: f64 = 150.0;
/// Dangers and ships beyond so many times the plot's half width are not drawn.
const SEEN_WITHIN: f64 = 1.35;
/// How long the near trail is, ms: an hour; the whole is what is kept.
const NEAR_MS: i64 = 3_600_000;

/// What is drawn.
#[derive(Debug)]
pub struct Plot<'a> {
    /// What the watch knows.
    pub glance: &'a Glance,
    /// The ship's length, m.
    pub length_m: Option<f64>,
    /// Where she has been.
    pub trail: &'a Trail,
    /// Dangers of the plan.
    pub dangers: &'a [(String, Place)],
    /// The watch's time.
    pub now_ms: i64,
}

impl Plot<'_> {
    /// Returns the drawing, and half its width in metres; nothing while no place is known.
    pub fn draw(&self) -> (String, f64) {
        let glance = self.glance;
        let allowed = glance.allowed_m.or(glance.reach_m);
        let far = glance.spot.map_or(0.0, Spot::length);
        let needed = allowed.unwrap_or(HALF_M).max(far) + self.length_m.unwrap_or(0.0);
        // In steps, so that the scale does not tremble with her place.
        let half = (needed * 1.1 / 25.0).ceil() * 25.0;
        let mut svg = String::new();
        let Some(middle) = glance.anchor.or(glance.place) else {
            return (svg, half);
        };
        let spot = |place: Position| Spot {
            east: metres_east(middle, place),
            north: (place.latitude_deg - middle.latitude_deg) * 111_194.9,
        };
        if let (Some(reach), Some(_)) = (allowed, glance.anchor) {
            ring(&mut svg, reach);
        }
        self.trails(&mut svg, &spot);
        self.dangers(&mut svg, half, &spot);
        self.neighbours(&mut svg, half);
        if glance.anchor.is_some() {
            if let Some(hawse) = glance.spot {
                chain(&mut svg, hawse);
            }
            put(
                &mut svg,
                format_args!("<circle class=\"watch-anchor\" r=\"{:.1}\"/>", half / 60.0),
            );
        }
        self.ship(&mut svg, half, &spot);
        (svg, half)
    }

    fn trails(&self, svg: &mut String, spot: &impl Fn(Position) -> Spot) {
        let mut draw = |class: &str, from_ms: i64, to_ms: i64| {
            let mut path = String::new();
            for (_, place) in self.trail.between(from_ms, to_ms) {
                let at = spot(place);
                let sign = if path.is_empty() { 'M' } else { 'L' };
                put(
                    &mut path,
                    format_args!("{sign}{:.0} {:.0}", at.east, -at.north),
                );
            }
            if path.contains('L') {
                put(svg, format_args!("<path class=\"{class}\" d=\"{path}\"/>"));
            }
        };
        draw("watch-trail is-old", 0, self.now_ms - NEAR_MS);
        draw("watch-trail", self.now_ms - NEAR_MS, self.now_ms);
    }

    fn dangers(&self, svg: &mut String, half: f64, spot: &impl Fn(Position) -> Spot) {
        for (name, place) in self.dangers {
            let at = spot(Position {
                latitude_deg: place.lat,
                longitude_deg: place.lon,
            });
            if at.length() <= half * SEEN_WITHIN {
                let size = half / 30.0;
                put(
                    svg,
                    format_args!(
                        "<path class=\"watch-danger\" d=\"M{:.0} {:.0}l{size:.1} {size:.1}m0 -{size:.1}l-{size:.1} {size:.1}\"/>",
                        at.east - size / 2.0,
                        -at.north - size / 2.0,
                    ),
                );
                label(svg, at, half, name);
            }
        }
    }

    fn neighbours(&self, svg: &mut String, half: f64) {
        for near in &self.glance.near {
            if near.spot.length() <= half * SEEN_WITHIN {
                let size = half / 40.0;
                put(
                    svg,
                    format_args!(
                        "<rect class=\"watch-near\" x=\"{:.0}\" y=\"{:.0}\" width=\"{:.1}\" height=\"{:.1}\"/>",
                        near.spot.east - size,
                        -near.spot.north - size,
                        2.0 * size,
                        2.0 * size,
                    ),
                );
                label(svg, near.spot, half, &near.name);
            }
        }
    }

    /// A bar from the hawse aft, with a knob at the hawse; without a heading, a knob alone.
    fn ship(&self, svg: &mut String, half: f64, spot: &impl Fn(Position) -> Spot) {
        let Some(at) = self.glance.place.map(spot) else {
            return;
        };
        if let (Some(heading), Some(length), true) =
            (self.glance.heading_deg, self.length_m, self.glance.is_hawse)
        {
            let stern = at - Spot::toward(heading) * length;
            put(
                svg,
                format_args!(
                    "<line class=\"watch-ship\" x1=\"{:.1}\" y1=\"{:.1}\" x2=\"{:.1}\" y2=\"{:.1}\"/>",
                    at.east, -at.north, stern.east, -stern.north,
                ),
            );
        }
        put(
            svg,
            format_args!(
                "<circle class=\"watch-hawse\" cx=\"{:.1}\" cy=\"{:.1}\" r=\"{:.1}\"/>",
                at.east,
                -at.north,
                half / 70.0,
            ),
        );
    }
}

fn put(svg: &mut String, words: std::fmt::Arguments<'_>) {
    // Writing to text cannot fail.
    let _ = svg.write_fmt(words);
}

/// Metres east of a place, on a sphere: for drawing alone.
fn metres_east(from: Position, to: Position) -> f64 {
    let east = to.longitude_deg - from.longitude_deg;
    let east = (east + 540.0).rem_euclid(360.0) - 180.0;
    east * 111_194.9 * from.latitude_deg.to_radians().cos()
}

/// The reach: links that close a ring, every other one seen from its edge.
fn ring(svg: &mut String, reach: f64) {
    let long = std::f64::consts::TAU * reach / f64::from(RING_LINKS) * 0.62;
    svg.push_str("<g class=\"watch-ring\">");
    for link in 0..RING_LINKS {
        let bearing = f64::from(link) * 360.0 / f64::from(RING_LINKS);
        one_link(
            svg,
            Spot::toward(bearing) * reach,
            bearing + 90.0,
            long,
            link % 2 == 1,
        );
    }
    svg.push_str("</g>");
}

/// The cable from the anchor to the hawse.
fn chain(svg: &mut String, hawse: Spot) {
    let length = hawse.length();
    if length < 5.0 {
        return;
    }
    let links = (length / 6.0).round().clamp(4.0, MOST_CABLE_LINKS);
    let bearing = hawse.bearing_deg();
    svg.push_str("<g class=\"watch-chain\">");
    let mut at = 0.5;
    let mut is_edge = false;
    while at < links {
        let place = hawse * (at / links);
        one_link(svg, place, bearing, length / links * 0.62, is_edge);
        is_edge = !is_edge;
        at += 1.0;
    }
    svg.push_str("</g>");
}

fn one_link(svg: &mut String, at: Spot, bearing: f64, half_length: f64, is_edge: bool) {
    let (east, south) = (at.east, -at.north);
    let turn = bearing - 90.0;
    if is_edge {
        put(
            svg,
            format_args!(
                "<path d=\"M-{half_length:.1} 0H{half_length:.1}\" transform=\"translate({east:.1} {south:.1}) rotate({turn:.0})\"/>"
            ),
        );
    } else {
        put(
            svg,
            format_args!(
                "<ellipse rx=\"{half_length:.1}\" ry=\"{:.1}\" transform=\"translate({east:.1} {south:.1}) rotate({turn:.0})\"/>",
                half_length * 0.5
            ),
        );
    }
}

fn label(svg: &mut String, at: Spot, half: f64, name: &str) {
    put(
        svg,
        format_args!(
            "<text class=\"watch-label\" x=\"{:.0}\" y=\"{:.0}\" font-size=\"{:.0}\">",
            at.east + half / 30.0,
            -at.north,
            half / 18.0,
        ),
    );
    // A name comes from a plan or from another ship: it is text and never markup.
    for sign in name.chars().filter(|sign| !sign.is_control()).take(24) {
        match sign {
            '<' => svg.push_str("&lt;"),
            '>' => svg.push_str("&gt;"),
            '&' => svg.push_str("&amp;"),
            sign => svg.push(sign),
        }
    }
    svg.push_str("</text>");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn another_ships_name_is_never_markup() {
        let mut svg = String::new();
        label(&mut svg, Spot::default(), 100.0, "<script>&\u{7}x");
        assert!(svg.ends_with(">&lt;script&gt;&amp;x</text>"), "{svg}");
    }

    #[test]
    fn a_link_lies_along_the_cable() {
        let mut svg = String::new();
        // North-east of the anchor: on the screen up and to the right, which is -45° for SVG.
        chain(
            &mut svg,
            Spot {
                east: 30.0,
                north: 30.0,
            },
        );
        assert!(svg.contains("rotate(-45)"), "{svg}");
        let first = svg.split("translate(").nth(1).unwrap();
        assert!(!first.starts_with('-') && first.contains(" -"), "{svg}");
    }
}
