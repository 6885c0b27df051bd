//! Pages, and parts of them, that are not in the program's first file. Each belongs to a further file, which the
//! browser gets when the page is first wanted; the offline worker has kept it by then. The server draws them like
//! any other.

#![expect(
    clippy::unnecessary_wraps,
    reason = "the macro adds the other outcome: that the file could not be had"
)]

use crate::bow::enrol::EnrolPage;
use crate::bow::phone_check::PhoneCheckPage;
use crate::bow::plan::BowPlanPage;
use crate::bow::run::RunPage;
use crate::bridge::board::BoardPage;
use crate::bridge::plan::PlanPage;
use crate::bridge::watch::{AnchorWatchPage, InputsPage, NightPage};
use crate::office::one_ship::OneShipPage;
use crate::office::run::RecordPage;
use crate::office::vessel::VesselPage;
use crate::office::vessels::VesselsPage;
use crate::parts::Empty;
use crate::port::{KeyCommand, device};
use crate::ship::card::CardPage;
use crate::ship::crew::CrewPage;
use crate::ship::defects::DefectsPage;
use crate::ship::drills::DrillsPage;
use crate::ship::foredeck::ForedeckPage;
use crate::ship::gear::{GearPage, ItemPage, KindsPage, LabelsPage};
use crate::ship::marks::MarksPage;
use crate::ship::procedure::ProcedurePage;
use crate::ship::procedures::ProceduresPage;
use crate::ship::proof::ProofPage;
use crate::ship::roll::{RollPage, VesselRollPage};
use crate::ship::rounds::RoundsPage;
use crate::ship::settings::SettingsPage;
use crate::ship::setup::SetupPage;
use crate::ship::survey::SurveyPage;
use crate::unlock_sheet::UnlockPanel;
use crate::words::{self, unlock_sheet};
use leptos::prelude::*;
use leptos::reactive::computed::ScopedFuture;
use leptos::reactive::owner::WeakOwner;
use leptos_router::ChooseView;
use std::pin::Pin;
use wasm_split_helpers::{SplitLoaderError, wasm_split};

/// The file that a page, or some work, belongs to could not be had.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct NotHere;

impl std::fmt::Display for NotHere {
    fn fmt(&self, to: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        to.write_str(&words::NOT_HERE)
    }
}

impl std::error::Error for NotHere {}

impl From<SplitLoaderError> for NotHere {
    fn from(_: SplitLoaderError) -> Self {
        Self
    }
}

/// Between tries to get what could not be had, ms.
const AGAIN_MS: i64 = 10_000;

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
    Watch,
    Inputs,
    Night,
}

#[wasm_split(ship, fallible, preload(fetch_ship))]
fn bridge_page(page: Bridge) -> Result<AnyView, NotHere> {
    Ok(match page {
        Bridge::Board => of_one_ship(|| view! { <BoardPage /> }.into_any()),
        Bridge::Plan => of_one_ship(|| view! { <PlanPage /> }.into_any()),
        Bridge::BowPlan => of_one_ship(|| view! { <BowPlanPage /> }.into_any()),
        Bridge::Watch => of_one_ship(|| view! { <AnchorWatchPage /> }.into_any()),
        Bridge::Inputs => of_one_ship(|| view! { <InputsPage /> }.into_any()),
        Bridge::Night => of_one_ship(|| view! { <NightPage /> }.into_any()),
    })
}

/// Pages of the ship and of the office.
#[derive(Debug, Clone, Copy)]
enum Ship {
    Procedures,
    Procedure,
    Card,
    Defects,
    Gear,
    Labels,
    Kinds,
    Item,
    Rounds,
    Drills,
    Survey,
    Foredeck,
    Marks,
    Crew,
    Settings,
    Setup,
    Roll,
    Proof,
    Vessels,
    Vessel,
    VesselRoll,
    Record,
}

