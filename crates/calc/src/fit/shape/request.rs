//! What is asked of a seat's shape: bush, flange, housing, grooves, interference along the length.
#![allow(missing_docs, reason = "fields whose name and unit say it all")]

use serde_json::Value;

use crate::fit::rings::SIZE;
use crate::keys::{Given, Key, Range, read_quantity, shown};
use crate::refused::Refused;

/// A groove round a part.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Groove {
    /// Where it begins along the axis.
    pub from_mm: f64,
    /// Where it ends.
    pub to_mm: f64,
    /// Radial.
    pub depth_mm: f64,
}

/// A collar beyond one end of a bush. Its face does not press on the housing.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flange {
    /// At the end `from_mm`; else at `to_mm`.
    pub left: bool,
    /// Its diameter.
    pub outside_mm: f64,
    /// Along the axis, beyond the bush's end.
    pub thickness_mm: f64,
}

/// The bush.
#[derive(Clone, Debug, PartialEq)]
pub struct Bush {
    pub bore_mm: f64,
    pub from_mm: f64,
    pub to_mm: f64,
    pub E_GPa: f64,
    pub nu: f64,
    pub flange: Option<Flange>,
    pub outside_grooves: Vec<Groove>,
    pub bore_grooves: Vec<Groove>,
}

/// A length of housing with one outside.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Section {
    pub from_mm: f64,
    pub to_mm: f64,
    pub outside_mm: f64,
}

/// The housing; its bore is the joint.
#[derive(Clone, Debug, PartialEq)]
pub struct Housing {
    pub bore_mm: f64,
    /// End to end, in their order along the axis.
    pub sections: Vec<Section>,
    pub bore_grooves: Vec<Groove>,
    pub E_GPa: f64,
    pub nu: f64,
}

/// A request of `fit-shape`.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    pub bush: Bush,
    pub housing: Housing,
    /// (z mm, effective interference µm), z rising; straight between, constant beyond.
    pub interference: Vec<(f64, f64)>,
    /// What touches does not slip along the axis.
    pub stuck: bool,
    pub mu_low: Option<f64>,
    pub mu_high: Option<f64>,
    /// Where pressure and close-in are told.
    pub at_mm: Vec<f64>,
    /// Change at the last halving of the mesh that is allowed, % of the largest interference.
    pub accuracy_pct: f64,
}

/// Change of a close-in at the last halving of the mesh that is asked for when nothing else is said, % of the interference.
pub const ACCURACY_PCT: f64 = 0.05;
/// A place along the axis.
const PLACE: Range = Range::within(-1e5, 1e5);
/// Grooves and sections of one part at most: each needs small elements of its own.
const MOST_FEATURES: usize = 16;
/// Places where the interference is given, at most.
const MOST_STATIONS: usize = 1000;
/// Places where pressure is asked for, at most.
const MOST_PLACES: usize = 10_000;
/// Beyond these a metal is none, and the equations lose their digits.
const MODULUS: Range = Range::within(1e-3, 1e4);
const POISSON: Range = Range::over(-1.0).under(0.5);
/// Parts of a size that are no more than rounding.
pub(super) const ROUNDING: f64 = 1e-9;

const GROOVE: &[Key] = &[
    Key::number("from_mm", PLACE, "where the groove begins along the axis").needed(),
    Key::number("to_mm", PLACE, "where it ends").needed(),
    Key::number("depth_mm", SIZE, "its radial depth").needed(),
];

const FLANGE: &[Key] = &[
    Key::word("side", &["left", "right"], "the end that it is beyond: left from_mm, right to_mm").needed(),
    Key::number("outside_mm", SIZE, "its diameter").needed(),
    Key::number("thickness_mm", SIZE, "its length along the axis").needed(),
];

const BUSH: &[Key] = &[
    Key::number("bore_mm", SIZE, "the bush's bore").needed(),
    Key::number("from_mm", PLACE, "where the bush begins along the axis").needed(),
    Key::number("to_mm", PLACE, "where it ends, without its flange").needed(),
    Key::number("E_GPa", MODULUS, "Young's modulus").needed(),
    Key::number("nu", POISSON, "Poisson's ratio").needed(),
    Key::record("flange", FLANGE, "a collar beyond one end; its face does not press on the housing").default("none"),
    Key::records("outside_grooves", GROOVE, "grooves round its outside").default("none"),
    Key::records("bore_grooves", GROOVE, "grooves round its bore").default("none"),
];

