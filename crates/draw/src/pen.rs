//! The one writer of SVG: lines, areas and letters, with everything escaped that a person may have typed.
//!
//! Every mark has a class and, beside it, the plain attributes of the light look: a PDF needs no style sheet, a browser's [`THEME`]
//! outranks the attributes. Letters are of one width, so that the room a text takes is known without asking a font.

use crate::Drawing;
use job::sheet::Grid;

/// Style rules for a browser: the colours come from the page's custom properties, with a light and a dark default.
pub const THEME: &str = "\
.bw{--bw-level0:#eef4f8;--bw-level1:#dbe8f0;--bw-level2:#c4d9e6;--bw-level3:#abc8da;--bw-level4:#8fb5cc;--bw-level5:#739fba;--bw-level6:#5988a6;--bw-level7:#417091;--bw-ink:#1b2126;--bw-soft:#4b555c;--bw-rule:#9aa3a9;--bw-needs:#a63a12;--bw-paper:#fdfdfb;--bw-bush:#f3e6c9;--bw-housing:#e6eaed;--bw-dull:#eceef0;--bw-range:#f2f5ee;--bw-strip:#cdd5da}
@media (prefers-color-scheme:dark){.bw{--bw-level0:#1b262d;--bw-level1:#20303a;--bw-level2:#263c49;--bw-level3:#2d4959;--bw-level4:#35576b;--bw-level5:#3f677e;--bw-level6:#4b7892;--bw-level7:#598aa6;--bw-ink:#eef1f3;--bw-soft:#b9c3ca;--bw-rule:#6f7b83;--bw-needs:#ffa37a;--bw-paper:#14181b;--bw-bush:#4a3d1d;--bw-housing:#2b333a;--bw-dull:#23292e;--bw-range:#1c2420;--bw-strip:#46525b}}
.bw .outline,.bw .thin,.bw .centre,.bw .dashed,.bw .hatch,.bw .curve{stroke:var(--bw-ink)}
.bw .rule{stroke:var(--bw-rule)}.bw .faint{stroke:var(--bw-soft)}.bw .needs{stroke:var(--bw-needs)}
.bw .ink{fill:var(--bw-ink)}.bw .bush{fill:var(--bw-bush)}.bw .housing{fill:var(--bw-housing)}.bw .dull{fill:var(--bw-dull)}
.bw .range{fill:var(--bw-range)}.bw .strip{fill:var(--bw-strip)}.bw .paper{fill:var(--bw-paper)}
.bw .level0{fill:var(--bw-level0)}.bw .level1{fill:var(--bw-level1)}.bw .level2{fill:var(--bw-level2)}.bw .level3{fill:var(--bw-level3)}
.bw .level4{fill:var(--bw-level4)}.bw .level5{fill:var(--bw-level5)}.bw .level6{fill:var(--bw-level6)}.bw .level7{fill:var(--bw-level7)}
.bw text.plain,.bw text.strong{fill:var(--bw-ink)}.bw text.small{fill:var(--bw-soft)}.bw text.call{fill:var(--bw-needs)}
";

/// Kinds of line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stroke {
    /// Visible edge.
    Outline,
    /// Dimension line, axis.
    Thin,
    /// Grid, extension line.
    Rule,
    /// Axis of a turned part.
    Centre,
    /// A level that is not an edge.
    Dashed,
    /// Hatching.
    Hatch,
    /// What was fitted.
    Curve,
    /// Shown a second time.
    Faint,
    /// Needs a person.
    Needs,
}

impl Stroke {
    fn attributes(self) -> &'static str {
        match self {
            Self::Outline => r##"class="outline" fill="none" stroke="#1b2126" stroke-width="1.5""##,
            Self::Thin => r##"class="thin" fill="none" stroke="#1b2126" stroke-width="0.75""##,
            Self::Rule => r##"class="rule" fill="none" stroke="#9aa3a9" stroke-width="0.6""##,
            Self::Centre => r##"class="centre" fill="none" stroke="#1b2126" stroke-width="0.75" stroke-dasharray="14 3 2 3""##,
            Self::Dashed => r##"class="dashed" fill="none" stroke="#1b2126" stroke-width="1" stroke-dasharray="5 3""##,
            Self::Hatch => r##"class="hatch" fill="none" stroke="#1b2126" stroke-width="0.5""##,
            Self::Curve => r##"class="curve" fill="none" stroke="#1b2126" stroke-width="1.1""##,
            Self::Faint => r##"class="faint" fill="none" stroke="#4b555c" stroke-width="0.75" stroke-dasharray="2 2""##,
            Self::Needs => r##"class="needs" fill="none" stroke="#a63a12" stroke-width="1.6""##,
        }
    }
}

