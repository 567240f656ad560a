//! What is said at the lathe, piece by piece: a terminal writes each on a line, a screen puts each in its place.

/// Width of a label.
const LABEL: usize = 14;

/// One piece.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Told {
    /// A label and what stands beside it; without a label it goes on from the row before.
    Row { label: &'static str, text: String },
    /// A row about what to type: on a screen buttons stand for it.
    Typing { label: &'static str, text: &'static str },
    /// A warning or a note.
    Note(String),
    /// A line of the terminal: a title, the large digits, or nothing between two blocks.
    Line(String),
}

impl Told {
    pub fn row(label: &'static str, text: impl Into<String>) -> Self {
        Self::Row { label, text: text.into() }
    }

    pub const fn blank() -> Self {
        Self::Line(String::new())
    }

    fn line(&self) -> String {
        let row = |label: &str, text: &str| format!("  {label:<LABEL$}{text}").trim_end().to_owned();
        match self {
            Self::Row { label, text } => row(label, text),
            Self::Typing { label, text } => row(label, text),
            Self::Note(text) => format!("  note: {text}"),
            Self::Line(text) => text.clone(),
        }
    }
}

/// As a terminal writes it.
pub(super) fn lines(told: &[Told]) -> Vec<String> {
    told.iter().map(Told::line).collect()
}
