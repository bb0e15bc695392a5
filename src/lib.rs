//! Rigbill: take-offs and priced quotes for rigging and rewiring small boats, as an HTTP service.
//!
//! Imports go one way: `http` → `service` → `store`, `outbound`, `documents` and `calc`; `store` and `outbound` → `calc`;
//! `calc` → nothing but itself. A test holds that direction.

pub mod app;
pub mod cli;
pub mod clock;
pub mod config;
pub mod http;
pub mod outbound;
pub mod service;
pub mod store;
pub mod telemetry;

pub use {calc, documents};

/// A document is thousands of small texts and lists, made and dropped again; the allocator of the C library takes twice
/// the time for them.
#[global_allocator]
static ALLOCATOR: mimalloc::MiMalloc = mimalloc::MiMalloc;
