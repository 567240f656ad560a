//! Makes the JavaScript that loads the browser app, from its WebAssembly. A program of its own: its libraries are slow to build, and only
//! `cargo serve` and the browser tests need them.
//!
//! `glue FROM.wasm TO_FOLDER` writes `app.js` and `app_bg.wasm` into the folder.

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
        .and_then(|bindgen| bindgen.generate(to));
    match made {
        Ok(()) => ExitCode::SUCCESS,
        Err(fault) => {
            eprintln!("the glue could not be made: {fault:#}");
            ExitCode::FAILURE
        }
    }
}
