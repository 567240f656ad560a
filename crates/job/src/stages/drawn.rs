//! What the shop drawing needs of a seat: sizes as they were decided, in the words of a dimension line.

use calc::band::Band;
use calc::limits::form;
use calc::shown;
use calc::units::{System, mm_from_inch, shown_plain, shown_plain_length};

use super::Bench;
use super::ask::Said;
use super::found::Found;
use crate::papers::shop_drawing::{Asked, FormDrawn, GrooveDrawn, HoleDrawn, OfSet, PinsDrawn, ShopDrawing};
use crate::sheet::{Stage, StageSheet};

/// Angle of the lead, degrees. Source: 10 to 15°, *common practice*, as the press stage says.
const LEAD_DEG: f64 = 12.0;
/// Chamfer of the bore when none is given, mm. *Common practice*.
const CHAMFER_MM: f64 = 1.0;
/// Pins stand this far from the unloaded side, where an axial groove begins. *Common practice*: never in the load, never in a groove.
const PINS_DEG: [f64; 4] = [225.0, 135.0, 205.0, 155.0];

/// The drawing's data, once the band is known.
pub fn drawn(bench: &Bench, found: &Found, stages: &[StageSheet]) -> Option<ShopDrawing> {
    let words = Words { system: bench.system };
    let (band, bore, ring, journal, length) = (found.band?, found.bore?, found.ring?, found.journal?, found.length_mm?);
    let (alloy, metal) = (found.alloy?, found.metal?);
    let seat = bench.seat;
    let band = to_steps(band, bench.system);
    let before = seat.text("bush.finish") == Some("before");
    let left = seat.number("bush.bore_left").unwrap_or(1.0);
    let flange = seat.number("bush.flange_outside").zip(seat.number("bush.flange_thickness"));
    let bore_width = found.bore_band.map_or(0.02, |band| band.width_mm());
    let form = form::asked_of(band.width_mm(), bore_width, (!before).then_some(left), flange.map(|(outside, _)| outside), bench.system);
    let plain = |mm: f64, of: &str| words.plain(mm, of);
    let lead_mm = seat.number("bush.lead").unwrap_or_else(|| calc::band::lead_mm(band.middle_mm()));
    let chamfer_mm = seat.number("bush.chamfer").unwrap_or(CHAMFER_MM);
    let datum_leads = seat.text("bush.leads").map_or(flange.is_none(), |end| end == "datum");
    let made = Made { bench, found, words, band, before, left, datum_leads };
    Some(ShopDrawing {
        shop: seat.text("shop.name").unwrap_or_default().to_owned(),
        machine: seat.text("machine").unwrap_or_default().to_owned(),
        of_set: made.of_set(),
        handed: seat.flag("bush.handed"),
        outside: words.limits(&band, "outside of the bush, at 20 °C"),
        outside_band_mm: Some((band.low_mm, band.high_mm)),
        bore: made.bore(stages),
        finished_bore: found.bore_band.filter(|_| !before).map(|band| words.limits(&band, "bore, finished after fitting, at 20 °C")),
        finished_band_mm: found.bore_band.map(|band| (band.low_mm, band.high_mm)),
        length: plain(length, "length of the bush"),
        flange: flange.map(|(outside, thickness)| (plain(outside, "outside of the flange"), plain(thickness, "thickness of the flange"))),
        lead: Asked {
            mm: lead_mm,
            lines: vec![format!("{} × {}°", words.bare(lead_mm), shown_plain(LEAD_DEG, 0))],
            of: "lead, length by angle to the axis".into(),
        },
        datum_leads,
        chamfer: Asked { mm: chamfer_mm, lines: vec![format!("{} × 45°", words.bare(chamfer_mm))], of: "chamfers of the bore".into() },
        groove: made.groove(stages),
        hole: made.hole(),
        form: FormDrawn {
            outside_cylindricity: words.fine(form.outside_cylindricity_mm),
            outside_roundness: words.fine(form.outside_roundness_mm),
            bore_coaxiality: words.fine(form.bore_coaxiality_mm),
            bore_cylindricity: words.fine(form.bore_cylindricity_mm),
            flange_run_out: form.flange_run_out_mm.map(|mm| words.fine(mm)),
        },
        outside_finish: words.rough(seat.number("bush.Rz").unwrap_or(6.0)),
        bore_finish: words.rough(seat.number("bush.bore_Rz").unwrap_or(3.0)),
        housing_bore: words.measured(&bore.size, "bore of the housing as measured, at 20 °C (95 %)"),
        housing_outside_mm: ring.value,
        housing_length: plain(seat.number("housing.length").unwrap_or(length), "length of the seat"),
        housing_finish: words.rough(seat.number("housing.Rz").unwrap_or(6.0)),
        journal: words.measured(&journal, "journal, at 20 °C (95 %)"),
        load_deg: seat.number("groove.load_angle"),
        pins: made.pins(stages),
        alloy: format!("{} ({})", alloy.id, alloy.symbol),
        metal: metal.symbol.to_string(),
        bush_notes: made.bush_notes(),
        seat_notes: made.seat_notes(stages),
    })
}

