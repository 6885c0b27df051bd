//! The page that hands out the ship's certificate.
//!
//! What stands there about phones was read in: *Trust manually installed certificate profiles in iOS,
//! iPadOS and visionOS* (support.apple.com/102390); *Add & remove certificates* (support.google.com/
//! pixelphone/answer/2844832); *Set up certificate authorities in Firefox* (support.mozilla.org).

use fast_qr::convert::svg::SvgBuilder;
use fast_qr::qr::QRBuilder;

const PAGE: &str = include_str!("page.html");
const LOOK: &str = include_str!("page.css");
/// The colours, space and type of all pages.
const TOKENS: &str = include_str!("../../../style/tokens.css");

/// What the page tells.
#[derive(Debug)]
pub struct Told {
    /// The address of this page.
    pub plain: String,
    /// The address of the program.
    pub secure: String,
    /// The SHA-256 of the certificate, in pairs of digits.
    pub fingerprint: String,
}

/// Draws the page.
pub fn draw(told: &Told) -> String {
    // Groups of four pairs are read aloud without losing the place.
    let pairs: Vec<&str> = told.fingerprint.split(':').collect();
    let groups: Vec<String> = pairs
        .chunks(4)
        .map(|group| format!("<span>{}</span>", group.join(" ")))
        .collect();
    PAGE.replace("{{tokens}}", TOKENS)
        .replace("{{look}}", LOOK)
        .replace("{{fingerprint}}", &groups.join(" "))
        .replace("{{picture}}", &picture(&told.plain))
        .replace("{{plain}}", &text(&told.plain))
        .replace("{{secure}}", &text(&told.secure))
}

fn text(raw: &str) -> String {
    raw.replace('&', "&amp;")
        .replace('<', "&lt;")
        .replace('>', "&gt;")
        .replace('"', "&quot;")
}

/// Returns an address as a picture for a phone's camera; nothing where it is too long for one.
fn picture(address: &str) -> String {
    QRBuilder::new(address)
        .build()
        .map(|code| SvgBuilder::default().to_str(&code))
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_page_says_where_and_what_and_needs_nothing_from_elsewhere() {
        let told = Told {
            plain: "http://192.168.4.1:8787".to_owned(),
            secure: "https://ship.home.arpa:8443".to_owned(),
            fingerprint: super::super::fingerprint(b"a certificate"),
        };
        let page = draw(&told);
        assert!(page.contains("href=\"https://ship.home.arpa:8443\""));
        // The beginning of what `printf 'a certificate' | sha256sum` says.
        assert!(page.contains("<span>81 AC D7 62</span>"), "{page}");
        assert!(page.contains("<svg"), "a picture for cameras");
        assert!(!page.contains("{{"), "every place is filled");
        for foreign in ["<script", "src=", "@import", "url("] {
            assert!(!page.contains(foreign), "{foreign}");
        }
    }
}