/// Kinds of area.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Tint {
    Bush,
    Housing,
    Dull,
    Range,
    Strip,
    Paper,
    Ink,
    /// A step of a scale, from 0 (next to nothing) to 7.
    Level(u8),
    /// Black on every theme: a camera wants the contrast.
    Black,
}

impl Tint {
    fn attributes(self) -> &'static str {
        match self {
            Self::Level(0) => r##"class="level0" fill="#eef4f8""##,
            Self::Level(1) => r##"class="level1" fill="#dbe8f0""##,
            Self::Level(2) => r##"class="level2" fill="#c4d9e6""##,
            Self::Level(3) => r##"class="level3" fill="#abc8da""##,
            Self::Level(4) => r##"class="level4" fill="#8fb5cc""##,
            Self::Level(5) => r##"class="level5" fill="#739fba""##,
            Self::Level(6) => r##"class="level6" fill="#5988a6""##,
            Self::Level(_) => r##"class="level7" fill="#417091""##,
            Self::Bush => r##"class="bush" fill="#f3e6c9""##,
            Self::Housing => r##"class="housing" fill="#e6eaed""##,
            Self::Dull => r##"class="dull" fill="#eceef0""##,
            Self::Range => r##"class="range" fill="#f2f5ee""##,
            Self::Strip => r##"class="strip" fill="#cdd5da""##,
            Self::Paper => r##"class="paper" fill="#ffffff""##,
            Self::Ink => r##"class="ink" fill="#1b2126""##,
            Self::Black => r##"class="black" fill="#000000""##,
        }
    }
}

/// Kinds of text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Letters {
    /// Figures and words.
    Plain,
    /// What goes with them.
    Small,
    /// Headings and results.
    Strong,
    /// Needs a person.
    Call,
}

impl Letters {
    /// Height of the letters, units.
    pub const fn size(self) -> f64 {
        match self {
            Self::Plain | Self::Strong | Self::Call => 12.0,
            Self::Small => 10.5,
        }
    }

    fn attributes(self) -> &'static str {
        match self {
            Self::Plain => r##"class="plain" font-size="12" fill="#1b2126""##,
            Self::Small => r##"class="small" font-size="10.5" fill="#4b555c""##,
            Self::Strong => r##"class="strong" font-size="12" font-weight="bold" fill="#1b2126""##,
            Self::Call => r##"class="call" font-size="12" font-weight="bold" fill="#a63a12""##,
        }
    }

    /// Room that a text takes across. Every letter of DejaVu Sans Mono is 1233/2048 of its size wide; wide scripts take twice that.
    pub fn width(self, text: &str) -> f64 {
        let cells: f64 = text.chars().map(|letter| if u32::from(letter) >= 0x1100 && !is_narrow(letter) { 2.0 } else { 1.0 }).sum();
        cells * self.size() * 1233.0 / 2048.0
    }

    /// A text in lines of at most `room` units, broken between words, and inside a word only when it is longer than a line.
    pub fn wrap(self, text: &str, room: f64) -> Vec<String> {
        let most = ((room / self.width("0")).floor().max(4.0)) as usize;
        let mut lines: Vec<String> = Vec::new();
        let mut line = String::new();
        for word in text.split_whitespace() {
            let mut word: Vec<char> = word.chars().collect();
            if !line.is_empty() && line.chars().count() + 1 + word.len() > most {
                lines.push(std::mem::take(&mut line));
            }
            while word.len() > most {
                let rest = word.split_off(most);
                lines.push(word.into_iter().collect());
                word = rest;
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.extend(word);
        }
        if !line.is_empty() || lines.is_empty() {
            lines.push(line);
        }
        lines
    }
}

/// Punctuation, arrows, mathematics and drawing signs are of one width too.
fn is_narrow(letter: char) -> bool {
    matches!(u32::from(letter), 0x1E00..=0x2E7F)
}

/// Where a text is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Held {
    Left,
    Middle,
    Right,
}

/// A rectangle that a text or a mark covers.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Patch {
    pub left: f64,
    pub top: f64,
    pub right: f64,
    pub bottom: f64,
}

impl Patch {
    /// Whether two patches share some area.
    pub fn meets(&self, other: &Self) -> bool {
        self.left < other.right && other.left < self.right && self.top < other.bottom && other.top < self.bottom
    }

