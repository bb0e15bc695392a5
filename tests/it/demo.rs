//! The demo shop and the examples: what a newcomer sees first must be whole.

use rigbill::calc::shop::labour::LabourOperation;
use rigbill::calc::shop::package::Package;
use rigbill::calc::shop::settings::Settings;

/// The demo shop's tables as they are compiled into the program.
const SETTINGS: &str = include_str!("../../src/cli/demo/shop/settings.json");
const LABOUR: &str = include_str!("../../src/cli/demo/shop/labour_operations.json");
const PACKAGES: &str = include_str!("../../src/cli/demo/shop/packages.json");

#[test]
fn the_demo_shops_tables_are_what_the_calculation_reads() {
    let settings: Settings = serde_json::from_str(SETTINGS).unwrap();
    let operations: Vec<LabourOperation> = serde_json::from_str(LABOUR).unwrap();
    let packages: Vec<Package> = serde_json::from_str(PACKAGES).unwrap();
    assert_eq!(settings.currency, "USD");
    for operation in &operations {
        assert!(
            operation.low_min <= operation.likely_min && operation.likely_min <= operation.high_min,
            "{operation:?}"
        );
    }
    for uses in packages.iter().flat_map(|p| &p.labour) {
        assert!(operations.iter().any(|o| o.code == uses.operation), "{uses:?}");
    }
}

/// A small document written by hand, with one of everything that the page prints.
const SMALL_QUOTE: &[u8] = include_bytes!("demo/small_quote.json");

/// The page of that document. When the page is meant to change, read the failing test's output and put it here.
const SMALL_PAGE: &str = include_str!("demo/small_page.txt");

#[test]
fn a_small_quote_is_printed_as_this_page() {
    let page = rigbill::cli::demo::page::page(SMALL_QUOTE).unwrap();
    assert!(page == SMALL_PAGE, "the page has become:\n{page}");
    assert_fits(&page);
}

/// No line of a page is wider than it may be, or ends in a space.
fn assert_fits(page: &str) {
    for line in page.lines() {
        assert!(line.chars().count() <= rigbill::cli::demo::PAGE_WIDTH && line.trim_end() == line, "{line:?}");
    }
}
