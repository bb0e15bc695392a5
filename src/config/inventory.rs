//! How the shop's inventory system is reached, and its key.

use std::fmt;
use std::time::Duration;

use super::Reader;

/// A text that nothing shows.
#[derive(Clone, PartialEq, Eq)]
pub struct Hidden(String);

impl Hidden {
    /// From the text.
    pub fn new(text: impl Into<String>) -> Self {
        Hidden(text.into())
    }

    /// The text itself.
    pub fn expose(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Hidden {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Hidden(…)")
    }
}

/// How the shop's inventory system is reached, where that knows what is on the shelf.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InventorySystem {
    /// Its address; it may hold a password.
    pub url: Hidden,
    /// Its key.
    pub key: Option<Hidden>,
    /// Time for one try.
    pub timeout: Duration,
    /// Time for all tries together.
    pub total: Duration,
    /// How long an answer is used again.
    pub kept_for: Duration,
}

impl Reader<'_> {
    /// The inventory system; `Some(None)` when none is set.
    pub(super) fn inventory(&mut self) -> Option<Option<InventorySystem>> {
        let (url, place) = self.text("inventory_url")?;
        let (key, _) = self.text("inventory_key")?;
        let (file, file_place) = self.text("inventory_key_file")?;
        let timeout = self.milliseconds("inventory_timeout_ms", 10, 10_000);
        let total = self.milliseconds("inventory_total_ms", 10, 20_000);
        let kept_for = self.whole("inventory_kept_s", 0, 600).map(Duration::from_secs);
        if url.is_empty() {
            return Some(None);
        }
        // The value itself is not repeated: it may hold a password.
        if !url.starts_with("http://") && !url.starts_with("https://") {
            return self.refuse("inventory_url", &place, "an address such as https://stock.example/rigbill");
        }
        let key = match (key.as_str(), file.as_str()) {
            ("", "") => None,
            ("", file) => match std::fs::read_to_string(file) {
                Ok(text) if !text.trim().is_empty() => Some(Hidden::new(text.trim())),
                Ok(_) => return self.refuse("inventory_key_file", &file_place, "a file that holds the key"),
                Err(error) => {
                    self.faults.push(format!("inventory_key_file (set by {file_place}) cannot be read: {error}"));
                    return None;
                }
            },
            (key, "") => Some(Hidden::new(key)),
            (_, _) => return self.refuse("inventory_key", &file_place, "the key or the file that holds it, not both"),
        };
        let fits = |key: &Hidden| key.expose().bytes().all(|byte| byte.is_ascii_graphic());
        if key.as_ref().is_some_and(|key| !fits(key)) {
            return self.refuse("inventory_key", &file_place, "visible ASCII characters without spaces");
        }
        let url = Hidden::new(url);
        Some(Some(InventorySystem { url, key, timeout: timeout?, total: total?, kept_for: kept_for? }))
    }
}