    /// What a text covers whose base line stands at (x, y).
    pub fn of_text(x: f64, y: f64, held: Held, letters: Letters, text: &str) -> Self {
        let width = letters.width(text);
        let left = match held {
            Held::Left => x,
            Held::Middle => x - width / 2.0,
            Held::Right => x - width,
        };
        Self { left, top: y - 0.8 * letters.size(), right: left + width, bottom: y + 0.25 * letters.size() }
    }

    pub fn grown(&self, by: f64) -> Self {
        Self { left: self.left - by, top: self.top - by, right: self.right + by, bottom: self.bottom + by }
    }
}

/// A point on the drawing: right, down.
pub(crate) type Point = (f64, f64);

/// An SVG under way.
pub(crate) struct Pen {
    body: String,
}

impl Pen {
    pub const fn new() -> Self {
        Self { body: String::new() }
    }

    pub fn line(&mut self, from: Point, to: Point, stroke: Stroke) {
        self.path(&[from, to], false, stroke);
    }

    pub fn path(&mut self, points: &[Point], closed: bool, stroke: Stroke) {
        if points.len() > 1 {
            self.push(&format!("<path d=\"{}\" {}/>\n", way(points, closed), stroke.attributes()));
        }
    }

    /// Many separate strokes as one mark.
    pub fn strokes(&mut self, lines: &[(Point, Point)], stroke: Stroke) {
        if !lines.is_empty() {
            let d: Vec<String> = lines.iter().map(|(from, to)| way(&[*from, *to], false)).collect();
            self.push(&format!("<path d=\"{}\" {}/>\n", d.join(""), stroke.attributes()));
        }
    }

    /// A curve that swings from one point to another and back through the middle: a break line.
    pub fn swing(&mut self, from: Point, to: Point, by: f64, stroke: Stroke) {
        let (ax, ay, bx, by_) = (num(from.0), num(from.1), num(to.0), num(to.1));
        let d = format!(
            "M{ax} {ay}C{} {} {} {} {bx} {by_}",
            num(from.0 + by),
            num(from.1 + (to.1 - from.1) / 3.0),
            num(to.0 - by),
            num(from.1 + (to.1 - from.1) * 2.0 / 3.0),
        );
        self.push(&format!("<path d=\"{d}\" {}/>\n", stroke.attributes()));
    }

    pub fn area(&mut self, points: &[Point], tint: Tint) {
        if points.len() > 2 {
            self.push(&format!("<path d=\"{}\" {}/>\n", way(points, true), tint.attributes()));
        }
    }

    /// Many areas as one mark, so that no seam shows between neighbours.
    pub fn areas(&mut self, areas: &[Vec<Point>], tint: Tint) {
        let d: String = areas.iter().filter(|area| area.len() > 2).map(|area| way(area, true)).collect();
        if !d.is_empty() {
            self.push(&format!("<path d=\"{d}\" {}/>\n", tint.attributes()));
        }
    }

    pub fn patch(&mut self, patch: &Patch, tint: Tint) {
        self.area(&[(patch.left, patch.top), (patch.right, patch.top), (patch.right, patch.bottom), (patch.left, patch.bottom)], tint);
    }

    pub fn ring(&mut self, centre: Point, radius: f64, stroke: Stroke) {
        self.push(&format!("<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {}/>\n", num(centre.0), num(centre.1), num(radius), stroke.attributes()));
    }

    pub fn dot(&mut self, centre: Point, radius: f64, tint: Tint) {
        self.push(&format!("<circle cx=\"{}\" cy=\"{}\" r=\"{}\" {}/>\n", num(centre.0), num(centre.1), num(radius), tint.attributes()));
    }

    /// A slender filled arrow with its tip at `tip`, pointing along (right, down) = `to`, a unit step along one axis.
    pub fn arrow(&mut self, tip: Point, to: (f64, f64)) {
        let (length, half) = (8.0, 1.7);
        let back = (tip.0 - to.0 * length, tip.1 - to.1 * length);
        self.area(&[tip, (back.0 - to.1 * half, back.1 + to.0 * half), (back.0 + to.1 * half, back.1 - to.0 * half)], Tint::Ink);
    }

    pub fn text(&mut self, x: f64, y: f64, held: Held, letters: Letters, text: &str) {
        let anchor = match held {
            Held::Left => "start",
            Held::Middle => "middle",
            Held::Right => "end",
        };
        self.push(&format!(
            "<text x=\"{}\" y=\"{}\" text-anchor=\"{anchor}\" {}>{}</text>\n",
            num(x),
            num(y),
            letters.attributes(),
            escaped(text)
        ));
    }

