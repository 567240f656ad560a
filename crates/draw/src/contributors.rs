//! What decides a result: a bar for each input's share of its doubt, largest first, and what each remedy would buy.

use calc::shown;
use serde_json::Value;

use job::sheet::Grid;

use crate::pen::{Held, Letters, Patch, Pen, Stroke, Tint};
use crate::place::{paragraph, refused};
use crate::{Drawing, Setting};

/// Bars that are drawn one by one; the rest stand together in the last.
const MOST: usize = 8;

/// One bar.
struct Share {
    words: String,
    share: f64,
}

/// What one remedy would do to the chance.
struct Remedy {
    name: String,
    chance: f64,
}

/// Draws the contributors to `output` and the remedies of a `fit-chance`.
///
/// request: for the number of draws, which limits what a chance may claim; answer: `contributions.OUTPUT`, `chance_all`, `remedies`;
/// words: how a person calls an input.
pub fn contributors(request: &Value, answer: &Value, output: &str, words: &dyn Fn(&str) -> String, setting: &Setting) -> Drawing {
    let title = format!("What decides {}", output_words(output));
    let shares = shares(answer, output, words);
    if shares.is_empty() {
        return refused(setting.width(), &title, "The answer names no contributors to it.");
    }
    let draws = request.get("samples").and_then(Value::as_u64).unwrap_or(10_000);
    let now = answer.get("chance_all").and_then(Value::as_f64).filter(|chance| (0.0..=1.0).contains(chance));
    let remedies = remedies(answer);
    let mut pen = Pen::new();
    let mut y = bars(&mut pen, setting, &title, &shares);
    if let Some(now) = now.filter(|_| !remedies.is_empty()) {
        y = bought(&mut pen, setting, y + 14.0, now, &remedies, draws);
    }
    let told: Vec<String> = shares.iter().map(|share| format!("{} {}", share.words, shown::share(share.share))).collect();
    let then: Vec<String> = remedies.iter().map(|remedy| format!("{}: {}", remedy.name, shown::chance(remedy.chance, draws))).collect();
    let chance = now.map(|now| format!(" The chance that everything holds is {}.", shown::chance(now, draws))).unwrap_or_default();
    let bought = if then.is_empty() { String::new() } else { format!(" It would become, with each remedy: {}.", then.join("; ")) };
    let description = format!("Shares of the doubt, largest first: {}.{chance}{bought}", told.join(", "));
    pen.finish(setting.width(), y, &title, &description, table(&title, &shares, &remedies, draws))
}

/// An output as a person calls it.
pub fn output_words(output: &str) -> String {
    match output {
        "interference_um" => "the interference at 20 °C",
        "cold_interference_um" => "the interference where it holds least",
        "working_interference_um" => "the interference where it is pressed most",
        "pressure_MPa" => "the pressure at 20 °C",
        "cold_pressure_MPa" => "the pressure where it holds least",
        "working_pressure_MPa" => "the pressure where it is pressed most",
        "close_in_um" => "the close-in of the bore",
        "fitted_bore_mm" => "the fitted bore",
        "clearance_um" => "the clearance at 20 °C",
        "working_clearance_um" => "the running clearance",
        other => return other.replace('_', " "),
    }
    .into()
}

fn shares(answer: &Value, output: &str, words: &dyn Fn(&str) -> String) -> Vec<Share> {
    let rows = answer.get("contributions").and_then(|all| all.get(output)).and_then(Value::as_array);
    let mut all: Vec<Share> = rows
        .into_iter()
        .flatten()
        .filter_map(|row| {
            let share = row.get("share")?.as_f64()?.clamp(0.0, 1.0);
            Some(Share { words: words(row.get("input")?.as_str()?), share })
        })
        .collect();
    // A stable order: `calc` gives the largest first, and equal ones stay as they came.
    all.sort_by(|a, b| b.share.total_cmp(&a.share));
    let mut shown: Vec<Share> = Vec::new();
    let (mut rest, mut count) = (0.0, 0_u32);
    for share in all {
        if shown.len() < MOST && (share.share >= 0.005 || shown.is_empty()) {
            shown.push(share);
        } else {
            rest += share.share;
            count += 1;
        }
    }
    if count > 0 {
        shown.push(Share { words: format!("{count} others together"), share: rest });
    }
    shown
}

fn remedies(answer: &Value) -> Vec<Remedy> {
    let rows = answer.get("remedies").and_then(Value::as_array);
    rows.into_iter()
        .flatten()
        .filter_map(|row| {
            let chance = row.get("chance_all")?.as_f64().filter(|chance| (0.0..=1.0).contains(chance))?;
            Some(Remedy { name: row.get("name")?.as_str()?.to_owned(), chance })
        })
        .collect()
}

/// Where words end and bars begin.
struct Columns {
    narrow: bool,
    words: f64,
    from: f64,
    to: f64,
}

