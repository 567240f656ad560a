//! Units that a person may write beside a number, and the digits that a person is shown: the one place where figures change their face.
//!
//! Reading: `"9.4512 in ± 0.0002"` becomes a [`Quantity`] in the unit of the key. Showing: two significant digits in the uncertainty,
//! the value to the same place, in millimetres or inches. Everything between is in the units of the contract.
//! It leaves to others: which key wants which unit (the key's last part says it), and coverage factors other than the 95 % of a paper.
//! A temperature and a difference of temperatures are different dimensions: 9 °F of difference are 5 K, 9 °F on the wall are −12.8 °C.

use crate::keys::nearest;
use crate::quantity::Quantity;
use crate::refused::Refused;

/// Millimetres in an inch, exact. Source: the international inch, 1959.
pub const MM_PER_INCH: f64 = 25.4;
/// Kilograms in a pound, exact. Source: the international pound, 1959.
pub const KG_PER_POUND: f64 = 0.453_592_37;
/// Standard gravity, m/s², exact. Source: 3rd CGPM, 1901.
pub const STANDARD_GRAVITY: f64 = 9.806_65;
/// Newtons in a pound-force, exact: the pound under standard gravity.
pub const N_PER_POUND_FORCE: f64 = KG_PER_POUND * STANDARD_GRAVITY;
/// Newton metres in a pound-force inch, exact.
pub const NM_PER_POUND_FORCE_INCH: f64 = N_PER_POUND_FORCE * MM_PER_INCH / 1000.0;
/// Megapascals in a pound-force per square inch.
pub const MPA_PER_PSI: f64 = N_PER_POUND_FORCE / (MM_PER_INCH * MM_PER_INCH);
/// Half-width of a 95 % interval in standard uncertainties, normal distribution. Source: JCGM 100:2008, table G.1 (memory: 1.960).
const K_95: f64 = 1.959_963_984_540_054;

/// Millimetres of a length in inches.
pub fn mm_from_inch(inch: f64) -> f64 {
    inch * MM_PER_INCH
}

/// Inches of a length in millimetres.
pub fn inch_from_mm(mm: f64) -> f64 {
    mm / MM_PER_INCH
}

/// Degrees Celsius of a temperature in degrees Fahrenheit: (F − 32)·5/9.
pub fn C_from_F(F: f64) -> f64 {
    (F - 32.0) * 5.0 / 9.0
}

/// Degrees Fahrenheit of a temperature in degrees Celsius: C·9/5 + 32.
pub fn F_from_C(C: f64) -> f64 {
    C * 9.0 / 5.0 + 32.0
}

/// Micrometres of a length in millimetres.
pub fn um_from_mm(mm: f64) -> f64 {
    mm * 1e3
}

/// A quantity in millimetres, in micrometres.
pub fn um_quantity(mm: Quantity) -> Quantity {
    Quantity { value: um_from_mm(mm.value), u: um_from_mm(mm.u), ..mm }
}

/// A quantity in micrometres, in millimetres.
pub fn mm_quantity(um: Quantity) -> Quantity {
    Quantity { value: um.value / 1e3, u: um.u / 1e3, ..um }
}

/// Millionths: how a coefficient of expansion is said, 18.0 for 18.0e-6 per K.
pub fn millionths(x: f64) -> f64 {
    x * 1e6
}

/// A coefficient that was said in millionths: 18.0 is 18.0e-6.
pub fn from_millionths(x: f64) -> f64 {
    x / 1e6
}

/// Whether a size in mm beside a bore would be ordinary had it been written in the other system: far off now (under an eighth or over eight
/// bores), and between an eighth and eight bores with 25.4 taken in or out. *Common practice*: a guess, for a note and nothing else.
pub fn looks_like_inches(mm: f64, bore_mm: f64) -> bool {
    let ordinary = |mm: f64| mm > bore_mm / 8.0 && mm < bore_mm * 8.0;
    !ordinary(mm) && (ordinary(mm * MM_PER_INCH) || ordinary(mm / MM_PER_INCH))
}

