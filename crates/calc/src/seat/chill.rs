//! What cold and heat do to the parts before they are put together, in closed form: contraction, coolant, and which way in is enough.
//!
//! How long it takes is another question: see `cooling` and `heating`. Diameters in mm, temperatures in °C.
//! Source: contraction fitted to copper from 293 to 77 K (Ekin 2006, app. A6.4, memory; the expansion fit of NIST, read, agrees within
//! 1 %); specific heat of oxygen-free copper, NIST (coefficients read); latent heats as named below.

use serde::Serialize;

use crate::math::powi;
use crate::quantity::Quantity;
use crate::solve::heat::matter::{HEAT_RATIO, ratio};

/// Boiling nitrogen at 1 atm, °C. Source: Jacobsen 1986 (read as reprinted).
pub const NITROGEN_C: f64 = -195.8;
/// Subliming dry ice at 1 atm, °C.
pub const DRY_ICE_C: f64 = -78.5;
/// A bush in nitrogen is taken as ready when its slowest point is within 5 K; with the way to the hole it enters about here, °C.
pub const FROM_NITROGEN_C: f64 = -185.0;
/// The same from dry ice, °C.
pub const FROM_DRY_ICE_C: f64 = -70.0;
/// Hottest that a housing is made without a stated limit, °C. *Common practice*.
pub const HOTTEST_C: f64 = 200.0;

/// What a part is made of, for its contraction below 20 °C beside copper's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part {
    /// Bronze and brass.
    Bronze,
    /// Carbon and hardened steel.
    Steel,
    /// Austenitic stainless steel.
    Stainless,
    /// Grey iron, as a housing or as a bush.
    GreyIron,
    /// Aluminium.
    Aluminium,
}

impl Part {
    /// Share of copper's contraction. Source: 77 K factors .75, .81, .78 of the low-temperature table over copper's .84.
    const fn share(self) -> f64 {
        match self {
            Self::Bronze => 1.0,
            Self::Steel | Self::GreyIron => 0.89,
            Self::Stainless => 0.96,
            Self::Aluminium => 0.93,
        }
    }
}

/// Equivalent fall of temperature S(T), K: the contraction from 20 °C is α S with the table's α of 20 to 100 °C.
///
/// S = −(x + 8.806e-4 x² + 6.228e-6 x³ + 2.613e-8 x⁴), x = T − 20, to −196 °C; −x above 20 °C. A plain α x would promise 19 % too much in
/// nitrogen. Copper's; see [`Part`].
pub fn equivalent_fall_K(T_C: f64, part: Part) -> f64 {
    let x = T_C.max(-196.0) - 20.0;
    if x >= 0.0 {
        return -x;
    }
    -(x + 8.806e-4 * powi(x, 2) + 6.228e-6 * powi(x, 3) + 2.613e-8 * powi(x, 4)) * part.share()
}

/// Diameter of a free part at T, mm, with the doubt of its contraction (5 %; 6 % for aluminium bronze): D (1 − α S).
pub fn size_at(size_20_mm: f64, alpha_per_K: f64, T_C: f64, part: Part, aluminium_bronze: bool) -> Quantity {
    let fall = size_20_mm * alpha_per_K * equivalent_fall_K(T_C, part);
    Quantity::with_u(size_20_mm - fall, (fall * contraction_doubt(aluminium_bronze)).abs())
}

/// Doubt of a contraction, a share of it: 5 %, for aluminium bronze 6 %.
pub const fn contraction_doubt(aluminium_bronze: bool) -> f64 {
    if aluminium_bronze { 0.06 } else { 0.05 }
}

/// Expansion of the table with the doubt of what the cold makes of it, per K: for `window`, where it weighs as much as the sizes.
pub fn expansion_in_the_cold(alpha_per_K: f64, aluminium_bronze: bool) -> Quantity {
    Quantity::with_u(alpha_per_K, contraction_doubt(aluminium_bronze) * alpha_per_K)
}

/// Temperature at which a part has shrunk by S, °C; none when that is colder than nitrogen.
pub fn temperature_of_fall(fall_K: f64, part: Part) -> Option<f64> {
    if fall_K <= 0.0 {
        return Some(20.0 - fall_K);
    }
    let (mut cold, mut warm) = (NITROGEN_C, 20.0);
    if equivalent_fall_K(cold, part) < fall_K {
        return None;
    }
    // S rises steadily as it gets colder: sixty halvings leave nothing of 216 K.
    for _ in 0..60 {
        let middle = (cold + warm) / 2.0;
        if equivalent_fall_K(middle, part) < fall_K { warm = middle } else { cold = middle }
    }
    Some((cold + warm) / 2.0)
}

