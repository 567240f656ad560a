//! What `stock` is asked: its keys, and how a request is read.

use super::{Allowance, Blank, BlankKind, Cutting, Finished, StockRequest, Work};
use crate::alloy::table::{Alloy, alloy};
use crate::keys::{Given, Key, Range};
use crate::refused::Refused;

/// Carbide, dry: starting speed is this and the machinability, m/min [common practice].
const SPEED_BASE_M_MIN: f64 = 60.0;
/// Most pieces of a batch whose lengths are given one by one.
const MOST_LENGTHS: usize = 1000;

/// The keys of a request.
pub const KEYS: &[Key] = &[
    Key::text("alloy", "id of the alloy, for its density, or give density_kg_m3"),
    Key::number("density_kg_m3", Range::within(100.0, 30_000.0), "density, instead of an alloy or before it"),
    Key::record("finished", FINISHED_KEYS, "the finished bush").needed(),
    Key::whole("count", Range::within(1.0, 1e6), "pieces").default("1, or as many as lengths_mm"),
    Key::numbers("lengths_mm", Range::within(0.1, 1e4), "lengths of the finished pieces, where they differ")
        .default("all finished.length_mm"),
    Key::records("blanks", BLANK_KEYS, "the blanks on offer").needed(),
    Key::record("allowance", ALLOWANCE_KEYS, "stock left for cutting").default("4, 4 and 1.5 mm"),
    Key::number("kerf_mm", Range::within(0.0, 100.0), "width of the saw cut").default("3"),
    Key::number("chuck_mm", Range::within(0.0, 1e4), "stub that stays in the chuck, each blank").default("20"),
    Key::number("swarf_price_per_kg", Range::within(0.0, 1e6), "what the dealer pays for clean swarf").default("0"),
    Key::number("swarf_loss_share", Range::within(0.0, 1.0), "share of the swarf that is lost").default("0.02"),
    Key::record("cutting", CUTTING_KEYS, "cutting data, for the route"),
    Key::record("work", WORK_KEYS, "work, for the quote"),
    Key::number("scrap_chance", Range::within(0.0, 0.99), "chance that a piece is scrapped").default("0"),
    Key::number("margin_share", Range::within(0.0, 100.0), "margin on top, as a share").default("0"),
];

const FINISHED_KEYS: &[Key] = &[
    Key::number("outside_mm", Range::within(0.1, 1e4), "outside of the body").needed(),
    Key::number("bore_mm", Range::within(0.1, 1e4), "bore").needed(),
    Key::number("length_mm", Range::within(0.1, 1e4), "length, flange included").needed(),
    Key::number("flange_outside_mm", Range::within(0.1, 1e4), "outside of the flange, with flange_thickness_mm"),
    Key::number("flange_thickness_mm", Range::within(0.01, 1e4), "thickness of the flange, with flange_outside_mm"),
];
const BLANK_KEYS: &[Key] = &[
    Key::word("kind", &["bar", "cored_bar", "cast_ring"], "how it is made").needed(),
    Key::number("outside_mm", Range::within(0.1, 1e5), "outside").needed(),
    Key::number("bore_mm", Range::within(0.0, 1e5), "bore").default("0"),
    Key::number("length_mm", Range::within(0.1, 1e6), "length of one; needed of a ring").default("bars: as long as is wanted"),
    Key::quantity("price_per_kg", Range::within(0.0, 1e6), "price").needed(),
];
const ALLOWANCE_KEYS: &[Key] = &[
    Key::number("on_outside_mm", Range::within(0.0, 1e3), "on the outside diameter").default("4"),
    Key::number("on_bore_mm", Range::within(0.0, 1e3), "on the bore diameter").default("4"),
    Key::number("on_face_mm", Range::within(0.0, 1e3), "on each face").default("1.5"),
];
const CUTTING_KEYS: &[Key] = &[
    Key::number("speed_m_min", Range::within(0.1, 1e4), "cutting speed").default("60 + machinability of the alloy (carbide, dry)"),
    Key::number("feed_mm_rev", Range::within(1e-3, 100.0), "feed").needed(),
    Key::number("depth_mm", Range::within(1e-3, 100.0), "depth of a roughing pass").needed(),
];
const WORK_KEYS: &[Key] = &[
    Key::number("setup_min", Range::within(0.0, 1e6), "once").default("0"),
    Key::number("rate_per_h", Range::within(0.0, 1e6), "money an hour").needed(),
    Key::number("u_share", Range::within(0.0, 10.0), "standard uncertainty of the time, as a share").default("0.2"),
    Key::records("steps", STEP_KEYS, "the steps, each piece").default("[]"),
];
const STEP_KEYS: &[Key] =
    &[Key::text("name", "its name").needed(), Key::number("minutes", Range::within(0.0, 1e6), "minutes a piece").needed()];

