//! What an answer at the lathe means: a figure to what was asked, a word out of turn, or nothing that can be used.

use calc::turn::start;
use calc::units::Dimension;
use calc::{Refused, keys::nearest};

use crate::entry::Amount;

use super::answer::{self, Answer};
use super::dialogue::{Ask, Dialogue, ENOUGH};
use super::step::{MOST_CUTS, MOST_READINGS, Passed, Step};

/// A command this far from the advised one is asked for twice, mm.
const FAR_MM: f64 = 0.5;

/// What an answer means.
pub(super) enum Meant {
    Help,
    Stop,
    Undo(String),
    /// A step, with the time that was said.
    Does(Step, Option<f64>),
    /// A step that must be given twice, since it is odd.
    Twice(String, Step, Option<f64>),
}

/// How many cuts are left.
fn left(rest: &str) -> Result<Step, Refused> {
    match rest.parse::<u32>() {
        Ok(cuts) if (1..=MOST_CUTS).contains(&cuts) => Ok(Step::Left { cuts }),
        _ => Err(Refused::new(
            "left",
            format!("{rest:?}"),
            format!("a whole number from 1 to {MOST_CUTS}"),
            "write it like left 1: the next cut is the last",
        )),
    }
}

/// Words that are understood.
const WORDS: [&str; 23] = [
    "skip", "undo", "tool", "chuck", "day", "check", "wait", "coolant", "note", "stop", "air", "temp", "read", "cut", "done", "scrap",
    "another", "runout", "?", "help", "part", "size", "left",
];

impl Dialogue {
    /// What `answer` means to what is asked; `whole` is the answer as it was typed.
    pub(super) fn meant(&self, answer: &Answer, whole: &str) -> Result<Meant, Refused> {
        let ask = self.ask();
        let after_s = answer.after_s;
        let does = |step: Step| Ok(Meant::Does(step, after_s));
        match (answer.word.as_str(), ask) {
            ("?" | "help", _) => return Ok(Meant::Help),
            ("stop", _) => return Ok(Meant::Stop),
            ("undo", _) => {
                let because = if answer.rest.is_empty() { "taken back at the lathe" } else { answer.rest };
                return Ok(Meant::Undo(because.to_owned()));
            }
            ("", _) => return self.plain(ask, answer),
            (_, Ask::Start) => {
                let word = format!("{whole:?}");
                return Err(Refused::new("the answer", word, "the size before the first cut", "give the size first, or press Enter"));
            }
            ("another", Ask::Over) => return does(Step::Another {}),
            (_, Ask::Over) if WORDS.contains(&answer.word.as_str()) => {
                return Err(Refused::new(
                    "the answer",
                    format!("{whole:?}"),
                    "another, undo or stop: this part is over",
                    "type one of them",
                ));
            }
            _ => {}
        }
        let rest = answer.rest;
        match answer.word.as_str() {
            "skip" => self.skip(ask).map(|step| Meant::Does(step, after_s)),
            "tool" => does(Step::Tool {}),
            "chuck" => does(Step::Chuck {}),
            "day" => does(Step::Day {}),
            "coolant" => does(Step::Coolant {}),
            "wait" => Ok(Meant::Does(Step::Wait {}, Some(answer::duration(rest)?))),
            "note" if rest.is_empty() => Err(Refused::new("note", "empty", "a text after it", "write it like note oil on the gauge")),
            "note" => does(Step::Note { text: rest.to_owned() }),
            "check" => does(Step::Check { values_mm: self.lengths("the check", rest)? }),
            "left" => does(left(rest)?),
            "runout" => does(Step::RunOut { value_mm: self.one("the run-out", rest)? }),
            "air" => does(self.air(rest)?),
            "temp" | "part" => does(self.temperature(rest)?),
            "read" | "size" => does(self.size(rest)?),
            "cut" if rest.is_empty() && ask == Ask::Finish => does(Step::Further {}),
            "cut" => self.cut(rest, after_s),
            "scrap" => Ok(Meant::Twice("The part is given up: type scrap again if it is lost".into(), Step::Scrapped {}, after_s)),
            "done" => self.done(after_s),
            "another" => Err(Refused::new("another", "too early", "after done or scrap", "finish this part first")),
            word => {
                let remedy = match nearest(word, WORDS.into_iter()).filter(|near| near.starts_with(|first| word.starts_with(first))) {
                    Some(near) => format!("write {near}, or ? for help"),
                    None => "write a figure or one of the words; ? lists them".into(),
                };
                Err(Refused::new("the answer", format!("{whole:?}"), "a figure or a word of the dialogue", remedy))
            }
        }
    }

    /// A figure, or nothing, for what was asked.
    fn plain(&self, ask: Ask, answer: &Answer) -> Result<Meant, Refused> {
        let Answer { rest, after_s, .. } = *answer;
        let does = |step: Step| Ok(Meant::Does(step, after_s));
        match ask {
            Ask::Start => does(self.start(rest)?),
            Ask::Air => does(self.air(rest)?),
            Ask::PartAfter | Ask::PartBefore | Ask::PartAgain => does(self.temperature(rest)?),
            Ask::Size | Ask::Again => does(self.size(rest)?),
            Ask::Finish if rest.is_empty() => {
                Err(Refused::new("the answer", "empty", "done, a further reading, or cut", "type one of them; ? explains"))
            }
            Ask::Finish => does(self.size(rest)?),
            Ask::Check => does(Step::Check { values_mm: self.lengths("the check", rest)? }),
            Ask::RunOut => does(Step::RunOut { value_mm: self.one("the run-out", rest)? }),
            Ask::Cut => self.cut(rest, after_s),
            Ask::Over => {
                Err(Refused::new("the answer", format!("{rest:?}"), "another, undo or stop: this part is over", "type one of them"))
            }
        }
    }