impl Columns {
    fn of(setting: &Setting, figure: f64) -> Self {
        let width = setting.width();
        let narrow = setting.narrow();
        let from = if narrow { 12.0 } else { (width * 0.46).min(380.0) };
        Self { narrow, words: if narrow { width - 24.0 } else { from - 26.0 }, from, to: width - 14.0 - figure }
    }

    /// Writes the words of a row; says where its bar has its middle and where the next row begins.
    fn row(&self, pen: &mut Pen, y: f64, words: &str) -> (f64, f64) {
        let lines = Letters::Plain.wrap(words, self.words);
        let count = lines.len() as f64;
        for (index, line) in lines.iter().enumerate() {
            let base = y + 12.0 + 15.0 * index as f64;
            match self.narrow {
                true => pen.text(12.0, base, Held::Left, Letters::Plain, line),
                false => pen.text(self.from - 10.0, base, Held::Right, Letters::Plain, line),
            }
        }
        if self.narrow { (y + 15.0 * count + 9.0, y + 15.0 * count + 24.0) } else { (y + 7.5 * count + 1.0, y + 15.0 * count + 8.0) }
    }
}

fn bars(pen: &mut Pen, setting: &Setting, title: &str, shares: &[Share]) -> f64 {
    let columns = Columns::of(setting, Letters::Plain.width("under 1 %") + 8.0);
    let mut y = paragraph(pen, 12.0, 18.0, setting.width() - 24.0, Letters::Strong, &format!("{title}: share of its doubt"));
    y -= 6.0;
    let top = y + 2.0;
    let largest = shares.iter().fold(0.0_f64, |largest, share| largest.max(share.share)).max(1e-6);
    for share in shares {
        let (middle, next) = columns.row(pen, y, &share.words);
        let end = columns.from + (columns.to - columns.from) * share.share / largest;
        pen.patch(&Patch { left: columns.from, top: middle - 5.0, right: end.max(columns.from + 0.8), bottom: middle + 5.0 }, Tint::Ink);
        let figure = if share.share < 0.005 { "under 1 %".into() } else { shown::share(share.share) };
        pen.text(end + 7.0, middle + 4.0, Held::Left, Letters::Plain, &figure);
        y = next;
    }
    if !columns.narrow {
        pen.line((columns.from, top), (columns.from, y - 2.0), Stroke::Thin);
    }
    y + 4.0
}

/// Remedies on an axis of the chance from 0 to 100 %, each from where it stands now to where it would stand.
fn bought(pen: &mut Pen, setting: &Setting, y: f64, now: f64, remedies: &[Remedy], draws: u64) -> f64 {
    let columns = Columns::of(setting, Letters::Plain.width("over 99.9 %") + 10.0);
    let heading = format!("What each remedy would buy: chance that everything holds, now {}", shown::chance(now, draws));
    let mut y = paragraph(pen, 12.0, y + 6.0, setting.width() - 24.0, Letters::Strong, &heading) - 6.0;
    let at = |chance: f64| columns.from + (columns.to - columns.from) * chance;
    let top = y + 2.0;
    let mut rows = Vec::new();
    for remedy in remedies {
        let (middle, next) = columns.row(pen, y, &remedy.name);
        rows.push((middle, remedy.chance));
        y = next;
    }
    if !columns.narrow {
        pen.line((at(now), top), (at(now), y), Stroke::Dashed);
    }
    for (middle, chance) in rows {
        pen.line((at(0.0), middle), (at(1.0), middle), Stroke::Rule);
        let (low, high) = if chance < now { (chance, now) } else { (now, chance) };
        pen.patch(&Patch { left: at(low), top: middle - 3.0, right: at(high).max(at(low) + 0.8), bottom: middle + 3.0 }, Tint::Ink);
        pen.ring((at(now), middle), 3.0, Stroke::Thin);
        pen.dot((at(chance), middle), 4.2, Tint::Ink);
        pen.text(at(1.0) + 9.0, middle + 4.0, Held::Left, Letters::Plain, &shown::chance(chance, draws));
    }
    y += 4.0;
    pen.line((at(0.0), y), (at(1.0), y), Stroke::Thin);
    for (chance, text) in [(0.0, "0"), (0.5, "50"), (1.0, "100 %")] {
        pen.line((at(chance), y), (at(chance), y + 4.0), Stroke::Thin);
        let held = if chance == 0.0 && columns.narrow { Held::Left } else { Held::Middle };
        pen.text(at(chance), y + 16.0, held, Letters::Small, text);
    }
    y + 24.0
}

fn table(title: &str, shares: &[Share], remedies: &[Remedy], draws: u64) -> Grid {
    let share_rows = shares.iter().map(|share| vec![share.words.clone(), shown::share(share.share)]);
    let remedy_rows = remedies.iter().map(|remedy| vec![format!("chance with: {}", remedy.name), shown::chance(remedy.chance, draws)]);
    Grid {
        title: title.into(),
        columns: vec!["from".into(), "share of the doubt, or chance".into()],
        figures: vec![false, true],
        rows: share_rows.chain(remedy_rows).collect(),
    }
}
