//! How the finished bearing runs: the oil film that chooses the clearance, or the warmth and the greasing of a bush with grease.

use calc::shown;
use calc::units::shown_plain;
use serde_json::{Value, json};

use super::Bench;
use super::ask::{Said, request};
use super::draft::Draft;
use super::found::Found;

/// Air about the housing where nobody said, °C. *Common practice*: a hall.
const AMBIENT_C: f64 = 20.0;

/// What `running` says with grease and the sheet says in its lines and its caution; the first only of what moves all the time.
const SAID: [&str; 4] =
    ["a usual grease does not last", "Never oil, feel or gauge", "greasing interval is a first figure", "local hot spot"];

/// The request of `film-clearance` around that of `clearance`, for a journal that turns in an oil whose grade is known.
pub fn by_film(bench: &Bench, draft: &mut Draft, found: &Found, clearance: &Value) -> Option<Value> {
    let seat = bench.seat;
    if seat.text("duty.lubrication") != Some("oil") || seat.text("duty.motion") != Some("rotation") || found.length_mm.is_none() {
        return None;
    }
    let (Some(load), Some(speed), Some(grade)) =
        (seat.number("duty.load"), seat.number("duty.speed").filter(|rpm| *rpm > 0.0), seat.number("duty.oil_vg"))
    else {
        draft.warn("The oil film was not worked out: write duty.oil_vg, the grade of the oil (with duty.load and duty.speed).");
        return None;
    };
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let film = request([
        ("load_kN", Some(json!(load))),
        ("speed_rpm", Some(json!(speed))),
        ("oil", Some(json!({"iso_vg": grade}))),
        ("ambient_C", Some(json!(seat.number("oil.ambient").unwrap_or(AMBIENT_C)))),
        ("cooling", Some(json!(seat.text("oil.cooling").unwrap_or("housing")))),
        ("inlet_C", number("oil.inlet")),
        ("supply_MPa", number("oil.pressure")),
        ("hole_mm", number("oil.hole")),
        ("surface_m2", number("oil.surface")),
    ]);
    Some(json!({"clearance": clearance, "film": film}))
}

/// Puts how it runs on the sheet; gives the sentence that goes with the answer.
pub fn tell(bench: &Bench, draft: &mut Draft, found: &Found, said: &Said) -> String {
    if said.at("places").is_some() {
        return film(bench, draft, said, found);
    }
    greased(bench, draft, found);
    String::new()
}

fn film(bench: &Bench, draft: &mut Draft, said: &Said, found: &Found) -> String {
    let system = bench.system;
    let needed = said.number("required_film_um").map(|um| shown::fine(um, system)).unwrap_or_default();
    let T = |said: &Said, path: &str| said.number(path).map(|T| shown::temperature(T, system)).unwrap_or_else(|| "does not settle".into());
    let times = |said: &Said| said.number("film_ratio").map(|ratio| format!("{} times", shown_plain(ratio, 1))).unwrap_or_default();
    let fine = |said: &Said, path: &str| said.number(path).map(|um| shown::fine(um, system)).unwrap_or_default();
    let places = said.list("places");
    let rows = places.iter().map(|place| {
        vec![
            place.text("at").unwrap_or_default().to_owned(),
            fine(place, "clearance_um"),
            T(place, "T_bearing_C"),
            fine(place, "clearance_hot_um"),
            fine(place, "min_film_um"),
            times(place),
            place.number("friction_power_W").map(|W| format!("{} W", shown::three(W))).unwrap_or_default(),
        ]
    });
    draft.grid(
        &format!("The oil film across the band (roughness and tilt need {needed}; twice that is advised)"),
        &["of the band", "clearance at 20 °C>", "settles at>", "clearance then>", "thinnest film>", "of what is needed>", "friction>"],
        rows.collect(),
    );
    if let Some(chance) = said.number("chance_film") {
        let advised = said.number("chance_advised").map(|advised| shown::chance(advised, u64::MAX)).unwrap_or_default();
        draft.line(
            "chance that the film is whole",
            shown::chance(chance, u64::MAX),
            format!("as thick as advised: {advised}; in doubt: the band, the oil's grade by 10 %, the cooling by 25 %"),
        );
    }
    if let Some((low, high)) = said.number("window_low_um").zip(said.number("window_high_um")) {
        draft.line("film as advised", shown::fines(low, high, system), "of clearance at 20 °C; the curve is drawn");
    }
    if let Some(touch) = places.get(1).and_then(|place| place.number("transition_rpm")) {
        draft.line(
            "metal touches under",
            format!("{} rev/min", shown::three(touch)),
            "at this warmth; every start and stop goes through it",
        );
    }
    keep_pressure(bench, draft, found, places.get(1));
    draft.source("oil film: Reynolds' equation, whole bearing; balance of heat and supply after ISO 7902-1 (recalled); film twice the roughness by common practice");
    let Some(middle) = places.get(1).filter(|middle| middle.at("T_bearing_C").is_some()) else {
        return " It does not settle: see the notes before it turns.".into();
    };
    let film = fine(middle, "min_film_um");
    match said.text("regime") {
        Some("full film") => {
            format!(" It settles at about {} on a film of {film}, {} what is needed.", T(middle, "T_bearing_C"), times(middle))
        }
        _ => " The film is thinner than roughness and tilt: metal runs on metal.".into(),
    }
}

