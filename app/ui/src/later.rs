//! Pages that are not in the program's first file. Each belongs to a further file, which the browser gets when
//! the page is first wanted; the offline worker has kept it by then. The server draws them like any other.

#![expect(
    clippy::unnecessary_wraps,
    reason = "the macro adds the other outcome: that the file could not be had"
)]

use crate::bow::duty::DutyPage;
use crate::bow::enrol::EnrolPage;
use crate::bow::plan::BowPlanPage;
use crate::bridge::board::BoardPage;
use crate::bridge::plan::PlanPage;
use crate::office::run::RecordPage;
use crate::office::vessel::VesselPage;
use crate::office::vessels::VesselsPage;
use crate::parts::Empty;
use crate::port::device;
use crate::ship::card::CardPage;
use crate::ship::crew::CrewPage;
use crate::ship::defects::DefectsPage;
use crate::ship::log::{LogPage, VesselLogPage};
use crate::ship::procedure::ProcedurePage;
use crate::ship::procedures::ProceduresPage;
use crate::ship::proof::ProofPage;
use crate::ship::rounds::RoundsPage;
use crate::ship::settings::SettingsPage;
use crate::words;
use leptos::prelude::*;
use leptos::reactive::computed::ScopedFuture;
use leptos_router::ChooseView;
use std::pin::Pin;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// The file that a page belongs to could not be had.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotHere;

impl From<SplitLoaderError> for NotHere {
    fn from(_: SplitLoaderError) -> Self {
        Self
    }
}

/// A page on its way.
type Coming = Pin<Box<dyn Future<Output = Result<AnyView, NotHere>>>>;

/// A page of a further file, as the router takes it.
#[derive(Debug, Clone, Copy)]
pub struct Later(fn() -> Coming);

impl ChooseView for Later {
    async fn choose(self) -> AnyView {
        match (self.0)().await {
            Ok(page) => page,
            Err(NotHere) => view! { <NotHerePage page=self /> }.into_any(),
        }
    }

    async fn preload(&self) {}
}

/// Pages of the bridge.
#[derive(Debug, Clone, Copy)]
enum Bridge {
    Board,
    Plan,
    BowPlan,
}

#[wasm_split(bridge, fallible)]
fn bridge_page(page: Bridge) -> Result<AnyView, NotHere> {
    Ok(match page {
        Bridge::Board => view! { <BoardPage /> }.into_any(),
        Bridge::Plan => view! { <PlanPage /> }.into_any(),
        Bridge::BowPlan => view! { <BowPlanPage /> }.into_any(),
    })
}

/// Pages of the ship and of the office.
#[derive(Debug, Clone, Copy)]
enum Ship {
    Procedures,
    Procedure,
    Card,
    Defects,
    Rounds,
    Crew,
    Settings,
    Log,
    Proof,
    Vessels,
    Vessel,
    VesselLog,
    Record,
}

#[wasm_split(ship, fallible)]
fn ship_page(page: Ship) -> Result<AnyView, NotHere> {
    Ok(match page {
        Ship::Procedures => view! { <ProceduresPage /> }.into_any(),
        Ship::Procedure => view! { <ProcedurePage /> }.into_any(),
        Ship::Card => view! { <CardPage /> }.into_any(),
        Ship::Defects => view! { <DefectsPage /> }.into_any(),
        Ship::Rounds => view! { <RoundsPage /> }.into_any(),
        Ship::Crew => view! { <CrewPage /> }.into_any(),
        Ship::Settings => view! { <SettingsPage /> }.into_any(),
        Ship::Log => view! { <LogPage /> }.into_any(),
        Ship::Proof => view! { <ProofPage /> }.into_any(),
        Ship::Vessels => view! { <VesselsPage /> }.into_any(),
        Ship::Vessel => view! { <VesselPage /> }.into_any(),
        Ship::VesselLog => view! { <VesselLogPage /> }.into_any(),
        Ship::Record => view! { <RecordPage /> }.into_any(),
    })
}

/// Pages about this device and whoever has it.
#[derive(Debug, Clone, Copy)]
enum Own {
    Enrol,
    Duty,
}

#[wasm_split(own, fallible)]
fn own_page(page: Own) -> Result<AnyView, NotHere> {
    Ok(match page {
        Own::Enrol => view! { <EnrolPage /> }.into_any(),
        Own::Duty => view! { <DutyPage /> }.into_any(),
    })
}

macro_rules! pages {
    ($($name:ident = $file:ident($page:expr);)+) => {
        impl Later {
            $(pub const $name: Self = Self(|| Box::pin($file($page)));)+
        }
    };
}

pages! {
    BOARD = bridge_page(Bridge::Board);
    PLAN = bridge_page(Bridge::Plan);
    BOW_PLAN = bridge_page(Bridge::BowPlan);
    PROCEDURES = ship_page(Ship::Procedures);
    PROCEDURE = ship_page(Ship::Procedure);
    CARD = ship_page(Ship::Card);
    DEFECTS = ship_page(Ship::Defects);
    ROUNDS = ship_page(Ship::Rounds);
    CREW = ship_page(Ship::Crew);
    SETTINGS = ship_page(Ship::Settings);
    LOG = ship_page(Ship::Log);
    PROOF = ship_page(Ship::Proof);
    VESSELS = ship_page(Ship::Vessels);
    VESSEL = ship_page(Ship::Vessel);
    VESSEL_LOG = ship_page(Ship::VesselLog);
    RECORD = ship_page(Ship::Record);
    ENROL = own_page(Own::Enrol);
    DUTY = own_page(Own::Duty);
}

/// Says that a page's file could not be had, and gets it when asked, or by itself when the ship is heard.
#[component]
fn NotHerePage(page: Later) -> impl IntoView {
    let device = device();
    let come = RwSignal::new_local(None::<AnyView>);
    let is_asking = RwSignal::new(false);
    let ask = move || {
        if is_asking.get_untracked() {
            return;
        }
        is_asking.set(true);
        leptos::task::spawn_local(ScopedFuture::new(async move {
            let answer = (page.0)().await.ok();
            // Whoever waits may have gone to another page meanwhile.
            is_asking.try_set(false);
            if answer.is_some() {
                come.try_set(answer);
            }
        }));
    };
    let heard = Memo::new(move |_| device.link.state.with(|link| link.heard_ms));
    Effect::new(move |before: Option<()>| {
        heard.track();
        if before.is_some() && come.with_untracked(Option::is_none) {
            ask();
        }
    });
    move || {
        come.track();
        match come.try_update_untracked(Option::take).flatten() {
            Some(page) => page,
            None => view! {
                <main class="not-here" role="alert">
                    <Empty head=words::NOT_HERE body=words::NOT_HERE_BODY>
                        <button
                            type="button"
                            class="button is-primary"
                            disabled=move || is_asking.get()
                            on:click=move |_| ask()
                        >
                            {words::TRY_AGAIN}
                        </button>
                        // Past the router: the page is loaded anew, with the program as it is now aboard.
                        <a href="" rel="external" class="button">
                            {words::LOAD_ANEW}
                        </a>
                    </Empty>
                </main>
            }
            .into_any(),
        }
    }
}
