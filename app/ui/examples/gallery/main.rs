//! Draws every part in every state, and each page's composition, to files that can be looked at.
//!
//! `cargo run -p ui --features ssr --example gallery -- DIR` writes one HTML file for each page and light, with the
//! style sheets inside; open them in a browser at 390 x 844 and 1280 x 800.

#![recursion_limit = "256"]
#![expect(
    clippy::wildcard_imports,
    reason = "a gallery shows every part there is"
)]

mod bow;
mod bridge;
mod office;
mod pieces;
mod plan;
mod sample;

use std::{fs, io, path::Path};

use leptos::prelude::*;

/// A page of the gallery: its file's name and what draws it.
type Page = (&'static str, fn() -> AnyView);

/// Every page of the gallery.
const PAGES: &[Page] = &[
    ("pieces", pieces::page),
    ("bow_confirm", bow::confirm),
    ("bow_reading", bow::reading),
    ("bow_hold", bow::hold),
    ("bow_points", bow::points),
    ("bow_choice", bow::choice),
    ("bow_cable_log", bow::cable_log),
    ("bow_people", bow::people),
    ("bow_empty", bow::empty),
    ("start", bow::start),
    ("bridge", bridge::board),
    ("bridge_quiet", bridge::quiet),
    ("office", office::vessels),
    ("record", office::record),
    ("plan", plan::page),
];

fn main() -> io::Result<()> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("../..");
    let dir = std::env::args()
        .nth(1)
        .unwrap_or_else(|| "target/gallery".to_owned());
    fs::create_dir_all(&dir)?;
    let fonts = root.join("public/fonts").canonicalize()?;
    let style = bundle(&root.join("style"), "main.css")?
        .replace("/fonts/", &format!("file://{}/", fonts.display()));
    for (name, page) in PAGES {
        let body = Owner::new().with(|| page().to_html());
        for light in ["day", "dusk", "night"] {
            let html = format!(
                "<!doctype html><html lang=\"en\" data-light=\"{light}\"><head><meta charset=\"utf-8\">\
                 <meta name=\"viewport\" content=\"width=device-width, initial-scale=1, viewport-fit=cover\">\
                 <title>{name}, {light}</title><style>{style}</style></head><body>{body}</body></html>"
            );
            fs::write(Path::new(&dir).join(format!("{name}_{light}.html")), html)?;
        }
    }
    println!("{} pages in three lights in {dir}", PAGES.len());
    Ok(())
}

/// Returns a style sheet with its imports put in, each in its layer.
fn bundle(dir: &Path, name: &str) -> io::Result<String> {
    let mut whole = String::new();
    for line in fs::read_to_string(dir.join(name))?.lines() {
        let import = line
            .strip_prefix("@import url(\"")
            .and_then(|rest| rest.split_once("\") layer("))
            .and_then(|(file, rest)| Some((file, rest.strip_suffix(");")?)));
        if let Some((file, layer)) = import {
            let inner = bundle(dir, file)?;
            whole.extend(["@layer ", layer, " {\n", &inner, "\n}\n"]);
        } else {
            whole.push_str(line);
            whole.push('\n');
        }
    }
    Ok(whole)
}
