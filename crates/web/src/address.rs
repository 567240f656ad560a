//! Where a person is in the app, as it stands behind the `#` of the address: a place can be kept, shared and gone back to.

use job::sheet::Stage;

/// A place in the app.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum Place {
    /// The shop's jobs, and what an empty shop can start with.
    #[default]
    Start,
    /// A new job.
    NewJob,
    /// The shop's gauges, lathes, presses, people and metals.
    Shop,
    /// Predicted against measured over past jobs.
    LookingBack,
    /// Name, units and theme of the person.
    Me,
    /// The first owner of a new shop, by the code that the server printed.
    Owner(String),
    /// A job: a seat, a stage of it, and whether the stage is seen at arm's length.
    Job {
        /// Under which name the app keeps the job.
        job: String,
        /// The seat; the first when empty.
        seat: String,
        /// The stage; the whole seat when none.
        stage: Option<Stage>,
        /// One thing to do, in giant digits.
        large: bool,
    },
}

impl Place {
    /// Reads what stands behind the `#`. What is no place is the start.
    pub fn read(hash: &str) -> Self {
        let parts: Vec<String> = hash.trim_start_matches('#').trim_matches('/').split('/').map(plain).collect();
        let part = |i: usize| parts.get(i).map(String::as_str).unwrap_or_default();
        match part(0) {
            "new" => Self::NewJob,
            "shop" => Self::Shop,
            "back" => Self::LookingBack,
            "me" => Self::Me,
            "owner" => Self::Owner(part(1).to_owned()),
            "job" if !part(1).is_empty() => Self::Job {
                job: part(1).to_owned(),
                seat: part(2).to_owned(),
                stage: Stage::ALL.into_iter().find(|stage| stage.word() == part(3)),
                large: part(4) == "large",
            },
            _ => Self::Start,
        }
    }

    /// As it stands in the address, with its `#`.
    pub fn written(&self) -> String {
        match self {
            Self::Start => "#/".into(),
            Self::NewJob => "#/new".into(),
            Self::Shop => "#/shop".into(),
            Self::LookingBack => "#/back".into(),
            Self::Me => "#/me".into(),
            Self::Owner(code) => format!("#/owner/{}", coded(code)),
            Self::Job { job, seat, stage, large } => {
                let mut text = format!("#/job/{}/{}", coded(job), coded(seat));
                if let Some(stage) = stage {
                    text.push('/');
                    text.push_str(stage.word());
                    if *large {
                        text.push_str("/large");
                    }
                }
                text
            }
        }
    }

    /// A stage of a seat.
    pub fn stage(job: &str, seat: &str, stage: Stage) -> Self {
        Self::Job { job: job.into(), seat: seat.into(), stage: Some(stage), large: false }
    }
}

/// A paper of a job that the server sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Paper {
    /// What stands on its link.
    pub title: &'static str,
    /// Its file, behind the job.
    file: &'static str,
    /// It can be had for one seat alone.
    of_seat: bool,
}

const fn paper(title: &'static str, file: &'static str, of_seat: bool) -> Paper {
    Paper { title, file, of_seat }
}

/// Every paper, those of the job as a whole last.
pub const PAPERS: [Paper; 7] = [
    paper("Drawing", "papers/drawing.pdf", true),
    paper("Lathe sheet", "papers/lathe-sheet.pdf", true),
    paper("Quote", "papers/quote.pdf", true),
    paper("Job sheet", "sheet.pdf", false),
    paper("Certificate", "papers/certificate.pdf", false),
    paper("Figures, JSON", "papers/results.json", false),
    paper("Figures, CSV", "papers/results.csv", false),
];

impl Paper {
    /// Whether it is asked for where a stage is worked on; where it is released, all are.
    pub fn stands_at(&self, stage: Stage) -> bool {
        match stage {
            Stage::Stock => self.title == "Quote",
            Stage::Turn => matches!(self.title, "Drawing" | "Lathe sheet"),
            Stage::Release => true,
            _ => false,
        }
    }

    /// Where the server has it.
    pub fn href(&self, job: &str, seat: &str) -> String {
        let of = if self.of_seat && !seat.is_empty() { format!("?seat={}", coded(seat)) } else { String::new() };
        format!("/api/jobs/{}/{}{of}", coded(job), self.file)
    }
}

/// A name as a part of an address: what is not a plain letter as its bytes.
fn coded(name: &str) -> String {
    let mut out = String::new();
    for byte in name.bytes() {
        if byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'_' | b'.') {
            out.push(char::from(byte));
        } else {
            out.push_str(&format!("%{byte:02X}"));
        }
    }
    out
}

/// The name that [`coded`] wrote; what is not coded stands for itself.
fn plain(part: &str) -> String {
    let bytes = part.as_bytes();
    let mut out = Vec::with_capacity(bytes.len());
    let mut i = 0;
    while let Some(byte) = bytes.get(i) {
        let code = (*byte == b'%').then(|| part.get(i + 1..i + 3)).flatten().and_then(|code| u8::from_str_radix(code, 16).ok());
        out.push(code.unwrap_or(*byte));
        i += if code.is_some() { 3 } else { 1 };
    }
    String::from_utf8_lossy(&out).into_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_place_is_written_and_read_back() {
        let of = |job: &str, seat: &str, stage, large| Place::Job { job: job.into(), seat: seat.into(), stage, large };
        for place in [
            Place::Start,
            Place::NewJob,
            Place::Shop,
            Place::LookingBack,
            Place::Me,
            Place::Owner("abc-123".into()),
            of("W-2611", "inboard", None, false),
            of("practice W-2611", "gäte/vane 24 %", Some(Stage::Turn), true),
            of("a", "", Some(Stage::Fit), false),
        ] {
            assert_eq!(Place::read(&place.written()), place, "{}", place.written());
        }
    }

    #[test]
    fn what_is_no_place_is_the_start() {
        for hash in ["", "#", "#/", "#/nowhere", "#/job", "#/job//x", "#/%"] {
            assert_eq!(Place::read(hash), Place::Start, "{hash}");
        }
    }

    #[test]
    fn a_paper_is_asked_of_the_server_under_coded_names() {
        let at = |stage| PAPERS.into_iter().filter(move |paper| paper.stands_at(stage)).map(|paper| paper.href("W-26/11", "drive end"));
        assert_eq!(at(Stage::Stock).collect::<Vec<_>>(), ["/api/jobs/W-26%2F11/papers/quote.pdf?seat=drive%20end"]);
        assert_eq!(at(Stage::Turn).count(), 2);
        assert_eq!(at(Stage::Release).next_back().unwrap(), "/api/jobs/W-26%2F11/papers/results.csv");
        assert_eq!(at(Stage::Fit).count(), 0);
    }
}