/// The pressure over the bearing in the middle of the band, for its picture.
fn keep_pressure(bench: &Bench, draft: &mut Draft, found: &Found, middle: Option<&Said>) {
    let (Some(middle), Some(journal), Some(length)) = (middle, found.journal, found.length_mm) else { return };
    let hot = middle.number("clearance_hot_um").zip(middle.number("viscosity_mPas"));
    if let Some((clearance_um, viscosity_mPas)) = hot {
        let seat = bench.seat;
        draft.keep(
            "film_pressure",
            "film",
            json!({"load_kN": seat.number("duty.load"), "speed_rpm": seat.number("duty.speed"), "diameter_mm": journal.value,
                "length_mm": length, "clearance_um": clearance_um, "viscosity_mPas": viscosity_mPas, "picture": true}),
        );
    }
}

/// Warmth and greasing.
fn greased(bench: &Bench, draft: &mut Draft, found: &Found) {
    let seat = bench.seat;
    let motion = seat.text("duty.motion");
    if seat.text("duty.lubrication").is_some_and(|word| word != "grease") || motion.is_none_or(|motion| motion == "still") {
        return;
    }
    let (Some(load), Some(journal), Some(length)) = (seat.number("duty.load"), found.journal, found.length_mm) else { return };
    let number = |path: &str| seat.number(path).map(|x| json!(x));
    let rotates = motion == Some("rotation");
    let intermittent = seat.flag("duty.intermittent");
    // What only moves now and then never gets so warm: what is said of that heat is left out.
    let told: &[&str] = if intermittent { &SAID } else { &SAID[1..] };
    let Some(said) = draft.ask_but(
        "running",
        "running",
        request([
            ("lubrication", Some(json!("grease"))),
            ("load_kN", Some(json!(load))),
            ("diameter_mm", Some(json!(journal.value))),
            ("length_mm", Some(json!(length))),
            ("motion", motion.map(|motion| json!(motion))),
            ("speed_rpm", number("duty.speed").filter(|_| rotates)),
            ("swing_deg", number("duty.swing").filter(|_| !rotates)),
            ("swings_per_min", number("duty.swings").filter(|_| !rotates)),
            ("ambient_C", Some(json!(seat.number("oil.ambient").unwrap_or(AMBIENT_C)))),
            ("surface_m2", number("oil.surface")),
            ("dirt", seat.text("duty.dirt").map(|word| json!(word))),
        ]),
        told,
    ) else {
        return;
    };
    if let Some(T) = said.number("T_bearing_C") {
        let power =
            said.number("friction_power_W").map(|W| format!("{} W of friction; a spot under load is 10 to 30 K hotter", shown::three(W)));
        let label = if intermittent { "if it moved all the time, it would warm to" } else { "warm from its own friction, about" };
        draft.line(label, shown::temperature(T, bench.system), power.unwrap_or_default());
    }
    if let Some(hours) = said.number("regreasing_h").filter(|_| !intermittent) {
        draft.line(
            "grease again, at first",
            format!("every {} h", shown::three(hours)),
            "until fresh grease shows at the ends; the pins tell the rest",
        );
    }
    draft.source("grease: friction 0.10, hours between greasings and what heat takes from them by common practice");
}
