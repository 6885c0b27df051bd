//! What an office shows where a ship shows her own work: that it has none, and where the ships are.

use super::head::OfficeHead;
use crate::parts::Empty;
use crate::words;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

/// The page.
#[component]
pub fn OneShipPage() -> impl IntoView {
    view! {
        <Title text=words::ONE_SHIP />
        <div class="office">
            <OfficeHead />
            <main class="office-main">
                <Empty head=words::ONE_SHIP body=words::ONE_SHIP_BODY>
                    <A href="/office" attr:class="button is-primary">
                        {words::VESSELS}
                    </A>
                </Empty>
            </main>
        </div>
    }
}
