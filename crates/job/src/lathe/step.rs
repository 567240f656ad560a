//! Steps at the lathe, as the log keeps them: what was read, what was cut, what was done.
//!
//! A step says what happened and never what follows from it: sizes at 20 °C, chances and the next command are found again from the steps.
//! The first step of a part keeps what the belief started from, so that a log can be gone through again to the same words, whatever has
//! changed in the job or been learned of the lathe since.

use calc::Refused;
use serde::{Deserialize, Serialize};

use crate::entry::Amount;
use crate::state::{Feature, Units};

/// Which surface of the bush is cut.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Surface {
    /// The outside, which gets smaller.
    Outside,
    /// The bore after fitting, which gets larger.
    Bore,
}

impl Surface {
    /// The word of requests, and of a person.
    pub const fn word(self) -> &'static str {
        match self {
            Self::Outside => "outside",
            Self::Bore => "bore",
        }
    }

    /// The feature that is measured when it is finished.
    pub const fn feature(self) -> Feature {
        match self {
            Self::Outside => Feature::BushOutside,
            Self::Bore => Feature::FittedBore,
        }
    }
}

/// What the belief about a part starts from.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Setup {
    /// The lathe, by its name in the job; empty when none was named.
    pub lathe: String,
    /// Units of the dialogue.
    pub units: Units,
    /// Size that deviations are counted from, mm.
    pub nominal_mm: f64,
    /// Lower limit at 20 °C, mm.
    pub lower_mm: f64,
    /// Upper limit at 20 °C, mm.
    pub upper_mm: f64,
    /// Size before the first cut where nobody reads it, mm.
    pub planned_mm: Amount,
    /// Cuts of the plan.
    pub cuts: u32,
    /// The alloy, by its id.
    pub alloy: String,
    /// Expansion of the part, per K.
    pub alpha_per_K: f64,
    /// The gauge, in words; empty when none was named.
    pub gauge: String,
    /// Expansion of the gauge, per K; none: steel.
    pub gauge_alpha_per_K: Option<f64>,
    /// Standard deviation of a reading, mm; none: the usual one.
    pub reading_u_mm: Option<f64>,
    /// What the certificate says to add, with its doubt, mm; none: nothing, with the usual doubt.
    pub correction_mm: Option<Amount>,
    /// Standard uncertainty of the thermometer beside the gauge, K; none: the usual one. Logs of before it was asked have none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thermometer_u_K: Option<f64>,
    /// Price of the blank of one piece; none: not known.
    pub blank_price: Option<f64>,
    /// Price of a minute; none: not known.
    pub minute_price: Option<f64>,
    /// What was believed of the lathe.
    pub habits: Vec<Believed>,
    /// Squared innovations of its last parts.
    pub earlier_squares: f64,
    /// How many they are.
    pub earlier: u32,
}

/// What was believed of one habit of the lathe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub struct Believed {
    /// The habit, by its word.
    pub habit: HabitWord,
    /// Mean, in the scale in which it is learned.
    pub mean: f64,
    /// Standard deviation.
    pub sd: f64,
    /// From how many finished parts (of an offset: set-ups).
    pub parts: u32,
}

/// A habit of a lathe, as the log writes it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum HabitWord {
    /// Heat into the part.
    Heat,
    /// Logarithm of the cooling time in seconds.
    Cooling,
    /// Deflection.
    Deflection,
    /// Spring-back.
    SpringBack,
    /// Wear of the tool.
    Wear,
    /// Where the first cut of a set-up lands.
    Offset,
}

/// What can be passed over.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Passed {
    /// The temperature of the air.
    Air,
    /// The temperature of the part.
    Part,
    /// A reading of the size.
    Size,
    /// The check of the gauge.
    Check,
    /// The run-out after chucking again.
    RunOut,
}

