//! Everything that must hold before a change is worth reading, in the order in which it fails cheapest.
//!
//! The libraries are built once, with optimisation, for the program, its tests, clippy and the documentation alike: the typesetter
//! alone takes most of the whole build, so a second profile would double the wait.

use std::process::{Command, Stdio};
use std::time::Instant;

/// Says that the tests in the browser are left out: only when a person asks for it.
pub const WITHOUT_BROWSER: &str = "--without-browser";

/// Runs every check; stops at the first that fails.
pub fn run(with_browser: bool) -> Result<(), String> {
    let start = Instant::now();
    tools()?;
    if with_browser {
        browser_tools()?;
    }
    step("format", &["fmt", "--all", "--check"], &[])?;
    crate::tidy::run()?;
    step("clippy", &["clippy", "--quiet", "--release", "--workspace", "--all-targets", "--", "-D", "warnings"], &[])?;
    if with_browser {
        // Before the program, which takes the app in.
        crate::site::make()?;
    }
    // The tests of the command line run the real binary.
    step("program", &["build", "--quiet", "--release", "--workspace"], &[])?;
    if runs(&["nextest", "--version"]) {
        step("tests and cases", &["nextest", "run", "--release", "--workspace", "--no-fail-fast"], &[])?;
        step("examples in the documentation", &["test", "--quiet", "--release", "--workspace", "--doc"], &[])?;
    } else {
        step("tests and cases", &["test", "--release", "--workspace", "--no-fail-fast"], &[])?;
    }
    step("documentation", &["doc", "--quiet", "--release", "--workspace", "--no-deps"], &[("RUSTDOCFLAGS", "-D warnings")])?;
    if with_browser {
        browser()?;
        println!("proof: everything holds ({} s)", start.elapsed().as_secs());
    } else {
        println!("proof: everything else holds ({} s); the tests in the browser were left out as asked", start.elapsed().as_secs());
    }
    Ok(())
}

/// The app in a real browser: its libraries as the lock file has them, the site as it is built, clicks and keys.
fn browser() -> Result<(), String> {
    println!("proof: the app in a browser");
    let start = Instant::now();
    let tests = crate::cargo::root().join("tests/browser");
    let run = |program: &str, arguments: &[&str]| {
        let mut command = Command::new(program);
        command.args(arguments).current_dir(&tests).env("PROGRAM", crate::cargo::target().join("release/bushwright"));
        let status = command.status();
        status
            .is_ok_and(|status| status.success())
            .then_some(())
            .ok_or_else(|| format!("proof: {program} {} failed in tests/browser", arguments.join(" ")))
    };
    run("npm", &["ci", "--no-audit", "--no-fund"])?;
    run("node", &["run.mjs"])?;
    run("node", &["shop.mjs"])?;
    println!("proof: the app in a browser holds ({} s); pictures in target/pictures", start.elapsed().as_secs());
    Ok(())
}

/// Debian's browser, and what drives it.
fn browser_tools() -> Result<(), String> {
    let runs =
        |program: &'static str| move || Command::new(program).arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok();
    installed(&runs("chromium"), "chromium", "chromium")?;
    installed(&runs("node"), "node", "nodejs")?;
    installed(&runs("npm"), "npm", "npm")
}

fn cargo() -> String {
    std::env::var("CARGO").unwrap_or_else(|_| "cargo".into())
}

fn runs(arguments: &[&str]) -> bool {
    Command::new(cargo()).args(arguments).stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok_and(|status| status.success())
}

fn step(name: &str, arguments: &[&str], setting: &[(&str, &str)]) -> Result<(), String> {
    println!("proof: {name}");
    let start = Instant::now();
    let mut command = Command::new(cargo());
    // A snapshot that differs is a failure, never a file that is left lying about.
    command.args(arguments).envs(setting.iter().copied()).env("INSTA_UPDATE", "no").env_remove("RUSTC_WRAPPER");
    let status = command.status().map_err(|fault| format!("cargo could not be started for {name}: {fault}"))?;
    if !status.success() {
        return Err(format!("proof: {name} failed (cargo {})", arguments.join(" ")));
    }
    println!("proof: {name} holds ({} s)", start.elapsed().as_secs());
    Ok(())
}

/// Kills, failing disks, turned bytes and devices apart, for long: some minutes. What else is given goes on (a seed, `--short`).
pub fn faults(arguments: impl Iterator<Item = String>) -> Result<(), String> {
    database()?;
    let mut all: Vec<String> = ["run", "--quiet", "--release", "--package", "faults", "--", "run"].map(str::to_owned).to_vec();
    all.extend(arguments);
    step("faults", &all.iter().map(String::as_str).collect::<Vec<_>>(), &[])
}

/// The tests read the text of finished pages with poppler's pdftotext, an independent reader, and start a PostgreSQL of their own.
fn tools() -> Result<(), String> {
    let there = || Command::new("pdftotext").arg("-v").stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok();
    installed(&there, "pdftotext", "poppler-utils")?;
    database()
}

/// The server programs of PostgreSQL.
fn database() -> Result<(), String> {
    let there = || {
        let versions = std::fs::read_dir("/usr/lib/postgresql").into_iter().flatten().flatten();
        let on_the_path = Command::new("initdb").arg("--version").stdout(Stdio::null()).stderr(Stdio::null()).status().is_ok();
        on_the_path || versions.into_iter().any(|version| version.path().join("bin/initdb").exists())
    };
    installed(&there, "initdb", "postgresql")
}

/// Installs `package` where `program` is not there yet.
fn installed(there: &dyn Fn() -> bool, program: &str, package: &str) -> Result<(), String> {
    if there() {
        return Ok(());
    }
    println!("proof: installing {package} ({program}), which the tests need");
    let quiet = |program: &str, arguments: &[&str]| Command::new(program).args(arguments).stdout(Stdio::null()).status();
    let _ = quiet("apt-get", &["update", "-qq"]);
    let _ = quiet("apt-get", &["install", "-y", "-qq", package]);
    if there() { Ok(()) } else { Err(format!("{program} is missing; install {package} (Debian: apt-get install {package})")) }
}
