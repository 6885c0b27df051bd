//! The choice of light: day, dusk, night, or by the sun.

use leptos::prelude::*;

use crate::words::parts as words;

/// The light the screen is drawn for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Light {
    /// Full sun: light ground, dark ink.
    Day,
    /// Twilight: slate ground.
    Dusk,
    /// Dark: black ground, dim ink, nothing brighter than the ink.
    Night,
    /// Whichever of the three the sun asks for at the ship's position.
    #[default]
    BySun,
}

impl Light {
    /// Every choice, in the order of the switch.
    pub const ALL: [Self; 4] = [Self::Day, Self::Dusk, Self::Night, Self::BySun];

    /// Returns the name under which the choice is kept, and the value of `data-light` for the first three.
    pub fn name(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Dusk => "dusk",
            Self::Night => "night",
            Self::BySun => "sun",
        }
    }

    /// Returns the choice kept under `name`.
    pub fn named(name: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|light| light.name() == name)
    }

    /// Returns the choice after this one, so that one key can step through them.
    #[must_use]
    pub fn next(self) -> Self {
        match self {
            Self::Day => Self::Dusk,
            Self::Dusk => Self::Night,
            Self::Night => Self::BySun,
            Self::BySun => Self::Day,
        }
    }
}

/// Draws the sun over the horizon, on it, below it, or on its way.
fn sky(light: Light) -> AnyView {
    match light {
        Light::Day => view! {
            <circle cx="12" cy="11" r="4.5" class="sky-disk" />
            <path d="M12 2.5v2M12 17.5v0M4.5 11h-2M21.5 11h-2M6.5 5.5 5 4M17.5 5.5 19 4M2 21h20" />
        }
        .into_any(),
        Light::Dusk => view! {
            <path d="M6.5 17a5.5 5.5 0 0 1 11 0Z" class="sky-disk" />
            <path d="M2 17h20M5 21h14M12 6v2.5M4.6 9.6 6 11M19.4 9.6 18 11" />
        }
        .into_any(),
        Light::Night => view! {
            <path d="M15.5 3.5a8 8 0 1 0 5 11 6.5 6.5 0 0 1-5-11Z" class="sky-disk" />
        }
        .into_any(),
        Light::BySun => view! {
            <path d="M2 19C5 6 19 6 22 19" />
            <circle cx="12" cy="9.2" r="3.6" class="sky-disk" />
            <path d="M1 19h22" />
        }
        .into_any(),
    }
}

/// Draws a light's picture; a word always stands beside it.
#[component]
fn Sky(light: Light) -> impl IntoView {
    view! {
        <svg class="sky" viewBox="0 0 24 24" aria-hidden="true" focusable="false">
            {sky(light)}
        </svg>
    }
    .into_any()
}

/// The four lights side by side, for the bridge, the office and the settings.
#[component]
pub fn LightSwitch(
    /// The choice that holds now.
    #[prop(into)]
    chosen: Signal<Light>,
    /// Called with the new choice.
    #[prop(into)]
    on_choose: Callback<Light>,
) -> impl IntoView {
    let choice = move |light: Light| {
        view! {
            <button
                type="button"
                class="light-choice"
                aria-pressed=move || (chosen.get() == light).to_string()
                on:click=move |_| on_choose.run(light)
            >
                <Sky light=light />
                {words::light(light)}
            </button>
        }
    };
    view! {
        <div class="light-switch" role="group" aria-label=words::LIGHT>
            {Light::ALL.map(choice).into_iter().collect_view()}
        </div>
    }
    .into_any()
}

/// One key that steps to the next light, for the bow, where width is dear.
#[component]
pub fn LightButton(
    /// The choice that holds now.
    #[prop(into)]
    chosen: Signal<Light>,
    /// Called with the next choice.
    #[prop(into)]
    on_choose: Callback<Light>,
) -> impl IntoView {
    view! {
        <button
            type="button"
            class="light-button"
            aria-label=move || words::light_now(chosen.get())
            on:click=move |_| on_choose.run(chosen.get_untracked().next())
        >
            {move || view! { <Sky light=chosen.get() /> }}
            <span>{move || words::light(chosen.get()).text()}</span>
        </button>
    }
    .into_any()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_presses_come_round_to_the_same_light() {
        for light in Light::ALL {
            assert_eq!(light.next().next().next().next(), light);
            assert_eq!(Light::named(light.name()), Some(light));
        }
        assert_eq!(Light::named("noon"), None);
    }
}
