//! The real service on a free port, with its own database and a fixed clock, driven over HTTP as users do.

mod access;
mod answers;
mod app;
mod bodies;
mod description;
mod imports;
mod layouts;
mod leaks;
mod life;
mod numbers;
mod offenders;
mod once;
mod outages;
mod own_postgres;
mod pages;
mod preconditions;
mod principals;
mod problems;
mod process;
mod program;
mod quotes;
mod site;
mod telemetry;
mod versions;
mod walks;
mod wire;