/// The band with its ends on whole steps of a drawing: 1 µm, or a tenth of a thou. The decision is told in the same figures.
pub fn to_steps(band: Band, system: System) -> Band {
    band.inward(if system == System::Inch { mm_from_inch(0.0001) } else { 0.001 })
}

/// Figures in the shop's lengths, without their unit: a drawing says it once.
#[derive(Clone, Copy)]
struct Words {
    system: System,
}

impl Words {
    const fn unit(self) -> &'static str {
        match self.system {
            System::Metric => "mm",
            System::Inch => "inches",
        }
    }

    /// A length without idle zeros; inches keep three decimals.
    fn bare(self, mm: f64) -> String {
        match self.system {
            System::Inch => shown_plain_length(mm, 2, self.system),
            System::Metric => {
                let text = shown_plain(mm, 2);
                if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
            }
        }
    }

    fn size(self, mm: f64) -> String {
        shown_plain_length(mm, 3, self.system)
    }

    fn plain(self, mm: f64, of: &str) -> Asked {
        let lines = form::general_mm(mm)
            .map_or_else(|_| vec![self.bare(mm)], |deviation| vec![format!("{} ± {}", self.bare(mm), self.bare(deviation))]);
        Asked { mm, lines, of: of.into() }
    }

    /// The upper limit over the lower. Source: ISO 129-1 and ASME Y14.5, limits of size (from memory).
    fn limits(self, band: &Band, of: &str) -> Asked {
        Asked { mm: band.middle_mm(), lines: vec![self.size(band.high_mm), self.size(band.low_mm)], of: of.into() }
    }

    fn measured(self, quantity: &calc::quantity::Quantity, of: &str) -> Asked {
        let text = shown::size(quantity, self.system);
        let bare = text.strip_suffix(self.system.length()).map_or(text.as_str(), str::trim_end);
        Asked { mm: quantity.value, lines: vec![bare.to_owned()], of: of.into() }
    }

    fn fine(self, mm: f64) -> String {
        let text = shown_plain_length(mm, 4, self.system);
        match self.system {
            System::Metric => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
            System::Inch => shown_plain_length(mm, 3, self.system),
        }
    }

    fn rough(self, Rz_um: f64) -> String {
        match self.system {
            System::Metric => format!("Rz {}", self.bare(Rz_um)),
            System::Inch => format!("Rz {} µin", shown_plain(calc::units::millionths(calc::units::inch_from_mm(Rz_um / 1e3)), 0)),
        }
    }
}

/// A seat with what is worked out once for its drawing.
struct Made<'m> {
    bench: &'m Bench<'m>,
    found: &'m Found,
    words: Words,
    band: Band,
    before: bool,
    left: f64,
    datum_leads: bool,
}

fn asked_in(stages: &[StageSheet], stage: Stage, kind: &str) -> Option<(Said, Said)> {
    let calculations = &stages.iter().find(|sheet| sheet.stage == stage)?.calculations;
    let found = calculations.iter().find(|calculation| calculation.kind == kind)?;
    Some((Said::from(found.request.clone()), Said::from(found.answer.clone())))
}

