//! A document as it is set: headings, cautions, tables, sentences, in their order. What it looks like is left to `paper`.

use serde::{Deserialize, Serialize};

use crate::sheet::{Grid, Line};

/// A document that is ready to be set.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct Document {
    /// What it is: `Certificate`, `Lathe sheet`, `Quote`.
    pub kind: String,
    /// Its title.
    pub title: String,
    /// Its number: job, and seat where it is of one.
    pub number: String,
    /// Who issues it; may be empty.
    pub issuer: String,
    /// Named fields at its head.
    pub fields: Vec<(String, String)>,
    /// The day it stands for, YYYY-MM-DD.
    pub date: String,
    /// Who wrote what it rests on.
    pub by: Vec<String>,
    /// Head of the record that it stands for.
    pub head: String,
    /// Which revision of the record that is.
    pub revision: String,
    /// Set small, to stay on one page.
    pub dense: bool,
    /// Its parts.
    pub parts: Vec<Part>,
}

impl Document {
    /// Documents of one kind in one file, each on a page of its own; none where there is none.
    pub fn one_after_another(documents: impl IntoIterator<Item = Self>) -> Option<Self> {
        let mut documents = documents.into_iter();
        let mut first = documents.next()?;
        for next in documents {
            first.parts.push(Part::Page);
            first.parts.push(Part::Begin { number: next.number, title: next.title, issuer: next.issuer, fields: next.fields });
            first.parts.extend(next.parts);
        }
        Some(first)
    }
}

/// A part of a document.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Part {
    /// Begins a new page, where it is not at the top of one.
    Page,
    /// The head of another document of the same kind, that follows in the same file.
    Begin {
        /// Its number.
        number: String,
        /// Its title.
        title: String,
        /// Who issues it.
        issuer: String,
        /// Named fields at its head.
        fields: Vec<(String, String)>,
    },
    /// A heading over what follows; it stays with it.
    Heading(String),
    /// Cautions, boxed, before what they are about.
    Cautions(Vec<String>),
    /// What is open or must be seen, boxed.
    Needs(Vec<String>),
    /// The answer in large letters.
    Answer(String),
    /// Sentences.
    Words(Vec<String>),
    /// Small print.
    Small(Vec<String>),
    /// Named figures.
    Lines(Vec<Line>),
    /// A table.
    Table(Grid),
    /// A code to be read by a camera, with what it says beside it.
    Code {
        /// What is read from it.
        holds: String,
        /// What stands beside it.
        words: Vec<String>,
    },
    /// Room to sign, one place for each of these.
    Sign(Vec<String>),
}

/// A line of named figures.
pub(crate) fn line(label: impl Into<String>, value: impl Into<String>, note: impl Into<String>) -> Line {
    Line { label: label.into(), value: value.into(), note: note.into() }
}

/// A table; columns whose heading ends in `>` hold figures.
pub(crate) fn table(title: &str, columns: &[&str], rows: Vec<Vec<String>>) -> Option<Part> {
    (!rows.is_empty()).then(|| {
        Part::Table(Grid {
            title: title.into(),
            columns: columns.iter().map(|column| column.trim_end_matches('>').to_owned()).collect(),
            figures: columns.iter().map(|column| column.ends_with('>')).collect(),
            rows,
        })
    })
}