/// Heat that a kilogram gives up from `from_C` down to `to_C`, kJ: the integral of c over the straight lines of the table.
///
/// Negative when it is warmed: what it takes up then.
pub fn heat_kJ_per_kg(cp_J_kgK: f64, from_C: f64, to_C: f64) -> f64 {
    if to_C > from_C {
        return -heat_kJ_per_kg(cp_J_kgK, to_C, from_C);
    }
    let (top, bottom) = (from_C + 273.15, to_C + 273.15);
    let ratio = |T: f64| ratio(&HEAT_RATIO, T);
    let mut ends: Vec<f64> = HEAT_RATIO.iter().map(|(T, _)| *T).filter(|T| *T > bottom && *T < top).collect();
    ends.insert(0, bottom);
    ends.push(top);
    let mean_K: f64 = ends.windows(2).map(|pair| (pair[1] - pair[0]) * (ratio(pair[0]) + ratio(pair[1])) / 2.0).sum();
    cp_J_kgK * mean_K / 1e3
}

/// A coolant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Coolant {
    /// Liquid nitrogen.
    Nitrogen,
    /// Dry ice, packed or as a slush.
    DryIce,
}

impl Coolant {
    /// Its temperature at 1 atm, °C.
    pub const fn bath_C(self) -> f64 {
        match self {
            Self::Nitrogen => NITROGEN_C,
            Self::DryIce => DRY_ICE_C,
        }
    }
}

/// What a bush uses of a coolant.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CoolantUse {
    /// Heat given up, kJ.
    pub heat_kJ: f64,
    /// By the latent heat alone, kg: what to have.
    pub coolant_kg: f64,
    /// With the cold of the gas used up to 20 °C, kg: the least.
    pub coolant_min_kg: f64,
    /// Litres, of nitrogen.
    pub coolant_L: Option<f64>,
}

/// Coolant that a bush of `mass_kg` uses from `from_C`. Filling the vessel takes more.
///
/// Nitrogen 198.8 kJ/kg and 806.5 kg/m³ (Jacobsen 1986, read), gas 1042 J/(kg K) (memory); dry ice 571 kJ/kg, gas 800 (memory).
pub fn coolant_use(coolant: Coolant, mass_kg: f64, cp_J_kgK: f64, from_C: f64) -> CoolantUse {
    coolant_for(coolant, mass_kg * heat_kJ_per_kg(cp_J_kgK, from_C, coolant.bath_C()))
}

/// Coolant that takes up `heat_kJ`; none is used to warm a part.
pub fn coolant_for(coolant: Coolant, heat_kJ: f64) -> CoolantUse {
    let bath_C = coolant.bath_C();
    let (latent, gas, density) = match coolant {
        Coolant::Nitrogen => (198.8, 1.042, Some(806.5)),
        Coolant::DryIce => (571.0, 0.8, None),
    };
    let heat_kJ = heat_kJ.max(0.0);
    let coolant_kg = heat_kJ / latent;
    CoolantUse {
        heat_kJ,
        coolant_kg,
        coolant_min_kg: heat_kJ / (latent + gas * (20.0 - bath_C)),
        coolant_L: density.map(|density| coolant_kg / density * 1e3),
    }
}

/// Mass of a plain ring, kg.
pub fn ring_mass_kg(outside_mm: f64, bore_mm: f64, length_mm: f64, density_kg_m3: f64) -> f64 {
    let area_mm2 = crate::math::PI / 4.0 * (powi(outside_mm, 2) - powi(bore_mm, 2));
    area_mm2 * length_mm * density_kg_m3 * 1e-9
}

/// Gap on the diameter with which a bush goes in by hand, mm: 0.02 + 0.3 ‰ of its outside. *Common practice*.
pub fn hand_clearance_mm(outside_mm: f64) -> f64 {
    0.02 + 0.0003 * outside_mm
}

/// Both parts, for the question which way in is enough.
#[derive(Clone, Copy, Debug)]
pub struct WayIn {
    /// Outside of the bush at 20 °C, mm.
    pub outside_mm: f64,
    /// Expansion of the bush, per K.
    pub bush_alpha_per_K: f64,
    /// What the bush is.
    pub bush: Part,
    /// Bore of the housing at 20 °C, mm.
    pub bore_mm: f64,
    /// Expansion of the housing, per K.
    pub housing_alpha_per_K: f64,
    /// Temperature of both before anything is done, °C.
    pub room_C: f64,
    /// Gap to go in by hand, mm.
    pub hand_mm: f64,
    /// Hottest that the housing may be made, °C.
    pub limit_C: f64,
}

