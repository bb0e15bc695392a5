//! The database schema, one step a file. A step that has landed is never edited: a change is a new step, and the
//! program before it and after it both run on what it leaves.

use sea_orm_migration::prelude::*;

pub mod columns;
mod m0001_counters;
mod m0002_catalogue;
mod m0003_shop_documents;
mod m0004_quotes;
mod m0005_imports;
mod m0006_api_keys;
mod m0007_idempotency;
mod m0008_principals;
mod m0009_quote_life;
mod m0010_events;
mod m0011_choices;
mod m0012_links;
mod m0013_stock;
mod m0014_orders_and_changes;
mod m0016_webhooks;

/// A step and the note that it was made are one transaction on either database: what kills the program between two
/// statements must not leave a schema that no step fits. By itself SQLite would get none.
const WHOLE: Option<bool> = Some(true);

/// All steps, in order.
#[derive(Debug)]
pub struct Migrator;

impl MigratorTrait for Migrator {
    fn migrations() -> Vec<Box<dyn MigrationTrait>> {
        vec![
            Box::new(m0001_counters::Step),
            Box::new(m0002_catalogue::Step),
            Box::new(m0003_shop_documents::Step),
            Box::new(m0004_quotes::Step),
            Box::new(m0005_imports::Step),
            Box::new(m0006_api_keys::Step),
            Box::new(m0007_idempotency::Step),
            Box::new(m0008_principals::Step),
            Box::new(m0009_quote_life::Step),
            Box::new(m0010_events::Step),
            Box::new(m0011_choices::Step),
            Box::new(m0012_links::Step),
            Box::new(m0013_stock::Step),
            Box::new(m0014_orders_and_changes::Step),
            Box::new(m0016_webhooks::Step),
        ]
    }
}
