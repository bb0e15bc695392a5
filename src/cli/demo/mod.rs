//! `rigbill demo`: an invented shop in a fresh database, the service on it, one example sent through its own HTTP
//! interface, and the quote that comes back printed as a page.

pub mod client;
mod document;
pub mod examples;
mod need;
pub mod page;
mod run;
pub mod shop;
mod text_table;

pub use run::{DemoOptions, run};
pub use text_table::PAGE_WIDTH;