/// The way in that is enough, in the order in which they are preferred.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Advice {
    /// It goes in as it is.
    AsItIs,
    /// Dry ice is cold enough.
    DryIce,
    /// A warm housing is enough.
    Heat,
    /// Nitrogen is cold enough.
    Nitrogen,
    /// Nitrogen and a warm housing.
    Both,
    /// None of them: press it.
    None,
}

/// What the way in needs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needed {
    /// Housing with the bush at room temperature, °C.
    pub housing_C: f64,
    /// Bush with the housing at room temperature, °C; none when nitrogen is not cold enough.
    pub bush_C: Option<f64>,
    /// Housing with the bush from nitrogen, °C.
    pub both_C: f64,
    /// The way in.
    pub advice: Advice,
}

/// Temperatures that give the hand clearance, and the first way in that is enough.
///
/// needed_C = 20 + [(bush at its temperature + hand)/bore − 1]/α_h; the bush from D (1 − α S) + hand = bore. Cap: the housing's limit,
/// at most 200 °C. Source: thermal expansion; the order is *common practice*.
pub fn needed(way: &WayIn) -> Needed {
    needed_from(way, way.room_C)
}

/// The same with the bush at `warm_bush_C` before anything is done; the housing is at the way's `room_C`.
pub fn needed_from(way: &WayIn, warm_bush_C: f64) -> Needed {
    let housing_for = |bush_mm: f64| 20.0 + ((bush_mm + way.hand_mm) / way.bore_mm - 1.0) / way.housing_alpha_per_K;
    let bush_at = |T_C: f64| size_at(way.outside_mm, way.bush_alpha_per_K, T_C, way.bush, false).value;
    let bore = way.bore_mm * (1.0 + way.housing_alpha_per_K * (way.room_C - 20.0));
    let fall_K = (1.0 - (bore - way.hand_mm) / way.outside_mm) / way.bush_alpha_per_K;
    let housing_C = housing_for(bush_at(warm_bush_C));
    let bush_C = temperature_of_fall(fall_K, way.bush);
    let both_C = housing_for(bush_at(FROM_NITROGEN_C));
    let cap = way.limit_C.min(HOTTEST_C);
    let cold_enough = |T_C: f64| bush_C.is_some_and(|needed| needed >= T_C);
    let advice = match () {
        () if housing_C <= way.room_C => Advice::AsItIs,
        () if cold_enough(FROM_DRY_ICE_C) => Advice::DryIce,
        () if housing_C <= cap => Advice::Heat,
        () if cold_enough(FROM_NITROGEN_C) => Advice::Nitrogen,
        () if both_C <= cap => Advice::Both,
        () => Advice::None,
    };
    Needed { housing_C, bush_C, both_C, advice }
}

/// Gap on the diameter between a bush at `bush_C` and a housing at `housing_C`, mm, with the doubt of the contraction.
pub fn gap_mm(way: &WayIn, bush_C: f64, housing_C: f64, aluminium_bronze: bool) -> Quantity {
    let bush = size_at(way.outside_mm, way.bush_alpha_per_K, bush_C, way.bush, aluminium_bronze);
    let bore = way.bore_mm * (1.0 + way.housing_alpha_per_K * (housing_C - 20.0));
    Quantity::with_u(bore - bush.value, bush.u)
}

/// Cautions of liquid nitrogen.
pub const NITROGEN_CAUTIONS: [&str; 3] = [
    "Liquid nitrogen burns: loose dry insulating gloves, face shield and eye protection; lower the part slowly, it boils over; never keep it in a sealed vessel, it bursts.",
    "Nitrogen airs a room out of oxygen without a warning that a person feels: oxygen monitor, open doors, not alone, not in a pit.",
    "Metal at this temperature condenses oxygen-rich liquid: no oil or flame near. The supplier's sheet, local codes and licensed practice come first.",
];

/// Cautions of dry ice.
pub const DRY_ICE_CAUTIONS: [&str; 2] = [
    "Dry ice gives off carbon dioxide, which gathers low: air the room, not in a pit, not alone; gloves; never keep it in a sealed vessel.",
    "A slush is made with a non-flammable heat-transfer fluid: no acetone or alcohol near a flame, they are flammable. Local codes come first.",
];

/// Cautions of heat.
pub const HEAT_CAUTIONS: [&str; 2] = [
    "Hot parts burn: gloves, tongs, marked hot. No torch: a hot spot warps, tempers or cracks. Never above the tempering temperature of a hardened part.",
    "Hot oil: flash point, dry parts (water erupts), lid and extinguisher; fire watch. Local codes come first.",
];

