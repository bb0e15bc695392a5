//! The tables, one file each. Nothing outside `store` sees them.

pub mod api_keys;
pub mod choices;
pub mod counters;
pub mod documents;
pub mod events;
pub mod held;
pub mod idempotency;
pub mod import_rows;
pub mod imports;
pub mod item_history;
pub mod items;
pub mod moves;
pub mod offcuts;
pub mod prices;
pub mod quote_links;
pub mod quotes;
pub mod reservations;
pub mod shop_documents;
pub mod stock;
pub mod webhook_attempts;
pub mod webhook_deliveries;
pub mod webhooks;
