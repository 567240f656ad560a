//! Papers of the job: drawing, lathe sheet, quote, sheet, certificate, figures. The server sets them; away from it the screen says so.

use job::sheet::Stage;
use leptos::prelude::*;

use super::app::{PRACTICE, app};
use super::sheet::open;
use crate::address::PAPERS;
use crate::light::Server;

/// The papers that are asked for at a stage.
#[component]
pub fn Papers(stage: Stage) -> impl IntoView {
    let open = open();
    let app = app();
    let why_not = Memo::new(move |_| {
        if open.job.with(|job| job.starts_with(PRACTICE)) {
            return Some("This is a practice job on this device. Papers are set by the server of the shop, from the jobs that it keeps.");
        }
        match app.light.with(|light| light.server) {
            Server::There | Server::Unknown => None,
            Server::Away => Some("The server can't be reached now. Papers are set by it: ask again when the light says saved."),
            Server::SignIn => Some("Papers are set by the server: sign in first, under who, at the top."),
            Server::None => Some("Papers are set by a server; this page came from none."),
        }
    });
    let waits = Memo::new(move |_| app.light.with(|light| light.waiting > 0));
    let links = move || {
        let (job, seat) = (open.job.get(), open.seat.get());
        let at = PAPERS.into_iter().filter(|paper| paper.stands_at(stage));
        at.map(|paper| view! { <a class="button" target="_blank" rel="noopener" href=paper.href(&job, &seat)>{paper.title}</a> })
            .collect_view()
    };
    view! {
        <div class="group papers" role="group" aria-labelledby="papers-title">
            <h3 id="papers-title">"Papers"</h3>
            {move || match why_not.get() {
                Some(why) => view! { <p class="soft">{why}</p> }.into_any(),
                None => view! { <div class="do">{links()}</div>{waits.get().then(|| view! { <p class="hint">"What still waits to be sent is not on them yet."</p> })} }.into_any(),
            }}
        </div>
    }
}
