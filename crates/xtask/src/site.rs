//! The browser app as files: built for WebAssembly, its glue, its page and style, and the list that the service worker keeps.
//!
//! 1. Which tool chain: rustup's target where it is there or can be added; else Debian's `rustc-web`, which brings the sources of the
//!    standard library. The two compilers have folders of their own, since they would evict each other's work.
//! 2. The files go to `target/site`, from which the program takes them in.

use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::Instant;

use crate::cargo::{cargo, root, target};

const TARGET: &str = "wasm32-unknown-unknown";
/// Packages of Debian that build for the browser without rustup's target.
const DEBIAN: [&str; 4] = ["rustc-web", "cargo-web", "rust-web-src", "lld"];
/// Files of the page, beside the app and its glue.
const PAGE: [&str; 7] = ["index.html", "start.js", "worker.js", "style.css", "icon.svg", "manifest.webmanifest", "sw.js"];

/// Makes the site; gives its folder.
pub fn make() -> Result<PathBuf, String> {
    let start = Instant::now();
    let app = build(&chain()?)?;
    let site = root().join("target/site");
    std::fs::create_dir_all(&site).map_err(|fault| format!("{} can't be made: {fault}", site.display()))?;
    if !is_of(&app, &site) {
        glue(&app, &site)?;
        note(&app, &site)?;
    }
    page(&site)?;
    println!("app: ready in {} ({} s)", site.display(), start.elapsed().as_secs());
    Ok(site)
}

/// What builds for the browser.
enum Chain {
    /// The compiler that builds everything else, with rustup's target.
    Rustup,
    /// Debian's compiler with its own standard library.
    Debian,
}

fn chain() -> Result<Chain, String> {
    if has_target() {
        return Ok(Chain::Rustup);
    }
    if quiet("rustup", &["--version"]) {
        println!("app: adding the target {TARGET} (rustup target add {TARGET})");
        if loud("rustup", &["target", "add", TARGET]) && has_target() {
            return Ok(Chain::Rustup);
        }
    }
    if !has_debian() {
        println!("app: installing {} (Debian's packages)", DEBIAN.join(" "));
        let _ = loud("apt-get", &["update", "-qq"]);
        let install: Vec<&str> = ["install", "-y", "-qq", "--no-install-recommends"].into_iter().chain(DEBIAN).collect();
        let _ = loud("apt-get", &install);
    }
    if has_debian() {
        return Ok(Chain::Debian);
    }
    Err(format!(
        "the app needs a compiler for the browser: rustup target add {TARGET}, or on Debian apt-get install {}; then run this again",
        DEBIAN.join(" ")
    ))
}

fn has_target() -> bool {
    let sysroot = Command::new("rustc").args(["--print", "sysroot"]).output();
    let sysroot = sysroot.ok().map(|output| String::from_utf8_lossy(&output.stdout).trim().to_owned()).unwrap_or_default();
    !sysroot.is_empty() && Path::new(&sysroot).join("lib/rustlib").join(TARGET).is_dir()
}

fn has_debian() -> bool {
    Path::new("/usr/bin/cargo").exists()
        && Path::new("/usr/bin/rustc").exists()
        && quiet("dpkg", &["-s", "rust-web-src"])
        && quiet("wasm-ld", &["--version"])
}

fn quiet(program: &str, arguments: &[&str]) -> bool {
    Command::new(program).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok_and(|status| status.success())
}

fn loud(program: &str, arguments: &[&str]) -> bool {
    Command::new(program).args(arguments).status().is_ok_and(|status| status.success())
}

