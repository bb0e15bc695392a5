//! Minor units of currencies.

use iso_currency::Currency;
use rigbill::calc::money::{Money, minor_places};
use rust_decimal::Decimal;

use super::rows;

/// ISO 4217, as the file says.
const MINOR_UNITS: &str = include_str!("data/currency_minor_units.csv");

#[test]
fn amounts_have_the_places_of_their_currency() {
    let rows = rows(MINOR_UNITS);
    assert!(rows.len() > 20, "{}", rows.len());
    for row in rows {
        let (code, places) = (row.text("code"), row.number("minor_units") as usize);
        let currency = Currency::from_code(code).unwrap_or_else(|| panic!("{code} is no currency here"));
        assert_eq!(minor_places(currency) as usize, places, "{code}");
        let written = Money::rounded(Decimal::new(123_456_789, 5), currency).unwrap().to_string();
        let expected = match places {
            0 => "1235",
            2 => "1234.57",
            3 => "1234.568",
            other => panic!("{code}: {other} places"),
        };
        assert_eq!(written, expected, "{code}");
    }
}
