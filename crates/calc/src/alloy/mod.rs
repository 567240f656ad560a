//! Which bronze for this duty (`alloys`): hard limits first, then points, with reasons a person can check.
//!
//! `table` holds what is known of each alloy, `limits` rules out, `score` orders, `words` gives the reasons. It leaves price and what
//! is in stock to the person: points within 3 of each other are about equal.

pub mod limits;
pub mod score;
pub mod table;
pub mod words;

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;

use crate::compute::{Desk, Kind, told};
use crate::duty::{DIRTS, Dirt, LUBRICATIONS, Lubrication, REGIMES, Regime, SHOCKS, Shock};
use crate::keys::{Given, Key, Range, Told};
use crate::refused::Refused;
use limits::{Demand, Excluded, Relube, Uses, excluded};
use score::{Criteria, score, weights};
use table::{Alloy, alloy_at, alloys};

/// Points this near each other are about equal.
const ABOUT_EQUAL: f64 = 3.0;

/// A request of `alloys`.
#[derive(Clone, Debug, PartialEq)]
pub struct AlloysRequest {
    /// What the bush has to stand.
    pub demand: Demand,
    /// Outside of the bush, for its expansion.
    pub outside_mm: Option<f64>,
    /// Coldest, for its expansion.
    pub T_min_C: Option<f64>,
    /// Hottest, for its expansion.
    pub T_max_C: Option<f64>,
    /// Ids to leave out.
    pub exclude: Vec<String>,
    /// Two ids to hold against each other.
    pub compare: Option<[String; 2]>,
}

/// The limit that an alloy comes nearest to.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limiting {
    /// Its name.
    pub limit: &'static str,
    /// Demand over allowed.
    #[serde(rename = "use")]
    pub used: f64,
    /// Allowed over demand; null when nothing is demanded.
    pub margin: Option<f64>,
}

/// An alloy that stands the duty.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ranked {
    /// Its id.
    pub id: &'static str,
    /// Its symbol.
    pub symbol: &'static str,
    /// Its family.
    pub family: &'static str,
    /// Points, 0 to 100.
    pub score: f64,
    /// What speaks for it.
    #[serde(rename = "for")]
    pub speaks_for: Vec<String>,
    /// What speaks against it.
    #[serde(rename = "against")]
    pub speaks_against: Vec<String>,
    /// Its nearest limit.
    pub limiting: Limiting,
    /// Which of its figures rest on memory.
    pub from_memory: Vec<&'static str>,
    /// Price beside CC493K = 100.
    pub cost_index: f64,
}

/// How many stand and how many don't.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Stand the duty.
    pub ranked: usize,
    /// Don't.
    pub excluded: usize,
}

/// Interference that temperature gives (+) or takes (−), µm.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Expansion {
    /// At the coldest; null when `T_min_C` was not given.
    pub at_T_min_um: Option<f64>,
    /// At the hottest; null when `T_max_C` was not given.
    pub at_T_max_um: Option<f64>,
}

/// Two alloys held against each other.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    /// The better; null when both are ruled out.
    pub better: Option<&'static str>,
    /// Why.
    pub why: String,
}

/// An answer of `alloys`.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct AlloysAnswer {
    /// Those that stand the duty, best first.
    pub ranked: Vec<Ranked>,
    /// Place by id, 1 = first.
    pub place: BTreeMap<&'static str, usize>,
    /// Those ruled out, by id.
    pub excluded: BTreeMap<&'static str, Excluded>,
    /// Demand over allowed, by id and limit, of every alloy.
    pub uses: BTreeMap<&'static str, Uses>,
    /// How many.
    pub counts: Counts,
    /// Interference by temperature, by id; null unless asked.
    pub expansion: Option<BTreeMap<&'static str, Expansion>>,
    /// The two that were to be compared; null unless asked.
    pub compared: Option<Compared>,
    /// How much each criterion counted.
    pub weights: Criteria,
    /// Why nothing is left; null when something is.
    pub none_reason: Option<String>,
    /// Sentences to read.
    pub warnings: Vec<String>,
}

