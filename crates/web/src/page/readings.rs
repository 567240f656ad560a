//! Readings: a grid that takes digits from hands and gauges, jumps on at Enter, keeps each at once, and marks what stands out.

use job::entry::{Amount, Scope, What};
use job::sheet::Stage;
use job::show;
use job::state::{Feature, Reading, ReadingSet};
use job::typed;
use leptos::prelude::*;
use serde_json::Value;

use super::app::{App, app};
use super::browser;
use super::sheet::{Open, open};
use crate::{asked, column, writing};

/// Angles at which a bore is usually read, degrees. *Common practice*.
const ANGLES: &str = "0 45 90 135";

/// Readings are shown to the micrometre, however they were typed.
const DECIMALS: usize = 3;

/// What is measured on this stage.
#[component]
pub fn Readings(stage: Stage) -> impl IntoView {
    let features = asked::features(stage);
    let feature = RwSignal::new(features.first().copied().unwrap_or(Feature::HousingBore));
    view! {
        <div class="group readings">
            <div class="choices" role="group" aria-label="What is measured">
                {features.iter().map(|one| { let one = *one; view! {
                    <button type="button" aria-pressed=move || (feature.get() == one).to_string() on:click=move |_| feature.set(one)>{one.word()}</button>
                } }).collect_view()}
            </div>
            {move || view! { <Sets stage feature=feature.get()/> <Grid feature=feature.get()/> }}
        </div>
    }
}

/// The sets that are recorded.
#[component]
fn Sets(stage: Stage, feature: Feature) -> impl IntoView {
    let open = open();
    let sets = Memo::new_with_compare(move |_| open.of_seat.with(|seat| seat.sets_of(feature).cloned().collect::<Vec<_>>()), |_, _| true);
    let suspects = Memo::new(move |_| open.stage_sheet(stage).map(|sheet| suspects(&sheet, feature)).unwrap_or_default());
    view! {
        {move || sets.get().into_iter().enumerate().map(|(number, set)| view! { <Set number=number + 1 set suspects/> }).collect_view()}
    }
}

/// Readings that stand out: their size as read, mm, and by how much, in words.
fn suspects(sheet: &job::sheet::StageSheet, feature: Feature) -> Vec<(f64, String)> {
    let name = format!("{}_survey", feature.word().replace(' ', "_"));
    let Some(of) = sheet.calculations.iter().find(|calculation| calculation.name == name) else { return Vec::new() };
    let listed = of.answer.get("suspects").and_then(Value::as_array).cloned().unwrap_or_default();
    let rows = of.request.get("readings").and_then(Value::as_array).cloned().unwrap_or_default();
    listed
        .iter()
        .filter_map(|suspect| {
            let row = rows.get(usize::try_from(suspect.get("index")?.as_u64()?).ok()?)?;
            let off = suspect.get("off_mm").or_else(|| suspect.get("residual_mm")).and_then(Value::as_f64).unwrap_or(0.0);
            Some((row.get("reading_mm")?.as_f64()?, calc::shown::fine(calc::units::um_from_mm(off), calc::units::System::Metric)))
        })
        .collect()
}

#[component]
fn Set(number: usize, set: ReadingSet, suspects: Memo<Vec<(f64, String)>>) -> impl IntoView {
    let open = open();
    let units = open.units;
    let head = {
        let part = set.part_C.map(|part| format!(", part {}", show::temperature(part.value, units.get_untracked()))).unwrap_or_default();
        let described = |gauge: &str| open.of_seat.with_untracked(|seat| seat.text(&format!("gauge.{gauge}.name")).map(str::to_owned));
        let gauge = set.gauge.clone().map_or_else(|| "gauge not named".into(), |gauge| described(&gauge).unwrap_or(gauge));
        let by = show::by(&[&set.who, &set.day]);
        format!("Set {number}: {gauge}{part}; {by}")
    };
    let name = head.clone();
    view! {
        <div class="scroll" tabindex="0" role="region" aria-label=name>
            <table class="readings-table">
                <caption>{head}</caption>
                <thead><tr><th scope="col" class="figure">"station"</th><th scope="col" class="figure">"angle"</th><th scope="col" class="figure">"reading"</th><th scope="col" class="figure">"part"</th><td class="blank-head"></td></tr></thead>
                <tbody>{set.readings.into_iter().map(|reading| view! { <ReadingRow reading suspects open/> }).collect_view()}</tbody>
            </table>
        </div>
    }
}

