//! What is folded away until it is wanted: its inside is made when it is opened, and stays open while what it shows changes.

use std::collections::BTreeSet;

use leptos::prelude::*;

/// What is open on a screen, by name.
#[derive(Clone, Copy)]
pub struct Unfolded(RwSignal<BTreeSet<String>>);

impl Unfolded {
    /// Nothing is open.
    pub fn new() -> Self {
        Self(RwSignal::default())
    }

    /// Another screen: everything is folded again.
    pub fn fold(self) {
        self.0.update(BTreeSet::clear);
    }
}

/// A fold: its summary, and under it what `inside` makes.
#[component]
pub fn Fold(
    /// Its name on the screen.
    #[prop(into)]
    name: String,
    /// What stands on it.
    #[prop(into)]
    summary: String,
    /// Its class.
    #[prop(optional)]
    class: &'static str,
    /// What is under it.
    inside: impl Fn() -> AnyView + Send + Sync + 'static,
) -> impl IntoView {
    let Unfolded(names) = expect_context();
    let of = name.clone();
    let is_open = Memo::new(move |_| names.with(|names| names.contains(&of)));
    let toggled = move |event: leptos::ev::Event| {
        let open = event_target::<web_sys::Element>(&event).has_attribute("open");
        if open == names.with_untracked(|names| names.contains(&name)) {
            return;
        }
        names.update(|names| {
            if open {
                names.insert(name.clone());
            } else {
                names.remove(&name);
            }
        });
    };
    view! {
        <details class=class open=is_open.get_untracked() on:toggle=toggled>
            <summary>{summary}</summary>
            {move || is_open.get().then(&inside)}
        </details>
    }
}
