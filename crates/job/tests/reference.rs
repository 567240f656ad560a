//! The page of every key in the handbook is what the table of facts says.
#![allow(clippy::unwrap_used, reason = "a test stops at the first surprise")]

#[test]
fn the_page_of_keys_is_that_of_the_table() {
    let page = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/job_file.md");
    let wanted = job::new::reference();
    if std::env::var_os("INSTA_UPDATE").is_some_and(|how| how == "always") {
        std::fs::write(&page, &wanted).unwrap();
    }
    assert_eq!(std::fs::read_to_string(page).unwrap(), wanted, "run the test once with INSTA_UPDATE=always and read what changed");
}
