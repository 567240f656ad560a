//! What each stage asks a person for: groups of facts, the features that are measured, the questions that are decided.
//!
//! Paths and words are those of `job::facts` and `job::questions`; here stands only on which screen each is asked, in which order.

use job::facts::{FACTS, Fact};
use job::sheet::Stage;
use job::state::{Feature, Seat};

/// A group of fields under one heading.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Group {
    /// Its heading.
    pub title: &'static str,
    /// Paths, or the start of paths where they end in a point.
    pub paths: &'static [&'static str],
    /// For things that a person names (`state`, `gauge`): what one of them is called.
    pub named: Option<Named>,
    /// Folded away until it is wanted.
    pub folded: bool,
}

/// Things that a person names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Named {
    /// The section of their paths: `state`.
    pub section: &'static str,
    /// One of them, in words: `state`.
    pub one: &'static str,
    /// A name to begin with.
    pub example: &'static str,
}

const fn group(title: &'static str, paths: &'static [&'static str]) -> Group {
    Group { title, paths, named: None, folded: false }
}

const fn folded(title: &'static str, paths: &'static [&'static str]) -> Group {
    Group { title, paths, named: None, folded: true }
}

const fn named(title: &'static str, section: &'static str, one: &'static str, example: &'static str) -> Group {
    Group { title, paths: &[], named: Some(Named { section, one, example }), folded: false }
}

const BRIEF: &[Group] = &[
    group("Machine", &["machine", "failed", "hard"]),
    group(
        "Duty",
        &[
            "duty.load",
            "duty.peak_load",
            "duty.motion",
            "duty.speed",
            "duty.swing",
            "duty.swings",
            "duty.lubrication",
            "duty.oil_vg",
            "duty.relube",
            "duty.dirt",
            "duty.shock",
        ],
    ),
    folded(
        "Limits and special duty",
        &[
            "duty.intermittent",
            "duty.misaligned",
            "duty.sea_water",
            "duty.lead_free",
            "duty.food",
            "duty.torque",
            "duty.axial",
            "duty.seize_factor",
            "duty.start_friction",
            "duty.shock_factor",
        ],
    ),
    named("Coldest and hottest", "state", "temperature state", "running"),
    folded("The old bush", &["old_bush."]),
    folded("The job", &["job.title", "job.customer", "job.units", "job.draws", "shop.name"]),
];

const MEASURE: &[Group] = &[
    group("Housing", &["housing.metal", "housing.nominal", "shop.room"]),
    folded("Journal, where it was not measured here", &["journal.diameter", "journal.metal"]),
    Group { folded: true, ..named("Gauges", "gauge", "gauge", "micrometer") },
];

const ALLOY: &[Group] = &[group("Journal and bush", &["journal.hardness", "journal.metal", "journal.Rz", "bush.length"])];

const FIT: &[Group] = &[
    group(
        "Housing",
        &[
            "housing.shape",
            "housing.outside",
            "housing.outside_least",
            "housing.outside_most",
            "housing.length",
            "housing.starts",
            "housing.Rz",
        ],
    ),
    Group { folded: true, ..named("A housing with steps", "step", "length of the housing", "hub") },
    group("Bush", &["bush.length", "bush.bore_left", "bush.finish", "bush.Rz", "seating.method", "shop.lathe_holds"]),
    folded(
        "Flange, lead, certificates",
        &[
            "bush.flange_outside",
            "bush.flange_thickness",
            "bush.flange_end",
            "bush.lead",
            "bush.leads",
            "bush.chamfer",
            "bush.handed",
            "bush.outside_u",
            "bush.yield",
            "housing.yield",
            "housing.tension_limit",
            "housing.limit_temperature",
        ],
    ),
    folded("A retainer beside the friction", &["retainer."]),
];

const STOCK: &[Group] = &[
    named("Blanks", "stock", "blank", "bar"),
    folded("What prices are in", &["shop.currency"]),
    Group { folded: true, ..named("Steps of the route", "work", "step", "rough") },
    folded("Cutting", &["cutting."]),
    folded("The metal that came", &["bush.lot"]),
    folded("Prices", &["shop.rate", "shop.setup", "shop.swarf_price", "shop.coolant_price", "shop.margin", "shop.scrap_chance"]),
];

const TURN: &[Group] = &[folded("Lathe", &["lathe", "shop.lathe_holds", "shop.rate"])];

const SEAT: &[Group] = &[
    group(
        "How it goes in",
        &[
            "seating.method",
            "shop.press",
            "seating.lubrication",
            "seating.hand_clearance",
            "seating.handling",
            "seating.freezer",
            "seating.oven",
            "seating.oven_temperature",
            "seating.oil_flash",
            "seating.power",
            "seating.coolant",
        ],
    ),
    folded("Room where a coolant is used", &["shop.room", "shop.room_volume", "shop.air_changes"]),
];

const BORE: &[Group] = &[
    group("Running", &["bore.least_clearance", "bore.tolerance", "bore.tilt"]),
    folded("Groove", &["groove."]),
    folded("A hole through the wall", &["hole."]),
    folded("The oil of a journal that turns", &["oil."]),
    folded("Surfaces", &["bush.bore_Rz", "journal.Rz"]),
];

/// The groups of a stage.
pub const fn groups(stage: Stage) -> &'static [Group] {
    match stage {
        Stage::Brief => BRIEF,
        Stage::Measure => MEASURE,
        Stage::Alloy => ALLOY,
        Stage::Fit => FIT,
        Stage::Stock => STOCK,
        Stage::Turn => TURN,
        Stage::Seat => SEAT,
        Stage::Bore => BORE,
        Stage::Release => &[],
    }
}

/// What is measured on the screen of a stage.
pub const fn features(stage: Stage) -> &'static [Feature] {
    match stage {
        Stage::Measure => &[Feature::HousingBore, Feature::Journal, Feature::OldBushOutside, Feature::OldBushBore],
        Stage::Turn => &[Feature::BushOutside, Feature::BushBore],
        Stage::Bore => &[Feature::FittedBore],
        _ => &[],
    }
}

