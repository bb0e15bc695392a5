//! Columns that are the same on both databases.

use sea_orm_migration::prelude::*;
use sea_orm_migration::sea_orm::DbBackend;

/// A text column that sorts by bytes on both databases, so that a page ends at the same row whatever the locale of a
/// PostgreSQL database is.
pub fn key(manager: &SchemaManager<'_>, name: &'static str) -> ColumnDef {
    let mut column = ColumnDef::new(Alias::new(name));
    column.text().not_null();
    if manager.get_database_backend() == DbBackend::Postgres {
        column.extra("COLLATE \"C\"");
    }
    column
}

/// Text that is always there.
pub fn text(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).text().not_null().take()
}

/// A whole number, or a scaled one, that is always there.
pub fn whole(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).big_integer().not_null().take()
}

/// Yes or no.
pub fn flag(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).boolean().not_null().take()
}

/// A calendar day.
pub fn day(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).date().not_null().take()
}

/// A moment, to the microsecond.
pub fn moment(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).timestamp_with_time_zone().not_null().take()
}

/// Bytes that are stored as they are.
pub fn bytes(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).blob().not_null().take()
}

/// An identifier.
pub fn id(name: &'static str) -> ColumnDef {
    ColumnDef::new(Alias::new(name)).uuid().not_null().take()
}
