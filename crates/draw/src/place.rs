//! Where words may stand: a text is put at the first of its places that nothing else covers.

use crate::pen::{Held, Letters, Patch, Pen};

/// What is covered so far.
pub(crate) struct Room {
    within: Patch,
    taken: Vec<Patch>,
}

/// A place for a text: base line and how it is held.
pub(crate) type Spot = (f64, f64, Held);

impl Room {
    pub const fn new(within: Patch) -> Self {
        Self { within, taken: Vec::new() }
    }

    /// Nothing may cover this any more.
    pub fn take(&mut self, patch: Patch) {
        self.taken.push(patch);
    }

    /// Whether a patch lies inside and is free.
    pub fn is_free(&self, patch: &Patch) -> bool {
        let w = &self.within;
        let inside = patch.left >= w.left && patch.right <= w.right && patch.top >= w.top && patch.bottom <= w.bottom;
        inside && !self.taken.iter().any(|other| other.meets(patch))
    }

    /// Writes a text on a patch of paper at the first free place; says whether there was one.
    pub fn write(&mut self, pen: &mut Pen, spots: &[Spot], letters: Letters, text: &str) -> bool {
        for (x, y, held) in spots {
            let patch = Patch::of_text(*x, *y, *held, letters, text).grown(2.0);
            if self.is_free(&patch) {
                pen.label(*x, *y, *held, letters, text);
                self.take(patch);
                return true;
            }
        }
        false
    }
}

/// Wrapped text from (x, y) down; says where the next base line would be.
pub(crate) fn paragraph(pen: &mut Pen, x: f64, y: f64, room: f64, letters: Letters, text: &str) -> f64 {
    let mut y = y;
    for line in letters.wrap(text, room) {
        pen.text(x, y, Held::Left, letters, &line);
        y += letters.size() * 1.35;
    }
    y
}

/// A drawing that says why there is none.
pub(crate) fn refused(width: f64, title: &str, why: &str) -> crate::Drawing {
    let mut pen = Pen::new();
    let y = paragraph(&mut pen, 12.0, 24.0, width - 24.0, Letters::Plain, &format!("Not drawn: {title}. {why}"));
    let table = job::sheet::Grid { title: title.into(), columns: Vec::new(), figures: Vec::new(), rows: Vec::new() };
    pen.finish(width, y + 4.0, title, why, table)
}