/// The alloys that stand a duty, best first, with reasons; and why each of the others does not.
///
/// Hard limits first (a use over 1 excludes), then `score`; equal points go by id. Refused: an unknown id, two equal ids to compare,
/// a hottest under the coldest.
/// Source: limits of `data/bush_alloys.csv` (M1 to M24); points common practice, set by hand.
pub fn rank(request: &AlloysRequest) -> Result<AlloysAnswer, Refused> {
    for (i, id) in request.exclude.iter().enumerate() {
        alloy_at(&format!("exclude.{i}"), id)?;
    }
    let demand = &request.demand;
    let mut out = BTreeMap::new();
    let mut uses = BTreeMap::new();
    let mut standing = Vec::new();
    for alloy in alloys() {
        let used = Uses::of(alloy, demand);
        uses.insert(alloy.id, used);
        match excluded(alloy, demand, &used, request.exclude.iter().any(|id| id == alloy.id)) {
            Some(why) => drop(out.insert(alloy.id, why)),
            None => standing.push(ranked(alloy, demand, &used)),
        }
    }
    standing.sort_by(|a, b| b.score.total_cmp(&a.score).then(a.id.cmp(b.id)));
    let place = standing.iter().zip(1..).map(|(ranked, place)| (ranked.id, place)).collect();
    let compared = request.compare.as_ref().map(|pair| compare(pair, &standing, &out)).transpose()?;
    let mut warnings = words::demand_warnings(demand);
    warnings.extend(about_equal(&standing));
    warnings.extend(expansion_warning(request));
    if !standing.is_empty() {
        warnings.push(words::WHAT_THE_SCORE_IS.to_owned());
    }
    Ok(AlloysAnswer {
        counts: Counts { ranked: standing.len(), excluded: out.len() },
        none_reason: standing.is_empty().then(|| none_reason(&out)),
        ranked: standing,
        place,
        excluded: out,
        uses,
        expansion: expansion(request)?,
        compared,
        weights: weights(demand),
        warnings,
    })
}

fn ranked(alloy: &'static Alloy, demand: &Demand, uses: &Uses) -> Ranked {
    let reasons = words::reasons(alloy, demand, uses);
    let (limit, used) = uses.largest();
    Ranked {
        id: alloy.id,
        symbol: alloy.symbol,
        family: alloy.family,
        score: score(alloy, demand, uses),
        speaks_for: reasons.speaks_for,
        speaks_against: reasons.speaks_against,
        limiting: Limiting { limit, used, margin: (used > 0.0).then(|| 1.0 / used) },
        from_memory: alloy.from_memory(),
        cost_index: alloy.cost_index,
    }
}

/// One that is ruled out loses; of two that stand, the one with more points wins.
fn compare(pair: &[String; 2], standing: &[Ranked], out: &BTreeMap<&str, Excluded>) -> Result<Compared, Refused> {
    let [a, b] = [alloy_at("compare.0", &pair[0])?.id, alloy_at("compare.1", &pair[1])?.id];
    if a == b {
        return Err(Refused::new("compare.1", format!("{b:?} again"), "two ids that differ", "name the other alloy"));
    }
    let ruled_out = |id: &str| out.get(id).map(|why| format!("{id} is ruled out by {}", why.limits.join(", ")));
    Ok(match (ruled_out(a), ruled_out(b)) {
        (Some(first), Some(second)) => Compared { better: None, why: format!("{first}; {second}.") },
        (Some(why), None) => Compared { better: Some(b), why: format!("{why}; {b} stands the duty.") },
        (None, Some(why)) => Compared { better: Some(a), why: format!("{why}; {a} stands the duty.") },
        (None, None) => {
            let mut both = standing.iter().filter(|ranked| ranked.id == a || ranked.id == b);
            match (both.next(), both.next()) {
                (Some(first), Some(second)) => Compared { better: Some(first.id), why: why_better(first, second) },
                _ => Compared { better: None, why: "neither stands the duty.".to_owned() },
            }
        }
    })
}

fn why_better(first: &Ranked, second: &Ranked) -> String {
    let points = format!("{} has {:.1} points and {} has {:.1}", first.id, first.score, second.id, second.score);
    if first.score - second.score <= ABOUT_EQUAL {
        return format!("{points}: about equal, price and what is in stock decide.");
    }
    let reason = |list: &[String]| list.join("; ");
    let mut why = points;
    if !first.speaks_for.is_empty() {
        why += &format!("; for {}: {}", first.id, reason(&first.speaks_for));
    }
    if !second.speaks_against.is_empty() {
        why += &format!("; against {}: {}", second.id, reason(&second.speaks_against));
    }
    why + "."
}