/// Readings that stand apart from the median by more than 1 mm, or by 0.5 mm to the hundredth, as a slipped digit does: place, distance in mm.
pub fn slipped_by(sizes_mm: &[f64]) -> Vec<(usize, f64)> {
    if sizes_mm.len() < 3 {
        return Vec::new();
    }
    let mut sorted = sizes_mm.to_vec();
    sorted.sort_by(f64::total_cmp);
    let median = sorted[sorted.len() / 2];
    let off = sizes_mm.iter().enumerate().map(|(i, size)| (i, size - median));
    off.filter(|(_, off)| off.abs() > 1.0 || (off.abs() - 0.5).abs() < 0.01).collect()
}

/// What a number measures. Each has one unit of the contract, in which it is given back.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dimension {
    /// mm.
    Length,
    /// °C on the scale.
    Temperature,
    /// K of difference.
    TemperatureDifference,
    /// N.
    Force,
    /// MPa.
    Stress,
    /// N·m.
    Torque,
    /// Turns a minute.
    Speed,
    /// kg.
    Mass,
    /// kW.
    Power,
}

impl Dimension {
    /// What it is called in a sentence, with a text that would be read.
    const fn words(self) -> (&'static str, &'static str) {
        match self {
            Self::Length => ("a length", "9.4512 in"),
            Self::Temperature => ("a temperature", "70 F"),
            Self::TemperatureDifference => ("a difference of temperatures", "9 F"),
            Self::Force => ("a force", "12 kN"),
            Self::Stress => ("a stress", "30 ksi"),
            Self::Torque => ("a torque", "250 lbf ft"),
            Self::Speed => ("a speed", "120 rpm"),
            Self::Mass => ("a mass", "40 lb"),
            Self::Power => ("a power", "7.5 hp"),
        }
    }

    /// The unit of the contract: mm, °C, K, N, MPa, N·m, rpm, kg, kW.
    pub const fn unit(self) -> Unit {
        match self {
            Self::Length => MM,
            Self::Temperature => CELSIUS,
            Self::TemperatureDifference => KELVIN_STEP,
            Self::Force => NEWTON,
            Self::Stress => MEGAPASCAL,
            Self::Torque => NEWTON_METRE,
            Self::Speed => RPM,
            Self::Mass => KILOGRAM,
            Self::Power => KILOWATT,
        }
    }
}

/// A unit: so many of its dimension's contract unit, from an origin (which only a temperature has).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unit {
    /// What it measures.
    pub dimension: Dimension,
    /// How it is printed.
    pub symbol: &'static str,
    /// Contract units in one of it.
    scale: f64,
    /// Where its zero stands, in contract units.
    origin: f64,
}

const fn unit(dimension: Dimension, symbol: &'static str, scale: f64) -> Unit {
    Unit { dimension, symbol, scale, origin: 0.0 }
}

const MM: Unit = unit(Dimension::Length, "mm", 1.0);
const INCH: Unit = unit(Dimension::Length, "in", MM_PER_INCH);
const MICROMETRE: Unit = unit(Dimension::Length, "µm", 0.001);
const THOU: Unit = unit(Dimension::Length, "thou", MM_PER_INCH / 1000.0);
const CELSIUS: Unit = unit(Dimension::Temperature, "°C", 1.0);
const FAHRENHEIT: Unit = Unit { dimension: Dimension::Temperature, symbol: "°F", scale: 5.0 / 9.0, origin: -160.0 / 9.0 };
const KELVIN_STEP: Unit = unit(Dimension::TemperatureDifference, "K", 1.0);
const NEWTON: Unit = unit(Dimension::Force, "N", 1.0);
const KILONEWTON: Unit = unit(Dimension::Force, "kN", 1000.0);
const MEGAPASCAL: Unit = unit(Dimension::Stress, "MPa", 1.0);
const GIGAPASCAL: Unit = unit(Dimension::Stress, "GPa", 1000.0);
const NEWTON_METRE: Unit = unit(Dimension::Torque, "N·m", 1.0);
const RPM: Unit = unit(Dimension::Speed, "rpm", 1.0);
const KILOGRAM: Unit = unit(Dimension::Mass, "kg", 1.0);
const KILOWATT: Unit = unit(Dimension::Power, "kW", 1.0);