/// Reads a request.
pub fn read(given: &Given) -> Result<StockRequest, Refused> {
    let alloy = given.word("alloy").map(alloy).transpose()?;
    let density_kg_m3 = match (given.number("density_kg_m3"), alloy) {
        (Some(density), _) => density,
        (None, Some(alloy)) => alloy.density_kg_m3,
        (None, None) => return Err(given.refuse("alloy", "an id of the table, or density_kg_m3", "name the alloy or give its density")),
    };
    let allowance = given.record("allowance");
    let allowed = |name: &str, default: f64| allowance.as_ref().map_or(default, |allowance| allowance.number_or(name, default));
    let cutting = match given.record("cutting") {
        Some(cutting) => Some(read_cutting(&cutting, alloy)?),
        None => None,
    };
    let work = match given.record("work") {
        Some(work) => Some(read_work(&work)?),
        None => None,
    };
    let (count, lengths_mm) = read_lengths(given)?;
    Ok(StockRequest {
        alloy,
        density_kg_m3,
        finished: read_finished(&given.need_record("finished")?)?,
        count,
        lengths_mm,
        blanks: given.records("blanks").iter().map(read_blank).collect::<Result<_, _>>()?,
        allowance: Allowance {
            on_outside_mm: allowed("on_outside_mm", 4.0),
            on_bore_mm: allowed("on_bore_mm", 4.0),
            on_face_mm: allowed("on_face_mm", 1.5),
        },
        kerf_mm: given.number_or("kerf_mm", 3.0),
        chuck_mm: given.number_or("chuck_mm", 20.0),
        swarf_price_per_kg: given.number_or("swarf_price_per_kg", 0.0),
        swarf_loss_share: given.number_or("swarf_loss_share", 0.02),
        cutting,
        work,
        scrap_chance: given.number_or("scrap_chance", 0.0),
        margin_share: given.number_or("margin_share", 0.0),
    })
}

/// How many pieces, and their lengths where they differ.
fn read_lengths(given: &Given) -> Result<(u32, Vec<f64>), Refused> {
    let lengths_mm = given.numbers("lengths_mm");
    if lengths_mm.is_empty() {
        return Ok((given.whole_or("count", 1) as u32, lengths_mm));
    }
    if lengths_mm.len() > MOST_LENGTHS {
        let allowed = format!("up to {MOST_LENGTHS} lengths");
        return Err(Refused::new("lengths_mm", format!("{} lengths", lengths_mm.len()), allowed, "ask for the batch in parts"));
    }
    let count = given.whole_or("count", lengths_mm.len() as u64);
    if count != lengths_mm.len() as u64 {
        let allowed = format!("{}, as many as lengths_mm has", lengths_mm.len());
        return Err(Refused::new("count", count, allowed, "leave the count out, or give a length for each piece"));
    }
    Ok((count as u32, lengths_mm))
}

fn read_finished(given: &Given) -> Result<Finished, Refused> {
    let flange = match (given.number("flange_outside_mm"), given.number("flange_thickness_mm")) {
        (Some(outside), Some(thickness)) => Some((outside, thickness)),
        (None, None) => None,
        (None, Some(_)) => return Err(given.refuse("flange_outside_mm", "a number over the outside", "give it beside the thickness")),
        (Some(_), None) => {
            return Err(given.refuse("flange_thickness_mm", "a number up to the length", "give it beside the flange's outside"));
        }
    };
    Ok(Finished {
        outside_mm: given.need_number("outside_mm")?,
        bore_mm: given.need_number("bore_mm")?,
        length_mm: given.need_number("length_mm")?,
        flange,
    })
}

fn read_blank(given: &Given) -> Result<Blank, Refused> {
    Ok(Blank {
        kind: match given.need_word("kind")? {
            "bar" => BlankKind::Bar,
            "cored_bar" => BlankKind::CoredBar,
            _ => BlankKind::CastRing,
        },
        outside_mm: given.need_number("outside_mm")?,
        bore_mm: given.number_or("bore_mm", 0.0),
        length_mm: given.number("length_mm"),
        price_per_kg: given.need_quantity("price_per_kg")?,
    })
}

fn read_cutting(given: &Given, alloy: Option<&Alloy>) -> Result<Cutting, Refused> {
    let speed_m_min = match (given.number("speed_m_min"), alloy) {
        (Some(speed), _) => speed,
        (None, Some(alloy)) => SPEED_BASE_M_MIN + alloy.machinability,
        (None, None) => return Err(given.refuse("speed_m_min", "a number from 0.1 to 10000", "give a cutting speed, or name the alloy")),
    };
    Ok(Cutting { speed_m_min, feed_mm_rev: given.need_number("feed_mm_rev")?, depth_mm: given.need_number("depth_mm")? })
}

fn read_work(given: &Given) -> Result<Work, Refused> {
    let step = |step: &Given| Ok((step.need_word("name")?.to_owned(), step.need_number("minutes")?));
    Ok(Work {
        setup_min: given.number_or("setup_min", 0.0),
        rate_per_h: given.need_number("rate_per_h")?,
        u_share: given.number_or("u_share", 0.2),
        steps: given.records("steps").iter().map(step).collect::<Result<_, Refused>>()?,
    })
}
