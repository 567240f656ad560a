//! What is known of each bush alloy and of each housing or shaft metal: the two tables, typed.
//!
//! It leaves judging to `limits` and `score`. A figure is as good as its `how_*` column says ("read" or "memory"); minima are those
//! of the casting named beside them, so another casting of the same alloy has others.
//! Source: `data/bush_alloys.csv` and `data/housing_shaft.csv`, whose letters M1 to M30 are explained in `checks/materials/sources.csv`.

use std::sync::LazyLock;

use serde::Serialize;

use crate::keys::nearest;
use crate::refused::Refused;
use crate::tables::{Row, Table};

/// Grey iron carries a hoop tension of about this share of Rm in a housing. Source: memory, with the row of EN-GJL-250.
const GREY_IRON_TENSION_SHARE: f64 = 0.3;

/// Judgements of 0 (bad) to 5 (good), from memory: how an alloy behaves in a bearing.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Judgements {
    /// Carries load.
    pub strength: f64,
    /// Lives with little oil or grease.
    pub marginal_lube: f64,
    /// Stands shock.
    pub shock: f64,
    /// Buries dirt.
    pub embed: f64,
    /// Beds in to a shaft that is askew.
    pub conform: f64,
    /// Stands sea water.
    pub seawater: f64,
    /// Stands speed.
    pub speed: f64,
    /// Is easy to turn.
    pub machining: f64,
    /// Is cheap.
    pub cost: f64,
}

/// A bush alloy. Strengths are minima of the casting that `casting` names; limits are for bearing duty.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alloy {
    /// Its name in requests.
    pub id: &'static str,
    /// Symbol of its standard, or the trade's name.
    pub symbol: &'static str,
    /// Number of its standard.
    pub number: &'static str,
    /// Leaded gunmetal, tin bronze, aluminium bronze and so on.
    pub family: &'static str,
    /// Nominal lead.
    pub Pb_pct: f64,
    /// Nominal zinc.
    pub Zn_pct: f64,
    /// Density.
    pub density_kg_m3: f64,
    /// Young's modulus.
    pub E_GPa: f64,
    /// Poisson's ratio.
    pub nu: f64,
    /// Mean expansion, 20 to 100 °C unless the note says otherwise.
    pub alpha_per_K: f64,
    /// For which range `alpha_per_K` was given, or what is doubtful about it.
    pub alpha_note: &'static str,
    /// Conductivity at 20 °C.
    pub k_W_mK: f64,
    /// Specific heat at 20 °C.
    pub cp_J_kgK: f64,
    /// Least Rp0.2; none where the metal has no yield (grey iron).
    pub yield_MPa: Option<f64>,
    /// Least tensile strength.
    pub Rm_MPa: f64,
    /// Least elongation.
    pub A_pct: f64,
    /// Least Brinell hardness, where the standard has one.
    pub HB_min: Option<f64>,
    /// Usual Brinell hardness.
    pub HB_typ: f64,
    /// The way of casting that the minima belong to.
    pub casting: &'static str,
    /// Machinability, free-cutting brass C36000 = 100.
    pub machinability: f64,
    /// Largest mean pressure at rest, in creeping or intermittent motion.
    pub p_static_MPa: f64,
    /// Largest mean pressure in steady motion.
    pub p_dyn_MPa: f64,
    /// Largest sliding speed.
    pub v_max_m_s: f64,
    /// Largest p v with grease.
    pub pv_grease_MPa_m_s: f64,
    /// Largest temperature of the bush.
    pub T_max_C: f64,
    /// Least hardness of the journal.
    pub journal_HB_min: f64,
    /// Hardness of the journal that is better.
    pub journal_HB_recommended: f64,
    /// Judgements of 0 to 5.
    pub s: Judgements,
    /// Price beside CC493K = 100.
    pub cost_index: f64,
    /// Where density, moduli, expansion and heat are from.
    pub how_physical: &'static str,
    /// Where strengths and hardness are from.
    pub how_mechanical: &'static str,
    /// Where the bearing limits are from.
    pub how_limits: &'static str,
    /// Letters of the sources.
    pub sources: &'static str,
    /// What else to know.
    pub note: &'static str,
}

impl Alloy {
    /// Aluminium bronzes and high-tensile brass seize sooner than the others on a dry or soft journal [M3, M5, M8].
    pub fn seizes_sooner(&self) -> bool {
        self.family.contains("aluminium bronze") || self.family.contains("brass")
    }

    /// Grey iron, which cold and tension treat differently from bronze.
    pub fn is_grey_iron(&self) -> bool {
        self.family == "grey iron"
    }

    /// Largest hoop tension; only of grey iron, about 0.3 Rm (memory).
    pub fn tension_limit_MPa(&self) -> Option<f64> {
        self.is_grey_iron().then_some(GREY_IRON_TENSION_SHARE * self.Rm_MPa)
    }