fn about_equal(standing: &[Ranked]) -> Option<String> {
    let first = standing.first()?;
    let level: Vec<&str> = standing.iter().skip(1).filter(|next| first.score - next.score <= ABOUT_EQUAL).map(|next| next.id).collect();
    (!level.is_empty())
        .then(|| format!("{} and {} are about equal (within 3 points): price and what is in stock decide.", first.id, level.join(", ")))
}

fn none_reason(out: &BTreeMap<&str, Excluded>) -> String {
    let mut counts: Vec<(&str, usize)> = Vec::new();
    for limit in out.values().flat_map(|why| &why.limits) {
        match counts.iter_mut().find(|(name, _)| name == limit) {
            Some((_, count)) => *count += 1,
            None => counts.push((limit, 1)),
        }
    }
    counts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(b.0)));
    let counts: Vec<String> = counts.iter().map(|(limit, count)| format!("{limit} rules out {count}")).collect();
    format!("Nothing of the {} alloys stands this duty: {}.", out.len(), counts.join(", "))
}

/// (α_b − α_h) D_out (T − 20): bronze in steel loses interference cold, in aluminium hot.
fn expansion(request: &AlloysRequest) -> Result<Option<BTreeMap<&'static str, Expansion>>, Refused> {
    if let (Some(low), Some(high)) = (request.T_min_C, request.T_max_C)
        && high < low
    {
        return Err(Refused::new("T_max_C", high, format!("T_min_C, {low}, or more"), "change the two temperatures over"));
    }
    let (Some(housing), Some(outside_mm)) = (request.demand.housing_alpha_per_K, request.outside_mm) else { return Ok(None) };
    let gain = |alloy: &Alloy, T_C: f64| (alloy.alpha_per_K - housing) * 1000.0 * outside_mm * (T_C - 20.0);
    let of = |alloy: &'static Alloy| Expansion {
        at_T_min_um: request.T_min_C.map(|T_C| gain(alloy, T_C)),
        at_T_max_um: request.T_max_C.map(|T_C| gain(alloy, T_C)),
    };
    Ok(Some(alloys().iter().map(|alloy| (alloy.id, of(alloy))).collect()))
}

fn expansion_warning(request: &AlloysRequest) -> Option<String> {
    let given = [request.outside_mm.is_some(), request.T_min_C.is_some() || request.T_max_C.is_some()];
    match (request.demand.housing_alpha_per_K, given) {
        (Some(_), [true, true]) | (None, [false, false]) => None,
        (Some(_), _) => {
            Some("The expansion in micrometres needs outside_mm with T_min_C or T_max_C; the points count it all the same.".to_owned())
        }
        (None, _) => Some("outside_mm, T_min_C and T_max_C say nothing without housing_alpha_per_K and were not used.".to_owned()),
    }
}

