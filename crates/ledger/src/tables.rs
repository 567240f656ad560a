//! The tables of both stores, as the steps that make them.

use std::borrow::Cow;

use sqlx::SqlStr;
use sqlx::migrate::{Migration, MigrationType, Migrator};

/// A step: its number, its name, its SQL. One that was released is never changed: stores that ran it keep its checksum.
type Made = (i64, &'static str, &'static str);

/// The steps of a SQLite file.
pub(crate) const SQLITE: &[Made] = &[(1, "ledger", include_str!("../migrations/sqlite/0001_ledger.sql"))];
/// The steps of a PostgreSQL database.
pub(crate) const POSTGRES: &[Made] = &[(1, "ledger", include_str!("../migrations/postgres/0001_ledger.sql"))];

/// Runs the steps that a store lacks.
pub(crate) fn migrator(steps: &[Made]) -> Migrator {
    let step =
        |(number, name, sql): &Made| Migration::new(*number, Cow::Borrowed(*name), MigrationType::Simple, SqlStr::from_static(sql), false);
    Migrator::with_migrations(steps.iter().map(step).collect())
}
