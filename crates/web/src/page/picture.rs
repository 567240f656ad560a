//! A picture with its words and its figures as a table.

use job::sheet::Grid;
use leptos::prelude::*;

use super::clock::NowMark;
use super::unfold::Fold;
use crate::errand::Shown;

/// A picture: drawn, described, and to be read as a table.
#[component]
pub fn Picture(shown: Shown) -> impl IntoView {
    let Shown { name, svg, title, description, table, times, .. } = shown;
    let inside = move || view! { <p>{description.clone()}</p><Table grid=table.clone()/> }.into_any();
    view! {
        <figure class="picture">
            <div class="drawn">
                <div inner_html=svg></div>
                {times.map(|times| view! { <NowMark times/> })}
            </div>
            <figcaption><Fold name=format!("picture {name}") summary=format!("{title}: in words and as a table") inside/></figcaption>
        </figure>
    }
}

/// A table of a sheet.
#[component]
pub fn Table(grid: Grid) -> impl IntoView {
    if grid.rows.is_empty() {
        return ().into_any();
    }
    let figures = grid.figures.clone();
    let class = move |i: usize| if figures.get(i).copied().unwrap_or(false) { "figure" } else { "" };
    let (head, body) = (class.clone(), class);
    let columns = grid.columns.clone();
    let (name, title) = (grid.title.clone(), grid.title);
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label=name>
            <table>
                <caption>{title}</caption>
                <thead><tr>{grid.columns.into_iter().enumerate().map(|(i, column)| {
                    if column.is_empty() { view! { <td class="blank-head"></td> }.into_any() } else { view! { <th scope="col" class=head(i)>{column}</th> }.into_any() }
                }).collect_view()}</tr></thead>
                <tbody>
                    {grid.rows.into_iter().map(|row| {
                        let body = body.clone();
                        let columns = columns.clone();
                        view! {
                            <tr>{row.into_iter().enumerate().map(move |(i, cell)| {
                                let class = if i == 0 { format!("{} first", body(i)) } else { body(i).to_owned() };
                                view! { <td class=class data-label=columns.get(i).cloned().unwrap_or_default()>{cell}</td> }
                            }).collect_view()}</tr>
                        }
                    }).collect_view()}
                </tbody>
            </table>
        </div>
    }
    .into_any()
}
