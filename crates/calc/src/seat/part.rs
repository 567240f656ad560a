//! A ring-shaped part as heat sees it: its sizes and properties, from the request's own keys or from the tables.
//!
//! Keys that a kind does not use are taken and left alone, so that one part serves every kind. It judges nothing but its sizes.

use super::chill::Part;
use crate::alloy::table;
use crate::keys::{Given, Key, Range};
use crate::quantity::Quantity;
use crate::refused::Refused;
use crate::solve::heat::mesh::Ring;

const SIZE: Range = Range::over(0.0).to(1e5);

/// Outside diameter, needed.
pub const OUTSIDE: Key = Key::quantity("outside_mm", SIZE, "outside diameter at 20 °C").needed();
/// Bore of a bush, needed; a pin has 0.
pub const BUSH_BORE: Key = Key::quantity("bore_mm", Range::at_least(0.0).to(1e5), "its bore; 0 for a pin").needed();
/// Bore of a housing, needed.
pub const HOUSING_BORE: Key = Key::quantity("bore_mm", SIZE, "bore diameter at 20 °C").needed();
/// Length, needed.
pub const LENGTH: Key = Key::number("length_mm", SIZE, "whole length").needed();
/// Which alloy of the table.
pub const ALLOY: Key = Key::text("alloy", "id of the alloy table, for what is not given");
/// Which metal of the table.
pub const METAL: Key = Key::text("metal", "id of the table of metals, for what is not given");
/// Density.
pub const DENSITY: Key = Key::number("density_kg_m3", Range::within(10.0, 1e5), "density; wins over the table");
/// Specific heat.
pub const CP: Key = Key::number("cp_J_kgK", Range::within(1.0, 1e5), "specific heat at 20 °C; wins over the table");
/// Conductivity.
pub const K: Key = Key::number("k_W_mK", Range::within(0.01, 1e5), "conductivity at 20 °C; wins over the table");
/// Expansion.
pub const ALPHA: Key = Key::quantity("alpha_per_K", Range::over(0.0).to(1e-3), "expansion, 20 to 100 °C; wins over the table");
/// Modulus, taken and left alone.
pub const E: Key = Key::number("E_GPa", Range::over(0.0).to(2000.0), "modulus (not used here)");
/// Poisson ratio, taken and left alone.
pub const NU: Key = Key::number("nu", Range::over(-1.0).under(0.5), "Poisson ratio (not used here)");
/// Yield, taken and left alone.
pub const YIELD: Key = Key::number("yield_MPa", Range::over(0.0).to(1e4), "Rp0.2 (not used here)");

/// What every kind asks of a bush: sizes, and properties or the alloy that they come from.
pub const BUSH: [Key; 11] = [OUTSIDE, BUSH_BORE, LENGTH, ALLOY, DENSITY, CP, K, ALPHA, E, NU, YIELD];

/// Properties of a part that is in the request or in a table.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Properties {
    density_kg_m3: Option<f64>,
    cp_J_kgK: Option<f64>,
    k_W_mK: Option<f64>,
    alpha_per_K: Option<Quantity>,
    /// An alloy of the grey iron family.
    pub grey_iron: bool,
    /// An alloy of the aluminium bronze family, whose contraction is less sure.
    pub aluminium_bronze: bool,
}

impl Properties {
    /// Of a bush (`alloy`) or of a housing (`metal`).
    pub fn read(part: &Given) -> Result<Self, Refused> {
        let alloy = part.word("alloy").map(|id| table::alloy_at(&part.path_of("alloy"), id)).transpose()?;
        let metal = part.word("metal").map(|id| table::housing_at(&part.path_of("metal"), id)).transpose()?;
        let of = |key: &str, alloy: Option<f64>, metal: Option<f64>| part.number(key).or(alloy).or(metal);
        let alpha = alloy.map(|alloy| alloy.alpha_per_K).or(metal.map(|metal| metal.alpha_per_K));
        Ok(Self {
            density_kg_m3: of("density_kg_m3", alloy.map(|a| a.density_kg_m3), metal.map(|m| m.density_kg_m3)),
            cp_J_kgK: of("cp_J_kgK", alloy.map(|a| a.cp_J_kgK), metal.map(|m| m.cp_J_kgK)),
            k_W_mK: of("k_W_mK", alloy.map(|a| a.k_W_mK), metal.map(|m| m.k_W_mK)),
            alpha_per_K: part.quantity("alpha_per_K").or(alpha.map(Quantity::exact)),
            grey_iron: alloy.is_some_and(|alloy| alloy.is_grey_iron()) || metal.is_some_and(|metal| metal.is_grey_iron()),
            aluminium_bronze: alloy.is_some_and(|alloy| alloy.family.contains("aluminium bronze")),
        })
    }

    /// Density, refused when it is nowhere.
    pub fn density(&self, part: &Given) -> Result<f64, Refused> {
        self.density_kg_m3.map_or_else(|| part.need_number("density_kg_m3"), Ok)
    }

    /// Specific heat at 20 °C, refused when it is nowhere.
    pub fn cp(&self, part: &Given) -> Result<f64, Refused> {
        self.cp_J_kgK.map_or_else(|| part.need_number("cp_J_kgK"), Ok)
    }

    /// Conductivity at 20 °C, refused when it is nowhere.
    pub fn k(&self, part: &Given) -> Result<f64, Refused> {
        self.k_W_mK.map_or_else(|| part.need_number("k_W_mK"), Ok)
    }

    /// Conductivity at 20 °C where it is known.
    pub fn k_if_known(&self) -> Option<f64> {
        self.k_W_mK
    }

    /// Expansion, refused when it is nowhere.
    pub fn alpha(&self, part: &Given) -> Result<Quantity, Refused> {
        self.alpha_per_K.map_or_else(|| part.need_quantity("alpha_per_K"), Ok)
    }

    /// For the contraction: grey iron is grey iron whatever part it is called.
    pub fn as_part(&self, named: Part) -> Part {
        if self.grey_iron { Part::GreyIron } else { named }
    }
}

/// The ring of a part, in metres; a bore that leaves no wall is refused.
pub fn ring(part: &Given) -> Result<Ring, Refused> {
    let (outside_mm, bore_mm) = (part.need_number("outside_mm")?, part.need_number("bore_mm")?);
    // A wall under a millionth of the diameter is a slip of the pen, and nothing that a mesh could resolve.
    if bore_mm > outside_mm * (1.0 - 1e-6) {
        return Err(part.refuse("bore_mm", format!("under the outside, {outside_mm}"), "measure bore and outside again"));
    }
    Ok(Ring { outside: outside_mm * 1e-3, bore: bore_mm * 1e-3, length: part.need_number("length_mm")? * 1e-3 })
}