#[component]
fn ReadingRow(reading: Reading, suspects: Memo<Vec<(f64, String)>>, open: Open) -> impl IntoView {
    let size = reading.size_mm;
    let off = Memo::new(move |_| suspects.with(|all| all.iter().find(|(mm, _)| *mm == size).map(|(_, off)| off.clone())));
    let dropped = reading.dropped.clone();
    let is_dropped = dropped.is_some();
    let id = reading.entry;
    let asking = RwSignal::new(false);
    let why = RwSignal::new(String::new());
    let units = open.units;
    let length = move |mm: Option<f64>| mm.map(|mm| show::length(mm, units.get())).unwrap_or_default();
    let said = dropped.map(|why| format!("not used: {why}"));
    let has_more = move || is_dropped || off.get().is_some() || asking.get();
    let drop_it = move || {
        let because = why.get_untracked().trim().to_owned();
        if !because.is_empty() {
            open.record(open.row(), writing::drop_readings(vec![id], &because));
        }
    };
    view! {
        <tr class="reading" class:odd=move || off.get().is_some() && !is_dropped class:dropped=is_dropped>
            <td class="figure">{move || length(reading.station_mm)}</td>
            <td class="figure">{reading.angle_deg.map(|angle| format!("{angle}°"))}</td>
            <td class="figure">{move || calc::shown::length(size, DECIMALS, units.get().system())}</td>
            <td class="figure">{move || reading.part_C.map(|C| show::temperature(C, units.get()))}</td>
            <td>{move || (!is_dropped && !asking.get()).then(|| view! { <button type="button" class="plain" on:click=move |_| asking.set(true)>"drop"</button> })}</td>
        </tr>
        // What is said of a reading stands under it: beside it there is no room on a phone.
        {move || has_more().then(|| view! {
            <tr class="said-of" class:call-out=move || off.get().is_some() && !is_dropped><td colspan="5">
                {said.clone()}
                {move || (!is_dropped).then(|| off.get()).flatten().map(|off| view! { <strong class="call">{format!("! stands out by {off}: take it again")}</strong> })}
                {move || (!is_dropped && asking.get()).then(|| view! {
                    <span class="ask">
                        <input aria-label="Why it is not to be used" placeholder="why" prop:value=why on:input=move |event| why.set(event_target_value(&event))/>
                        <button type="button" on:click=move |_| drop_it()>"Drop it"</button>
                    </span>
                })}
            </td></tr>
        })}
    }
}