/// A step at the lathe.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "step", rename_all = "snake_case", deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(utoipa::ToSchema))]
pub enum Step {
    /// The part is in the chuck.
    Start {
        /// What the belief starts from.
        setup: Box<Setup>,
        /// Size before the first cut, mm at 20 °C.
        size_mm: Amount,
    },
    /// Temperature of the air beside the lathe, each reading, °C.
    Air {
        /// As read.
        values_C: Vec<f64>,
    },
    /// Temperature of the part, each reading, °C.
    Part {
        /// As read.
        values_C: Vec<f64>,
    },
    /// Size as the gauge showed it, each reading of one set, mm.
    Size {
        /// As read.
        values_mm: Vec<f64>,
    },
    /// A cut was made.
    Cut {
        /// The diameter that was asked of the slide, mm.
        command_mm: f64,
    },
    /// The gauge on its standard: what it showed less the standard's size, each reading, mm.
    Check {
        /// As read.
        values_mm: Vec<f64>,
    },
    /// A question was passed over.
    Skip {
        /// Which.
        what: Passed,
    },
    /// Time passed.
    Wait {},
    /// Another tool, or another edge.
    Tool {},
    /// The part was chucked again.
    Chuck {},
    /// How far it runs out since, by the indicator, mm.
    RunOut {
        /// Whole swing of the pointer.
        value_mm: f64,
    },
    /// Another day.
    Day {},
    /// Coolant ran on the part.
    Coolant {},
    /// A remark.
    Note {
        /// In words.
        text: String,
    },
    /// The band was moved in the job while the part was in the chuck.
    Band {
        /// Lower limit now, mm.
        lower_mm: f64,
        /// Upper limit now, mm.
        upper_mm: f64,
    },
    /// The plan was changed: so many cuts are left.
    Left {
        /// The next among them.
        cuts: u32,
    },
    /// A further cut is wanted after the last of the plan.
    Further {},
    /// The part is finished.
    Finished {},
    /// The part is lost.
    Scrapped {},
    /// Another part goes into the chuck.
    Another {},
    /// In a correction: the step that it names is taken back.
    Withdrawn {},
}

/// Largest number of a step: beyond it a number is a slip.
const LARGEST: f64 = 20_000.0;
/// Most cuts of a plan.
pub const MOST_CUTS: u32 = 20;
/// Most readings of one set.
pub const MOST_READINGS: usize = 50;
/// Longest wait between two steps, s: a year.
const LONGEST_S: f64 = 366.0 * 86_400.0;

/// Refuses a step that can't stand in a record.
pub fn checked(after_s: f64, step: &Step) -> Result<(), Refused> {
    if !(0.0..=LONGEST_S).contains(&after_s) {
        return Err(Refused::new("after_s", after_s, "0 to a year, in seconds", "give the time that passed"));
    }
    match step {
        Step::Start { setup, size_mm } => checked_setup(setup, *size_mm),
        Step::Air { values_C } | Step::Part { values_C } => list("values_C", values_C, -273.15),
        Step::Size { values_mm } => list("values_mm", values_mm, 0.0),
        Step::Check { values_mm } => list("values_mm", values_mm, -LARGEST),
        Step::Cut { command_mm } => list("command_mm", &[*command_mm], 0.0),
        Step::RunOut { value_mm } => list("value_mm", &[*value_mm], 0.0),
        Step::Left { cuts } if !(1..=MOST_CUTS).contains(cuts) => {
            Err(Refused::new("cuts", cuts, format!("1 to {MOST_CUTS}"), "say how many cuts are left"))
        }
        Step::Band { lower_mm, upper_mm } => limits(*lower_mm, *upper_mm),
        _ => Ok(()),
    }
}

fn list(key: &str, values: &[f64], least: f64) -> Result<(), Refused> {
    if values.is_empty() || values.len() > MOST_READINGS {
        return Err(Refused::new(key, format!("{} readings", values.len()), format!("1 to {MOST_READINGS}"), "give those of one set"));
    }
    match values.iter().find(|value| !(least..=LARGEST).contains(*value)) {
        Some(value) => Err(Refused::new(key, value, format!("{least} to {LARGEST}"), "read it again")),
        None => Ok(()),
    }
}

fn limits(lower_mm: f64, upper_mm: f64) -> Result<(), Refused> {
    if lower_mm > 0.0 && lower_mm < upper_mm && upper_mm <= LARGEST {
        return Ok(());
    }
    Err(Refused::new("lower_mm, upper_mm", format!("{lower_mm}, {upper_mm}"), "two sizes over 0, the smaller first", "turn them round"))
}

fn checked_setup(setup: &Setup, size_mm: Amount) -> Result<(), Refused> {
    limits(setup.lower_mm, setup.upper_mm)?;
    let sizes = [("nominal_mm", setup.nominal_mm), ("planned_mm", setup.planned_mm.value), ("size_mm", size_mm.value)];
    for (key, value) in sizes {
        list(key, &[value], 0.0)?;
    }
    let doubts =
        [Some(size_mm.u), Some(setup.planned_mm.u), setup.correction_mm.map(|amount| amount.u), setup.reading_u_mm, setup.thermometer_u_K];
    let beliefs = setup.habits.iter().flat_map(|belief| [belief.mean, belief.sd]);
    let alphas = [Some(setup.alpha_per_K), setup.gauge_alpha_per_K];
    let prices = [setup.blank_price, setup.minute_price, Some(setup.earlier_squares)];
    let all = doubts.into_iter().chain(alphas).chain(prices).flatten().chain(beliefs);
    match all.into_iter().find(|value| !value.is_finite()) {
        Some(value) => Err(Refused::new("setup", value, "finite numbers", "start the part again")),
        None => Ok(()),
    }
}