const SECTION: &[Key] = &[
    Key::number("from_mm", PLACE, "where the section begins along the axis").needed(),
    Key::number("to_mm", PLACE, "where it ends").needed(),
    Key::number("outside_mm", SIZE, "its outside diameter (not round: its equivalent)").needed(),
];

const HOUSING: &[Key] = &[
    Key::number("bore_mm", SIZE, "the housing's bore, the joint diameter").needed(),
    Key::records("sections", SECTION, "lengths with one outside each, end to end").needed(),
    Key::records("bore_grooves", GROOVE, "grooves round its bore").default("none"),
    Key::number("E_GPa", MODULUS, "Young's modulus").needed(),
    Key::number("nu", POISSON, "Poisson's ratio").needed(),
];

/// Keys of a request of `fit-shape`.
pub(super) const REQUEST: &[Key] = &[
    Key::record("bush", BUSH, "the bush").needed(),
    Key::record("housing", HOUSING, "the housing; z along the axis is counted from one place for both parts").needed(),
    Key::raw(
        "interference_um",
        "effective interference on the diameter at the state wanted: a number, or [[z mm, um], ..] straight between; may be negative",
    )
    .needed(),
    Key::word("friction", &["none", "stuck"], "what touches slides freely along the axis, or does not slip").default("none"),
    Key::number("mu_low", Range::at_least(0.0).to(10.0), "least coefficient of friction"),
    Key::number("mu_high", Range::at_least(0.0).to(10.0), "largest coefficient of friction"),
    Key::numbers("at_mm", PLACE, "places along the axis for pressure and close-in").default("none"),
    Key::number(
        "accuracy_pct",
        Range::within(1e-6, 10.0),
        "change at the last halving of the mesh that is allowed, % of the largest interference",
    )
    .default("0.05"),
];

impl Shape {
    /// Reads a request, and refuses what its table of keys can't judge.
    pub fn read(given: &Given) -> Result<Self, Refused> {
        let bush = read_bush(&given.need_record("bush")?)?;
        let housing = read_housing(&given.need_record("housing")?)?;
        let shape = Self {
            bush,
            housing,
            interference: read_interference(given)?,
            stuck: given.word("friction") == Some("stuck"),
            mu_low: given.number("mu_low"),
            mu_high: given.number("mu_high"),
            at_mm: given.numbers("at_mm"),
            accuracy_pct: given.number_or("accuracy_pct", ACCURACY_PCT),
        };
        if let (Some(low), Some(high)) = (shape.mu_low, shape.mu_high)
            && low > high
        {
            return Err(given.refuse("mu_low", format!("at most mu_high, {high}"), "give the lower coefficient as mu_low"));
        }
        if shape.at_mm.len() > MOST_PLACES {
            let listed = format!("a list of {}", shape.at_mm.len());
            return Err(Refused::new("at_mm", listed, format!("at most {MOST_PLACES} places"), "ask for fewer"));
        }
        shape.checked()?;
        Ok(shape)
    }

    /// Effective interference at `z`, µm.
    pub fn interference_at(&self, z: f64) -> f64 {
        let list = &self.interference;
        let next = list.partition_point(|(place, _)| *place <= z);
        match (next.checked_sub(1).and_then(|k| list.get(k)), list.get(next)) {
            (Some((a, low)), Some((b, high))) => low + (high - low) * (z - a) / (b - a),
            (Some((_, last)), None) => *last,
            (None, first) => first.map_or(0.0, |(_, first)| *first),
        }
    }

    /// Where the bush ends on both sides, its flange included.
    pub fn bush_ends(&self) -> (f64, f64) {
        let Bush { from_mm, to_mm, flange, .. } = &self.bush;
        match flange {
            Some(flange) if flange.left => (from_mm - flange.thickness_mm, *to_mm),
            Some(flange) => (*from_mm, to_mm + flange.thickness_mm),
            None => (*from_mm, *to_mm),
        }
    }

    /// Where the housing ends on both sides.
    pub fn housing_ends(&self) -> (f64, f64) {
        let sections = &self.housing.sections;
        (sections.first().map_or(0.0, |first| first.from_mm), sections.last().map_or(0.0, |last| last.to_mm))
    }