/// The grid for a new set.
#[component]
fn Grid(feature: Feature) -> impl IntoView {
    let open = open();
    let app = app();
    let gauge = RwSignal::new(
        open.of_seat.with_untracked(|seat| seat.sets_of(feature).last().and_then(|set| set.gauge.clone())).unwrap_or_default(),
    );
    let (part, gauge_T) = (RwSignal::new(String::new()), RwSignal::new(String::new()));
    let (stations, angles) = (RwSignal::new(String::new()), RwSignal::new(ANGLES.to_owned()));
    let fault = RwSignal::new(None::<String>);
    let pasted = RwSignal::new(String::new());
    let set_number = StoredValue::new(None::<u32>);
    let places = Memo::new(move |_| places(&stations.get(), &angles.get(), open));
    let names = Memo::new(move |_| open.of_seat.with(|seat| seat.names("gauge").into_iter().map(str::to_owned).collect::<Vec<_>>()));
    let common = move || -> Result<Common, String> {
        let units = open.units.get_untracked();
        let warmth = |text: String| {
            if text.trim().is_empty() {
                Ok(None)
            } else {
                typed::temperature(&text, units).map(Some).map_err(|refused| refused.to_string())
            }
        };
        Ok(Common {
            feature,
            set: next_set(open, feature, set_number),
            gauge: Some(gauge.get_untracked()).filter(|gauge| !gauge.is_empty()),
            part_C: warmth(part.get_untracked())?,
            gauge_C: warmth(gauge_T.get_untracked())?,
        })
    };
    // A shaft that runs through several seats is read once.
    let brief = Memo::new(move |_| open.of_seat.with(|seat| seat.brief.clone()).filter(|_| feature == Feature::Journal));
    let shared = RwSignal::new(false);
    let scope = move || match brief.get_untracked() {
        Some(brief) if shared.get_untracked() => Scope::Brief(brief),
        _ => open.own(),
    };
    let keep = move |row: column::Row| -> Result<(), String> {
        let common = common()?;
        open.record(scope(), common.reading(row));
        Ok(())
    };
    let paste = move |text: &str| {
        let units = open.units.get_untracked();
        let read = column::rows(text, units).map_err(|refused| refused.to_string()).and_then(|rows| Ok((rows, common()?)));
        match read {
            Ok((rows, common)) => {
                write_all(app, open, &scope(), rows.into_iter().map(|row| common.reading(row)).collect());
                pasted.set(String::new());
                fault.set(None);
            }
            Err(sentence) => fault.set(Some(sentence)),
        }
    };
    let word = feature.word();
    view! {
        <details class="new-set" open=true>
            <summary>{format!("Read the {word}")}</summary>
            <div class="fields">
                <div class="field"><label for="r-gauge">"gauge"</label><div class="entry">
                    <select id="r-gauge" on:change=move |event| gauge.set(event_target_value(&event))>
                        <option value="" selected=move || gauge.get().is_empty()>"not named"</option>
                        {move || names.get().into_iter().map(|name| { let (is, value) = (name.clone(), name.clone()); view! { <option value=value selected=move || gauge.get() == is>{name}</option> } }).collect_view()}
                    </select></div>
                    <p class="hint">"its repeatability and certificate count in the doubt"</p></div>
                {move || brief.get().map(|_| view! {
                    <div class="field"><label for="r-for">"the same journal runs in"</label><div class="entry">
                        <select id="r-for" on:change=move |event| shared.set(event_target_value(&event) == "all")>
                            <option value="seat" selected=move || !shared.get()>"this seat alone"</option>
                            <option value="all" selected=move || shared.get()>"every seat that shares the brief"</option>
                        </select></div>
                        <p class="hint">"a shaft through several seats is read once"</p></div>
                })}
                <Warmth id="r-part" label="temperature of the part" text=part hint="for the whole set; without it that of the shop"/>
                <Warmth id="r-gauge-t" label="temperature of the gauge" text=gauge_T hint="or of its ring when it was set"/>
                <div class="field"><label for="r-stations">"stations from the datum end"</label><div class="entry"><input id="r-stations" autocomplete="off" placeholder="15 90 165" prop:value=stations on:change=move |event| stations.set(event_target_value(&event))/><span class="unit">{move || open.units.get().system().length()}</span></div>
                    <p class="hint">"three are usual: near each end and the middle; empty: no place, sizes alone"</p></div>
                <div class="field"><label for="r-angles">"angles"</label><div class="entry"><input id="r-angles" autocomplete="off" prop:value=angles on:change=move |event| angles.set(event_target_value(&event))/><span class="unit">"°"</span></div>
                    <p class="hint">"four directions tell oval from round"</p></div>
            </div>
            <p class="hint">"A gauge that types, or your hands: digits, then Enter. Each reading is kept at once and the next cell waits. Put the cursor in a cell and paste a column to fill from there."</p>
            {move || match places.get() {
                Ok(places) => view! { <Cells places keep=Callback::new(keep) paste=Callback::new(move |text: String| paste(&text)) open/> }.into_any(),
                Err(sentence) => view! { <p class="bad" role="alert">{sentence}</p> }.into_any(),
            }}
            <p class="bad" role="alert">{move || fault.get()}</p>
            <div class="do">
                <button type="button" class="button" on:click=move |_| undo(app, open)>"Take back the last reading"</button>
            </div>
            <details>
                <summary>"Paste a table, or take a CSV file"</summary>
                <label for="r-paste">"One reading a line: size; or station, angle, size; and the part's temperature behind it"</label>
                <textarea id="r-paste" rows="4" prop:value=pasted on:input=move |event| pasted.set(event_target_value(&event))></textarea>
                <div class="do">
                    <button type="button" class="button" on:click=move |_| paste(&pasted.get_untracked())>"Record these"</button>
                    <label class="button file">"CSV file"<input type="file" accept=".csv,.txt,text/csv" on:change=move |event| taken_file(&event, pasted)/></label>
                </div>
            </details>
        </details>
    }
}

