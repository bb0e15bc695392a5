//! The database schema, one step a file.