/// Builds the app; gives its WebAssembly.
fn build(chain: &Chain) -> Result<PathBuf, String> {
    println!("app: building for the browser (the first time takes some minutes)");
    let (folder, mut command) = match chain {
        Chain::Rustup => (target().join("wasm"), Command::new(cargo())),
        Chain::Debian => {
            let mut command = Command::new("/usr/bin/cargo");
            for name in ["RUSTUP_TOOLCHAIN", "CARGO", "RUSTDOC", "RUSTC_WRAPPER", "RUSTC_WORKSPACE_WRAPPER", "RUSTFLAGS"] {
                command.env_remove(name);
            }
            command.env("RUSTC", "/usr/bin/rustc").env("RUSTC_BOOTSTRAP", "1").env("CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER", "wasm-ld");
            (target().join("wasm-debian"), command)
        }
    };
    command.current_dir(root()).env("CARGO_TARGET_DIR", &folder);
    command.args(["build", "--profile", "wasm", "--target", TARGET, "--package", "web"]);
    if matches!(chain, Chain::Debian) {
        command.arg("-Zbuild-std=std,panic_abort");
    }
    let status = command.status().map_err(|fault| format!("cargo could not be started: {fault}"))?;
    if !status.success() {
        return Err("the app could not be built; the reason stands above".into());
    }
    Ok(folder.join(TARGET).join("wasm/web.wasm"))
}

/// The hash of the app that the site was last made of stands beside the site: what has not changed is not made again, or the program would
/// take its files in anew at each start.
fn is_of(app: &Path, site: &Path) -> bool {
    let there =
        ["app.js", "app_bg.wasm", "app.js.gz", "app_bg.wasm.gz", "app.js.br", "app_bg.wasm.br"].iter().all(|file| site.join(file).exists());
    there && made_of(app).is_ok_and(|hash| std::fs::read_to_string(beside(site)).is_ok_and(|noted| noted == hash))
}

fn note(app: &Path, site: &Path) -> Result<(), String> {
    let beside = beside(site);
    std::fs::write(&beside, made_of(app)?).map_err(|fault| format!("{} can't be written: {fault}", beside.display()))
}

fn beside(site: &Path) -> PathBuf {
    site.with_extension("made-of")
}

fn made_of(app: &Path) -> Result<String, String> {
    let mut hash = DefaultHasher::new();
    read(app)?.hash(&mut hash);
    Ok(format!("{:016x}", hash.finish()))
}

/// The JavaScript around the app. Its maker is a program of its own, built when it is first needed.
fn glue(app: &Path, site: &Path) -> Result<(), String> {
    println!("app: making its glue");
    // As one of the whole house: alone its libraries would have other features, and those that it shares be built twice.
    let mut build = Command::new(cargo());
    build.current_dir(root()).args(["build", "--release", "--workspace", "--bin", "glue"]);
    let status = build.status().map_err(|fault| format!("cargo could not be started: {fault}"))?;
    let made =
        status.success() && Command::new(target().join("release/glue")).arg(app).arg(site).status().is_ok_and(|status| status.success());
    if made { Ok(()) } else { Err("the glue could not be made; the reason stands above".into()) }
}

/// Copies the page, and writes into the service worker which files it keeps, under a name that changes with any of them.
fn page(site: &Path) -> Result<(), String> {
    let from = root().join("crates/web/site");
    let mut hash = DefaultHasher::new();
    let mut kept = vec!["/".to_owned(), "/app.js".into(), "/app_bg.wasm".into()];
    for file in ["app.js", "app_bg.wasm"] {
        read(&site.join(file))?.hash(&mut hash);
    }
    for file in PAGE {
        let mut bytes = read(&from.join(file))?;
        bytes.hash(&mut hash);
        if file == "sw.js" {
            let files = kept.iter().map(|file| format!("'{file}'")).collect::<Vec<_>>().join(", ");
            let text = String::from_utf8_lossy(&bytes).replace("app-HASH", &format!("app-{:016x}", hash.finish()));
            bytes = text.replace("const FILES = []", &format!("const FILES = [{files}]")).into_bytes();
        } else if file != "index.html" {
            kept.push(format!("/{file}"));
        }
        let there = site.join(file);
        if std::fs::read(&there).is_ok_and(|old| old == bytes) {
            continue;
        }
        std::fs::write(there, bytes).map_err(|fault| format!("{file} can't be written: {fault}"))?;
    }
    Ok(())
}

fn read(path: &Path) -> Result<Vec<u8>, String> {
    std::fs::read(path).map_err(|fault| format!("{} can't be read: {fault}", path.display()))
}