#[component]
fn Warmth(id: &'static str, label: &'static str, hint: &'static str, text: RwSignal<String>) -> impl IntoView {
    let open = open();
    let degree = move || if open.units.get() == job::state::Units::Inch { "°F" } else { "°C" };
    view! {
        <div class="field"><label for=id>{label}</label><div class="entry"><input id=id class="figure" inputmode="decimal" autocomplete="off" prop:value=text on:input=move |event| text.set(event_target_value(&event))/><span class="unit">{degree}</span></div>
            <p class="hint">{hint}</p></div>
    }
}

/// What all readings of a set share.
struct Common {
    feature: Feature,
    set: u32,
    gauge: Option<String>,
    part_C: Option<Amount>,
    gauge_C: Option<Amount>,
}

impl Common {
    fn reading(&self, row: column::Row) -> What {
        What::Reading {
            feature: self.feature,
            set: self.set,
            gauge: self.gauge.clone(),
            station_mm: row.station_mm,
            angle_deg: row.angle_deg,
            size_mm: row.size_mm,
            own_part_C: row.part_C,
            part_C: self.part_C,
            gauge_C: self.gauge_C,
        }
    }
}

/// The number of the set that is being read: one more than those that were there when the grid was opened.
fn next_set(open: Open, feature: Feature, kept: StoredValue<Option<u32>>) -> u32 {
    kept.get_value().unwrap_or_else(|| {
        let used = open.entries.with_untracked(|entries| {
            entries
                .iter()
                .filter_map(|entry| match &entry.what {
                    What::Reading { feature: of, set, .. } if *of == feature => Some(*set),
                    _ => None,
                })
                .max()
        });
        let next = used.unwrap_or(0).saturating_add(1);
        kept.set_value(Some(next));
        next
    })
}

fn write_all(app: App, open: Open, scope: &Scope, all: Vec<What>) {
    let job = untrack(|| open.job.get());
    let mut follows = open.entries.with_untracked(|entries| entries.last().map(|entry| entry.id));
    let mut entries = Vec::new();
    for what in all {
        let mut entry = app.entry(&job, scope.clone(), what);
        entry.follows = follows;
        follows = Some(entry.id);
        entries.push(entry);
    }
    app.write(entries, |_| {});
}

/// Where readings are taken: station by angle, in the order in which they are read.
type Spot = (Option<f64>, Option<f64>);

fn places(stations: &str, angles: &str, open: Open) -> Result<Vec<Spot>, String> {
    let units = open.units.get();
    let parts = |text: &str| text.split([' ', ';', '\t']).filter(|part| !part.is_empty()).map(str::to_owned).collect::<Vec<_>>();
    let stations: Result<Vec<f64>, String> =
        parts(stations).iter().map(|part| typed::station(part, units).map_err(|refused| refused.to_string())).collect();
    let angles: Result<Vec<f64>, String> =
        parts(angles).iter().map(|part| typed::angle(part).map_err(|refused| refused.to_string())).collect();
    let (stations, angles) = (stations?, angles?);
    if stations.is_empty() {
        return Ok(vec![(None, None); angles.len().max(4)]);
    }
    let angles = if angles.is_empty() { vec![0.0] } else { angles };
    Ok(stations.iter().flat_map(|station| angles.iter().map(move |angle| (Some(*station), Some(*angle)))).collect())
}

#[component]
fn Cells(places: Vec<Spot>, keep: Callback<column::Row, Result<(), String>>, paste: Callback<String>, open: Open) -> impl IntoView {
    let count = places.len();
    let placed = places.iter().any(|(station, _)| station.is_some());
    view! {
        <ol class="cells" class:placed=placed>
            {places.into_iter().enumerate().map(|(i, place)| view! { <Cell i count place keep paste open/> }).collect_view()}
        </ol>
    }
}