/// The entry of the kind table.
pub const KIND: Kind = Kind {
    name: "alloys",
    help: "bronzes ranked for a duty, with reasons",
    request: &[
        Key::number("pressure_MPa", Range::within(1e-6, 1e4), "mean pressure on the projected area").needed(),
        Key::number("peak_pressure_MPa", Range::within(1e-6, 1e4), "greatest mean pressure").default("pressure_MPa"),
        Key::number("speed_m_s", Range::within(0.0, 1e3), "sliding speed").default("0"),
        Key::number("pv_MPa_m_s", Range::within(0.0, 1e6), "pressure times speed").default("p v"),
        Key::word("regime", REGIMES, "running regime, from `duty`").default("boundary"),
        Key::word("lubrication", LUBRICATIONS, "what lubricates").default("grease"),
        Key::word("relube", &["good", "marginal"], "how well the lubricant is renewed").default("good"),
        Key::flag("intermittent", "runs for short spells: the static pressure limit holds").default("false"),
        Key::number("temperature_C", Range::within(-273.15, 2000.0), "of the bush").default("not tested"),
        Key::number("journal_HB", Range::within(1.0, 3000.0), "hardness of the journal").default("200, a shaft that was not hardened"),
        Key::word("shock", SHOCKS, "how hard the load comes").default("none"),
        Key::word("dirt", DIRTS, "how dirty the place is").default("clean"),
        Key::flag("misaligned", "journal and bore don't line up").default("false"),
        Key::flag("sea_water", "stands in sea water").default("false"),
        Key::flag("lead_free", "no lead is allowed").default("false"),
        Key::flag("food", "food or drinking water is near").default("false"),
        Key::number("lead_limit_pct", Range::within(0.0, 100.0), "lead that still counts as none").default("0.1"),
        Key::number("housing_alpha_per_K", Range::within(0.0, 1e-3), "expansion of the housing, where it is to count"),
        Key::number("outside_mm", Range::over(0.0).to(1e5), "outside of the bush, with housing_alpha_per_K"),
        Key::number("T_min_C", Range::within(-273.15, 2000.0), "coldest, with housing_alpha_per_K"),
        Key::number("T_max_C", Range::within(-273.15, 2000.0), "hottest, with housing_alpha_per_K"),
        Key::texts("exclude", "ids to leave out").default("[]"),
        Key::texts("compare", "two ids to hold against each other"),
    ],
    answer: &[
        Told { path: "ranked", help: "those that stand the duty, best first: points, reasons for and against, nearest limit" },
        Told { path: "ranked.N.from_memory", help: "which of physical, mechanical, limits rest on memory" },
        Told { path: "place", help: "place by id, 1 = first" },
        Told { path: "excluded", help: "by id: the limits broken, why, and whether it is only just over (near)" },
        Told { path: "uses", help: "by id and limit: demand over allowed; null where not tested" },
        Told { path: "counts", help: "how many are ranked and how many excluded" },
        Told { path: "expansion", help: "by id: interference that temperature gives or takes; null unless housing and outside are given" },
        Told { path: "compared", help: "which of the two is better and why; null unless asked" },
        Told { path: "weights", help: "how much each criterion counted; set by hand" },
        Told { path: "none_reason", help: "why nothing is left; null when something is" },
    ],
    example: r#"{"pressure_MPa": 30, "peak_pressure_MPa": 45, "speed_m_s": 0.012, "temperature_C": 60, "relube": "marginal",
        "journal_HB": 600, "shock": "moderate", "dirt": "dusty", "compare": ["C93200", "C90700"]}"#,
    run: Some(answer_alloys),
};

fn answer_alloys(given: &Given, desk: &mut Desk) -> Result<Value, Refused> {
    let request = read_request(given)?;
    let mut answer = rank(&request)?;
    if given.has("lead_limit_pct") && !request.demand.lead_free && !request.demand.food {
        answer.warnings.push("lead_limit_pct says nothing unless lead_free or food is true, and was not used.".to_owned());
    }
    show(&request, &answer, desk);
    told(&answer)
}

fn read_request(given: &Given) -> Result<AlloysRequest, Refused> {
    let pressure_MPa = given.need_number("pressure_MPa")?;
    let speed_m_s = given.number_or("speed_m_s", 0.0);
    let demand = Demand {
        pressure_MPa,
        peak_pressure_MPa: given.number_or("peak_pressure_MPa", pressure_MPa),
        speed_m_s,
        pv_MPa_m_s: given.number_or("pv_MPa_m_s", pressure_MPa * speed_m_s),
        regime: Regime::named(given.word_or("regime", "boundary")),
        lubrication: Lubrication::named(given.word_or("lubrication", "grease")),
        relube: if given.word_or("relube", "good") == "marginal" { Relube::Marginal } else { Relube::Good },
        intermittent: given.flag_or("intermittent", false),
        temperature_C: given.number("temperature_C"),
        journal_HB: given.number("journal_HB"),
        shock: Shock::named(given.word_or("shock", "none")),
        dirt: Dirt::named(given.word_or("dirt", "clean")),
        misaligned: given.flag_or("misaligned", false),
        sea_water: given.flag_or("sea_water", false),
        lead_free: given.flag_or("lead_free", false),
        food: given.flag_or("food", false),
        lead_limit_pct: given.number_or("lead_limit_pct", 0.1),
        housing_alpha_per_K: given.number("housing_alpha_per_K"),
    };
    let compare = match given.texts("compare").as_slice() {
        [] if !given.has("compare") => None,
        [a, b] => Some([(*a).to_owned(), (*b).to_owned()]),
        _ => return Err(given.refuse("compare", "a list of two ids", "name the two alloys to hold against each other")),
    };
    Ok(AlloysRequest {
        demand,
        outside_mm: given.number("outside_mm"),
        T_min_C: given.number("T_min_C"),
        T_max_C: given.number("T_max_C"),
        exclude: given.texts("exclude").into_iter().map(str::to_owned).collect(),
        compare,
    })
}

