//! The sheet itself: its frame, the title block with the fields of ISO 7200, the notes beside it, the sign of the projection.

use crate::pen::{Held, Letters, Patch, Pen, Stroke};

use super::{PER_MM, Style};

/// Paper of a shop drawing; it lies across.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Paper {
    /// 297 by 210 mm.
    #[default]
    A4,
    /// 420 by 297 mm.
    A3,
    /// 11 by 8.5 in.
    Letter,
    /// 17 by 11 in.
    Tabloid,
}

impl Paper {
    /// Width and height, mm. Source: ISO 216; ANSI/ASME Y14.1 sizes A and B.
    pub const fn mm(self) -> (f64, f64) {
        match self {
            Self::A4 => (297.0, 210.0),
            Self::A3 => (420.0, 297.0),
            Self::Letter => (279.4, 215.9),
            Self::Tabloid => (431.8, 279.4),
        }
    }
}

/// What the title block says beside the part: who, when, which revision of which job.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Imprint {
    /// The shop that issues it.
    pub issuer: String,
    /// Number of the drawing: job and seat.
    pub number: String,
    /// What the part belongs to.
    pub title: String,
    /// Revision: what the record says of this state of the job.
    pub revision: String,
    /// Who drew: who wrote the entries.
    pub by: String,
    /// Who signed, as what and when; empty while nobody has.
    pub signed: String,
    /// The day of the newest entry.
    pub date: String,
    /// Head of the record that the drawing stands for.
    pub head: String,
}

/// What differs from sheet to sheet.
pub(crate) struct About<'a> {
    pub number: usize,
    pub count: usize,
    pub what: &'a str,
    pub material: &'a str,
    pub notes: &'a [String],
}

/// Margin for the folder's holes, and the others, mm. Source: ISO 5457 (from memory).
const BOUND_MM: f64 = 20.0;
const MARGIN_MM: f64 = 10.0;
/// Height of a row of the title block, units.
const ROW: f64 = 32.0;
const ROWS: usize = 5;
/// Distance of base lines in the notes.
const NOTE: f64 = 13.5;

/// The frame of a paper.
pub(crate) fn frame(paper: Paper) -> Patch {
    let (wide, high) = paper.mm();
    let u = |mm: f64| mm * PER_MM;
    Patch { left: u(BOUND_MM), top: u(MARGIN_MM), right: u(wide - MARGIN_MM), bottom: u(high - MARGIN_MM) }
}

/// Where the title block stands in the frame.
fn block(frame: &Patch) -> Patch {
    let wide = (0.62 * (frame.right - frame.left)).min(180.0 * PER_MM);
    Patch { left: frame.right - wide, top: frame.bottom - ROW * ROWS as f64, right: frame.right, bottom: frame.bottom }
}

fn wrapped(about: &About, frame: &Patch) -> Vec<(bool, String)> {
    let room = block(frame).left - frame.left - 38.0;
    let numbered = about.notes.iter().enumerate().flat_map(|(i, note)| {
        let lines = Letters::Small.wrap(note, room);
        lines.into_iter().enumerate().map(move |(row, line)| (row == 0, if row == 0 { format!("{}\u{1}{line}", i + 1) } else { line }))
    });
    numbered.collect()
}

/// What is left of the frame for the views: above title block and notes.
pub(crate) fn area(paper: Paper, about: &About) -> Patch {
    let frame = frame(paper);
    let notes = wrapped(about, &frame).len() as f64 * NOTE + 22.0;
    let strip = notes.max(ROW * ROWS as f64 + 8.0);
    Patch { left: frame.left + 8.0, top: frame.top + 8.0, right: frame.right - 8.0, bottom: frame.bottom - strip }
}

/// Draws frame, notes and title block.
pub(crate) fn draw(pen: &mut Pen, style: &Style, paper: Paper, imprint: &Imprint, about: &About, scale: &str) {
    let frame = frame(paper);
    pen.path(
        &[(frame.left, frame.top), (frame.right, frame.top), (frame.right, frame.bottom), (frame.left, frame.bottom)],
        true,
        Stroke::Outline,
    );
    notes(pen, about, &frame);
    title_block(pen, style, paper, imprint, about, scale);
}