#[component]
fn Cell(
    i: usize,
    count: usize,
    place: Spot,
    keep: Callback<column::Row, Result<(), String>>,
    paste: Callback<String>,
    open: Open,
) -> impl IntoView {
    let text = RwSignal::new(String::new());
    let kept = RwSignal::new(None::<String>);
    let fault = RwSignal::new(None::<String>);
    let id = format!("cell-{i}");
    let (input_id, fault_id) = (id.clone(), format!("{id}-bad"));
    let words = match place {
        (Some(station), Some(angle)) => format!("{}, {angle}°", show::length(station, open.units.get_untracked())),
        _ => format!("reading {}", i + 1),
    };
    let enter = move || {
        let units = open.units.get_untracked();
        let typed = text.get_untracked();
        // Size, and behind a blank or a semicolon the part's temperature at this very reading.
        let (size, warmth) = typed.trim().split_once([' ', ';']).map_or((typed.trim(), ""), |(size, rest)| (size, rest.trim()));
        let read = typed::size(size, units).and_then(|size_mm| {
            let part_C = if warmth.is_empty() { None } else { Some(typed::temperature(warmth, units)?.value) };
            Ok(column::Row { station_mm: place.0, angle_deg: place.1, size_mm, part_C })
        });
        match read.map_err(|refused| refused.to_string()).and_then(|row| keep.run(row)) {
            Ok(()) => {
                kept.set(Some(typed.trim().to_owned()));
                fault.set(None);
                text.set(String::new());
                if i + 1 < count {
                    browser::focus(&format!("cell-{}", i + 1));
                }
            }
            Err(sentence) => fault.set(Some(sentence)),
        }
    };
    view! {
        <li class:kept=move || kept.get().is_some()>
            <label for=id>{words}</label>
            <input id=input_id class="figure" inputmode="decimal" autocomplete="off" maxlength="60" aria-describedby=fault_id.clone()
                placeholder=move || kept.get().map(|kept| format!("{kept} ✓")).unwrap_or_default()
                prop:value=text on:input=move |event| text.set(event_target_value(&event))
                on:keydown=move |event| if event.key() == "Enter" { event.prevent_default(); enter(); }
                on:paste=move |event| {
                    let pasted = event.clipboard_data().and_then(|data| data.get_data("text").ok()).unwrap_or_default();
                    if pasted.trim().contains('\n') {
                        event.prevent_default();
                        paste.run(pasted);
                    }
                }/>
            <p class="bad" id=fault_id role="alert">{move || fault.get()}</p>
        </li>
    }
}

/// Takes the last reading of this device at this seat back: an entry more, none less.
fn undo(app: App, open: Open) {
    let device = app.pen().device;
    let dropped: Vec<job::entry::EntryId> = open.of_seat.with_untracked(|seat| {
        seat.sets.iter().flat_map(|set| &set.readings).filter(|reading| reading.dropped.is_some()).map(|reading| reading.entry).collect()
    });
    let own = open.own();
    let brief = open.of_seat.with_untracked(|seat| seat.brief.clone().map(Scope::Brief));
    let last = open.entries.with_untracked(|entries| {
        let is_of_seat = |scope: &Scope| *scope == own || brief.as_ref() == Some(scope);
        let is_mine = |entry: &&job::entry::Entry| is_of_seat(&entry.seat) && entry.device == device && !dropped.contains(&entry.id);
        entries.iter().rev().filter(is_mine).find(|entry| matches!(entry.what, What::Reading { .. })).cloned()
    });
    match last.and_then(|last| Some((last.seat.clone(), writing::undo(&last, None)?))) {
        Some((scope, what)) => open.record(scope, what),
        None => app.said.set("There is no reading of this device to take back at this seat.".into()),
    }
}

fn taken_file(event: &leptos::ev::Event, into: RwSignal<String>) {
    let input = event_target::<web_sys::HtmlInputElement>(event);
    let Some(file) = input.files().and_then(|files| files.get(0)) else { return };
    wasm_bindgen_futures::spawn_local(async move {
        if let Ok(text) = wasm_bindgen_futures::JsFuture::from(file.text()).await {
            into.set(text.as_string().unwrap_or_default());
        }
    });
}
