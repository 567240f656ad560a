//! What the setter of a document may see: the template, the data, the drawings, the fonts of the program. Nothing else exists for it:
//! no disk, no network, no clock.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult};
use typst::foundations::{Bytes, Datetime, Duration};
use typst::syntax::{FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Library, LibraryExt, World};
use typst_kit::fonts::{FontStore, embedded};

use crate::Unset;

/// The fonts that stand in the program.
pub(crate) static FONTS: LazyLock<FontStore> = LazyLock::new(|| {
    let mut store = FontStore::new();
    store.extend(embedded());
    store
});

static LIBRARY: LazyLock<LazyHash<Library>> = LazyLock::new(|| LazyHash::new(<Library as LibraryExt>::default()));

/// The files that were handed in.
pub(crate) struct Handed {
    template: Source,
    files: Vec<(FileId, Bytes)>,
}

impl Handed {
    /// The template with its data as `/sheet.json` and its drawings as `/0.svg`, `/1.svg` ..
    pub fn new(template: &str, json: &str, drawings: Vec<String>) -> Result<Self, Unset> {
        let mut files = vec![(place("sheet.json")?, Bytes::new(json.as_bytes().to_vec()))];
        for (index, svg) in drawings.into_iter().enumerate() {
            files.push((place(&format!("{index}.svg"))?, Bytes::new(svg.into_bytes())));
        }
        Ok(Self { template: Source::new(place("main.typ")?, template.into()), files })
    }
}

fn place(name: &str) -> Result<FileId, Unset> {
    let path = VirtualPath::new(name).map_err(|fault| Unset(format!("{name}: {fault:?}")))?;
    Ok(RootedPath::new(VirtualRoot::Project, path).intern())
}

fn missing(id: FileId) -> FileError {
    FileError::NotFound(id.vpath().get_without_slash().into())
}

impl World for Handed {
    fn library(&self) -> &LazyHash<Library> {
        &LIBRARY
    }

    fn book(&self) -> &LazyHash<FontBook> {
        FONTS.book()
    }

    fn main(&self) -> FileId {
        self.template.id()
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        if id == self.template.id() { Ok(self.template.clone()) } else { Err(missing(id)) }
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        let found = self.files.iter().find(|(known, _)| *known == id);
        found.map(|(_, bytes)| bytes.clone()).ok_or_else(|| missing(id))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.font(index)
    }

    fn today(&self, _: Option<Duration>) -> Option<Datetime> {
        None
    }
}
