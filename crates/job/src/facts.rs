//! Every fact that a job can hold: its path, what stands there, its unit and likely range, and what it means.
//!
//! One table serves the reading of job files, `job new`, `job check` and later the screens. A path is dotted; a `*` stands for a
//! name that the person gives (`gauge.*.resolution`). Facts stand at the job, at a brief or at a seat; a seat's own fact wins over its
//! brief's, a brief's over the job's.

use std::collections::HashMap;
use std::sync::LazyLock;

use calc::keys::Range;

/// What kind of figure a fact is: decides the units that may be written beside it and what a bare number means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// A size: mm, or inches in an inch file. Kept in mm.
    Length,
    /// A small size: µm, or thousandths in an inch file. Kept in µm.
    Fine,
    /// A temperature: °C, or °F in an inch file. Kept in °C.
    Temperature,
    /// A force: kN, or lbf in an inch file. Kept in kN.
    Force,
    /// A stress: MPa, or psi in an inch file. Kept in MPa.
    Stress,
    /// A torque: N m, or lbf ft in an inch file. Kept in N m.
    Torque,
    /// An angle, degrees in every file.
    Angle,
    /// Turns a minute in every file.
    Turns,
    /// A room: m³ in every file.
    Room,
    /// An expansion coefficient, in millionths per kelvin in every file. Kept per K.
    Expansion,
    /// A plain number: a count, a share, a hardness, an amount of money.
    Plain,
}

/// What stands at a fact.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Stands {
    /// A figure, allowed range and likely range in the unit it is kept in (outside the likely range it is taken with a warning).
    Figure(Measure, Range, Option<(f64, f64)>),
    /// One of these words.
    Word(&'static [&'static str]),
    /// true or false.
    Flag,
    /// A text.
    Text,
    /// The id of a bush alloy of the table.
    Alloy,
    /// The id of a housing or shaft metal of the table.
    Metal,
    /// The name of a gauge of this job.
    Gauge,
}

/// One fact that a job can hold.
#[derive(Clone, Copy, Debug)]
pub struct Fact {
    /// Its dotted path.
    pub path: &'static str,
    /// What stands there.
    pub stands: Stands,
    /// What it means, and what is taken without it.
    pub help: &'static str,
}

