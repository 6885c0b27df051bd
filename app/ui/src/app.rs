//! The routes.

use crate::alarms::AlarmBar;
use crate::bow::home::BowHome;
use crate::later::Later;
use crate::platform;
use crate::ship::trouble::LogBar;
use crate::start::StartPage;
use crate::unlock_sheet::UnlockSheet;
use crate::withdrawn::WithdrawnBar;
use crate::words;
use leptos::prelude::*;
use leptos_meta::{Title, provide_meta_context};
use leptos_router::components::{Redirect, Route, Router, Routes};
use leptos_router::hooks::use_params_map;
use leptos_router::{NavigateOptions, path};

/// Returns a page's title as it is written: into HTML by the server, where the library puts it down as it
/// is given, and as plain text by the program in the browser.
fn written(title: String) -> String {
    if platform::ON_SERVER {
        title
            .replace('&', "&amp;")
            .replace('<', "&lt;")
            .replace('>', "&gt;")
    } else {
        title
    }
}

/// Leads an address that a page had before to where it stands now.
#[component]
fn Moved(to: String) -> impl IntoView {
    let options = NavigateOptions {
        replace: true,
        ..NavigateOptions::default()
    };
    view! { <Redirect path=to options /> }
}

/// The same for a vessel's roll.
#[component]
fn MovedVesselRoll() -> impl IntoView {
    let vessel = use_params_map().with_untracked(|named| named.get("vessel").unwrap_or_default());
    view! { <Moved to=format!("/office/{vessel}/roll") /> }
}

/// The whole program, from the address to the page.
#[component]
pub fn App() -> impl IntoView {
    provide_meta_context();
    view! {
        <Title text=words::NAME formatter=written />
        <Router>
            <WithdrawnBar />
            <AlarmBar />
            <LogBar />
            <UnlockSheet />
            <Routes fallback=|| view! { <p class="not-found">{words::NOT_FOUND}</p> }>
                <Route path=path!("/") view=StartPage />
                <Route path=path!("/bow") view=BowHome />
                <Route path=path!("/bow/enrol") view=Later::ENROL />
                <Route path=path!("/bow/phone") view=Later::PHONE_CHECK />
                <Route path=path!("/bow/run/:run") view=Later::RUN />
                <Route path=path!("/bow/plan") view=Later::BOW_PLAN />
                <Route path=path!("/plan") view=Later::PLAN />
                <Route path=path!("/bridge") view=Later::BOARD />
                <Route path=path!("/watch") view=Later::WATCH />
                <Route path=path!("/watch/inputs") view=Later::INPUTS />
                <Route path=path!("/watch/night") view=Later::NIGHT />
                <Route path=path!("/procedures") view=Later::PROCEDURES />
                <Route path=path!("/procedures/:slug") view=Later::PROCEDURE />
                <Route path=path!("/procedures/:slug/card") view=Later::CARD />
                <Route path=path!("/defects") view=Later::DEFECTS />
                <Route path=path!("/gear") view=Later::GEAR />
                <Route path=path!("/gear/labels") view=Later::LABELS />
                <Route path=path!("/gear/kinds") view=Later::KINDS />
                <Route path=path!("/gear/:item") view=Later::ITEM />
                <Route path=path!("/rounds") view=Later::ROUNDS />
                <Route path=path!("/drills") view=Later::DRILLS />
                <Route path=path!("/survey") view=Later::SURVEY />
                <Route path=path!("/foredeck") view=Later::FOREDECK />
                <Route path=path!("/marks") view=Later::MARKS />
                <Route path=path!("/crew") view=Later::CREW />
                <Route path=path!("/settings") view=Later::SETTINGS />
                <Route path=path!("/setup") view=Later::SETUP />
                <Route path=path!("/office") view=Later::VESSELS />
                <Route path=path!("/roll") view=Later::ROLL />
                <Route path=path!("/proof") view=Later::PROOF />
                <Route path=path!("/office/:vessel") view=Later::VESSEL />
                <Route path=path!("/office/:vessel/roll") view=Later::VESSEL_ROLL />
                <Route path=path!("/office/:vessel/run/:run") view=Later::RECORD />
                <Route path=path!("/log") view=|| view! { <Moved to="/roll".to_owned() /> } />
                <Route path=path!("/bow/duty") view=|| view! { <Moved to="/bow/phone".to_owned() /> } />
                <Route path=path!("/office/:vessel/log") view=MovedVesselRoll />
            </Routes>
        </Router>
    }
}
