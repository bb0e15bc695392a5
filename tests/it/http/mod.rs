//! The real service on a free port, with its own database and a fixed clock, driven over HTTP as users do.

mod answers;
mod app;
mod bodies;
mod description;
mod imports;
mod layouts;
mod once;
mod offenders;
mod outages;
mod own_postgres;
mod pages;
mod preconditions;
mod problems;
mod process;
mod program;
mod quotes;
mod site;
mod telemetry;
mod versions;
mod walks;
mod wire;
