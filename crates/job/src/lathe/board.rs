//! Where the dialogue at the lathe stands, parted for a screen: one thing to do, its digits large, what to expect, the buttons that answer.
//!
//! The words are those of the dialogue in the terminal; only their places differ. Nothing is asked of `calc` here.

use super::dialogue::{Ask, Dialogue};
use super::told::Told;
use super::words;

/// A label and what stands beside it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// What it is: `takes off`.
    pub label: &'static str,
    /// What it says: `0.250 mm on the diameter`.
    pub text: String,
}

/// An answer that needs no typing.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Button {
    /// What stands on it.
    pub label: &'static str,
    /// The answer that it gives.
    pub answer: &'static str,
}

/// The screen at the lathe.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Board {
    /// The one thing to do, as a command: `Cut to`, `Read the part's temperature`.
    pub todo: &'static str,
    /// The command's digits, where it has some: `240.385`.
    pub digits: Option<String>,
    /// Unit of the digits and of the answer.
    pub unit: &'static str,
    /// What is asked, on one line, as the terminal asks it.
    pub prompt: String,
    /// What to expect and what pays.
    pub rows: Vec<Row>,
    /// Warnings and notes.
    pub notes: Vec<String>,
    /// Answers that need no typing, the usual one first.
    pub buttons: Vec<Button>,
    /// Whether a figure is asked for.
    pub figure: bool,
}

/// The screen for where the dialogue stands.
pub fn board(dialogue: &Dialogue) -> Board {
    let ask = dialogue.ask();
    let (todo, figure) = todo(ask, dialogue);
    let digits = (ask == Ask::Cut).then(|| words::digits(dialogue)).flatten();
    let mut rows: Vec<Row> = Vec::new();
    let mut notes = Vec::new();
    for told in words::block_now(dialogue) {
        match told {
            Told::Note(note) => notes.push(note),
            Told::Row { label: "", text } => {
                if let Some(Row { text: before, .. }) = rows.last_mut() {
                    *before = format!("{before}; {text}");
                }
            }
            Told::Row { label, text } => rows.push(Row { label, text }),
            // The digits stand large by themselves, and buttons stand for what is typed.
            Told::Typing { .. } | Told::Line(_) => {}
        }
    }
    Board {
        todo,
        digits,
        unit: words::unit_asked(dialogue),
        prompt: dialogue.prompt(),
        rows,
        notes,
        buttons: buttons(ask, dialogue),
        figure,
    }
}

fn todo(ask: Ask, dialogue: &Dialogue) -> (&'static str, bool) {
    match ask {
        Ask::Start => ("Measure the size before the first cut", true),
        Ask::Air => ("Read the air beside the lathe", true),
        Ask::PartAfter => ("Read the part's temperature", true),
        Ask::PartBefore => ("Read the part's temperature before the cut", true),
        Ask::PartAgain => ("Read the part's temperature once more", true),
        Ask::Size => ("Gauge the part", true),
        Ask::Again => ("Gauge the part once more", true),
        Ask::Check => ("Put the gauge on its standard", true),
        Ask::RunOut => ("Read the run-out by the indicator", true),
        Ask::Cut if words::digits(dialogue).is_some() => ("Cut to", true),
        Ask::Cut => ("No command can be advised from here", true),
        Ask::Finish if dialogue.chance_now() >= super::dialogue::ENOUGH => ("Landed", true),
        Ask::Finish => ("Stop here and look", true),
        Ask::Over => ("This part is over", false),
    }
}

fn buttons(ask: Ask, dialogue: &Dialogue) -> Vec<Button> {
    let button = |label, answer| Button { label, answer };
    let skip = button("It can't be read", "skip");
    match ask {
        Ask::Start => vec![button("As planned, not read", "")],
        Ask::Air | Ask::PartAfter | Ask::PartBefore | Ask::PartAgain | Ask::Size | Ask::Again | Ask::RunOut => vec![skip],
        Ask::Check => vec![button("It shows true", "0"), button("Not checked", "skip")],
        Ask::Cut if words::digits(dialogue).is_some() => vec![button("Cut made as shown", "")],
        Ask::Cut => Vec::new(),
        Ask::Finish => vec![button("Accept the part", "done"), button("A further cut", "cut")],
        Ask::Over => vec![button("A new part for this seat", "another")],
    }
}