/// Every unit that is read, by the ways of writing it (blanks, points and middle dots do not count).
///
/// A bare ton of force is not here: short, long and metric tons differ by 12 %. hp is the mechanical one, 550 lbf ft/s.
const WRITTEN: &[(&[&str], Unit)] = &[
    (&["mm"], MM),
    (&["um", "µm", "μm"], MICROMETRE),
    (&["cm"], unit(Dimension::Length, "cm", 10.0)),
    (&["m"], unit(Dimension::Length, "m", 1000.0)),
    (&["in", "inch", "inches", "\"", "″"], INCH),
    (&["thou"], THOU),
    (&["C", "°C", "degC"], CELSIUS),
    (&["F", "°F", "degF"], FAHRENHEIT),
    (&["K", "C", "°C", "degC"], KELVIN_STEP),
    (&["F", "°F", "degF"], unit(Dimension::TemperatureDifference, "°F", 5.0 / 9.0)),
    (&["N"], NEWTON),
    (&["kN"], KILONEWTON),
    (&["MN"], unit(Dimension::Force, "MN", 1e6)),
    (&["lbf"], unit(Dimension::Force, "lbf", N_PER_POUND_FORCE)),
    (&["kgf"], unit(Dimension::Force, "kgf", STANDARD_GRAVITY)),
    (&["metrictonf"], unit(Dimension::Force, "metric tonf", 1000.0 * STANDARD_GRAVITY)),
    (&["shorttonf"], unit(Dimension::Force, "short tonf", 2000.0 * N_PER_POUND_FORCE)),
    (&["longtonf"], unit(Dimension::Force, "long tonf", 2240.0 * N_PER_POUND_FORCE)),
    (&["MPa", "N/mm2", "N/mm²"], MEGAPASCAL),
    (&["GPa"], GIGAPASCAL),
    (&["bar"], unit(Dimension::Stress, "bar", 0.1)),
    (&["psi"], unit(Dimension::Stress, "psi", MPA_PER_PSI)),
    (&["ksi"], unit(Dimension::Stress, "ksi", 1000.0 * MPA_PER_PSI)),
    (&["Nm"], NEWTON_METRE),
    (&["kNm"], unit(Dimension::Torque, "kN·m", 1000.0)),
    (&["lbfin", "inlbf"], unit(Dimension::Torque, "lbf in", NM_PER_POUND_FORCE_INCH)),
    (&["lbfft", "ftlbf"], unit(Dimension::Torque, "lbf ft", 12.0 * NM_PER_POUND_FORCE_INCH)),
    (&["rpm", "1/min", "r/min"], RPM),
    (&["kg"], KILOGRAM),
    (&["g"], unit(Dimension::Mass, "g", 0.001)),
    (&["lb", "lbs"], unit(Dimension::Mass, "lb", KG_PER_POUND)),
    (&["kW"], KILOWATT),
    (&["W"], unit(Dimension::Power, "W", 0.001)),
    (&["hp"], unit(Dimension::Power, "hp", 550.0 * 12.0 * NM_PER_POUND_FORCE_INCH / 1000.0)),
];

impl Unit {
    /// The unit that the last part of a key names (`bore_mm`, `T_C`); none where that part is no unit of a plain quantity
    /// (`alpha_per_K`, `heat_K_per_mm`, `k_W_mK`).
    pub fn of_key(key: &str) -> Option<Self> {
        let mut parts = key.rsplit('_');
        let last = parts.next()?;
        if parts.next().is_none_or(|before| before == "per") {
            return None;
        }
        Some(match last {
            "mm" => MM,
            "um" => MICROMETRE,
            "in" => INCH,
            "thou" => THOU,
            "C" => CELSIUS,
            "K" => KELVIN_STEP,
            "N" => NEWTON,
            "kN" => KILONEWTON,
            "MPa" => MEGAPASCAL,
            "GPa" => GIGAPASCAL,
            "Nm" => NEWTON_METRE,
            "rpm" => RPM,
            "kg" => KILOGRAM,
            "kW" => KILOWATT,
            _ => return None,
        })
    }

