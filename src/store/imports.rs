//! Imports.