    fn start(&self, rest: &str) -> Result<Step, Refused> {
        let size_mm = if rest.is_empty() {
            self.setup.planned_mm
        } else {
            let size = answer::size("the size", rest, self.setup.units)?;
            self.possible("the size", size.value)?;
            Amount { value: size.value, u: if size.u > 0.0 { size.u } else { start::ROUGH_U_MM } }
        };
        Ok(Step::Start { setup: Box::new(self.setup.clone()), size_mm })
    }

    fn air(&self, rest: &str) -> Result<Step, Refused> {
        Ok(Step::Air { values_C: self.temperatures("the air", rest, (-30.0, 60.0))? })
    }

    fn temperature(&self, rest: &str) -> Result<Step, Refused> {
        Ok(Step::Part { values_C: self.temperatures("the part's temperature", rest, (-30.0, 200.0))? })
    }

    fn temperatures(&self, key: &str, rest: &str, (low, high): (f64, f64)) -> Result<Vec<f64>, Refused> {
        let units = self.started().units;
        let values = answer::figures(key, rest, Dimension::Temperature, units)?;
        match values.iter().find(|value| !(low..=high).contains(*value)) {
            None => Ok(values),
            Some(value) => {
                let show = |C: f64| crate::show::temperature(C, units);
                let allowed = format!("{} to {}", show(low), show(high));
                Err(Refused::new(key, show(*value), allowed, "read it again, and give it with its unit where it is another"))
            }
        }
    }

    fn size(&self, rest: &str) -> Result<Step, Refused> {
        let values_mm = self.lengths("the reading", rest)?;
        values_mm.iter().try_for_each(|value| self.possible("the reading", *value))?;
        Ok(Step::Size { values_mm })
    }

    fn lengths(&self, key: &str, rest: &str) -> Result<Vec<f64>, Refused> {
        let values = answer::figures(key, rest, Dimension::Length, self.started().units)?;
        if values.len() > MOST_READINGS {
            let allowed = format!("{} of one set", MOST_READINGS);
            return Err(Refused::new(key, format!("{} figures", values.len()), allowed, "give those of one set"));
        }
        Ok(values)
    }

    fn one(&self, key: &str, rest: &str) -> Result<f64, Refused> {
        match self.lengths(key, rest)?.as_slice() {
            [one] => Ok(*one),
            more => Err(Refused::new(key, format!("{} figures", more.len()), "one figure", "give one")),
        }
    }

    /// Refuses a size that no part of this nominal can have.
    fn possible(&self, key: &str, mm: f64) -> Result<(), Refused> {
        let setup = self.started();
        if start::near_nominal(mm, setup.nominal_mm) {
            return Ok(());
        }
        let show = |mm: f64| crate::show::length(mm, setup.units);
        let (low, high) = start::likely_mm(setup.nominal_mm);
        Err(Refused::new(
            key,
            show(mm),
            format!("{} to {}", show(low), show(high)),
            "look for a slipped digit or another unit, and type it again",
        ))
    }

    fn cut(&self, rest: &str, after_s: Option<f64>) -> Result<Meant, Refused> {
        let advised = self.said().and_then(|said| said.number("next.command_mm"));
        let command_mm = match (rest.is_empty(), advised) {
            (true, Some(advised)) => advised,
            (true, None) => {
                return Err(Refused::new("the command", "not given", "the diameter that was set", "type what the slide was set to"));
            }
            (false, _) => self.one("the command", rest)?,
        };
        self.possible("the command", command_mm)?;
        let does = Step::Cut { command_mm };
        match advised.filter(|advised| start::apart_mm(command_mm, *advised) > FAR_MM) {
            Some(advised) => {
                let units = self.started().units;
                let show = |mm: f64| crate::show::length(mm, units);
                let sentence = format!(
                    "The slide at {} is far from the advised {}: type it again if it was really set so",
                    show(command_mm),
                    show(advised)
                );
                Ok(Meant::Twice(sentence, does, after_s))
            }
            None => Ok(Meant::Does(does, after_s)),
        }
    }

    fn skip(&self, ask: Ask) -> Result<Step, Refused> {
        let what = match ask {
            Ask::Air => Passed::Air,
            Ask::PartAfter | Ask::PartBefore | Ask::PartAgain => Passed::Part,
            Ask::Size | Ask::Again => Passed::Size,
            Ask::Check => Passed::Check,
            Ask::RunOut => Passed::RunOut,
            Ask::Start | Ask::Cut | Ask::Finish | Ask::Over => {
                return Err(Refused::new("skip", "not possible here", "for a temperature, a reading or a check", "answer, or type stop"));
            }
        };
        Ok(Step::Skip { what })
    }

    fn done(&self, after_s: Option<f64>) -> Result<Meant, Refused> {
        if self.part.sizes() == 0
            || self.part.since(|step| matches!(step, Step::Cut { .. })).iter().all(|step| !matches!(step.step, Step::Size { .. }))
        {
            return Err(Refused::new("done", "too early", "after a reading of the last cut", "read the size first"));
        }
        if self.is_suspect() {
            return Err(Refused::new(
                "done",
                "not possible",
                "after a reading that can be right",
                "measure again: nothing is released on a reading that can't be right",
            ));
        }
        if self.chance_now() >= ENOUGH {
            return Ok(Meant::Does(Step::Finished {}, after_s));
        }
        let chance = calc::shown::chance(self.chance_now(), u64::MAX);
        Ok(Meant::Twice(
            format!("The chance that it lies in its band is {chance}: type done again to accept it all the same"),
            Step::Finished {},
            after_s,
        ))
    }
}