    /// `x` of this unit in `other`. Both are of one dimension: a caller that mixes them has a defect.
    fn into(self, other: Self, x: f64) -> f64 {
        debug_assert_eq!(self.dimension, other.dimension, "a value stays in its dimension");
        // Equal units keep every bit, so that a millimetre that is written as one is the number that was written.
        if self == other { x } else { ((self.origin - other.origin) + x * self.scale) / other.scale }
    }

    /// A spread `u` of this unit in `other`: the origin does not count.
    fn spread_into(self, other: Self, u: f64) -> f64 {
        if self == other { u } else { u * self.scale / other.scale }
    }
}

/// Reads a number with its unit, as [`read_as`], into the contract unit of `wanted` (mm, °C, K, N, MPa, N·m, rpm, kg, kW).
pub fn read_with_unit(text: &str, wanted: Dimension) -> Result<Quantity, Refused> {
    read_as(text, wanted.unit())
}

/// Reads a number with its unit into `wanted`: `"9.4512 in"`, `"70 F ± 2"`, `"0.36 mm +- 4 um"`, `"260.0211 mm ± 0.0022 (95 %)"`.
///
/// What follows ± (or +-, +/-) is one standard uncertainty, in the value's unit unless it carries its own; with `(95 %)` after it, as on
/// our papers, it is a 95 % half-width and is divided by 1.960. Refused, with an empty key that the caller fills in: a number without
/// a unit, a unit of another dimension, an ambiguous ton, a decimal comma, a number that is not finite.
pub fn read_as(text: &str, wanted: Unit) -> Result<Quantity, Refused> {
    let dimension = wanted.dimension;
    let (kind, sample) = dimension.words();
    let refuse = |remedy: String| Refused::new("", format!("{text:?}"), format!("{kind} with its unit, like {sample:?}"), remedy);
    let ascii = text.replace('−', "-").replace("+/-", "±").replace("+-", "±");
    let (body, k) = match ascii.trim().strip_suffix(')').and_then(|body| body.rsplit_once('(')) {
        Some((body, level)) if level.replace(' ', "") == "95%" => (body, K_95),
        Some(_) => return Err(refuse("write (95 %) or nothing in brackets".into())),
        None => (ascii.trim(), 1.0),
    };
    let (value_text, spread_text) = body.split_once('±').map_or((body, None), |(value, spread)| (value, Some(spread)));
    let (value, unit_text) = number_and_unit(value_text).map_err(&refuse)?;
    let from = unit_named(unit_text, dimension).map_err(&refuse)?;
    let value = from.into(wanted, value);
    let u = match spread_text {
        None if k != 1.0 => return Err(refuse("write ± and the half-width before (95 %)".into())),
        None => 0.0,
        Some(spread) => {
            let (half, unit_text) = number_and_unit(spread).map_err(&refuse)?;
            if half < 0.0 {
                return Err(refuse("write the number after ± without a sign".into()));
            }
            // A spread of a temperature is a difference, whatever letter it carries; only its size counts.
            let of_spread = if unit_text.is_empty() { from } else { unit_named(unit_text, dimension).map_err(&refuse)? };
            of_spread.spread_into(wanted, half) / k
        }
    };
    if !(value.is_finite() && u.is_finite()) {
        return Err(refuse("give a number of ordinary size".into()));
    }
    Ok(Quantity::with_u(value, u))
}

/// Parts a text at the end of its number. The error says what to do.
fn number_and_unit(text: &str) -> Result<(f64, &str), String> {
    let text = text.trim();
    let in_number = |(i, letter): &(usize, char)| {
        letter.is_ascii_digit()
            || matches!(letter, '.' | '+' | '-')
            || (matches!(letter, 'e' | 'E') && text[i + 1..].starts_with(|next: char| next.is_ascii_digit() || matches!(next, '+' | '-')))
    };
    let end = text.char_indices().find(|letter| !in_number(letter)).map_or(text.len(), |(i, _)| i);
    let (number, unit) = text.split_at(end);
    if unit.starts_with(',') {
        return Err("write a decimal point, and nothing between thousands".into());
    }
    if unit.starts_with('/') || unit.trim_start().starts_with(|next: char| next.is_ascii_digit()) {
        return Err("write one decimal number, no fraction and no blank inside it".into());
    }
    let value = number.parse::<f64>().map_err(|_| "write one decimal number, then its unit".to_owned())?;
    Ok((value, unit.trim()))
}

