//! The store and the service, on both databases.

mod concurrency;
mod imports;
mod items;
mod packages;
mod quotes;
mod schema;
mod settings;
mod shop;
