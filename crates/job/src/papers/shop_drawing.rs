//! What the shop drawing of a seat is made from: the sizes as they were decided, at 20 °C, with the tolerances that they are asked with.

use serde::{Deserialize, Serialize};

/// A size as it stands at its dimension line.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Asked {
    /// The size in millimetres, for the scale of the drawing.
    pub mm: f64,
    /// As it is written: one line, or the upper limit over the lower.
    pub lines: Vec<String>,
    /// What it is a size of, for those who can't see the drawing.
    pub of: String,
}

/// A groove.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct GrooveDrawn {
    /// Its run, width and depth: `ring groove 7.5 × 3.0 deep`.
    pub text: String,
    /// Width, mm.
    pub width_mm: f64,
    /// Depth, mm.
    pub depth_mm: f64,
    /// Middle of a ring from the datum end.
    pub middle: Option<Asked>,
    /// Where each begins, degrees from the datum mark; none of a ring.
    pub starts_deg: Vec<f64>,
    /// Run of the tool in the first: from the datum end, mm, and degrees from the datum mark; empty of a ring.
    pub path: Vec<(f64, f64)>,
}

/// A hole through the wall.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct HoleDrawn {
    /// Diameter.
    pub across: Asked,
    /// Middle from the datum end.
    pub from_datum: Asked,
    /// Degrees from the datum mark.
    pub angle_deg: f64,
    /// What is written at it on the end view.
    pub text: String,
}

/// Tolerances of form and place as they stand in their frames.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct FormDrawn {
    /// Cylindricity of the outside.
    pub outside_cylindricity: String,
    /// Roundness of the outside.
    pub outside_roundness: String,
    /// Coaxiality of the bore to the outside, a diameter.
    pub bore_coaxiality: String,
    /// Cylindricity of the finished bore.
    pub bore_cylindricity: String,
    /// Run-out of the flange's face to the outside.
    pub flange_run_out: Option<String>,
}

/// Pins on the joint of bush and housing.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct PinsDrawn {
    /// What is written at them: `2 pins 20 × 80 on the joint line`.
    pub text: String,
    /// Diameter, mm; 0 when the retainer is no pin.
    pub across_mm: f64,
    /// Length, mm.
    pub length_mm: f64,
    /// Where they may stand, degrees from the datum mark.
    pub angles_deg: Vec<f64>,
}

/// Where a seat stands among those that share its brief.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct OfSet {
    /// Its place, from 1.
    pub place: u32,
    /// How many there are.
    pub count: u32,
}

/// The bush and its seat.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct ShopDrawing {
    /// The shop that issues the drawing; may be empty.
    pub shop: String,
    /// Machine and position.
    pub machine: String,
    /// Its place among the seats of its brief.
    pub of_set: OfSet,
    /// The datum end is drawn on the right: the mirrored second of a pair.
    pub handed: bool,
    /// Outside of the bush: the band that it is turned to.
    pub outside: Asked,
    /// Its limits, mm.
    pub outside_band_mm: Option<(f64, f64)>,
    /// Bore of the bush when it goes in.
    pub bore: Asked,
    /// Bore to finish to once it is in; none where it is finished before.
    pub finished_bore: Option<Asked>,
    /// Limits of the finished bore, mm.
    #[serde(default)]
    pub finished_band_mm: Option<(f64, f64)>,
    /// Length with the flange.
    pub length: Asked,
    /// Outside and thickness of the flange, at the datum end.
    pub flange: Option<(Asked, Asked)>,
    /// Length of the lead with its angle.
    pub lead: Asked,
    /// The datum end goes in first, and has the lead.
    pub datum_leads: bool,
    /// Chamfer of the bore's ends.
    pub chamfer: Asked,
    /// Lubricant groove.
    pub groove: Option<GrooveDrawn>,
    /// Hole through the wall.
    pub hole: Option<HoleDrawn>,
    /// Form and place.
    pub form: FormDrawn,
    /// Roughness of the outside: `Rz 6`.
    pub outside_finish: String,
    /// Roughness of the bore, as finished.
    pub bore_finish: String,
    /// Bore of the housing, as measured at 20 °C.
    pub housing_bore: Asked,
    /// Outside of the ring that stands for the housing, mm.
    pub housing_outside_mm: f64,
    /// Length of the seat in the housing.
    pub housing_length: Asked,
    /// Roughness of the seat.
    pub housing_finish: String,
    /// Journal at 20 °C.
    pub journal: Asked,
    /// Where the load presses, degrees from the datum mark.
    pub load_deg: Option<f64>,
    /// Pins, where friction needs them.
    pub pins: Option<PinsDrawn>,
    /// The bush's alloy, for the title block.
    pub alloy: String,
    /// The housing's metal.
    pub metal: String,
    /// Notes on the drawing of the bush.
    pub bush_notes: Vec<String>,
    /// Notes on the drawing of the seat.
    pub seat_notes: Vec<String>,
}