    /// A text turned a quarter, to be read from the right, with its base line through (x, y).
    pub fn text_up(&mut self, x: f64, y: f64, held: Held, letters: Letters, text: &str) {
        let anchor = match held {
            Held::Left => "start",
            Held::Middle => "middle",
            Held::Right => "end",
        };
        let (x, y) = (num(x), num(y));
        self.push(&format!(
            "<text x=\"{x}\" y=\"{y}\" transform=\"rotate(-90 {x} {y})\" text-anchor=\"{anchor}\" {}>{}</text>\n",
            letters.attributes(),
            escaped(text)
        ));
    }

    /// The filled triangle of a datum: its base at `tip`, along the way `to` that its leader comes from.
    pub fn foot(&mut self, tip: Point, to: (f64, f64)) {
        let (length, half) = (9.0, 5.0);
        let top = (tip.0 - to.0 * length, tip.1 - to.1 * length);
        self.area(&[top, (tip.0 - to.1 * half, tip.1 + to.0 * half), (tip.0 + to.1 * half, tip.1 - to.0 * half)], Tint::Ink);
    }

    /// A text on a patch of paper, so that it can be read on a hatch.
    pub fn label(&mut self, x: f64, y: f64, held: Held, letters: Letters, text: &str) {
        self.patch(&Patch::of_text(x, y, held, letters, text).grown(2.0), Tint::Paper);
        self.text(x, y, held, letters, text);
    }

    fn push(&mut self, mark: &str) {
        self.body.push_str(mark);
    }

    /// The finished drawing.
    pub fn finish(self, width: f64, height: f64, title: &str, description: &str, table: Grid) -> Drawing {
        self.finish_sized((width, height), (&num(width), &num(height)), title, description, table)
    }

    /// The finished drawing as a sheet of paper of so many millimetres.
    pub fn finish_sheet(self, units: (f64, f64), mm: (f64, f64), title: &str, description: &str, table: Grid) -> Drawing {
        let (wide, high) = (format!("{}mm", num(mm.0)), format!("{}mm", num(mm.1)));
        self.finish_sized(units, (&wide, &high), title, description, table)
    }

    fn finish_sized(self, (width, height): (f64, f64), (wide, high): (&str, &str), title: &str, description: &str, table: Grid) -> Drawing {
        let (w, h) = (num(width), num(height));
        let svg = format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" class=\"bw\" role=\"img\" viewBox=\"0 0 {w} {h}\" width=\"{wide}\" height=\"{high}\" \
             font-family=\"DejaVu Sans Mono, ui-monospace, monospace\">\n<title>{}</title>\n<desc>{}</desc>\n{}</svg>\n",
            escaped(title),
            escaped(description),
            self.body
        );
        Drawing { svg, width, height, title: title.into(), description: description.into(), table, times: None }
    }
}

fn way(points: &[Point], closed: bool) -> String {
    let mut d = String::new();
    for (index, (x, y)) in points.iter().enumerate() {
        d.push(if index == 0 { 'M' } else { 'L' });
        d.push_str(&num(*x));
        d.push(' ');
        d.push_str(&num(*y));
    }
    if closed {
        d.push('Z');
    }
    d
}

/// A coordinate to hundredths, without idle zeros; what is no number stands at the origin.
fn num(x: f64) -> String {
    if !x.is_finite() {
        return "0".into();
    }
    let text = format!("{:.2}", x.clamp(-1e6, 1e6));
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" { "0".into() } else { text.into() }
}

/// Text as XML holds it: markup escaped, control characters (which XML forbids) left out.
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for letter in text.chars() {
        match letter {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            '\t' | '\n' | '\r' => out.push(' '),
            _ if letter.is_control() || matches!(letter, '\u{FFFE}' | '\u{FFFF}') => {}
            _ => out.push(letter),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_person_typed_is_never_markup() {
        assert_eq!(escaped("<b> & \"x\"\u{0}\n'"), "&lt;b&gt; &amp; &quot;x&quot; &#39;");
    }

    #[test]
    fn a_coordinate_that_is_no_number_does_not_reach_the_drawing() {
        assert_eq!((num(f64::NAN), num(-0.001), num(12.50)), ("0".into(), "0".into(), "12.5".into()));
    }

    #[test]
    fn a_word_longer_than_its_line_is_broken_and_nothing_is_lost() {
        let lines = Letters::Plain.wrap("a extraordinarilylongword b", 60.0);
        assert!(lines.iter().all(|line| Letters::Plain.width(line) <= 60.0), "{lines:?}");
        assert_eq!(lines.concat().replace(' ', ""), "aextraordinarilylongwordb");
    }
}