/// Caution of a carbon steel or iron housing beside a bush from nitrogen.
pub const COLD_HOUSING_CAUTION: &str =
    "The bore of a carbon steel or iron housing is chilled by the bush and is brittle then: no blows, no load until it is warm.";

/// What is said where a coolant is used and no room was given.
pub const ROOM_NOT_CHECKED: &str = "The air of the room was not checked: give its volume and air changes before a coolant is brought in.";

/// Cautions of what the cooled part is made of; bronze stays tough.
///
/// hardened: a hardened steel, whose retained austenite may transform in any bath. Source: *common practice*.
pub fn part_caution(coolant: Coolant, part: Part, hardened: bool) -> Option<&'static str> {
    match (coolant, part) {
        (_, Part::Steel) if hardened => Some(HARDENED_CAUTION),
        (Coolant::Nitrogen, Part::Steel | Part::GreyIron) => Some(BRITTLE_CAUTION),
        _ => None,
    }
}

/// Caution of carbon steel and grey iron at the temperature of nitrogen.
pub const BRITTLE_CAUTION: &str = "Carbon steel and grey iron are brittle at this temperature: no blows, no load until the part is warm.";

/// Caution of a cooled hardened steel.
pub const HARDENED_CAUTION: &str = "In a hardened steel retained austenite may transform when it is cooled, size and strength change; brittle while cold: no blows; \
     temper again by the maker's rule.";

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn contraction_agrees_with_the_low_temperature_table() {
        // S(77 K) = 181 K and S(-78.5 °C) = 93.4 K: the figures of the method page, from the table that is compiled in.
        assert!((equivalent_fall_K(-195.8, Part::Bronze) - 181.0).abs() < 1.0);
        assert!((equivalent_fall_K(-78.5, Part::Bronze) - 93.4).abs() < 0.3);
        assert_eq!(equivalent_fall_K(60.0, Part::Bronze), -40.0);
    }

    #[test]
    fn the_needed_cold_gives_just_the_hand_clearance() {
        let way = WayIn {
            outside_mm: 410.2,
            bush_alpha_per_K: 18e-6,
            bush: Part::Bronze,
            bore_mm: 410.05,
            housing_alpha_per_K: 10.7e-6,
            room_C: 22.0,
            hand_mm: 0.143,
            limit_C: 120.0,
        };
        let needed = needed(&way);
        let gap = gap_mm(&way, needed.bush_C.unwrap(), way.room_C, false);
        assert!((gap.value - way.hand_mm).abs() < 1e-6, "{gap:?}");
        assert!((gap_mm(&way, way.room_C, needed.housing_C, false).value - way.hand_mm).abs() < 1e-4);
    }

    #[test]
    fn a_larger_bush_never_needs_less_cold() {
        let mut last = 20.0;
        for outside_mm in [100.02, 100.05, 100.1, 100.15] {
            let way = WayIn {
                outside_mm,
                bush_alpha_per_K: 18e-6,
                bush: Part::Bronze,
                bore_mm: 100.0,
                housing_alpha_per_K: 11.5e-6,
                room_C: 20.0,
                hand_mm: 0.05,
                limit_C: 200.0,
            };
            let bush_C = needed(&way).bush_C.unwrap();
            assert!(bush_C < last);
            last = bush_C;
        }
    }

    #[test]
    fn heat_that_is_taken_up_is_the_heat_that_was_given_up() {
        assert_eq!(heat_kJ_per_kg(376.0, -150.0, 20.0), -heat_kJ_per_kg(376.0, 20.0, -150.0));
        assert!((heat_kJ_per_kg(1000.0, 20.0, -23.15) - 43.15 * (1.0 + 0.978) / 2.0).abs() < 1e-9, "one straight line, by hand");
    }

    #[test]
    fn a_cold_steel_part_is_never_without_its_caution() {
        assert!(part_caution(Coolant::Nitrogen, Part::Steel, false).is_some_and(|text| text.contains("brittle")));
        assert!(part_caution(Coolant::Nitrogen, Part::GreyIron, false).is_some_and(|text| text.contains("brittle")));
        assert!(part_caution(Coolant::DryIce, Part::Steel, true).is_some_and(|text| text.contains("retained austenite")));
        assert_eq!(part_caution(Coolant::Nitrogen, Part::Bronze, false), None);
    }

    #[test]
    fn copper_from_room_temperature_takes_the_published_coolant() {
        // Anchor: copper from 300 K takes 0.37 kg of nitrogen per kg by latent heat alone (table of cold-mass cooling, read).
        let used = coolant_use(Coolant::Nitrogen, 1.0, 385.0, 26.85);
        assert!((used.coolant_kg - 0.37).abs() < 0.02, "{used:?}");
    }
}
