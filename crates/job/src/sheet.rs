//! The job sheet as a thing: what the terminal prints, the PDF sets and the screens show, each stage in the same parts.
//!
//! It holds words and figures that are ready to be read, and beside them the requests and answers that they came from. It makes no
//! layout and draws nothing. Every text here is final: an edge may wrap it, never rephrase it.

use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::papers::shop_drawing::ShopDrawing;

/// The stages of a seat, in the order of the job.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Stage {
    /// Machine, duty, temperatures, what failed, how the old bush comes out.
    Brief,
    /// Size of the bore at 20 °C and its form.
    Measure,
    /// Which bronze, with reasons.
    Alloy,
    /// How much larger: the band, the hold map, the chance that it all holds, retainers.
    Fit,
    /// Blank, swarf, route, quote.
    Stock,
    /// The cuts.
    Turn,
    /// Cold, heat, press.
    Seat,
    /// Close-in, running clearance, groove.
    Bore,
    /// Requirements with verdicts, signatures.
    Release,
}

impl Stage {
    /// All stages in order.
    pub const ALL: [Self; 9] =
        [Self::Brief, Self::Measure, Self::Alloy, Self::Fit, Self::Stock, Self::Turn, Self::Seat, Self::Bore, Self::Release];

    /// Its heading.
    pub const fn title(self) -> &'static str {
        match self {
            Self::Brief => "Brief",
            Self::Measure => "Measure",
            Self::Alloy => "Alloy",
            Self::Fit => "Fit",
            Self::Stock => "Stock",
            Self::Turn => "Turn",
            Self::Seat => "Seat",
            Self::Bore => "Bore",
            Self::Release => "Release",
        }
    }

    /// The word that the command line and files use.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Brief => "brief",
            Self::Measure => "measure",
            Self::Alloy => "alloy",
            Self::Fit => "fit",
            Self::Stock => "stock",
            Self::Turn => "turn",
            Self::Seat => "seat",
            Self::Bore => "bore",
            Self::Release => "release",
        }
    }
}

/// How far a stage is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Standing {
    /// Nothing that it needs is there.
    NotStarted,
    /// Something is missing, contradictory or waits for a decision.
    NeedsYou,
    /// Worked out; what is to be done with the hands is not recorded yet.
    Ready,
    /// Answered, and done where hands have to do it.
    Done,
    /// An input moved after a decision was taken on it.
    Stale,
}

impl Standing {
    /// The mark and the word that go with it (never colour alone).
    pub const fn mark(self) -> (&'static str, &'static str) {
        match self {
            Self::NotStarted => ("·", "not started"),
            Self::NeedsYou => ("!", "needs you"),
            Self::Ready => ("○", "ready"),
            Self::Done => ("✓", "done"),
            Self::Stale => ("~", "stale"),
        }
    }
}

/// One line of a stage's table.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Line {
    /// What it is: `out-of-round, two-lobe`.
    pub label: String,
    /// The figure with unit and uncertainty, no more digits than are known: `0.022 ± 0.005 mm`.
    pub value: String,
    /// What it means or where it is from; may be empty.
    pub note: String,
}

/// A table of several columns inside a stage (ranked alloys, blanks, cuts, requirements).
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Grid {
    /// Its heading.
    pub title: String,
    /// Column headings, with units.
    pub columns: Vec<String>,
    /// Whether a column holds figures (set right) or words (set left).
    pub figures: Vec<bool>,
    /// Rows of cells, as many as there are columns.
    pub rows: Vec<Vec<String>>,
}

/// One calculation that a stage rests on: kind, request, answer. The drawings are made from these.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Calculation {
    /// The name under which the stage keeps it (`fit_choose`, `housing_survey`); unique within the stage.
    pub name: String,
    /// The kind, as `compute` knows it.
    pub kind: String,
    /// What was asked.
    pub request: Value,
    /// What was answered, with `working` where it was wanted.
    pub answer: Value,
}