/// The questions that are decided on the screen of a stage.
pub const fn questions(stage: Stage) -> &'static [&'static str] {
    match stage {
        Stage::Alloy => &["alloy"],
        Stage::Fit => &["band", "retainer"],
        Stage::Stock => &["blank"],
        Stage::Seat => &["seating"],
        Stage::Bore => &["clearance", "groove"],
        _ => &[],
    }
}

/// The facts of a group, as paths ready to be written; `names` are those of its things.
pub fn fields(group: &Group, name: Option<&str>) -> Vec<(String, &'static Fact)> {
    if let (Some(of), Some(name)) = (group.named, name) {
        let start = format!("{}.*.", of.section);
        return FACTS.iter().filter(|fact| fact.path.starts_with(&start)).map(|fact| (fact.path.replacen('*', name, 1), fact)).collect();
    }
    let mut found = Vec::new();
    for path in group.paths {
        let is_of = |fact: &&Fact| if path.ends_with('.') { fact.path.starts_with(path) } else { fact.path == *path };
        found.extend(FACTS.iter().filter(is_of).map(|fact| (fact.path.to_owned(), fact)));
    }
    found
}

/// Whether a field is asked beside what is known: a speed for what rotates, an angle for what swings.
pub fn is_asked(seat: &Seat, path: &str) -> bool {
    let motion = seat.text("duty.motion").unwrap_or_default();
    let shape = seat.text("housing.shape").unwrap_or("round");
    let groove = seat.text("groove.shape").unwrap_or_default();
    let retainer = seat.text("retainer.how").unwrap_or_default();
    let way = seat.text("seating.method").unwrap_or_default();
    let oven = seat.text("seating.oven").unwrap_or_default();
    let lubrication = seat.text("duty.lubrication").unwrap_or_default();
    let asked = match path {
        "duty.speed" => !matches!(motion, "swing" | "still"),
        "duty.swing" | "duty.swings" => motion == "swing",
        "housing.outside" => shape != "between",
        "housing.outside_least" | "housing.outside_most" => shape == "between",
        "groove.position" | "groove.old_position" | "groove.old_position_from" | "groove.old_length" => matches!(groove, "" | "ring"),
        "groove.turns" => groove == "spiral",
        "seating.handling" => way != "press",
        "seating.freezer" => way == "freezer",
        "seating.coolant" => matches!(way, "nitrogen" | "dry_ice" | "dry_ice_bath"),
        "seating.oven" | "seating.oven_temperature" => way == "heat",
        "seating.oil_flash" => way == "heat" && oven == "hot_oil",
        "seating.power" => way == "heat" && oven == "induction",
        _ if path.starts_with("oil.") => lubrication == "oil",
        "retainer.circle" => retainer == "flange_screws",
        "retainer.gap" | "retainer.cover" => retainer == "compound",
        _ => true,
    };
    asked || seat.known(path).is_some()
}