#[wasm_split(ship, fallible)]
fn ship_page(page: Ship) -> Result<AnyView, NotHere> {
    Ok(match page {
        Ship::Procedures => of_one_ship(|| view! { <ProceduresPage /> }.into_any()),
        Ship::Procedure => of_one_ship(|| view! { <ProcedurePage /> }.into_any()),
        Ship::Card => of_one_ship(|| view! { <CardPage /> }.into_any()),
        Ship::Defects => of_one_ship(|| view! { <DefectsPage /> }.into_any()),
        Ship::Gear => of_one_ship(|| view! { <GearPage /> }.into_any()),
        Ship::Labels => of_one_ship(|| view! { <LabelsPage /> }.into_any()),
        Ship::Kinds => of_one_ship(|| view! { <KindsPage /> }.into_any()),
        Ship::Item => of_one_ship(|| view! { <ItemPage /> }.into_any()),
        Ship::Rounds => of_one_ship(|| view! { <RoundsPage /> }.into_any()),
        Ship::Drills => of_one_ship(|| view! { <DrillsPage /> }.into_any()),
        Ship::Survey => of_one_ship(|| view! { <SurveyPage /> }.into_any()),
        Ship::Foredeck => of_one_ship(|| view! { <ForedeckPage /> }.into_any()),
        Ship::Marks => of_one_ship(|| view! { <MarksPage /> }.into_any()),
        Ship::Crew => view! { <CrewPage /> }.into_any(),
        Ship::Settings => of_one_ship(|| view! { <SettingsPage /> }.into_any()),
        Ship::Setup => of_one_ship(|| view! { <SetupPage /> }.into_any()),
        Ship::Roll => view! { <RollPage /> }.into_any(),
        Ship::Proof => view! { <ProofPage /> }.into_any(),
        Ship::Vessels => view! { <VesselsPage /> }.into_any(),
        Ship::Vessel => view! { <VesselPage /> }.into_any(),
        Ship::VesselRoll => view! { <VesselRollPage /> }.into_any(),
        Ship::Record => view! { <RecordPage /> }.into_any(),
    })
}

/// Draws a page about one ship's own work; in an office, that there is none.
fn of_one_ship(page: fn() -> AnyView) -> AnyView {
    let device = device();
    let is_ashore = Memo::new(move |_| device.is_ashore());
    let drawn = move || {
        if is_ashore.get() {
            view! { <OneShipPage /> }.into_any()
        } else {
            page()
        }
    };
    drawn.into_any()
}

/// The page on which a run is worked.
#[wasm_split(bow, fallible, preload(fetch_bow))]
fn run_page() -> Result<AnyView, NotHere> {
    Ok(view! { <RunPage /> }.into_any())
}

/// Gets the file that the page at `path` belongs to, so that the page is there as soon as it is wanted.
pub async fn fetch_for(path: &str) {
    // What cannot be had now is asked for again by the page, which says so.
    let _ = match path {
        "/" | "/bow" => Ok(()),
        "/bow/enrol" | "/bow/phone" | "/bow/duty" => fetch_bow().await,
        _ if path.starts_with("/bow/run/") => fetch_bow().await,
        _ => fetch_ship().await,
    };
}

/// Gets what the bow is about to need, so that nobody waits for it with a thumb on the key.
pub fn fetch_ahead() {
    Effect::new(|_| {
        leptos::task::spawn_local(async {
            // What cannot be had now is asked for again when it is wanted.
            let _ = fetch_bow().await;
        });
    });
}

/// Pages about this device and whoever has it.
#[derive(Debug, Clone, Copy)]
enum Own {
    Enrol,
    PhoneCheck,
    Unlock,
}

#[wasm_split(bow, fallible)]
fn own_page(page: Own) -> Result<AnyView, NotHere> {
    Ok(match page {
        Own::Enrol => view! { <EnrolPage /> }.into_any(),
        Own::PhoneCheck => view! { <PhoneCheckPage /> }.into_any(),
        Own::Unlock => view! { <UnlockPanel /> }.into_any(),
    })
}

macro_rules! pages {
    ($($name:ident = $file:ident($($page:expr)?);)+) => {
        impl Later {
            $(pub const $name: Self = Self(|| Box::pin($file($($page)?)));)+
        }
    };
}

pages! {
    BOARD = bridge_page(Bridge::Board);
    PLAN = bridge_page(Bridge::Plan);
    BOW_PLAN = bridge_page(Bridge::BowPlan);
    WATCH = bridge_page(Bridge::Watch);
    INPUTS = bridge_page(Bridge::Inputs);
    NIGHT = bridge_page(Bridge::Night);
    PROCEDURES = ship_page(Ship::Procedures);
    PROCEDURE = ship_page(Ship::Procedure);
    CARD = ship_page(Ship::Card);
    DEFECTS = ship_page(Ship::Defects);
    GEAR = ship_page(Ship::Gear);
    LABELS = ship_page(Ship::Labels);
    KINDS = ship_page(Ship::Kinds);
    ITEM = ship_page(Ship::Item);
    ROUNDS = ship_page(Ship::Rounds);
    DRILLS = ship_page(Ship::Drills);
    SURVEY = ship_page(Ship::Survey);
    FOREDECK = ship_page(Ship::Foredeck);
    MARKS = ship_page(Ship::Marks);
    CREW = ship_page(Ship::Crew);
    SETTINGS = ship_page(Ship::Settings);
    SETUP = ship_page(Ship::Setup);
    ROLL = ship_page(Ship::Roll);
    PROOF = ship_page(Ship::Proof);
    VESSELS = ship_page(Ship::Vessels);
    VESSEL = ship_page(Ship::Vessel);
    VESSEL_ROLL = ship_page(Ship::VesselRoll);
    RECORD = ship_page(Ship::Record);
    RUN = run_page();
    ENROL = own_page(Own::Enrol);
    PHONE_CHECK = own_page(Own::PhoneCheck);
    UNLOCK = own_page(Own::Unlock);
}

