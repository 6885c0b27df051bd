//! What stands where there is nothing yet: why, and what to do.

use leptos::prelude::*;

/// An empty place, with a slack bight of chain and a sentence.
#[component]
pub fn Empty(
    /// What is not there, in a few words.
    #[prop(into)]
    head: String,
    /// Why, and what to do.
    #[prop(into)]
    body: String,
    /// Actions, when there are any.
    #[prop(optional)]
    children: Option<Children>,
) -> impl IntoView {
    // Links of chain in a slack bight between two fairleads.
    let links = (0..9)
        .map(|at| {
            let across = f64::from(at) - 4.0;
            let (x, y) = (across * 27.0, 26.0 - across * across * 2.2);
            let turn = -across * 9.2;
            let place = format!("translate({x:.1} {y:.1}) rotate({turn:.1})");
            if at % 2 == 0 {
                view! { <rect x="-18" y="-8" width="36" height="16" rx="8" transform=place class="empty-link" /> }.into_any()
            } else {
                view! { <rect x="-17" y="-2.5" width="34" height="5" rx="2.5" transform=place class="empty-edge" /> }.into_any()
            }
        })
        .collect_view();
    view! {
        <div class="empty">
            <svg class="empty-drawing" viewBox="-134 -20 268 64" aria-hidden="true" focusable="false">
                {links}
            </svg>
            <p class="empty-head">{head}</p>
            <p class="empty-body">{body}</p>
            {children.map(|children| view! { <div class="empty-actions">{children()}</div> })}
        </div>
    }
    .into_any()
}