    /// Radial wall of the bush without its grooves.
    pub fn wall_mm(&self) -> f64 {
        0.5 * (self.housing.bore_mm - self.bush.bore_mm)
    }

    fn checked(&self) -> Result<(), Refused> {
        let (bush, housing) = (&self.bush, &self.housing);
        let joint = housing.bore_mm;
        if bush.bore_mm >= joint * (1.0 - 1e-6) {
            let allowed = format!("under the housing's bore, {joint}");
            return Err(Refused::new("bush.bore_mm", bush.bore_mm, allowed, "measure both again"));
        }
        if bush.from_mm >= bush.to_mm {
            return Err(Refused::new("bush.from_mm", bush.from_mm, format!("under to_mm, {}", bush.to_mm), "give the left end as from_mm"));
        }
        for (k, section) in housing.sections.iter().enumerate() {
            if section.outside_mm <= joint * (1.0 + 1e-6) {
                let key = format!("housing.sections.{k}.outside_mm");
                let allowed = format!("over the housing's bore, {joint}");
                return Err(Refused::new(key, section.outside_mm, allowed, "measure both again"));
            }
        }
        if let Some(flange) = &bush.flange
            && flange.outside_mm <= joint * (1.0 + 1e-6)
        {
            let allowed = format!("over the joint, {joint}");
            return Err(Refused::new("bush.flange.outside_mm", flange.outside_mm, allowed, "measure it again, or leave the flange out"));
        }
        let (left, right) = self.housing_ends();
        if bush.from_mm.max(left) >= bush.to_mm.min(right) - ROUNDING * (right - left) {
            let given = format!("from {} to {}", bush.from_mm, bush.to_mm);
            let allowed = format!("a length in common with the housing, {left} to {right}");
            return Err(Refused::new("bush", given, allowed, "count z of both parts from one place"));
        }
        self.check_grooves()
    }

    /// Refuses a groove as deep as its wall, alone or with another behind it.
    fn check_grooves(&self) -> Result<(), Refused> {
        let (bush, housing) = (&self.bush, &self.housing);
        for (name, grooves, others) in [
            ("bush.outside_grooves", &bush.outside_grooves, &bush.bore_grooves),
            ("bush.bore_grooves", &bush.bore_grooves, &bush.outside_grooves),
        ] {
            for (k, groove) in grooves.iter().enumerate() {
                let behind = others.iter().filter(|other| other.from_mm < groove.to_mm && groove.from_mm < other.to_mm);
                let wall = self.wall_mm() - behind.map(|other| other.depth_mm).fold(0.0, f64::max);
                refuse_deep(name, k, groove, wall)?;
            }
        }
        for (k, groove) in housing.bore_grooves.iter().enumerate() {
            let over = housing.sections.iter().filter(|section| section.from_mm < groove.to_mm && groove.from_mm < section.to_mm);
            let wall = over.map(|section| 0.5 * (section.outside_mm - housing.bore_mm)).fold(f64::INFINITY, f64::min);
            refuse_deep("housing.bore_grooves", k, groove, wall)?;
        }
        Ok(())
    }
}

fn refuse_deep(list: &str, k: usize, groove: &Groove, wall: f64) -> Result<(), Refused> {
    if groove.depth_mm < wall * (1.0 - 1e-6) {
        return Ok(());
    }
    let allowed = format!("under the wall that is there, {}", wall.max(0.0));
    Err(Refused::new(format!("{list}.{k}.depth_mm"), groove.depth_mm, allowed, "give the radial depth, and the part that the groove is in"))
}

fn read_bush(given: &Given) -> Result<Bush, Refused> {
    let flange = given.record("flange").map(|flange| {
        Ok(Flange {
            left: flange.need_word("side")? == "left",
            outside_mm: flange.need_number("outside_mm")?,
            thickness_mm: flange.need_number("thickness_mm")?,
        })
    });
    Ok(Bush {
        bore_mm: given.need_number("bore_mm")?,
        from_mm: given.need_number("from_mm")?,
        to_mm: given.need_number("to_mm")?,
        E_GPa: given.need_number("E_GPa")?,
        nu: given.need_number("nu")?,
        flange: flange.transpose()?,
        outside_grooves: read_grooves(given, "outside_grooves")?,
        bore_grooves: read_grooves(given, "bore_grooves")?,
    })
}

