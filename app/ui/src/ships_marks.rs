//! The ship's own marks on the cable: colour by number, never colour alone.

use crate::parts::{CableMark, Paint};

/// Length of a shackle, m: class tables count 27.5 (IACS Rec. 10, table 1).
pub const SHACKLE_M: f64 = 27.5;

/// The demo ships' scheme, invented: the paints of the joining link by number.
const SCHEME: [&[Paint]; 9] = [
    &[Paint::White],
    &[Paint::Blue],
    &[Paint::Red],
    &[Paint::White, Paint::White],
    &[Paint::White, Paint::Blue],
    &[Paint::White, Paint::Red],
    &[Paint::Blue, Paint::Red],
    &[Paint::Yellow],
    &[Paint::Yellow, Paint::Red],
];

fn name(paint: Paint) -> &'static str {
    match paint {
        Paint::White => "white",
        Paint::Red => "red",
        Paint::Blue => "blue",
        Paint::Yellow => "yellow",
        Paint::Green => "green",
        Paint::Orange => "orange",
        Paint::Black => "black",
    }
}

/// Returns the marks of a cable.
pub fn marks() -> Vec<CableMark> {
    SCHEME
        .iter()
        .zip(1_u32..)
        .map(|(paints, number)| CableMark {
            at_m: f64::from(number) * SHACKLE_M,
            label: number.to_string(),
            paints: paints.to_vec(),
        })
        .collect()
}

/// Says a mark by number and paint: 'Mark 3, red'.
pub fn said_mark(number: i64) -> String {
    let paints = usize::try_from(number - 1)
        .ok()
        .and_then(|index| SCHEME.get(index));
    match paints {
        None => format!("Mark {number}"),
        Some(paints) => {
            let names: Vec<&str> = paints.iter().map(|paint| name(*paint)).collect();
            format!("Mark {number}, {}", names.join(" and "))
        }
    }
}
