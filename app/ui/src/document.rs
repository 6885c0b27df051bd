//! The document that the server draws pages into. The offline shell has the same head.

use crate::App;
use crate::words::{self, Language};
use leptos::prelude::*;
use leptos_meta::MetaTags;

/// Where the page's assets are, by their hashed names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// Identity of this build.
    pub build: &'static str,
    /// The script that sets the light and starts the program.
    pub boot: &'static str,
    /// The style sheet.
    pub css: &'static str,
    /// The program's glue.
    pub app: &'static str,
    /// The program.
    pub wasm: &'static str,
    /// The icon.
    pub icon: &'static str,
    /// The icon for a home screen.
    pub touch_icon: &'static str,
}

/// Draws the document; without a head the page is still readable, but does nothing.
pub fn document(head: Option<Head>) -> impl IntoView {
    let links = head.map(|head| {
        view! {
            <meta name="clearhawse-build" content=head.build />
            <meta name="clearhawse-app" content=head.app />
            <meta name="clearhawse-wasm" content=head.wasm />
            <script src=head.boot></script>
            <link rel="stylesheet" href=head.css />
            <link rel="modulepreload" href=head.app />
            <link
                rel="preload"
                r#as="fetch"
                r#type="application/wasm"
                crossorigin=""
                href=head.wasm
            />
            <link rel="icon" r#type="image/svg+xml" href=head.icon />
            <link rel="apple-touch-icon" href=head.touch_icon />
        }
    });
    view! {
        <!DOCTYPE html>
        <html lang=Language::spoken().tag()>
            <head>
                <meta charset="utf-8" />
                <meta
                    name="viewport"
                    content="width=device-width, initial-scale=1, viewport-fit=cover"
                />
                <meta name="description" content=words::DESCRIPTION.text() />
                <meta name="color-scheme" content="light dark" />
                <meta
                    name="theme-color"
                    media="(prefers-color-scheme: light)"
                    content="#f5f4ef"
                />
                <meta name="theme-color" media="(prefers-color-scheme: dark)" content="#10161d" />
                <meta name="mobile-web-app-capable" content="yes" />
                <meta name="apple-mobile-web-app-capable" content="yes" />
                <meta name="apple-mobile-web-app-title" content="Clearhawse" />
                <meta name="apple-mobile-web-app-status-bar-style" content="default" />
                {links}
                <link rel="manifest" href="/manifest.webmanifest" />
                <MetaTags />
            </head>
            <body>
                <App />
            </body>
        </html>
    }
}
