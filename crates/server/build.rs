//! The app's files are taken in from `target/site`, where `cargo serve` puts them. A plain build has none: the folder must be there all
//! the same, or the build would be made anew each time.

fn main() {
    // Where it can't be made the server is built without the app, and says so on its first page.
    let _ = std::fs::create_dir_all("../../target/site");
    println!("cargo::rerun-if-changed=../../target/site");
}