    /// Which of physical, mechanical and limits rest on memory, in part or whole.
    pub fn from_memory(&self) -> Vec<&'static str> {
        let columns = [("physical", self.how_physical), ("mechanical", self.how_mechanical), ("limits", self.how_limits)];
        columns.into_iter().filter(|(_, how)| how.to_lowercase().contains("memory")).map(|(name, _)| name).collect()
    }
}

/// A metal of housings, shafts and pins.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Metal {
    /// Its name in requests.
    pub id: &'static str,
    /// Symbol of its standard.
    pub symbol: &'static str,
    /// Number of its standard.
    pub number: &'static str,
    /// Housing, shaft, pin.
    pub role: &'static str,
    /// The condition that the strengths belong to.
    pub condition: &'static str,
    /// Density.
    pub density_kg_m3: f64,
    /// Young's modulus.
    pub E_GPa: f64,
    /// Poisson's ratio.
    pub nu: f64,
    /// Mean expansion, 20 to 100 °C.
    pub alpha_per_K: f64,
    /// Conductivity at 20 °C.
    pub k_W_mK: f64,
    /// Specific heat at 20 °C.
    pub cp_J_kgK: f64,
    /// Least Rp0.2; none for grey iron.
    pub yield_MPa: Option<f64>,
    /// Least tensile strength.
    pub Rm_MPa: f64,
    /// Largest hoop tension; only of grey iron, about 0.3 Rm (memory).
    pub tension_limit_MPa: Option<f64>,
    /// Usual Brinell hardness.
    pub HB_typ: f64,
    /// Hardness of a case, where it has one.
    pub surface_HRC: Option<f64>,
    /// Where its figures are from.
    pub how: &'static str,
    /// Letters of the sources.
    pub sources: &'static str,
    /// What else to know.
    pub note: &'static str,
}

impl Metal {
    /// Grey iron: brittle, no yield.
    pub fn is_grey_iron(&self) -> bool {
        self.id.starts_with("GJL")
    }
}

static BUSH_ALLOYS: LazyLock<Table> = LazyLock::new(|| Table::read(include_str!("../../data/bush_alloys.csv")));
static HOUSING_SHAFT: LazyLock<Table> = LazyLock::new(|| Table::read(include_str!("../../data/housing_shaft.csv")));
// A row that lacks a figure would be left out; the tests hold that none is.
static ALLOYS: LazyLock<Vec<Alloy>> = LazyLock::new(|| BUSH_ALLOYS.rows().filter_map(|row| read_alloy(&row)).collect());
static METALS: LazyLock<Vec<Metal>> = LazyLock::new(|| HOUSING_SHAFT.rows().filter_map(|row| read_metal(&row)).collect());

/// Every bush alloy, in the order of the table.
pub fn alloys() -> &'static [Alloy] {
    &ALLOYS
}

/// Every metal of housings and shafts, in the order of the table.
pub fn metals() -> &'static [Metal] {
    &METALS
}

/// The alloy of that id; an unknown one is refused at the key `alloy` with the nearest known.
pub fn alloy(id: &str) -> Result<&'static Alloy, Refused> {
    alloy_at("alloy", id)
}

/// The alloy of that id, refused at `key` (a dotted path such as `bush.alloy`).
pub fn alloy_at(key: &str, id: &str) -> Result<&'static Alloy, Refused> {
    alloys().iter().find(|alloy| alloy.id == id).ok_or_else(|| unknown(key, id, alloys().iter().map(|alloy| alloy.id)))
}

/// The metal of that id; an unknown one is refused at the key `metal` with the nearest known.
pub fn housing(id: &str) -> Result<&'static Metal, Refused> {
    housing_at("metal", id)
}

/// The metal of that id, refused at `key` (a dotted path such as `housing.metal`).
pub fn housing_at(key: &str, id: &str) -> Result<&'static Metal, Refused> {
    metals().iter().find(|metal| metal.id == id).ok_or_else(|| unknown(key, id, metals().iter().map(|metal| metal.id)))
}

fn unknown<'n>(key: &str, id: &str, known: impl Iterator<Item = &'n str> + Clone) -> Refused {
    let remedy = match nearest(id, known.clone()) {
        Some(near) => format!("write {near:?}, or give the figures themselves where the request has keys for them"),
        None => "choose one of them, or give the figures themselves where the request has keys for them".to_owned(),
    };
    Refused::new(key, format!("{id:?}, not in the table"), known.collect::<Vec<_>>().join(", "), remedy)
}

