//! The routes.

use crate::alarms::AlarmBar;
use crate::bow::duty::DutyPage;
use crate::bow::enrol::EnrolPage;
use crate::bow::home::BowHome;
use crate::bow::plan::BowPlanPage;
use crate::bow::run::RunPage;
use crate::bridge::board::BoardPage;
use crate::bridge::plan::PlanPage;
use crate::office::run::RecordPage;
use crate::office::vessel::VesselPage;
use crate::office::vessels::VesselsPage;
use crate::ship::card::CardPage;
use crate::ship::crew::CrewPage;
use crate::ship::defects::DefectsPage;
use crate::ship::log::{LogPage, VesselLogPage};
use crate::ship::procedure::ProcedurePage;
use crate::ship::procedures::ProceduresPage;
use crate::ship::proof::ProofPage;
use crate::ship::rounds::RoundsPage;
use crate::ship::settings::SettingsPage;
use crate::ship::trouble::LogBar;
use crate::start::StartPage;
use crate::unlock_sheet::UnlockSheet;
use crate::words;
use leptos::prelude::*;
use leptos_meta::{Title, provide_meta_context};
use leptos_router::components::{Route, Router, Routes};
use leptos_router::path;

/// Returns a page's title as it is written: into HTML by the server, where the library puts it down as it
/// is given, and as plain text by the program in the browser.
fn written(title: String) -> String {
    if cfg!(feature = "ssr") {
        title
            .replace('&', "&amp;")
            .replace('<', "&lt;")
            .replace('>', "&gt;")
    } else {
        title
    }
}

/// The whole program, from the address to the page.
#[component]
pub fn App() -> impl IntoView {
    provide_meta_context();
    view! {
        <Title text=words::NAME formatter=written />
        <Router>
            <AlarmBar />
            <LogBar />
            <UnlockSheet />
            <Routes fallback=|| view! { <p class="not-found">{words::NOT_FOUND}</p> }>
                <Route path=path!("/") view=StartPage />
                <Route path=path!("/bow") view=BowHome />
                <Route path=path!("/bow/enrol") view=EnrolPage />
                <Route path=path!("/bow/duty") view=DutyPage />
                <Route path=path!("/bow/run/:run") view=RunPage />
                <Route path=path!("/bow/plan") view=BowPlanPage />
                <Route path=path!("/plan") view=PlanPage />
                <Route path=path!("/bridge") view=BoardPage />
                <Route path=path!("/procedures") view=ProceduresPage />
                <Route path=path!("/procedures/:slug") view=ProcedurePage />
                <Route path=path!("/procedures/:slug/card") view=CardPage />
                <Route path=path!("/defects") view=DefectsPage />
                <Route path=path!("/rounds") view=RoundsPage />
                <Route path=path!("/crew") view=CrewPage />
                <Route path=path!("/settings") view=SettingsPage />
                <Route path=path!("/office") view=VesselsPage />
                <Route path=path!("/log") view=LogPage />
                <Route path=path!("/proof") view=ProofPage />
                <Route path=path!("/office/:vessel") view=VesselPage />
                <Route path=path!("/office/:vessel/log") view=VesselLogPage />
                <Route path=path!("/office/:vessel/run/:run") view=RecordPage />
            </Routes>
        </Router>
    }
}