/// The unit that `written` means for `dimension`. The error says what to do.
fn unit_named(written: &str, dimension: Dimension) -> Result<Unit, String> {
    let name: String = written.chars().filter(|letter| !matches!(letter, ' ' | '.' | '·' | '⋅')).collect();
    let known = || WRITTEN.iter().filter(move |(_, unit)| unit.dimension == dimension);
    let exact = |(names, _): &&(&[&str], Unit)| names.contains(&name.as_str());
    if let Some((_, unit)) = known().find(exact) {
        return Ok(*unit);
    }
    let symbols = known().map(|(_, unit)| unit.symbol).collect::<Vec<_>>().join(", ");
    if name.is_empty() {
        return Err(format!("write its unit after the number: {symbols}"));
    }
    if dimension == Dimension::Force && ["t", "ton", "tons", "tonf", "tonne", "tonnes", "T"].contains(&name.as_str()) {
        return Err("say which ton: short tonf (2000 lbf), long tonf (2240 lbf) or metric tonf (1000 kgf), or write kN".into());
    }
    if let Some((_, other)) = WRITTEN.iter().find(exact) {
        let (kind, _) = other.dimension.words();
        return Err(format!("{written} is the unit of {kind}; here one of {symbols} is wanted"));
    }
    let near = nearest(&name, known().flat_map(|(names, _)| names.iter().copied())).filter(|_| name.chars().count() > 1);
    Err(near.map_or_else(|| format!("write one of {symbols}"), |near| format!("write {near}, or one of {symbols}")))
}

/// In which lengths a person reads.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum System {
    /// Millimetres.
    Metric,
    /// Inches.
    Inch,
}

impl System {
    /// How its unit of length is printed.
    pub const fn length(self) -> &'static str {
        match self {
            Self::Metric => "mm",
            Self::Inch => "in",
        }
    }

    /// A length in mm as this system counts it.
    pub fn from_mm(self, mm: f64) -> f64 {
        match self {
            Self::Metric => mm,
            Self::Inch => inch_from_mm(mm),
        }
    }

    /// A length that this system counts, in mm.
    pub fn to_mm(self, length: f64) -> f64 {
        match self {
            Self::Metric => length,
            Self::Inch => mm_from_inch(length),
        }
    }

    /// Decimals that mean no more than `decimals` of a millimetre: one more in inches (0.001 mm is shown as 0.0001 in, which is coarser).
    pub fn decimals(self, decimals: usize) -> usize {
        match self {
            Self::Metric => decimals,
            Self::Inch => decimals + 1,
        }
    }
}

/// Most decimals that are ever shown: beyond them a double holds nothing of a size.
const MOST_DECIMALS: i32 = 15;

/// A value and its uncertainty as a person reads them: two significant digits in `u`, the value to the same place.
///
/// `u` is what stands after ± on the paper, usually the expanded one. With `u` of 0 the value is written out in full.
/// `shown(260.021125, 0.00216)` is `("260.0211", "0.0022")`; `shown(12345.0, 678.0)` is `("12350", "680")`.
pub fn shown(value: f64, u: f64) -> (String, String) {
    if u.is_nan() || u <= 0.0 || u.is_infinite() {
        return (plus_zero(format!("{value}")), if u == 0.0 { "0".into() } else { "unknown".into() });
    }
    // The exponent is read off the rounded text: 0.0996 is 0.10 and not 0.100.
    let exponent = format!("{u:.1e}").split_once('e').and_then(|(_, exponent)| exponent.parse::<i32>().ok()).unwrap_or(0);
    let decimals = (1 - exponent).min(MOST_DECIMALS);
    (to_place(value, decimals), to_place(u, decimals))
}

/// A length in mm and its uncertainty as a person of `system` reads them, with the unit: `("10.23705", "0.000085", "in")`.
pub fn shown_length(value_mm: f64, u_mm: f64, system: System) -> (String, String, &'static str) {
    let (value, u) = shown(system.from_mm(value_mm), system.from_mm(u_mm));
    (value, u, system.length())
}

/// A value with a fixed number of decimals, for columns that line up.
pub fn shown_plain(value: f64, decimals: usize) -> String {
    plus_zero(format!("{value:.decimals$}"))
}