impl Made<'_> {
    fn of_set(&self) -> OfSet {
        let seat = self.bench.seat;
        let sharing: Vec<_> = match &seat.brief {
            Some(brief) => self.bench.state.seats.iter().filter(|other| other.brief.as_ref() == Some(brief)).collect(),
            None => vec![seat],
        };
        let place = sharing.iter().position(|other| other.name == seat.name).unwrap_or(0);
        OfSet { place: u32::try_from(place + 1).unwrap_or(1), count: u32::try_from(sharing.len()).unwrap_or(1) }
    }

    /// The bore as it goes in: with what is left to finish, or aimed so that it closes in to its band.
    fn bore(&self, stages: &[StageSheet]) -> Asked {
        let words = self.words;
        let aimed = asked_in(stages, Stage::Bore, "clearance").and_then(|(_, said)| said.number("aim_before_mm")).filter(|_| self.before);
        if let Some((aim_mm, band)) = aimed.zip(self.found.bore_band) {
            return words.limits(&band.about(aim_mm), "bore before fitting, at 20 °C; it closes in to its band");
        }
        let mm = self.found.fit_bore_mm.unwrap_or_default();
        let deviation = form::bore_to_finish_mm(self.left, words.system);
        Asked {
            mm,
            lines: vec![format!("{} ± {}", words.bare(mm), words.bare(deviation))],
            of: "bore as it goes in, to be finished".into(),
        }
    }

    fn groove(&self, stages: &[StageSheet]) -> Option<GrooveDrawn> {
        let (asked, said) = asked_in(stages, Stage::Bore, "groove")?;
        let (width_mm, depth_mm) = (said.number("width_mm")?, said.number("depth_mm")?);
        let run = match asked.text("shape")? {
            "ring" => "ring groove",
            "axial" => "axial groove",
            "spiral" => "spiral groove",
            _ => "two-loop groove",
        };
        let starts_deg: Vec<f64> = said
            .at("starts_deg")
            .and_then(serde_json::Value::as_array)
            .into_iter()
            .flatten()
            .filter_map(serde_json::Value::as_f64)
            .collect();
        let count = if starts_deg.len() > 1 { format!("{} × ", starts_deg.len()) } else { String::new() };
        let point = |point: Said| Some((point.number("z_mm")?, point.number("angle_deg")?));
        let ring = asked.text("shape") == Some("ring");
        Some(GrooveDrawn {
            text: format!("{count}{run} {} × {} deep", self.words.bare(width_mm), self.words.bare(depth_mm)),
            width_mm,
            depth_mm,
            middle: said.number("position_mm").map(|mm| self.words.plain(mm, "middle of the groove from the datum end")),
            path: if ring { Vec::new() } else { said.list("toolpath").into_iter().filter_map(point).collect() },
            starts_deg,
        })
    }

    fn hole(&self) -> Option<HoleDrawn> {
        let seat = self.bench.seat;
        let across = seat.number("hole.diameter")?;
        let from_datum = seat.number("hole.position").or(self.found.groove.map(|(middle, ..)| middle))?;
        let angle_deg = seat.number("hole.angle").unwrap_or(0.0);
        Some(HoleDrawn {
            across: Asked {
                mm: across,
                lines: vec![format!("\u{2300} {} through", self.words.bare(across))],
                of: "hole through the wall".into(),
            },
            from_datum: self.words.plain(from_datum, "middle of the hole from the datum end"),
            angle_deg,
            text: format!("hole at {}°", shown_plain(angle_deg, 0)),
        })
    }

    fn pins(&self, stages: &[StageSheet]) -> Option<PinsDrawn> {
        let (asked, _) = asked_in(stages, Stage::Fit, "retainer")?;
        let words = self.words;
        let how = asked.text("how")?;
        let count = asked.count("count").unwrap_or(1);
        let load = self.bench.seat.number("groove.load_angle").unwrap_or(180.0);
        let (across_mm, length_mm) = match how {
            "joint_pin" => (asked.number("pin_mm").unwrap_or(0.0), asked.number("pin_length_mm").unwrap_or(0.0)),
            _ => (0.0, 0.0),
        };
        let text = if how == "joint_pin" {
            format!("{count} × pin \u{2300} {} × {} on the joint line", words.bare(across_mm), words.bare(length_mm))
        } else {
            format!("{count} × {}, see the job sheet", how.replace('_', " "))
        };
        let angles = PINS_DEG.iter().take(usize::try_from(count).unwrap_or(1)).filter(|_| across_mm > 0.0);
        Some(PinsDrawn {
            text,
            across_mm,
            length_mm,
            angles_deg: angles.map(|from_load| calc::band::turned_deg(load, *from_load)).collect(),
        })
    }

    fn bush_notes(&self) -> Vec<String> {
        let words = self.words;
        let unit = words.unit();
        let alloy = self.found.alloy.map(|alloy| alloy.id).unwrap_or_default();
        let leads =
            if self.datum_leads { "The datum end (D) leads: it goes in first." } else { "The end away from the datum end (D) leads." };
        let mut notes = vec![
            format!(
                "Sizes in {unit}, at 20 °C. A warm bush reads larger: use the lathe sheet's table, and measure with the chuck stopped."
            ),
            format!("Turn dry for the last cuts, with extraction: coolant hides the temperature; dust of {alloy} harms."),
            leads.to_owned(),
            "Mark D and the datum mark (0°). Angles clockwise, seen from D.".to_owned(),
            format!("Edges broken {}; groove and hole edges rounded.", shown::lengths(0.2, 0.5, 1, words.system)),
        ];
        if let Some(band) = self.found.bore_band {
            let how =
                if self.before { "The bore closes in when it is fitted; in place it must be" } else { "Finish the bore after fitting:" };
            notes.push(format!("{how} {}.", shown::lengths(band.low_mm, band.high_mm, 3, words.system)));
        }
        let of_set = self.of_set();
        if of_set.count == 2 {
            let which = if of_set.place == 1 { "First" } else { "Second" };
            notes.push(format!("{which} of a pair: each fits its own seat only. Stamp it {}.", of_set.place));
        } else if of_set.count > 2 {
            notes.push(format!("Fits its own seat only. Stamp it {} of {}.", of_set.place, of_set.count));
        }
        notes
    }

    fn seat_notes(&self, stages: &[StageSheet]) -> Vec<String> {
        let words = self.words;
        let mut notes = vec![
            "Cautions of the job sheet first: presses, cold and hot parts hurt. Local codes and licensed practice come first.".to_owned(),
            format!("Sizes in {}, at 20 °C; in brackets as measured, ± what is not known of them (95 %): no tolerance.", words.unit()),
        ];
        if let Some(bore) = self.found.bore {
            let (low, high) = self.band.over_um(bore.size.value);
            notes.push(format!("Interference {} over the measured bore.", shown::fines(low, high, words.system)));
            if let Some(oval) = bore.oval_um {
                notes.push(format!("Seat measured out of round by {}.", shown::fine(oval, words.system)));
            }
        }
        if let Some((_, press)) = asked_in(stages, Stage::Seat, "press") {
            let force = |path: &str| press.number(path).map(|kN| shown::force(kN, words.system)).unwrap_or_default();
            let stop = press.list("force").last().and_then(|row| row.number("stop_kN")).map(|kN| shown::force(kN, words.system));
            notes.push(format!("Press: {} expected, stop and look at {}.", force("final_kN.mid"), stop.unwrap_or_default()));
        } else if let Some(seating) = stages.iter().find(|stage| stage.stage == Stage::Seat).filter(|stage| !stage.brief.is_empty()) {
            notes.push(format!("Way in: {}.", seating.brief));
        }
        notes.push(if self.datum_leads { "Datum end (D) of the bush first." } else { "The end away from D first." }.to_owned());
        if self.bench.seat.number("hole.diameter").is_some() {
            notes.push("Hold the hole of the bush against the hole of the housing before it goes in.".to_owned());
        }
        if asked_in(stages, Stage::Fit, "retainer").is_some() {
            notes.push("Retainer after fitting, never in the loaded zone or in a groove; eye protection.".to_owned());
        }
        notes
    }
}