/// One stage of one seat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct StageSheet {
    /// Which stage.
    pub stage: Stage,
    /// How far it is.
    pub standing: Standing,
    /// Its result in a line for the column of stages: `240.012 ± 0.004 mm at 20 °C`.
    pub brief: String,
    /// The answer in one sentence, the number first.
    pub answer: String,
    /// Cautions, above everything that is done with hands.
    pub cautions: Vec<String>,
    /// What a person should know before trusting the answer.
    pub warnings: Vec<String>,
    /// What is missing or waits for a decision.
    pub needs: Vec<String>,
    /// The table of single figures.
    pub lines: Vec<Line>,
    /// Tables of several columns.
    pub grids: Vec<Grid>,
    /// What it was calculated from.
    pub calculations: Vec<Calculation>,
    /// Where the values used are from, with the marks *common practice* and *from memory* where they are due.
    pub sources: Vec<String>,
}

/// One seat with its nine stages.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct SeatSheet {
    /// The seat's name in the job.
    pub name: String,
    /// Names of seats that share every input and so this sheet; empty for a single one.
    pub also: Vec<String>,
    /// The decision first: one sentence, *turn to .., it holds from .. to .., .. % likely that everything holds*.
    pub decision: String,
    /// Sizes for the section drawing; none until the fit stage is answered.
    pub section: Option<Section>,
    /// Sizes for the shop drawing; none until the fit stage is answered.
    #[serde(default)]
    pub drawing: Option<ShopDrawing>,
    /// The stages in order.
    pub stages: Vec<StageSheet>,
}

/// A size on the section drawing: value with its uncertainty, ready to be read in the job's units.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Dimension {
    /// The size in millimetres, for the scale of the drawing.
    pub mm: f64,
    /// As it is written at the dimension line: `240.118 / 240.146` or `240.031 ± 0.004`.
    pub text: String,
    /// What it is a dimension of, for the alt text.
    pub of: String,
}

/// What the section of a seat is drawn from. Diameters at 20 °C.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Section {
    /// Housing outside (equivalent ring).
    pub housing_outside: Dimension,
    /// Housing bore as measured.
    pub housing_bore: Dimension,
    /// Bush outside: the band to turn to.
    pub bush_outside: Dimension,
    /// Bush bore: the size to finish to.
    pub bush_bore: Dimension,
    /// Journal.
    pub journal: Dimension,
    /// Bush length.
    pub length: Dimension,
    /// Flange outside and thickness.
    pub flange: Option<(Dimension, Dimension)>,
    /// Centre of a ring groove from the datum end, its width and depth.
    pub groove: Option<(Dimension, f64, f64)>,
    /// Mean interference, diametral, µm: drawn exaggerated, the factor is printed.
    pub interference_um: f64,
    /// Mean running clearance, diametral, µm: drawn exaggerated, the factor is printed.
    pub clearance_um: f64,
    /// Name of the bush's alloy and of the housing's metal, for the hatch and the words.
    pub alloy: String,
    /// Housing metal.
    pub metal: String,
}

/// A whole job, ready to be read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct JobSheet {
    /// The job's number in the shop.
    pub number: String,
    /// What the job is.
    pub title: String,
    /// Whose machine.
    pub customer: String,
    /// "mm" or "inch": what figures are shown in.
    pub units: String,
    /// Who wrote the entries.
    pub by: Vec<String>,
    /// The day of the newest entry, YYYY-MM-DD.
    pub date: String,
    /// Hash of the entries, the head of the job's chain, in hexadecimal.
    pub head: String,
    /// Signatures: who, as what, when, over which head.
    pub signatures: Vec<String>,
    /// Notes of the whole job: warnings of the reading, what makes it hard.
    pub notes: Vec<String>,
    /// The seats in order; seats that share every input stand once.
    pub seats: Vec<SeatSheet>,
}