fn notes(pen: &mut Pen, about: &About, frame: &Patch) {
    let lines = wrapped(about, frame);
    let mut y = frame.bottom - 8.0 - NOTE * (lines.len().saturating_sub(1)) as f64;
    pen.text(frame.left + 10.0, y - NOTE, Held::Left, Letters::Small, "Notes");
    for (_, line) in lines {
        match line.split_once('\u{1}') {
            Some((number, text)) => {
                pen.text(frame.left + 22.0, y, Held::Right, Letters::Small, number);
                pen.text(frame.left + 30.0, y, Held::Left, Letters::Small, text);
            }
            None => pen.text(frame.left + 30.0, y, Held::Left, Letters::Small, &line),
        }
        y += NOTE;
    }
}

/// A field: share of the width, name, value.
type Field<'f> = (f64, &'f str, String);

fn title_block(pen: &mut Pen, style: &Style, paper: Paper, imprint: &Imprint, about: &About, scale: &str) {
    let at = block(&frame(paper));
    let unit = style.system.length();
    let head = imprint.head.get(..16).unwrap_or(&imprint.head).to_owned();
    let general = format!("as written, {unit}; the rest ISO 2768-m");
    let rows: [Vec<Field>; ROWS] = [
        vec![(0.42, "issued by", imprint.issuer.clone()), (0.58, "shop drawing of", about.what.into())],
        vec![(1.0, "title", imprint.title.clone())],
        vec![
            (0.42, "number", imprint.number.clone()),
            (0.22, "revision", imprint.revision.clone()),
            (0.18, "sheet", format!("{} of {}", about.number, about.count)),
            (0.18, "", String::new()),
        ],
        vec![(0.42, "material", about.material.into()), (0.40, "tolerances", general), (0.18, "scale", scale.into())],
        vec![
            (0.20, "entries by", imprint.by.clone()),
            (0.34, "signed", imprint.signed.clone()),
            (0.18, "day", imprint.date.clone()),
            (0.28, "record", head),
        ],
    ];
    pen.path(&[(at.left, at.bottom), (at.left, at.top), (at.right, at.top)], false, Stroke::Outline);
    for (row, fields) in rows.iter().enumerate() {
        let top = at.top + ROW * row as f64;
        if row > 0 {
            pen.line((at.left, top), (at.right, top), Stroke::Thin);
        }
        let mut left = at.left;
        for (index, (share, name, value)) in fields.iter().enumerate() {
            let wide = share * (at.right - at.left);
            if index > 0 {
                pen.line((left, top), (left, top + ROW), Stroke::Thin);
            }
            field(pen, (left, top, wide), name, value);
            if name.is_empty() {
                projection(pen, style.first_angle, left + wide / 2.0, top + ROW / 2.0);
            }
            left += wide;
        }
    }
}

fn field(pen: &mut Pen, (left, top, wide): (f64, f64, f64), name: &str, value: &str) {
    pen.text(left + 5.0, top + 11.0, Held::Left, Letters::Small, name);
    let room = wide - 10.0;
    let letters = if Letters::Strong.width(value) <= room { Letters::Strong } else { Letters::Small };
    let most = (room / letters.width("0")).floor().max(1.0) as usize;
    let shown: String =
        if value.chars().count() <= most { value.into() } else { value.chars().take(most.saturating_sub(1)).chain(['…']).collect() };
    if !shown.is_empty() {
        pen.text(left + 5.0, top + 26.0, Held::Left, letters, &shown);
    }
}

/// A cut cone from the side and from its small end. Source: ISO 5456-2 (from memory): first angle has the view from the left on the right.
fn projection(pen: &mut Pen, first_angle: bool, x: f64, y: f64) {
    let (side, end) = if first_angle { (x - 26.0, x + 16.0) } else { (x + 4.0, x - 18.0) };
    pen.path(&[(side, y - 5.0), (side + 22.0, y - 10.0), (side + 22.0, y + 10.0), (side, y + 5.0)], true, Stroke::Thin);
    pen.line((side - 4.0, y), (side + 26.0, y), Stroke::Rule);
    for radius in [5.0, 10.0] {
        pen.ring((end, y), radius, Stroke::Thin);
    }
    pen.line((end - 13.0, y), (end + 13.0, y), Stroke::Rule);
    pen.line((end, y - 13.0), (end, y + 13.0), Stroke::Rule);
}
