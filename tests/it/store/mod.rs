//! The store and the service, on both databases.

mod concurrency;
pub mod events;
mod imports;
mod items;
mod keys;
mod levels;
mod life;
mod once;
mod options;
mod packages;
mod quotes;
mod revisions;
mod schema;
mod settings;
pub mod shop;
pub mod stock;
mod terms;
mod webhooks;
