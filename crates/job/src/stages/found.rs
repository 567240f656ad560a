//! What the stages so far have found out about a seat: the thread that runs through the job.

use calc::alloy::table::{Alloy, Metal};
use calc::band::Band;
use calc::fit::course::Form;
use calc::quantity::Quantity;
use calc::shown;

use super::Bench;
use super::ask::Said;
use crate::lathe::step::Surface;
use crate::sheet::{Dimension, Section, Stage};

/// A feature that was measured.
#[derive(Clone, Copy, Debug)]
pub struct Measured {
    /// Size at 20 °C with everything that is doubtful about it.
    pub size: Quantity,
    /// What the gauge would show for that size at the temperatures below, with the doubt of reading alone.
    pub reading: Quantity,
    /// What the certificate says to add.
    pub correction: Quantity,
    /// Temperature of the part.
    pub part_C: Quantity,
    /// Temperature of the gauge.
    pub gauge_C: Quantity,
    /// Expansion of the part.
    pub part_alpha: Quantity,
    /// Expansion of the gauge.
    pub gauge_alpha: Quantity,
    /// Largest less smallest diameter round the bore, µm, where it could be told.
    pub oval_um: Option<f64>,
    /// Change over the length, µm, where it could be told.
    pub taper_um: Option<f64>,
    /// Taper and barrel over the span that was surveyed, where they could be told.
    pub form: Option<Form>,
}

/// A state of temperatures.
#[derive(Clone, Debug)]
pub struct Warmth {
    /// Its name.
    pub name: String,
    /// Bush, °C.
    pub bush_C: f64,
    /// Housing, °C.
    pub housing_C: f64,
    /// Journal, °C.
    pub journal_C: f64,
}

/// What is known so far. A stage fills in its own part.
#[derive(Default)]
pub struct Found {
    /// Housing bore.
    pub bore: Option<Measured>,
    /// Outside of the new bush, once it was measured.
    pub outside: Option<Measured>,
    /// Bore of the bush after fitting, once it was measured.
    pub fitted_bore: Option<Measured>,
    /// Journal at 20 °C.
    pub journal: Option<Quantity>,
    /// Alloy of the bush.
    pub alloy: Option<&'static Alloy>,
    /// Metal of the housing.
    pub metal: Option<&'static Metal>,
    /// Metal of the journal.
    pub journal_metal: Option<&'static Metal>,
    /// Outside of the ring that stands for the housing.
    pub ring: Option<Quantity>,
    /// Length of the bush in the seat, mm.
    pub length_mm: Option<f64>,
    /// Temperatures at which it must hold.
    pub warmth: Vec<Warmth>,
    /// The duty's answer.
    pub duty: Said,
    /// Bore of the bush while it is fitted, mm.
    pub fit_bore_mm: Option<f64>,
    /// The band that the outside is turned to.
    pub band: Option<Band>,
    /// What fit-choose said.
    pub choose: Said,
    /// What fit said, the state "at 20" last.
    pub fit: Said,
    /// What fit-chance said.
    pub chance: Said,
    /// The finished bore's band.
    pub bore_band: Option<Band>,
    /// Running clearance in the middle, µm.
    pub clearance_um: Option<f64>,
    /// Ring groove: middle from the datum end, width, depth, mm.
    pub groove: Option<(f64, f64, f64)>,
    /// Price of the blank of one piece, its swarf paid back.
    pub blank_price: Option<f64>,
    /// The outside or the fitted bore was measured at the lathe and not otherwise: who and when.
    pub at_lathe: Vec<(Surface, String)>,
    /// Stages whose decision was taken before its inputs moved, and not again since.
    pub stale: Vec<Stage>,
    /// The decision in one sentence.
    pub decision: Option<String>,
}

impl Found {
    /// Sizes for the section drawing, once there is a band.
    pub fn section(&self, bench: &Bench) -> Option<Section> {
        let (bore, ring, band, journal) = (self.bore?, self.ring?, self.band?, self.journal?);
        let system = bench.system;
        let size = |quantity: &Quantity, of: &str| Dimension { mm: quantity.value, text: shown::size(quantity, system), of: of.into() };
        let banded = |band: &Band, of: &str| Dimension {
            mm: band.middle_mm(),
            text: shown::lengths(band.low_mm, band.high_mm, 3, system),
            of: of.into(),
        };
        let plain = |mm: f64, of: &str| Dimension { mm, text: shown::length(mm, 1, system), of: of.into() };
        let bush_bore = match (&self.bore_band, self.fit_bore_mm) {
            (Some(band), _) => banded(band, "bush bore, finished"),
            (None, Some(mm)) => plain(mm, "bush bore at fitting"),
            (None, None) => size(&journal, "bush bore"),
        };
        let (least, most) = band.over_um(bore.size.value);
        let flange = bench.seat.number("bush.flange_outside").zip(bench.seat.number("bush.flange_thickness"));
        Some(Section {
            housing_outside: Dimension { text: shown::length(ring.value, 0, system), ..size(&ring, "housing outside, equivalent ring") },
            housing_bore: size(&bore.size, "housing bore at 20 °C"),
            bush_outside: banded(&band, "bush outside at 20 °C, turn to"),
            bush_bore,
            journal: size(&journal, "journal at 20 °C"),
            length: plain(self.length_mm?, "bush length"),
            flange: flange.map(|(outside, thickness)| (plain(outside, "flange outside"), plain(thickness, "flange thickness"))),
            groove: self.groove.map(|(position, width, depth)| (plain(position, "groove middle from the datum end"), width, depth)),
            interference_um: calc::band::Band { low_mm: least, high_mm: most }.middle_mm(),
            clearance_um: self.clearance_um.unwrap_or(0.0),
            alloy: self.alloy.map(|alloy| alloy.symbol.to_string()).unwrap_or_default(),
            metal: self.metal.map(|metal| metal.symbol.to_string()).unwrap_or_default(),
        })
    }
}
