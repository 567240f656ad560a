//! A stage of the sheet while it is being written: what it asks, what it says.

use serde_json::Value;

use super::ask::{Asking, Said};
use crate::sheet::{Calculation, Grid, Line, Stage, StageSheet, Standing};

/// A stage that is being written.
pub struct Draft<'a, 'c> {
    /// The sheet so far.
    pub sheet: StageSheet,
    asking: &'a mut Asking<'c>,
}

impl<'a, 'c> Draft<'a, 'c> {
    /// A stage with nothing said yet.
    pub fn new(stage: Stage, asking: &'a mut Asking<'c>) -> Self {
        let sheet = StageSheet {
            stage,
            standing: Standing::NotStarted,
            brief: String::new(),
            answer: String::new(),
            cautions: Vec::new(),
            warnings: Vec::new(),
            needs: Vec::new(),
            lines: Vec::new(),
            grids: Vec::new(),
            calculations: Vec::new(),
            sources: Vec::new(),
        };
        Self { sheet, asking }
    }

    /// Asks `kind` under a name of this stage; what it warns of goes on the sheet. None when it was refused: the refusal then stands
    /// among the needs, in the words of the floor that knows the range.
    pub fn ask(&mut self, name: &str, kind: &str, request: Value) -> Option<Said> {
        self.ask_but(name, kind, request, &[])
    }

    /// The same, without the warnings that hold one of `told`: what they say stands on the sheet in other words.
    pub fn ask_but(&mut self, name: &str, kind: &str, request: Value, told: &[&str]) -> Option<Said> {
        match self.asking.answer(kind, &request) {
            Ok(said) => {
                let untold = |warning: &String| !told.iter().any(|words| warning.contains(words));
                for warning in said.texts("warnings").into_iter().filter(untold) {
                    self.warn(warning);
                }
                self.sheet.calculations.push(Calculation { name: name.into(), kind: kind.into(), request, answer: said.whole().clone() });
                Some(said)
            }
            Err(refused) => {
                self.need(refused.to_string());
                None
            }
        }
    }

    /// Whether this is left out of a first look, as what takes finite elements.
    pub fn leaves_out(&mut self, kind: &str, request: &Value) -> bool {
        self.asking.leaves_out(kind, request)
    }

    /// Keeps an answer for a drawing; a refusal leaves the drawing out.
    pub fn keep(&mut self, name: &str, kind: &str, request: Value) {
        if let Ok(answer) = self.asking.large(kind, &request) {
            self.sheet.calculations.push(Calculation { name: name.into(), kind: kind.into(), request, answer });
        }
    }

    /// Tries a request without leaving a trace on the sheet: for candidates.
    pub fn try_out(&mut self, kind: &str, request: &Value) -> Option<Said> {
        self.asking.answer(kind, request).ok()
    }

    /// A line of the table.
    pub fn line(&mut self, label: impl Into<String>, value: impl Into<String>, note: impl Into<String>) {
        self.sheet.lines.push(Line { label: label.into(), value: value.into(), note: note.into() });
    }

    /// A table of several columns; the columns whose heading ends in `>` hold figures and are set right.
    pub fn grid(&mut self, title: &str, columns: &[&str], rows: Vec<Vec<String>>) {
        if rows.is_empty() {
            return;
        }
        self.sheet.grids.push(Grid {
            title: title.into(),
            columns: columns.iter().map(|column| column.trim_end_matches('>').to_owned()).collect(),
            figures: columns.iter().map(|column| column.ends_with('>')).collect(),
            rows,
        });
    }

    /// A warning, once. One that is a caution for the hands goes above with the cautions.
    pub fn warn(&mut self, warning: impl Into<String>) {
        let warning = warning.into();
        if self.sheet.cautions.contains(&warning) || self.sheet.warnings.contains(&warning) {
            return;
        }
        if is_caution(&warning) {
            self.sheet.cautions.push(warning);
        } else {
            self.sheet.warnings.push(warning);
        }
    }

    /// A caution, once.
    pub fn caution(&mut self, caution: impl Into<String>) {
        let caution = caution.into();
        if !self.sheet.cautions.contains(&caution) {
            self.sheet.cautions.push(caution);
        }
    }

    /// Something that is missing or waits for a person, once.
    pub fn need(&mut self, need: impl Into<String>) {
        let need = need.into();
        if !self.sheet.needs.contains(&need) {
            self.sheet.needs.push(need);
        }
    }

    /// Where a value is from, once.
    pub fn source(&mut self, source: impl Into<String>) {
        let source = source.into();
        if !source.is_empty() && !self.sheet.sources.contains(&source) {
            self.sheet.sources.push(source);
        }
    }

    /// The stage's answer, its short form, and the stage as it stands: done, unless something needs a person or went stale.
    pub fn say(&mut self, brief: impl Into<String>, answer: impl Into<String>) {
        self.sheet.brief = brief.into();
        self.sheet.answer = answer.into();
        if self.sheet.standing == Standing::NotStarted {
            self.sheet.standing = Standing::Done;
        }
    }

    /// What was said is worked out, but not done yet at the machine.
    pub fn ready(&mut self) {
        if self.sheet.standing == Standing::Done {
            self.sheet.standing = Standing::Ready;
        }
    }

    /// Marks the stage stale.
    pub fn stale(&mut self) {
        self.sheet.standing = Standing::Stale;
    }

    /// The finished stage: one with needs stands at *needs you*, whatever was said.
    pub fn finish(mut self) -> StageSheet {
        if !self.sheet.needs.is_empty() {
            self.sheet.standing = Standing::NeedsYou;
        }
        if self.sheet.answer.is_empty() {
            self.sheet.answer = match self.sheet.needs.first() {
                Some(need) => format!("Not answered yet: {need}"),
                None => "Nothing was given for this stage.".into(),
            };
        }
        if self.sheet.brief.is_empty() {
            self.sheet.brief = "not answered yet".into();
        }
        self.sheet
    }
}

/// Words that mark a warning of `calc` as a caution for the hands: the method pages ask for them in such sentences.
const CAUTION_WORDS: [&str; 22] = [
    "fly",
    "hammer",
    "flame",
    "burn",
    "fume",
    "glove",
    "eye protection",
    "oxygen",
    "carbon dioxide",
    "sealed",
    "flammable",
    "brittle",
    "retained austenite",
    "flash",
    "stored energy",
    "stand clear",
    "guard",
    "no blows",
    "local codes",
    "not alone",
    "tempering",
    "ventilat",
];

fn is_caution(warning: &str) -> bool {
    CAUTION_WORDS.iter().any(|word| warning.contains(word))
}
