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
        assert!(operation.low_min <= operation.likely_min && operation.likely_min <= operation.high_min, "{operation:?}");
    }
    for uses in packages.iter().flat_map(|p| &p.labour) {
        assert!(operations.iter().any(|o| o.code == uses.operation), "{uses:?}");
    }
}