fn show(request: &AlloysRequest, answer: &AlloysAnswer, desk: &mut Desk) {
    let demand = &request.demand;
    let gives = [("ranked", answer.counts.ranked as f64), ("excluded", answer.counts.excluded as f64)];
    let with = [
        ("p MPa", demand.pressure_MPa),
        ("peak MPa", demand.peak_pressure_MPa),
        ("v m/s", demand.speed_m_s),
        ("pv MPa m/s", demand.pv_MPa_m_s),
        ("journal HB", demand.journal_HB()),
    ];
    desk.working.step("hard limits", "use = demand/allowed, over 1 excludes", &with, &gives, "bush_alloys.csv, M1 to M24; M20");
    if let Some(first) = answer.ranked.first() {
        let listed = answer.weights.list();
        let gives = [("points", first.score)];
        let formula = "20 sum(w s)/sum(w), less 12 for little lubricant, less 15 ((use - 0.7)/0.3)+";
        desk.working.step(&format!("points of {}", first.id), formula, &listed, &gives, "common practice; weights set by hand");
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::compute::{answer, read};
    use crate::crew::Alone;

    fn asked(request: &str) -> Result<Value, Refused> {
        answer("alloys", &read(request).unwrap(), &Alone, false)
    }

    #[test]
    fn an_alloy_that_was_to_be_left_out_is_listed_as_asked_and_never_near() {
        let found = asked(r#"{"pressure_MPa": 5, "journal_HB": 240, "exclude": ["CC493K"], "compare": ["CC493K", "C93200"]}"#).unwrap();
        assert_eq!(found["excluded"]["CC493K"]["limits"], serde_json::json!(["asked"]));
        assert_eq!(found["excluded"]["CC493K"]["near"], false);
        assert_eq!(found["compared"]["better"], "C93200");
    }

    #[test]
    fn what_is_out_by_less_than_the_doubt_of_its_limit_is_near() {
        let found = asked(r#"{"pressure_MPa": 66, "journal_HB": 600}"#).unwrap();
        let near = |id: &str| found["excluded"][id]["near"].clone();
        assert_eq!((near("CC493K"), near("C94300")), (true.into(), false.into()));
    }

    #[test]
    fn tin_bronze_that_only_its_lead_excludes_says_what_to_ask_for() {
        let found = asked(r#"{"pressure_MPa": 5, "journal_HB": 240, "lead_free": true}"#).unwrap();
        let why = found["excluded"]["CC483K"]["why"].to_string();
        assert!(why.contains("certificate of analysis"), "{why}");
        assert!(!found["excluded"]["CC493K"]["why"].to_string().contains("certificate"));
        let four = asked(r#"{"pressure_MPa": 5, "journal_HB": 240, "lead_free": true, "lead_limit_pct": 4}"#).unwrap();
        assert!(four["place"]["CC483K"].is_number() && four["place"]["CC492K"].is_number());
    }

    #[test]
    fn pressure_limit_falls_from_static_to_dynamic_by_the_logarithm_of_the_speed() {
        let limit = |v: f64| {
            let found = asked(&format!(r#"{{"pressure_MPa": 10, "speed_m_s": {v}, "pv_MPa_m_s": 0}}"#)).unwrap();
            10.0 / found["uses"]["CC493K"]["pressure"].as_f64().unwrap()
        };
        for (v, MPa) in [(0.0, 60.0), (1.0 / 60.0, 60.0), (0.1, 25.0), (1.0, 25.0), ((1.0f64 / 600.0).sqrt(), 42.5)] {
            assert!((limit(v) - MPa).abs() < 1e-9, "{v} m/s: {} MPa", limit(v));
        }
    }

    #[test]
    fn fast_films_are_told_of_white_metal_and_unknown_journals_of_hardness() {
        let found = asked(r#"{"pressure_MPa": 1, "speed_m_s": 3.5, "regime": "full film", "lubrication": "oil"}"#).unwrap();
        let warnings = found["warnings"].to_string();
        assert!(warnings.contains("white metal") && warnings.contains("200 HB") && warnings.contains("temperature"), "{warnings}");
        assert_eq!(found["uses"]["CC493K"]["pv"], Value::Null);
    }

    #[test]
    fn two_to_compare_are_two_that_differ_and_are_known() {
        for (compare, key) in
            [(r#"["CC493K"]"#, "compare"), (r#"["CC493K", "CC493K"]"#, "compare.1"), (r#"["CC493K", "C9320"]"#, "compare.1")]
        {
            assert_eq!(asked(&format!(r#"{{"pressure_MPa": 5, "compare": {compare}}}"#)).unwrap_err().key, key);
        }
    }
}
