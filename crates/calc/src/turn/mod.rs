//! Turning: from the plan of the cuts to a part that lies in its band.
//!
//! `plan` sets out the cuts beforehand, in closed form; the others learn from what the gauge and the thermometer say between them.

pub mod advice;
pub mod aim;
pub mod command;
pub mod cooldown;
pub mod filter;
pub mod learn;
pub mod model;
pub mod next_cut;
pub mod notices;
pub mod plan;
pub mod slope;
pub mod start;
pub mod trials;

pub use aim::{Aim, USUAL_SCRAP_RATIO, landing};
pub use cooldown::{CoolReading, Cooldown, CooldownAnswer, CurvePoint};
pub use plan::{Cut, CutPlan, LAST_CUT_MM, LEAST_DEPTH_MM, Plan, Side, USUAL_DEPTH_MM, WarmBand, plan, rough_outside_mm, warmer};
