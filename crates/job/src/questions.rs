//! Every question that a job can decide, how it is answered, and what the answer rests on.
//!
//! One table serves the reading of job files, the finding of what moved after a decision (`fold`) and the reference of the format.

use crate::state::Feature;

/// How a question is answered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Choose {
    /// The id of a bush alloy.
    Alloy,
    /// A size, or the two ends of a band: lengths.
    Size,
    /// The name of a blank of the job.
    Blank,
    /// One of these words.
    Word(&'static [&'static str]),
    /// Readings that are not to be used, by their numbers.
    Drop,
}

/// A question and what its answer rests on.
#[derive(Clone, Copy, Debug)]
pub struct Question {
    /// Its word in files.
    pub word: &'static str,
    /// What is asked.
    pub help: &'static str,
    /// How it is answered.
    pub choose: Choose,
    /// Facts that it rests on: paths, or the start of paths where they end in a point.
    pub facts: &'static [&'static str],
    /// Readings that it rests on.
    pub features: &'static [Feature],
    /// Decisions that it rests on.
    pub decisions: &'static [&'static str],
}

/// Every question, in the order of the job.
pub const QUESTIONS: &[Question] = &[
    Question {
        word: "reading",
        help: "which readings are not to be used, and why",
        choose: Choose::Drop,
        facts: &[],
        features: &[],
        decisions: &[],
    },
    Question {
        word: "alloy",
        help: "which bronze",
        choose: Choose::Alloy,
        facts: &["duty.", "state.", "journal.", "bush.length"],
        features: &[Feature::Journal],
        decisions: &[],
    },
    Question {
        word: "band",
        help: "sizes of the outside at 20 °C to turn between",
        choose: Choose::Size,
        facts: &["state.", "housing.", "bush.", "gauge.", "duty.torque", "duty.axial", "shop.lathe_holds", "shop.room", "seating.method"],
        features: &[Feature::HousingBore],
        decisions: &["alloy", "retainer"],
    },
    Question {
        word: "retainer",
        help: "what holds it beside the friction of the fit",
        choose: Choose::Word(&["none", "joint_pin", "radial_screw", "flange_screws", "compound"]),
        facts: &["retainer.", "duty.", "state.", "housing.", "bush."],
        features: &[],
        decisions: &["alloy", "band"],
    },
    Question {
        word: "blank",
        help: "which blank to cut it from, by its name under stock",
        choose: Choose::Blank,
        facts: &[
            "stock.",
            "work.",
            "cutting.",
            "bush.length",
            "bush.bore_left",
            "bush.flange_outside",
            "bush.flange_thickness",
            "journal.diameter",
            "shop.rate",
            "shop.setup",
            "shop.swarf_price",
            "shop.margin",
            "shop.scrap_chance",
        ],
        features: &[],
        decisions: &["alloy", "band"],
    },
    Question {
        word: "seating",
        help: "how it goes in",
        choose: Choose::Word(crate::facts::WAYS_IN),
        facts: &["seating.", "housing.", "bush.", "shop.press", "shop.room", "shop.room_volume", "shop.air_changes"],
        features: &[Feature::HousingBore, Feature::BushOutside],
        decisions: &["alloy", "band"],
    },
    Question {
        word: "clearance",
        help: "least and most running clearance at 20 °C",
        choose: Choose::Size,
        facts: &["bore.", "journal.", "state.", "duty.", "oil."],
        features: &[Feature::Journal, Feature::FittedBore],
        decisions: &["alloy", "band"],
    },
    Question {
        word: "groove",
        help: "shape of the groove",
        choose: Choose::Word(&["none", "ring", "axial", "spiral", "two_loop"]),
        facts: &["groove.", "duty.", "bush.length", "journal.diameter"],
        features: &[],
        decisions: &[],
    },
];

/// The question of that word.
pub fn question(word: &str) -> Option<&'static Question> {
    QUESTIONS.iter().find(|question| question.word == word)
}

impl Question {
    /// Whether the answer rests on the fact at `path`.
    pub fn rests_on(&self, path: &str) -> bool {
        self.facts.iter().any(|fact| if fact.ends_with('.') { path.starts_with(fact) } else { path == *fact })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::facts::FACTS;

    #[test]
    fn every_fact_that_a_question_rests_on_is_a_fact() {
        for question in QUESTIONS {
            for prefix in question.facts {
                assert!(FACTS.iter().any(|fact| question.rests_on(fact.path) && fact.path.starts_with(prefix)), "{prefix}");
            }
            for word in question.decisions {
                assert!(super::question(word).is_some(), "{word}");
            }
        }
    }
}
