//! Tables that are compiled in as data: comma-separated text with a heading line, fields quoted where they hold a comma.

/// A table: headings and rows of text.
#[derive(Clone, Debug)]
pub struct Table {
    headings: Vec<String>,
    rows: Vec<Vec<String>>,
}

/// One row of a table.
#[derive(Clone, Copy, Debug)]
pub struct Row<'t> {
    headings: &'t [String],
    fields: &'t [String],
}

impl Table {
    /// Reads a whole table. A line that is short is read as far as it goes.
    pub fn read(text: &str) -> Self {
        let mut lines = text.lines().filter(|line| !line.trim().is_empty()).map(fields);
        let headings = lines.next().unwrap_or_default();
        Self { headings, rows: lines.collect() }
    }

    /// Its rows, in the order of the file.
    pub fn rows(&self) -> impl Iterator<Item = Row<'_>> {
        self.rows.iter().map(|fields| Row { headings: &self.headings, fields })
    }
}

impl<'t> Row<'t> {
    /// The field under `heading`; empty where there is none.
    pub fn text(&self, heading: &str) -> &'t str {
        let column = self.headings.iter().position(|name| name == heading);
        column.and_then(|column| self.fields.get(column)).map_or("", String::as_str)
    }

    /// The number under `heading`, where there is one.
    pub fn number(&self, heading: &str) -> Option<f64> {
        self.text(heading).trim().parse().ok()
    }
}

fn fields(line: &str) -> Vec<String> {
    let mut fields = vec![String::new()];
    let mut quoted = false;
    let mut letters = line.chars().peekable();
    while let Some(letter) = letters.next() {
        match letter {
            '"' if quoted && letters.peek() == Some(&'"') => {
                letters.next();
                if let Some(field) = fields.last_mut() {
                    field.push('"');
                }
            }
            '"' => quoted = !quoted,
            ',' if !quoted => fields.push(String::new()),
            _ => {
                if let Some(field) = fields.last_mut() {
                    field.push(letter);
                }
            }
        }
    }
    fields
}
