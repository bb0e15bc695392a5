//! The price level of a customer.

use crate::findings::Fault;
use crate::shop::settings::{PriceLevel, Settings};
use crate::units::Name;

/// The level that a request names; a fault, with its pointer from the request, where the shop has none of that code.
pub(super) fn level<'a>(settings: &'a Settings, wanted: Option<&Name>) -> Result<Option<&'a PriceLevel>, Fault> {
    let Some(wanted) = wanted else { return Ok(None) };
    let levels = &settings.price_levels;
    levels.iter().find(|level| level.code == *wanted).map(Some).ok_or_else(|| {
        let codes: Vec<&str> = levels.iter().map(|level| level.code.as_str()).collect();
        let mend = match codes.len() {
            0 => "it has none: leave this out, or have an owner add it to the settings".to_owned(),
            _ => format!("use one of {}, or leave this out", codes.join(", ")),
        };
        Fault::new("/price_level", format!("the shop has no price level '{wanted}'; {mend}"))
    })
}