/// Says that a page's file could not be had, and gets it when asked, or by itself when the ship is heard.
#[component]
fn NotHerePage(page: Later) -> impl IntoView {
    let said = |again: AnyView| {
        view! {
            <main class="not-here" role="alert">
                <Empty head=words::NOT_HERE body=words::NOT_HERE_BODY>
                    {again}
                    // Past the router: the page is loaded anew, with the program as it is now aboard.
                    <a href="" rel="external" class="button">
                        {words::LOAD_ANEW}
                    </a>
                    <a href="/bow" class="button">
                        {words::BOW_TITLE}
                    </a>
                </Empty>
            </main>
        }
        .into_any()
    };
    Arriving::new(page, true).shown(said)
}

/// A sheet of a further file, over whatever page asked for it.
#[component]
pub fn LaterSheet(sheet: Later) -> impl IntoView {
    let device = device();
    let said = move |again: AnyView| {
        view! {
            <div class="unlock-sheet">
                <section class="unlock-panel not-here" role="alert">
                    <Empty head=words::NOT_HERE body=words::NOT_HERE_BODY>
                        {again}
                        <button type="button" class="button" on:click=move |_| device.dispatch(KeyCommand::NotNow)>
                            {unlock_sheet::NOT_NOW}
                        </button>
                    </Empty>
                </section>
            </div>
        }
        .into_any()
    };
    Arriving::new(sheet, false).shown(said)
}

/// What is on its way, and what is known of it.
#[derive(Clone, Copy)]
struct Arriving {
    what: Later,
    /// Who owns what is drawn: not the press or the look at the time that asked for it, which are soon over.
    owner: StoredValue<Option<WeakOwner>>,
    come: RwSignal<Option<AnyView>, LocalStorage>,
    /// It could not be had when it was last asked for.
    is_missing: RwSignal<bool>,
    is_asking: RwSignal<bool>,
    has_come: RwSignal<bool>,
}

impl Arriving {
    /// Asks for it at once, unless that was done in vain before; and again whenever the ship is heard, and now and then.
    fn new(what: Later, is_missing: bool) -> Self {
        let this = Self {
            what,
            owner: StoredValue::new(Owner::current().map(|owner| owner.downgrade())),
            come: RwSignal::new_local(None),
            is_missing: RwSignal::new(is_missing),
            is_asking: RwSignal::new(false),
            has_come: RwSignal::new(false),
        };
        let device = device();
        let heard = Memo::new(move |_| {
            let heard_ms = device.link.state.with(|link| link.heard_ms);
            (heard_ms, device.system.now_ms.get() / AGAIN_MS)
        });
        Effect::new(move |before: Option<()>| {
            // Read, not only tracked: nobody else works it out.
            heard.get();
            if before.is_some() || !is_missing {
                this.ask();
            }
        });
        this
    }

    fn ask(self) {
        if self.is_asking.get_untracked() || self.has_come.get_untracked() {
            return;
        }
        let owner = self.owner.get_value();
        let Some(owner) = owner.and_then(|owner| owner.upgrade()) else {
            return;
        };
        self.is_asking.set(true);
        let asking = async move {
            let answer = (self.what.0)().await.ok();
            // Whoever waits may have gone to another page meanwhile.
            self.is_asking.try_set(false);
            self.is_missing.try_set(answer.is_none());
            if answer.is_some() {
                self.has_come.try_set(true);
                self.come.try_set(answer);
            }
        };
        leptos::task::spawn_local(owner.with(|| ScopedFuture::new_untracked(asking)));
    }

    /// Draws it once it is here, and until then `said` of why it is not.
    fn shown(self, said: impl Fn(AnyView) -> AnyView + Send + 'static) -> impl IntoView {
        move || {
            self.come.track();
            if let Some(come) = self.come.try_update_untracked(Option::take).flatten() {
                return Some(come);
            }
            self.is_missing.get().then(|| {
                let again = view! {
                    <button
                        type="button"
                        class="button is-primary"
                        disabled=move || self.is_asking.get()
                        on:click=move |_| self.ask()
                    >
                        {words::TRY_AGAIN}
                    </button>
                };
                said(again.into_any())
            })
        }
    }
}
