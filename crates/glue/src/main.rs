//! Makes the JavaScript that loads the browser app, from its WebAssembly. A program of its own: its libraries are slow to build, and only
//! `cargo serve` and the browser tests need them.
//!
//! `glue FROM.wasm TO_FOLDER` writes `app.js` and `app_bg.wasm` into the folder, and each compressed beside itself.

use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

use wasm_bindgen_cli_support::Bindgen;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let (Some(from), Some(to)) = (arguments.next(), arguments.next()) else {
        eprintln!("glue needs two things: the app's WebAssembly and the folder to write to");
        return ExitCode::from(2);
    };
    let made = Bindgen::new()
        .input_path(from)
        .web(true)
        .map(|bindgen| bindgen.typescript(false).remove_name_section(true).remove_producers_section(true).out_name("app"))
        .and_then(|bindgen| bindgen.generate(&to))
        .map_err(|fault| format!("{fault:#}"))
        .and_then(|()| ["app.js", "app_bg.wasm"].into_iter().try_for_each(|file| packed(&Path::new(&to).join(file))));
    match made {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("the glue could not be made: {fault}");
            ExitCode::FAILURE
        }
    }
}

/// Writes the file compressed beside itself, so that no server packs it anew for each browser: brotli for who takes it (a browser over TLS
/// or on loopback), gzip for the others.
fn packed(file: &Path) -> Result<(), String> {
    let said = |fault: std::io::Error| format!("{}: {fault}", file.display());
    let bytes = std::fs::read(file).map_err(said)?;
    let mut gzip = flate2::write::GzEncoder::new(Vec::new(), flate2::Compression::best());
    gzip.write_all(&bytes).map_err(said)?;
    let gzip = gzip.finish().map_err(said)?;
    let mut small = Vec::new();
    let how = brotli::enc::BrotliEncoderParams { quality: 11, lgwin: 24, size_hint: bytes.len(), ..Default::default() };
    brotli::BrotliCompress(&mut bytes.as_slice(), &mut small, &how).map_err(said)?;
    for (end, bytes) in [("gz", &gzip), ("br", &small)] {
        let name = format!("{}.{end}", file.display());
        std::fs::write(&name, bytes).map_err(|fault| format!("{name}: {fault}"))?;
    }
    let name = file.file_name().unwrap_or_default().display();
    println!("app: {name} is {} kB compressed ({} kB as gzip)", small.len() / 1000, gzip.len() / 1000);
    Ok(())
}