/// A length in mm with a fixed number of decimals of `system`; `decimals_mm` are those that are known in mm.
pub fn shown_plain_length(value_mm: f64, decimals_mm: usize, system: System) -> String {
    shown_plain(system.from_mm(value_mm), system.decimals(decimals_mm))
}

/// A deviation with its sign, as a drawing writes it: `+0.036`, `-0.014`, `0.000`.
pub fn shown_signed(value: f64, decimals: usize) -> String {
    let text = shown_plain(value, decimals);
    let zero = text.chars().all(|letter| matches!(letter, '0' | '.'));
    if zero || text.starts_with('-') { text } else { format!("+{text}") }
}

/// Values with the same decimals, padded in front with blanks to one width: their points stand under each other.
pub fn column(values: &[f64], decimals: usize) -> Vec<String> {
    let texts: Vec<String> = values.iter().map(|value| shown_plain(*value, decimals)).collect();
    let width = texts.iter().map(String::len).max().unwrap_or(0);
    texts.into_iter().map(|text| format!("{text:>width$}")).collect()
}

/// `x` to `decimals` places; negative places round to tens, hundreds and so on.
fn to_place(x: f64, decimals: i32) -> String {
    match usize::try_from(decimals) {
        Ok(decimals) => shown_plain(x, decimals),
        Err(_) => {
            let step = crate::math::powi(10.0, decimals.unsigned_abs());
            shown_plain((x / step).round() * step, 0)
        }
    }
}

