//! Pages drawn by the server: never cached, each with its own nonce for the inline scripts that carry
//! what the page has already fetched.

use crate::assets;
use crate::fleet::Fleet;
use crate::read_api::ReadApi;
use crate::router::App;
use crate::session::Caller;
use axum::Router;
use axum::extract::FromRef;
use axum::http::{HeaderValue, header};
use leptos::callback::Callback;
use leptos::config::LeptosOptions;
use leptos::context::{provide_context, use_context};
use leptos::prelude::Set as _;
use leptos_axum::{AxumRouteListing, LeptosRoutes as _, ResponseOptions, generate_route_list};
use std::sync::Arc;
use ui::port::{Answer, Device, Sender, Source};
use ui::words::Language;

impl FromRef<App> for LeptosOptions {
    fn from_ref(_: &App) -> Self {
        Self::builder().output_name("clearhawse").build()
    }
}

/// Returns the policy of one page: the static one, and the scripts that carry `nonce`.
fn policy(nonce: &str) -> String {
    assets::STATIC_POLICY.replace(
        "script-src 'self'",
        &format!("script-src 'self' 'nonce-{nonce}'"),
    )
}

/// Where a page that is drawn for `caller` gets what it shows.
fn source(fleet: &Arc<Fleet>, reads: &Arc<ReadApi>, caller: Option<Caller>) -> Source {
    let (fleet, reads) = (Arc::clone(fleet), Arc::clone(reads));
    Source(Arc::new(move |path| -> Answer {
        let (fleet, reads) = (Arc::clone(&fleet), Arc::clone(&reads));
        let caller = caller.clone();
        Box::pin(async move {
            let caller = caller.ok_or_else(|| "nobody is signed in".to_owned())?;
            reads
                .answer(&fleet, &caller, &path)
                .await
                .map_err(|error| error.to_string())
        })
    }))
}

/// A page that the server draws changes nothing.
fn nothing_to_send() -> Sender {
    Sender(Arc::new(|_, _| -> Answer {
        Box::pin(async { Err("a page that is being drawn sends nothing".to_owned()) })
    }))
}

/// Lists the paths of every page.
pub fn paths(app: &App, reads: &Arc<ReadApi>) -> Vec<AxumRouteListing> {
    let (fleet, reads) = (Arc::clone(&app.fleet), Arc::clone(reads));
    // The paths are found by drawing the program once; what stands on every page wants a device.
    generate_route_list(move || {
        provide_context(source(&fleet, &reads, None));
        provide_context(nothing_to_send());
        provide_context(Device::new(Callback::new(|_| {})));
        ui::App()
    })
}

/// Makes the routes of every page.
pub fn router(app: &App, reads: &Arc<ReadApi>) -> Router<App> {
    let routes = paths(app, reads);
    let (fleet, reads) = (Arc::clone(&app.fleet), Arc::clone(reads));
    let is_office = app.is_ashore;
    let context = move || {
        let parts = use_context::<axum::http::request::Parts>();
        let cookies = parts.as_ref().map(|parts| {
            let all = parts.headers.get_all(header::COOKIE).into_iter();
            let read: Vec<&str> = all.filter_map(|cookie| cookie.to_str().ok()).collect();
            read.join("; ")
        });
        provide_context(Language::of_cookies(&cookies.unwrap_or_default()));
        let caller = parts.and_then(|parts| parts.extensions.get::<Caller>().cloned());
        let own = fleet.own_vessel();
        let is_of_house = caller.as_ref().map(|caller| Some(caller.vessel)) == Some(own);
        provide_context(source(&fleet, &reads, caller));
        provide_context(nothing_to_send());
        // The server has no device: its drawing shows what a device shows before its store is open.
        let device = Device::new(Callback::new(|_| {}));
        device.identity.is_ashore.set(is_office && is_of_house);
        provide_context(device);
        if let (Some(options), Some(nonce)) =
            (use_context::<ResponseOptions>(), leptos::nonce::use_nonce())
            && let Ok(value) = HeaderValue::from_str(&policy(&nonce))
        {
            options.insert_header(header::CONTENT_SECURITY_POLICY, value);
            options.insert_header(header::CACHE_CONTROL, HeaderValue::from_static("no-store"));
        }
    };
    let head = assets::manifest().map(|manifest| ui::document::Head {
        build: manifest.build,
        boot: manifest.boot,
        css: manifest.css,
        app: manifest.app,
        wasm: manifest.wasm,
        icon: manifest.icon,
        touch_icon: manifest.touch_icon,
    });
    Router::new()
        .leptos_routes_with_context(app, routes, context, move || ui::document::document(head))
}
