//! The figures of the three lights, computed from the tokens that the pages use.

use std::collections::HashMap;

/// The tokens as the build bundles them.
const TOKENS: &str = include_str!("../../../../style/tokens.css");

/// Ink and ground that stand on each other somewhere in the pages.
const PAIRS: &[(&str, &str)] = &[
    ("--ink", "--ground"),
    ("--ink", "--raised"),
    ("--ink", "--sunk"),
    ("--ink-soft", "--ground"),
    ("--ink-soft", "--raised"),
    ("--ink-soft", "--sunk"),
    ("--press", "--ground"),
    ("--press", "--raised"),
    ("--press-ink", "--press-fill"),
    ("--alarm", "--ground"),
    ("--alarm", "--raised"),
    ("--alarm-ink", "--alarm-fill"),
    ("--wait", "--ground"),
    ("--wait", "--raised"),
    ("--wait-ink", "--wait-fill"),
    ("--ink", "--water"),
];

/// Returns the colours of the rule that begins with `selector`.
fn colours(selector: &str) -> HashMap<String, [f64; 3]> {
    let rule = TOKENS
        .split(selector)
        .nth(1)
        .unwrap_or_else(|| panic!("no rule {selector}"));
    let body = rule
        .split_once('{')
        .expect("a rule has a body")
        .1
        .split_once('}')
        .expect("a rule ends")
        .0;
    body.split(';')
        .filter_map(|line| line.split_once(':'))
        .filter_map(|(name, value)| {
            let hex = value
                .trim()
                .strip_prefix('#')
                .filter(|hex| hex.len() == 6)?;
            let part = |at: usize| u8::from_str_radix(&hex[at..at + 2], 16).map(f64::from).ok();
            Some((name.trim().to_owned(), [part(0)?, part(2)?, part(4)?]))
        })
        .collect()
}

/// Returns the relative luminance of WCAG 2.2 of an sRGB colour.
fn luminance(colour: [f64; 3]) -> f64 {
    let [r, g, b] = colour.map(|part| {
        let part = part / 255.0;
        if part <= 0.04045 {
            part / 12.92
        } else {
            ((part + 0.055) / 1.055).powf(2.4)
        }
    });
    0.2126 * r + 0.7152 * g + 0.0722 * b
}

/// Returns the contrast ratio of WCAG 2.2 between two colours.
fn contrast(one: [f64; 3], other: [f64; 3]) -> f64 {
    let (a, b) = (luminance(one), luminance(other));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn check(selector: &str, least: f64) {
    let colours = colours(selector);
    let short: Vec<_> = PAIRS
        .iter()
        .filter_map(|(ink, ground)| {
            let got = contrast(colours[*ink], colours[*ground]);
            (got < least).then(|| format!("{ink} on {ground}: {got:.2}"))
        })
        .collect();
    assert!(short.is_empty(), "{selector} wants {least}: {short:?}");
}

#[test]
fn black_on_white_is_21_to_1() {
    assert!((contrast([0.0; 3], [255.0; 3]) - 21.0).abs() < 1e-9);
}

#[test]
fn day_keeps_7_to_1() {
    check(r#"[data-light="day"]"#, 7.0);
}

#[test]
fn dusk_keeps_4_5_to_1() {
    check(r#"[data-light="dusk"]"#, 4.5);
}

#[test]
fn night_keeps_4_5_to_1() {
    check(r#"[data-light="night"]"#, 4.5);
}

#[test]
fn at_night_nothing_is_brighter_than_the_ink() {
    let colours = colours(r#"[data-light="night"]"#);
    let ink = luminance(colours["--ink"]);
    for (name, colour) in &colours {
        assert!(luminance(*colour) <= ink + 1e-9, "{name} outshines the ink");
    }
}

#[test]
fn a_device_that_prefers_dark_gets_the_dusk_until_someone_chooses() {
    assert_eq!(
        colours(r":root:not([data-light])"),
        colours(r#"[data-light="dusk"]"#)
    );
}