/// A nought has no sign, however it was rounded.
fn plus_zero(text: String) -> String {
    match text.strip_prefix('-') {
        Some(rest) if rest.chars().all(|letter| matches!(letter, '0' | '.')) => rest.to_owned(),
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(x: f64, y: f64, rel: f64, why: &str) {
        assert!((x - y).abs() <= rel * y.abs().max(1e-9), "{why}: {x}, wanted {y}");
    }

    #[test]
    fn every_unit_is_read_into_the_unit_of_the_contract() {
        for (text, dimension, value, why) in [
            ("9.4512 in", Dimension::Length, 240.060_48, "by hand"),
            ("250 thou", Dimension::Length, 6.35, "by hand"),
            ("12.5um", Dimension::Length, 0.0125, "by definition"),
            ("0.26 m", Dimension::Length, 260.0, "by definition"),
            ("26 cm", Dimension::Length, 260.0, "by definition"),
            ("-3 µm", Dimension::Length, -0.003, "by definition"),
            ("1e-2 in", Dimension::Length, 0.254, "by hand"),
            ("68 F", Dimension::Temperature, 20.0, "ISO 1 in inches"),
            ("-40 °F", Dimension::Temperature, -40.0, "the scales meet"),
            ("21 C", Dimension::Temperature, 21.0, "the contract's own"),
            ("9 F", Dimension::TemperatureDifference, 5.0, "a difference has no origin"),
            ("5 C", Dimension::TemperatureDifference, 5.0, "a step of either scale"),
            ("12 kN", Dimension::Force, 12_000.0, "by definition"),
            ("1000 lbf", Dimension::Force, 4448.221_615_260_5, "NIST SP 811 (memory)"),
            ("2 metric tonf", Dimension::Force, 19_613.3, "by hand"),
            ("30 ksi", Dimension::Stress, 206.842_718_795_05, "NIST SP 811 (memory): 6.894757 MPa a ksi"),
            ("106 GPa", Dimension::Stress, 106_000.0, "by definition"),
            ("250 lbf ft", Dimension::Torque, 338.954_487_082_85, "NIST SP 811 (memory): 1.355818 N m"),
            ("100 in lbf", Dimension::Torque, 11.298_482_902_761_668, "NIST SP 811 (memory)"),
            ("120 rpm", Dimension::Speed, 120.0, "the contract's own"),
            ("40 lb", Dimension::Mass, 18.143_694_8, "by hand"),
            ("10 hp", Dimension::Power, 7.456_998_715_822_7, "NIST SP 811 (memory): 745.6999 W"),
        ] {
            near(read_with_unit(text, dimension).unwrap().value, value, 1e-12, why);
        }
    }

    #[test]
    fn what_follows_plus_minus_is_one_standard_uncertainty() {
        for (text, dimension, u) in [
            ("9.4512 in ± 0.0002 in", Dimension::Length, 0.005_08),
            ("9.4512 in +- 0.0002", Dimension::Length, 0.005_08),
            ("240.06 mm +/- 4 um", Dimension::Length, 0.004),
            ("70 F ± 1.8", Dimension::Temperature, 1.0),
            ("260.0211 mm ± 0.00392 (95 %)", Dimension::Length, 0.002_000_036_7),
            ("260 mm", Dimension::Length, 0.0),
        ] {
            near(read_with_unit(text, dimension).unwrap().u, u, 1e-7, text);
        }
    }

    #[test]
    fn what_could_be_read_in_two_ways_is_refused_with_what_to_write() {
        for (text, dimension, remedy) in [
            ("240.06", Dimension::Length, "unit after the number"),
            ("240,06 mm", Dimension::Length, "decimal point"),
            ("9 7/16 in", Dimension::Length, "no fraction"),
            ("12 t", Dimension::Force, "say which ton"),
            ("12 kg", Dimension::Force, "unit of a mass"),
            ("20 K", Dimension::Temperature, "difference of temperatures"),
            ("9.4 inc", Dimension::Length, "write in"),
            ("wide mm", Dimension::Length, "one decimal number"),
            ("", Dimension::Length, "one decimal number"),
            ("9.4 in ± -0.1", Dimension::Length, "without a sign"),
            ("9.4 in ± 0.1 (90 %)", Dimension::Length, "95 %"),
            ("9.4 in (95 %)", Dimension::Length, "half-width"),
            ("1e999 mm", Dimension::Length, "ordinary size"),
        ] {
            let refused = read_with_unit(text, dimension).expect_err(text);
            assert!(refused.remedy.contains(remedy), "{text}: {refused}");
        }
    }

    #[test]
    fn a_key_names_its_unit_only_where_it_stands_alone() {
        assert_eq!(Unit::of_key("bore_mm"), Some(MM));
        assert_eq!(Unit::of_key("axial_kN"), Some(KILONEWTON));
        assert_eq!(Unit::of_key("common_T_u_K").map(|unit| unit.dimension), Some(Dimension::TemperatureDifference));
        for key in ["alpha_per_K", "heat_K_per_mm", "k_W_mK", "density_kg_m3", "smoothing", "mm"] {
            assert_eq!(Unit::of_key(key), None, "{key}");
        }
        near(read_as("5 lbf", Unit::of_key("push_kN").unwrap()).unwrap().value, 0.022_241_108_076, 1e-9, "by hand");
    }

    #[test]
    fn uncertainty_has_two_digits_and_the_value_ends_where_it_ends() {
        for (value, u, wanted) in [
            (260.021_125, 0.002_16, ("260.0211", "0.0022")),
            (260.021_125, 0.0996, ("260.02", "0.10")),
            (260.021_125, 0.099_4, ("260.021", "0.099")),
            (12_345.0, 678.0, ("12350", "680")),
            (-0.000_01, 0.001, ("0.0000", "0.0010")),
            (5.25, 0.0, ("5.25", "0")),
            (41.6, 12.4, ("42", "12")),
        ] {
            let (value, u) = shown(value, u);
            assert_eq!((value.as_str(), u.as_str()), wanted);
        }
    }

    #[test]
    fn inches_have_digits_of_their_own() {
        assert_eq!(shown_length(260.021_125, 0.002_16, System::Inch), ("10.237052".into(), "0.000085".into(), "in"));
        assert_eq!(shown_plain_length(260.021, 3, System::Inch), "10.2370");
        assert_eq!(shown_plain_length(260.021, 3, System::Metric), "260.021");
    }

    #[test]
    fn deviations_carry_their_sign_and_columns_line_up() {
        assert_eq!([0.036, -0.014, 0.0, -0.000_1].map(|x| shown_signed(x, 3)), ["+0.036", "-0.014", "0.000", "0.000"]);
        assert_eq!(column(&[9.5, -110.25], 2), ["   9.50", "-110.25"]);
    }
}
