//! The published tables and their rules; each figure with its source.

pub mod table;
