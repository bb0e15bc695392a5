//! The store and the service, on both databases.

mod concurrency;
mod imports;
mod items;
mod keys;
mod once;
mod packages;
mod quotes;
mod schema;
mod settings;
pub mod shop;