const fn figure(path: &'static str, measure: Measure, range: Range, likely: Option<(f64, f64)>, help: &'static str) -> Fact {
    Fact { path, stands: Stands::Figure(measure, range, likely), help }
}
const fn word(path: &'static str, words: &'static [&'static str], help: &'static str) -> Fact {
    Fact { path, stands: Stands::Word(words), help }
}
const fn flag(path: &'static str, help: &'static str) -> Fact {
    Fact { path, stands: Stands::Flag, help }
}
const fn text(path: &'static str, help: &'static str) -> Fact {
    Fact { path, stands: Stands::Text, help }
}
const fn of(path: &'static str, stands: Stands, help: &'static str) -> Fact {
    Fact { path, stands, help }
}

use Measure::{Angle, Expansion, Fine, Force, Length, Plain, Room, Stress, Temperature, Torque, Turns};

const SIZE: Range = Range::over(0.0).to(20_000.0);
const SIZE_OR_0: Range = Range::within(0.0, 20_000.0);
const ROUGH: Range = Range::within(0.0, 1000.0);
const T: Range = Range::within(-200.0, 400.0);
const POSITIVE: Range = Range::over(0.0).to(1e9);
const FROM_0: Range = Range::within(0.0, 1e9);

/// Ways in.
pub const WAYS_IN: &[&str] = &["press", "nitrogen", "dry_ice", "dry_ice_bath", "freezer", "heat"];

/// Every fact, in the order of the job.
pub const FACTS: &[Fact] = &[
    // The job.
    text("job.number", "the job's number in the shop"),
    text("job.title", "what the job is"),
    text("job.customer", "whose machine it is"),
    word("job.units", &["mm", "inch"], "what a bare number in this file means, and what sheets are written in (mm)"),
    text("job.by", "who writes, where an entry does not say it"),
    text("job.date", "the day of the file, where an entry does not say one, YYYY-MM-DD"),
    figure("job.seed", Plain, Range::within(0.0, 9e15), None, "seed of the random draws, a whole number (1)"),
    figure("job.draws", Plain, Range::within(1000.0, 1e7), Some((1e4, 4e6)), "random draws for each chance, a whole number (20000)"),
    text("seat.brief", "the brief that the seat shares"),
    figure("seat.count", Plain, Range::within(1.0, 60.0), None, "how many seats share everything: NAME 1, NAME 2 and so on (1)"),
    // The shop.
    text("shop.name", "the shop, as its papers name it"),
    text("shop.currency", "what prices are in, as the quote names it: EUR, NOK"),
    figure("shop.room", Temperature, T, Some((-10.0, 45.0)), "temperature of the shop (20 °C)"),
    figure("shop.press", Force, POSITIVE, Some((5.0, 20_000.0)), "the force that the press at hand can give"),
    figure(
        "shop.lathe_holds",
        Fine,
        Range::over(0.0).to(1000.0),
        Some((2.0, 200.0)),
        "width of the band that the lathe lands in (IT6 of the size)",
    ),
    figure("shop.room_volume", Room, POSITIVE, Some((10.0, 1e5)), "volume of the room where a coolant is used"),
    figure("shop.air_changes", Plain, FROM_0, Some((0.0, 60.0)), "air changes of that room per hour (0)"),
    figure("shop.rate", Plain, FROM_0, None, "price of an hour of work"),
    figure("shop.setup", Plain, FROM_0, Some((0.0, 2000.0)), "minutes to set up once for the batch (0)"),
    figure("shop.swarf_price", Plain, FROM_0, None, "what a kilogram of clean swarf brings (0)"),
    figure("shop.coolant_price", Plain, FROM_0, None, "price of a kilogram of coolant, for the quote (not priced)"),
    figure("shop.margin", Plain, Range::within(0.0, 10.0), Some((0.0, 1.0)), "share added to the cost for the quote (0)"),
    figure("shop.scrap_chance", Plain, Range::within(0.0, 0.9), Some((0.0, 0.3)), "chance that a blank is lost (0)"),
    // Gauges.
    text("gauge.*.name", "the gauge in words, with its number"),
    figure("gauge.*.resolution", Length, Range::over(0.0).to(10.0), Some((0.0001, 0.05)), "smallest step it shows (0.001 mm)"),
    figure(
        "gauge.*.repeatability",
        Length,
        Range::over(0.0).to(10.0),
        Some((0.0002, 0.05)),
        "standard deviation of its repeats (0.003 mm)",
    ),
    figure("gauge.*.repeats", Plain, Range::over(0.0).to(1e6), Some((2.0, 1000.0)), "degrees of freedom behind that figure (20)"),
    figure(
        "gauge.*.correction",
        Length,
        Range::within(-10.0, 10.0),
        Some((-0.1, 0.1)),
        "what its certificate says to add at this size, with its doubt (0 ± 0)",
    ),
    figure(
        "gauge.*.temperature",
        Temperature,
        T,
        Some((-10.0, 45.0)),
        "temperature of the gauge, or of its standard when it was set (shop.room)",
    ),
    figure(
        "gauge.*.expansion",
        Expansion,
        Range::within(0.0, 100e-6),
        Some((5e-6, 25e-6)),
        "its expansion, millionths per K (11.5, steel)",
    ),
    figure(
        "gauge.*.thermometer",
        Plain,
        Range::within(0.0, 50.0),
        Some((0.05, 5.0)),
        "standard uncertainty of the thermometer used with it, K (0.5)",
    ),
    word("gauge.*.contacts", &["two", "three"], "contacts of the gauge (two)"),
    text("gauge.*.due", "day until which its certificate holds, YYYY-MM-DD"),
    // Duty.
    text("machine", "the machine and the position of the seat"),
    text("failed", "what failed and how"),
    text("hard", "what makes this job hard"),
    text("lathe", "the lathe that it is turned on, by its name in the shop: what it taught on other parts counts"),
    figure("duty.load", Force, POSITIVE, Some((0.05, 20_000.0)), "steady load on the bearing"),
    figure("duty.peak_load", Force, POSITIVE, Some((0.05, 50_000.0)), "largest load (the steady one)"),
    word("duty.motion", &["rotation", "swing", "still"], "how the journal moves"),
    figure("duty.speed", Turns, FROM_0, Some((0.0, 5000.0)), "turns a minute, when it rotates"),
    figure("duty.swing", Angle, Range::over(0.0).under(360.0), Some((1.0, 355.0)), "whole angle of a swing from end to end"),
    figure("duty.swings", Plain, FROM_0, Some((0.001, 600.0)), "swings a minute, there and back"),
    word("duty.lubrication", &["oil", "grease", "water", "dry"], "what keeps it apart (grease)"),
    word("duty.relube", &["good", "marginal"], "how surely it is greased again (good)"),
    flag("duty.intermittent", "it moves now and then only (false)"),
    word("duty.dirt", &["clean", "dusty", "gritty"], "what gets in (clean)"),
    word("duty.shock", &["none", "moderate", "heavy"], "blows (none)"),
    flag("duty.misaligned", "the journal stands askew (false)"),
    flag("duty.sea_water", "it stands in or near sea water (false)"),
    flag("duty.lead_free", "no lead is allowed (false)"),
    flag("duty.food", "food or drinking water (false)"),
    figure("duty.oil_vg", Plain, Range::within(2.0, 3200.0), None, "ISO viscosity grade of the oil or of the grease's oil"),
    figure("duty.torque", Torque, FROM_0, Some((0.0, 1e6)), "torque that the fit must carry by friction (0: it must just stay tight)"),
    figure("duty.axial", Force, FROM_0, Some((0.0, 5000.0)), "force along the axis that the fit must carry (0)"),
    figure(
        "duty.seize_factor",
        Plain,
        Range::within(1.0, 10.0),
        Some((1.0, 3.0)),
        "how much worse than a start the retainer must bear (2; 1 for light bushes turned daily)",
    ),
    figure("duty.start_friction", Plain, Range::over(0.0).to(1.0), Some((0.05, 0.4)), "friction at the start (0.25)"),
    figure("duty.shock_factor", Plain, Range::within(1.0, 10.0), Some((1.0, 3.0)), "dynamic factor on the turning moment (1)"),
    // Temperatures at which it must hold.
    figure("state.*.bush", Temperature, T, Some((-60.0, 150.0)), "temperature of the bush in that state"),
    figure("state.*.housing", Temperature, T, Some((-60.0, 150.0)), "temperature of the housing in that state"),
    figure("state.*.journal", Temperature, T, Some((-60.0, 180.0)), "temperature of the journal in that state (that of the bush)"),
    // Housing.
    of("housing.metal", Stands::Metal, "metal of the housing, by its id in the table"),
    word("housing.shape", &["round", "square", "rectangle", "between"], "outline of the housing about the bore (round)"),
    figure("housing.outside", Length, SIZE, Some((5.0, 5000.0)), "outside diameter; of a square or rectangle its shorter side"),
    figure("housing.outside_least", Length, SIZE, Some((5.0, 5000.0)), "between: largest circle about the bore that fits inside the part"),
    figure("housing.outside_most", Length, SIZE, Some((5.0, 5000.0)), "between: shorter side of the square that holds the part"),
    figure("housing.length", Length, SIZE, Some((3.0, 3000.0)), "length of the seat in the housing (that of the bush)"),
    figure(
        "housing.starts",
        Length,
        Range::within(-20_000.0, 20_000.0),
        Some((-500.0, 500.0)),
        "where the seat in the housing begins, from the bush's datum end or its flange's face (at the flange; else about the bush's middle)",
    ),
    figure(
        "step.*.from",
        Length,
        Range::within(-20_000.0, 20_000.0),
        None,
        "stepped housing: where that length begins, from the bush's datum end",
    ),
    figure("step.*.to", Length, Range::within(-20_000.0, 20_000.0), None, "where it ends"),
    figure("step.*.outside", Length, SIZE, Some((5.0, 5000.0)), "its outside diameter"),
    figure("housing.Rz", Fine, ROUGH, Some((0.5, 60.0)), "roughness Rz of the re-bored seat (6 µm)"),
    figure("housing.nominal", Length, SIZE, Some((5.0, 3000.0)), "size that the seat was bored for (nearest to the readings)"),
    figure(
        "housing.limit_temperature",
        Temperature,
        Range::over(20.0).to(400.0),
        Some((60.0, 300.0)),
        "hottest that the housing may be made (200 °C; 150 for aluminium)",
    ),
    figure("housing.yield", Stress, POSITIVE, Some((30.0, 2000.0)), "its yield, where a certificate says it (table)"),
    figure("housing.tension_limit", Stress, POSITIVE, Some((10.0, 500.0)), "largest hoop tension of a brittle housing (0.3 Rm)"),
    // Bush.
    figure("bush.length", Length, SIZE, Some((3.0, 3000.0)), "length of the new bush, with its flange"),
    figure(
        "bush.bore_left",
        Length,
        Range::within(0.0, 50.0),
        Some((0.0, 5.0)),
        "left in the bore (on the diameter) to finish after fitting (1 mm)",
    ),
    word("bush.finish", &["after", "before"], "bore finished after or before fitting (after)"),
    figure("bush.Rz", Fine, ROUGH, Some((0.5, 60.0)), "roughness Rz of the turned outside (6 µm)"),
    figure("bush.bore_Rz", Fine, ROUGH, Some((0.2, 30.0)), "roughness Rz of the finished bore (3 µm)"),
    figure("bush.flange_outside", Length, SIZE, Some((5.0, 4000.0)), "outside of its flange"),
    figure("bush.flange_thickness", Length, SIZE, Some((1.0, 200.0)), "thickness of its flange"),
    word("bush.flange_end", &["datum", "other"], "the end of the bush with the flange (datum)"),
    figure("bush.lead", Length, SIZE_OR_0, Some((0.5, 30.0)), "length of the lead that starts it straight (2 % of the outside)"),
    figure(
        "bush.outside_u",
        Fine,
        Range::over(0.0).to(1000.0),
        Some((0.5, 50.0)),
        "doubt of the turned outside as it will be known (5 µm)",
    ),
    figure("bush.yield", Stress, POSITIVE, Some((30.0, 1000.0)), "its yield at its hottest, where a certificate says it (table)"),
    figure("bush.chamfer", Length, SIZE_OR_0, Some((0.2, 10.0)), "chamfer at the ends of its bore, at 45° (1 mm)"),
    word("bush.leads", &["datum", "other"], "the end that goes in first and has the lead (datum; with a flange other)"),
    flag("bush.handed", "the mirrored second of a pair: drawn with its datum end on the right (false)"),
    text("bush.lot", "lot or melt of its metal, as the dealer's certificate says"),
    // A hole through the wall of the bush.
    figure("hole.diameter", Length, SIZE, Some((2.0, 60.0)), "hole through the wall, for grease or oil"),
    figure("hole.position", Length, SIZE, None, "its middle from the datum end (middle of a ring groove)"),
    figure(
        "hole.angle",
        Angle,
        Range::within(-360.0, 360.0),
        None,
        "where it is, clockwise from the datum mark, seen from the datum end (0)",
    ),
    // Journal.
    of("journal.metal", Stands::Metal, "metal of the journal (C45N)"),
    figure("journal.diameter", Length, SIZE, Some((3.0, 3000.0)), "journal at 20 °C, with its doubt; or measure it"),
    figure("journal.hardness", Plain, Range::over(0.0).to(1200.0), Some((100.0, 800.0)), "hardness of the journal, HB"),
    figure("journal.Rz", Fine, ROUGH, Some((0.2, 30.0)), "roughness Rz of the journal (2 µm)"),
    // The oil of a journal that turns.
    word("oil.cooling", &["housing", "oil", "both"], "what carries the heat of the bearing away (housing)"),
    figure("oil.ambient", Temperature, T, Some((-40.0, 60.0)), "temperature of the air about the housing (20 °C)"),
    figure("oil.inlet", Temperature, T, Some((0.0, 90.0)), "temperature of the oil that comes in (that of the air)"),
    figure("oil.pressure", Stress, FROM_0, Some((0.02, 2.0)), "pressure at which oil is fed (0: not forced)"),
    figure("oil.hole", Length, SIZE, Some((1.0, 50.0)), "diameter of the hole that feeds it, opposite the load"),
    figure(
        "oil.surface",
        Plain,
        POSITIVE,
        Some((0.01, 100.0)),
        "surface of the housing that gives heat to the air, m² (20 times diameter times length)",
    ),
    // Running.
    figure("bore.least_clearance", Fine, FROM_0, Some((0.0, 2000.0)), "clearance that must be left at the worst (the tool's own rules)"),
    figure(
        "bore.tolerance",
        Fine,
        Range::over(0.0).to(5000.0),
        Some((5.0, 500.0)),
        "width of the band of the finished bore (IT7 of the journal)",
    ),
    figure("bore.tilt", Plain, Range::within(0.0, 100.0), Some((0.0, 5.0)), "tilt of the journal in the bush, mrad (0)"),
    // Groove.
    word("groove.shape", &["ring", "axial", "spiral", "two_loop"], "shape of the groove"),
    figure("groove.position", Length, SIZE, None, "ring: its middle from the datum end (middle of the bush)"),
    figure("groove.old_length", Length, SIZE, None, "length of the old bush, to carry its groove over"),
    figure("groove.old_position", Length, SIZE, None, "ring: middle of the old groove"),
    word("groove.old_position_from", &["datum", "other"], "the end that it was measured from (datum)"),
    figure("groove.load_angle", Angle, Range::within(-360.0, 360.0), None, "where the load presses on the bush, from the datum mark (0)"),
    figure("groove.depth", Length, SIZE, Some((0.3, 20.0)), "depth (by the wall and the bore)"),
    figure("groove.width", Length, SIZE, Some((1.0, 60.0)), "width (2.5 times the depth)"),
    figure("groove.count", Plain, Range::within(1.0, 12.0), None, "how many (1)"),
    figure("groove.turns", Plain, Range::over(0.0).to(20.0), None, "turns of a spiral (1)"),
    // The old bush.
    figure("old_bush.outside", Length, SIZE, Some((3.0, 3000.0)), "outside of the worn bush (that of the seat)"),
    figure("old_bush.bore", Length, SIZE, Some((3.0, 3000.0)), "its bore as it is now"),
    figure("old_bush.length", Length, SIZE, Some((3.0, 3000.0)), "its length"),
    of("old_bush.alloy", Stands::Alloy, "what it is made of, as near as is known"),
    figure("old_bush.interference", Fine, FROM_0, Some((0.0, 1000.0)), "its effective interference, with its doubt"),
    figure("old_bush.interference_most", Fine, FROM_0, Some((0.0, 2000.0)), "with old_bush.interference as the least: anything between"),
    // Blanks.
    word("stock.*.kind", &["bar", "cored_bar", "cast_ring"], "kind of blank"),
    figure("stock.*.outside", Length, SIZE, None, "its outside"),
    figure("stock.*.bore", Length, SIZE_OR_0, None, "its bore (0)"),
    figure("stock.*.length", Length, SIZE, None, "its length, when it comes in lengths"),
    figure("stock.*.price", Plain, FROM_0, None, "price of a kilogram, with its doubt"),
    figure("stock.*.days", Plain, FROM_0, Some((0.0, 400.0)), "days until it is there (not said)"),
    figure("work.*.minutes", Plain, FROM_0, Some((0.0, 5000.0)), "minutes of that step for each piece"),
    figure("cutting.speed", Plain, POSITIVE, Some((10.0, 500.0)), "cutting speed, m/min"),
    figure("cutting.feed", Plain, POSITIVE, Some((0.02, 1.5)), "feed, mm a turn"),
    figure("cutting.depth", Plain, POSITIVE, Some((0.05, 10.0)), "depth of a roughing cut on the radius, mm"),
    // Seating.
    word("seating.method", WAYS_IN, "how it goes in (by the press at hand)"),
    word("seating.lubrication", &["dry", "oil", "grease", "molybdenum_paste"], "on the outside while pressing (oil)"),
    figure(
        "seating.hand_clearance",
        Length,
        Range::over(0.0).to(10.0),
        Some((0.01, 1.0)),
        "gap to go in by hand (0.02 mm + 0.3 ‰ of the size)",
    ),
    figure(
        "seating.handling",
        Plain,
        Range::within(0.0, 1e5),
        Some((5.0, 300.0)),
        "seconds from the bath until the bush is at its stop, as tried with the warm bush (30, common practice)",
    ),
    figure("seating.freezer", Temperature, Range::within(-90.0, 10.0), Some((-45.0, -10.0)), "temperature of the freezer"),
    figure("seating.coolant", Plain, POSITIVE, Some((1.0, 500.0)), "kilograms of coolant in the room (what the bush boils off)"),
    word("seating.oven", &["still_oven", "fan_oven", "hot_oil", "induction"], "what heats the housing (fan_oven)"),
    figure(
        "seating.oven_temperature",
        Temperature,
        Range::within(20.0, 400.0),
        Some((60.0, 250.0)),
        "temperature of the oven or the oil, or that induction goes to (housing.limit_temperature)",
    ),
    figure("seating.oil_flash", Temperature, Range::within(20.0, 400.0), Some((150.0, 320.0)), "flash point of the oil that heats"),
    figure("seating.power", Plain, POSITIVE, Some((0.5, 500.0)), "power that the housing takes up by induction, kW"),
    // A retainer beside the friction of the fit.
    word("retainer.how", &["joint_pin", "radial_screw", "flange_screws", "compound"], "kind of retainer"),
    figure("retainer.size", Length, SIZE, Some((2.0, 60.0)), "diameter of the pin or screw (core of a flange screw)"),
    figure("retainer.length", Length, SIZE, Some((3.0, 500.0)), "length of a pin; depth of a screw in the bush"),
    figure("retainer.count", Plain, Range::within(1.0, 60.0), None, "how many (1)"),
    figure("retainer.shear", Stress, POSITIVE, Some((5.0, 1000.0)), "shear strength of the pin, screw or cured compound"),
    figure("retainer.circle", Length, SIZE, None, "circle of the flange screws"),
    figure("retainer.gap", Length, Range::within(0.0, 1.0), None, "diametral gap of a compound (0)"),
    figure("retainer.cover", Plain, Range::within(0.0, 1.0), None, "share of the compound's area that is covered (0.8)"),
];

/// The fact that a dotted path means, names in the place of a `*` filled in.
pub fn fact(path: &str) -> Option<&'static Fact> {
    static WITHOUT_NAMES: LazyLock<HashMap<&str, &Fact>> =
        LazyLock::new(|| FACTS.iter().filter(|fact| !fact.path.contains('*')).map(|fact| (fact.path, fact)).collect());
    static WITH_NAMES: LazyLock<Vec<&Fact>> = LazyLock::new(|| FACTS.iter().filter(|fact| fact.path.contains('*')).collect());
    let plain = WITHOUT_NAMES.get(path).copied();
    plain.or_else(|| WITH_NAMES.iter().find(|fact| matches(fact.path, path)).copied())
}

/// Whether `path` is `pattern` with a name in the place of each `*`.
fn matches(pattern: &str, path: &str) -> bool {
    match pattern.split_once(".*.") {
        None => pattern == path,
        Some((head, tail)) => {
            let rest = path.strip_prefix(head).and_then(|rest| rest.strip_prefix('.'));
            rest.and_then(|rest| rest.strip_suffix(tail)).and_then(|name| name.strip_suffix('.')).is_some_and(|name| !name.is_empty())
        }
    }
}
