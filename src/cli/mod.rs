//! The command line: one file for each command.

pub mod demo;