/// What a field is called: the last part of its path in words.
pub fn label(path: &str) -> String {
    let known = [
        ("housing.Rz", "roughness Rz of the seat"),
        ("bush.Rz", "roughness Rz of the outside"),
        ("bush.bore_Rz", "roughness Rz of the bore"),
        ("journal.Rz", "roughness Rz of the journal"),
        ("duty.oil_vg", "oil grade, ISO VG"),
        ("duty.food", "food or drinking water"),
        ("bush.lead", "lead that starts it straight"),
        ("bush.leads", "end that goes in first"),
        ("bush.chamfer", "chamfer of the bore"),
        ("bush.handed", "mirrored second of a pair"),
        ("bush.lot", "lot or melt of the metal"),
        ("seating.method", "how it goes in"),
        ("bush.finish", "when the bore is finished"),
        ("housing.starts", "where the seat in the housing begins"),
        ("hole.diameter", "diameter of the hole"),
        ("hole.position", "middle of the hole, from the datum end"),
        ("hole.angle", "direction of the hole"),
        ("oil.cooling", "what carries the heat away"),
        ("oil.ambient", "air about the housing"),
        ("oil.inlet", "oil that comes in"),
        ("oil.pressure", "pressure of the oil that is fed"),
        ("oil.hole", "hole that feeds the oil"),
        ("oil.surface", "surface that gives heat to the air"),
        ("shop.name", "name of the shop"),
        ("shop.coolant_price", "price of a kilogram of coolant"),
        ("seating.handling", "seconds from the bath to the stop"),
        ("failed", "what failed and how"),
        ("hard", "what makes it hard"),
        ("shop.currency", "what prices are in"),
        ("shop.rate", "price of an hour"),
        ("shop.setup", "minutes to set up"),
        ("shop.press", "force of the press"),
        ("shop.room", "temperature of the shop"),
        ("bush.outside_u", "doubt of the turned outside"),
    ];
    if let Some((_, words)) = known.iter().find(|(known, _)| *known == path) {
        return (*words).to_owned();
    }
    let leaf = path.rsplit('.').next().unwrap_or(path).replace('_', " ");
    match path.split('.').next() {
        Some("housing" | "bush" | "journal" | "groove") if path.matches('.').count() == 1 => {
            format!("{} {leaf}", path.split('.').next().unwrap_or_default())
        }
        _ => leaf,
    }
}

/// A sentence as a screen says it: the paths of facts in it are called by what stands over their fields.
pub fn in_words(sentence: &str) -> String {
    let is_of_path = |letter: char| letter.is_alphanumeric() || matches!(letter, '_' | '.');
    let mut said = String::with_capacity(sentence.len());
    let mut rest = sentence;
    while let Some(from) = rest.find(is_of_path) {
        let (before, found) = rest.split_at(from);
        let (word, after) = found.split_at(found.find(|letter| !is_of_path(letter)).unwrap_or(found.len()));
        let path = word.trim_end_matches('.');
        said.push_str(before);
        if path.contains('.') && job::facts::fact(path).is_some() {
            said.push_str(&label(path));
            said.push_str(word.strip_prefix(path).unwrap_or_default());
        } else {
            said.push_str(word);
        }
        rest = after;
    }
    said.push_str(rest);
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use job::facts::fact;
    use job::questions::question;

    #[test]
    fn every_path_of_a_screen_is_a_fact_and_every_question_is_known() {
        for stage in Stage::ALL {
            for group in groups(stage) {
                match group.named {
                    Some(of) => assert!(!fields(group, Some("x")).is_empty(), "{}", of.section),
                    None => assert!(fields(group, None).len() >= group.paths.len(), "{}", group.title),
                }
                for (path, _) in fields(group, Some("x")) {
                    assert!(fact(&path).is_some(), "{path}");
                    assert!(!label(&path).is_empty());
                }
            }
            assert!(questions(stage).iter().all(|word| question(word).is_some()));
        }
    }

    #[test]
    fn a_sentence_of_a_file_is_said_in_the_words_of_the_screen() {
        let said = in_words("it needs old_bush.interference, housing.Rz and 240.012 mm; see bush.length.");
        assert_eq!(said, "it needs interference, roughness Rz of the seat and 240.012 mm; see bush length.");
        assert_eq!(in_words("no path: nothing changes. ± 2 µm"), "no path: nothing changes. ± 2 µm");
    }

    #[test]
    fn every_fact_is_asked_somewhere() {
        let asked: Vec<&str> = Stage::ALL
            .iter()
            .flat_map(|stage| groups(*stage))
            .flat_map(|group| fields(group, Some("x")))
            .map(|(_, fact)| fact.path)
            .collect();
        let elsewhere = ["job.number", "job.by", "job.date", "job.seed", "seat.brief", "seat.count"];
        for fact in FACTS.iter().filter(|fact| !elsewhere.contains(&fact.path)) {
            assert!(asked.contains(&fact.path), "{} is asked nowhere", fact.path);
        }
    }
}
