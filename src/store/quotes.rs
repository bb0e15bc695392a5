//! Quotes.