fn read_grooves(given: &Given, name: &str) -> Result<Vec<Groove>, Refused> {
    let records = given.records(name);
    few(given, name, records.len(), MOST_FEATURES)?;
    let each = records.into_iter().map(|groove| {
        let (from_mm, to_mm) = read_span(&groove)?;
        Ok(Groove { from_mm, to_mm, depth_mm: groove.need_number("depth_mm")? })
    });
    each.collect()
}

fn read_span(given: &Given) -> Result<(f64, f64), Refused> {
    let (from_mm, to_mm) = (given.need_number("from_mm")?, given.need_number("to_mm")?);
    if from_mm < to_mm {
        Ok((from_mm, to_mm))
    } else {
        Err(given.refuse("from_mm", format!("under to_mm, {to_mm}"), "give the left end as from_mm"))
    }
}

fn few(given: &Given, name: &str, count: usize, most: usize) -> Result<(), Refused> {
    if count <= most {
        return Ok(());
    }
    Err(Refused::new(given.path_of(name), format!("a list of {count}"), format!("at most {most}"), "leave out those that matter least"))
}

fn read_housing(given: &Given) -> Result<Housing, Refused> {
    let records = given.records("sections");
    few(given, "sections", records.len(), MOST_FEATURES)?;
    let mut sections = Vec::new();
    for section in &records {
        let (from_mm, to_mm) = read_span(section)?;
        sections.push(Section { from_mm, to_mm, outside_mm: section.need_number("outside_mm")? });
    }
    sections.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm));
    let Some(first) = sections.first() else {
        return Err(given.refuse("sections", "at least one section", "give the housing's length and outside"));
    };
    let long = sections.iter().map(|section| section.to_mm).fold(first.to_mm, f64::max) - first.from_mm;
    for pair in sections.windows(2) {
        let apart = pair[1].from_mm - pair[0].to_mm;
        if apart.abs() > ROUNDING * long {
            let found = if apart > 0.0 { "gapped" } else { "overlapping" };
            let found = format!("{found} between {} and {}", pair[0].to_mm, pair[1].from_mm);
            return Err(Refused::new("housing.sections", found, "sections end to end", "let each begin where the one before ends"));
        }
    }
    Ok(Housing {
        bore_mm: given.need_number("bore_mm")?,
        sections,
        bore_grooves: read_grooves(given, "bore_grooves")?,
        E_GPa: given.need_number("E_GPa")?,
        nu: given.need_number("nu")?,
    })
}

fn read_interference(given: &Given) -> Result<Vec<(f64, f64)>, Refused> {
    let range = Range::within(-1e6, 1e6);
    let allowed = "a number, or a list of [z mm, um] with z rising";
    let value = given.raw("interference_um").unwrap_or(&Value::Null);
    let wrong = |path: String, value: &Value| Refused::new(path, shown(value), allowed, "give the effective interference in micrometres");
    let Some(list) = value.as_array() else {
        let quantity = read_quantity(value).ok().filter(|quantity| range.has(quantity.value));
        return quantity.map(|quantity| vec![(0.0, quantity.value)]).ok_or_else(|| wrong("interference_um".into(), value));
    };
    few(given, "interference_um", list.len(), MOST_STATIONS)?;
    let mut stations: Vec<(f64, f64)> = Vec::with_capacity(list.len());
    for (k, item) in list.iter().enumerate() {
        let path = || format!("interference_um.{k}");
        let pair: Vec<f64> = item.as_array().into_iter().flatten().filter_map(|part| read_quantity(part).ok().map(|x| x.value)).collect();
        match pair[..] {
            [z, delta] if item.as_array().is_some_and(|parts| parts.len() == 2) && PLACE.has(z) && range.has(delta) => {
                if stations.last().is_some_and(|last| z <= last.0) {
                    return Err(Refused::new(path(), shown(item), "z over that of the station before", "give the stations in their order"));
                }
                stations.push((z, delta));
            }
            _ => return Err(wrong(path(), item)),
        }
    }
    if stations.is_empty() { Err(wrong("interference_um".into(), value)) } else { Ok(stations) }
}