fn read_alloy(row: &Row<'static>) -> Option<Alloy> {
    let number = |heading: &str| row.number(heading);
    Some(Alloy {
        id: row.text("id"),
        symbol: row.text("symbol"),
        number: row.text("number_or_UNS"),
        family: row.text("family"),
        Pb_pct: number("Pb_pct_nominal")?,
        Zn_pct: number("Zn_pct_nominal")?,
        density_kg_m3: number("density_kg_m3")?,
        E_GPa: number("E_GPa")?,
        nu: number("poisson")?,
        alpha_per_K: number("alpha_20_100_1e-6_K")? * 1e-6,
        alpha_note: row.text("alpha_note"),
        k_W_mK: number("k_W_mK")?,
        cp_J_kgK: number("cp_J_kgK")?,
        yield_MPa: number("Rp02_min_MPa"),
        Rm_MPa: number("Rm_min_MPa")?,
        A_pct: number("A_min_pct")?,
        HB_min: number("HB_min"),
        HB_typ: number("HB_typ")?,
        casting: row.text("casting"),
        machinability: number("machinability_C360_100")?,
        p_static_MPa: number("p_static_MPa")?,
        p_dyn_MPa: number("p_dyn_MPa")?,
        v_max_m_s: number("v_max_m_s")?,
        pv_grease_MPa_m_s: number("pv_grease_MPa_m_s")?,
        T_max_C: number("T_max_C")?,
        journal_HB_min: number("journal_HB_min")?,
        journal_HB_recommended: number("journal_HB_recommended")?,
        s: Judgements {
            strength: number("s_strength")?,
            marginal_lube: number("s_marginal_lube")?,
            shock: number("s_shock")?,
            embed: number("s_embed")?,
            conform: number("s_conform")?,
            seawater: number("s_seawater")?,
            speed: number("s_speed")?,
            machining: number("s_machining")?,
            cost: number("s_cost")?,
        },
        cost_index: number("cost_index")?,
        how_physical: row.text("how_physical"),
        how_mechanical: row.text("how_mechanical"),
        how_limits: row.text("how_limits"),
        sources: row.text("sources"),
        note: row.text("note"),
    })
}

fn read_metal(row: &Row<'static>) -> Option<Metal> {
    let number = |heading: &str| row.number(heading);
    let mut metal = Metal {
        id: row.text("id"),
        symbol: row.text("symbol"),
        number: row.text("number"),
        role: row.text("role"),
        condition: row.text("condition"),
        density_kg_m3: number("density_kg_m3")?,
        E_GPa: number("E_GPa")?,
        nu: number("poisson")?,
        alpha_per_K: number("alpha_20_100_1e-6_K")? * 1e-6,
        k_W_mK: number("k_W_mK")?,
        cp_J_kgK: number("cp_J_kgK")?,
        yield_MPa: number("Rp02_min_MPa"),
        Rm_MPa: number("Rm_min_MPa")?,
        tension_limit_MPa: None,
        HB_typ: number("HB_typ")?,
        surface_HRC: number("surface_HRC"),
        how: row.text("how"),
        sources: row.text("sources"),
        note: row.text("note"),
    };
    if metal.is_grey_iron() {
        metal.tension_limit_MPa = Some(GREY_IRON_TENSION_SHARE * metal.Rm_MPa);
    }
    Some(metal)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_row_of_the_tables_lacks_a_figure() {
        assert_eq!(alloys().len(), BUSH_ALLOYS.rows().count());
        assert_eq!(metals().len(), HOUSING_SHAFT.rows().count());
        assert!(alloys().iter().all(|alloy| alloy.yield_MPa.is_some() || alloy.is_grey_iron()));
        assert!(metals().iter().all(|metal| metal.yield_MPa.is_some() || metal.is_grey_iron()));
    }

    #[test]
    fn an_unknown_id_is_refused_with_the_nearest_known_one() {
        let refused = alloy("CC493").unwrap_err();
        assert_eq!(refused.key, "alloy");
        assert!(refused.remedy.contains("CC493K"), "{refused}");
        assert!(housing_at("housing.metal", "S35").unwrap_err().to_string().contains("S355"));
    }

    #[test]
    fn grey_iron_has_a_limit_of_tension_instead_of_a_yield() {
        let iron = housing("GJL-250").unwrap();
        assert_eq!((iron.yield_MPa, iron.tension_limit_MPa), (None, Some(75.0)));
        assert_eq!(housing("S355").unwrap().tension_limit_MPa, None);
        assert!(alloy("GJL-250").unwrap().is_grey_iron());
    }

    #[test]
    fn memory_in_a_how_column_is_told() {
        assert_eq!(alloy("C93200").unwrap().from_memory(), Vec::<&str>::new());
        assert_eq!(alloy("CC493K").unwrap().from_memory(), ["physical"]);
        assert_eq!(alloy("CC481K").unwrap().from_memory(), ["mechanical", "limits"]);
    }
}
