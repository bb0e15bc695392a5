//! The demo shop and the examples: what a newcomer sees first must be whole.

use std::collections::{BTreeMap, BTreeSet};

use bytes::Bytes;
use futures_util::stream;
use rigbill::calc::shop::item::Wiring;
use rigbill::calc::shop::labour::LabourOperation;
use rigbill::calc::shop::package::Package;
use rigbill::calc::shop::settings::Settings;
use rigbill::cli::demo::examples::{self, EXAMPLES};
use rigbill::cli::demo::{PAGE_WIDTH, page, shop};
use rigbill::clock::Clock;
use rigbill::service::quotes::QuoteRequest;
use rigbill::service::{self, Service};
use rigbill::store;
use serde_json::{Value, json};

/// The demo shop's tables as they are compiled into the program.
const SETTINGS: &str = include_str!("../../src/cli/demo/shop/settings.json");
const ITEMS: [&str; 7] = [
    include_str!("../../src/cli/demo/shop/items.csv"),
    // What goes into a dash.
    include_str!("../../src/cli/demo/shop/helm.csv"),
    // What stands between battery post and panel.
    include_str!("../../src/cli/demo/shop/power.csv"),
    include_str!("../../src/cli/demo/shop/cables.csv"),
    // Plumbing, what holds and covers cable, what batteries stand in.
    include_str!("../../src/cli/demo/shop/fit_out.csv"),
    include_str!("../../src/cli/demo/shop/electronics.csv"),
    include_str!("../../src/cli/demo/shop/network.csv"),
];
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
    let page = page::page(SMALL_QUOTE).unwrap();
    assert!(page == SMALL_PAGE, "the page has become:\n{page}");
    assert_fits(&page);
}

/// No line of a page is wider than it may be, or ends in a space.
fn assert_fits(page: &str) {
    for line in page.lines() {
        assert!(line.chars().count() <= PAGE_WIDTH && line.trim_end() == line, "{line:?}");
    }
}

/// Rows of the demo shop's price lists, each as its columns by name; empty cells are left out.
fn price_list() -> Vec<BTreeMap<String, String>> {
    let rows = ITEMS.iter().flat_map(|list| {
        let mut reader = csv::Reader::from_reader(list.as_bytes());
        reader.deserialize::<BTreeMap<String, String>>().map(Result::unwrap).collect::<Vec<_>>()
    });
    rows.map(|row| row.into_iter().filter(|(_, cell)| !cell.is_empty()).collect()).collect()
}

/// How many rows have all of these cells.
fn count(rows: &[BTreeMap<String, String>], cells: &[(&str, &str)]) -> usize {
    rows.iter().filter(|row| cells.iter().all(|(name, cell)| row.get(*name).is_some_and(|met| met == cell))).count()
}

#[test]
fn the_demo_shop_has_two_alternatives_of_what_every_boat_needs() {
    let rows = price_list();
    // Colours by function and the two negatives of ABYC E-11 Tables XIV and XV.
    let branches = ["brown", "orange", "purple", "dark grey", "dark blue", "brown/yellow", "red", "black", "yellow"];
    for colour in branches {
        for size in ["16 AWG", "14 AWG", "12 AWG", "10 AWG", "8 AWG"] {
            let spools = count(&rows, &[("kind", "wire"), ("size", size), ("colour", colour), ("tinned", "yes")]);
            assert!(spools >= 3, "{size} {colour}: {spools} spool lengths");
        }
    }
    for colour in ["red", "black", "yellow"] {
        for size in ["6 AWG", "4 AWG", "2 AWG", "1/0 AWG", "2/0 AWG", "4/0 AWG"] {
            assert!(count(&rows, &[("kind", "wire"), ("size", size), ("colour", colour)]) >= 3, "{size} {colour}");
        }
    }
    for stud in ["#6", "#8", "#10", "1/4 in", "5/16 in", "3/8 in"] {
        for smallest in ["22 AWG", "16 AWG", "12 AWG"] {
            let cells = [("kind", "ring_terminal"), ("size_from", smallest), ("stud", stud)];
            assert!(count(&rows, &cells) >= 2, "ring terminal from {smallest} on {stud}");
        }
    }
    for stud in ["1/4 in", "5/16 in", "3/8 in"] {
        for size in ["8 AWG", "6 AWG", "4 AWG", "2 AWG", "1/0 AWG", "2/0 AWG", "4/0 AWG"] {
            assert!(count(&rows, &[("kind", "lug"), ("size", size), ("stud", stud)]) >= 2, "lug {size} on {stud}");
        }
    }
    let settings: Settings = serde_json::from_str(SETTINGS).unwrap();
    for rating in settings.branch_ratings_a.iter().map(f64::to_string) {
        let cells = [("kind", "breaker"), ("rating_a", rating.as_str())];
        assert!(count(&rows, &cells) >= 2, "breaker {rating} A");
        let blade = [("family", "blade"), ("rating_a", rating.as_str()), ("voltage_rating_v", "32")];
        assert!(rating.parse::<f64>().unwrap() > 40.0 || count(&rows, &blade) >= 2, "blade fuse {rating} A");
    }
    for kind in [
        "cable",
        "butt_splice",
        "heat_shrink",
        "fuse_holder",
        "wire_label",
        "panel",
        "bus",
        "battery",
        "battery_switch",
        "terminal_boot",
        "fuse_block",
        "charger",
        "combiner",
        "bow_receptacle",
        "bilge_switch",
        "hose",
        "plumbing_fitting",
        "fastener",
        "loom",
        "consumable",
        "battery_hardware",
        "network_cable",
        "network_tee",
        "network_terminator",
        "network_power_tap",
        "display_cable",
        "cable_extension",
    ] {
        assert!(count(&rows, &[("kind", kind)]) >= 4, "{kind}");
    }
}

#[test]
fn packages_and_examples_name_only_what_the_demo_shop_has() {
    let skus: BTreeSet<String> = price_list().into_iter().map(|mut row| row.remove("sku").unwrap()).collect();
    let packages: Vec<Package> = serde_json::from_str(PACKAGES).unwrap();
    for entry in packages.iter().flat_map(|p| &p.equipment) {
        assert!(skus.contains(entry.sku.as_str()), "{entry:?}");
    }
    for (name, body) in EXAMPLES {
        let request: QuoteRequest = serde_json::from_str(body).unwrap_or_else(|e| panic!("{name}: {e}"));
        for equipment in request.options.iter().flat_map(|option| &option.equipment).chain(&request.spec.equipment) {
            assert!(skus.contains(equipment.sku.as_str()), "{name}: {}", equipment.sku);
        }
        for code in request.options.iter().flat_map(|option| &option.packages).chain(&request.spec.packages) {
            assert!(packages.iter().any(|p| p.code == *code), "{name}: {code}");
        }
    }
}

#[test]
fn every_file_of_the_examples_folder_that_holds_a_quote_request_is_compiled_in() {
    for entry in std::fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/../api/examples")).unwrap() {
        let path = entry.unwrap().path();
        let body = std::fs::read_to_string(&path).unwrap();
        if body.contains("\"spec\"") {
            let name = path.file_stem().unwrap().to_str().unwrap();
            assert!(EXAMPLES.iter().any(|(known, text)| *known == name && *text == body), "{name}");
        }
    }
}

/// The service with the demo shop in it, on a day of 2026.
pub async fn demo_service() -> Service {
    let clock = Clock::fixed("2026-11-25T15:00:00Z".parse().unwrap());
    let store = store::connect("sqlite::memory:").await.unwrap();
    store.migrate(clock.now()).await.unwrap();
    let service = Service::new(store, clock);
    shop::load(&service).await.unwrap();
    service
}

/// The document of an example and its page.
async fn quoted(service: &Service, name: &str) -> (Value, String) {
    let body = examples::example(name).unwrap();
    let request: QuoteRequest = serde_json::from_str(&body).unwrap();
    let quote = match service.create_quote(request).await {
        Ok(quote) => quote.value,
        Err(service::Error::Faults(faults)) => panic!("{name}: {faults:#?}"),
        Err(error) => panic!("{name}: {error}"),
    };
    let document = service.quote_document(quote.id).await.unwrap();
    (serde_json::from_slice(&document.bytes).unwrap(), page::page(&document.bytes).unwrap())
}

#[tokio::test]
async fn only_the_example_of_a_gap_has_a_gap_and_every_example_prints() {
    let service = demo_service().await;
    for (name, _) in EXAMPLES {
        let (document, page) = quoted(&service, name).await;
        assert_fits(&page);
        let gaps = document["gaps"].as_array().unwrap();
        if *name == "gap" {
            assert!(!gaps.is_empty() && document["totals"].get("total").is_none(), "{page}");
            assert!(document["totals"]["priced_subtotal"].is_string(), "{page}");
        } else {
            assert!(gaps.is_empty() && document["totals"]["total"].is_string(), "{name}: {gaps:#?}\n{page}");
            let choices = document["choices"].as_array().into_iter().flatten();
            assert!(choices.into_iter().all(|choice| choice["incomplete"] == false), "{name}\n{page}");
            let deposit = document["deposit"]["total"].as_str().unwrap();
            assert!(page.lines().any(|line| line.starts_with("DEPOSIT, USD") && line.ends_with(deposit)), "{page}");
        }
    }
}

#[tokio::test]
async fn the_example_of_options_prints_its_level_its_freight_and_what_every_choice_comes_to() {
    let (document, page) = quoted(&demo_service().await, "options").await;
    for line in
        ["Price level: Trade", "Freight, as agreed", "- deck-lights: Two flood lights for the deck. Alone it adds"]
    {
        assert!(page.lines().any(|printed| printed.starts_with(line)), "{line} is not in\n{page}");
    }
    assert_eq!(document["totals"]["freight"], "65.00");
    let choices = document["choices"].as_array().unwrap();
    assert_eq!(choices.len(), 8);
    for choice in choices {
        let printed = page.lines().any(|line| line.contains(choice["total"].as_str().unwrap()));
        assert!(printed && choice["deposit"].is_string(), "{choice}\n{page}");
    }
    // Together they cost less than what each adds: they share feeder, pulls and the parts of a pack.
    let net = |ids: Value| -> f64 {
        let choice = choices.iter().find(|choice| choice["options"] == ids).unwrap();
        choice["net"].as_str().unwrap().parse().unwrap()
    };
    let (none, both) = (net(json!([])), net(json!(["deck-lights", "music"])));
    let apart = net(json!(["deck-lights"])) + net(json!(["music"])) - 2.0 * none;
    assert!(both - none < apart, "{both} {none} {apart}");
}

/// A shop that wires in cable has one for whatever can lie under a jacket: duplex and triplex, gauges and areas, both
/// negatives.
#[tokio::test]
async fn every_example_can_be_wired_in_jacketed_cable() {
    let service = demo_service().await;
    let settings = service.settings().await.unwrap();
    let jacketed = Settings { wiring: Wiring::JacketedCable, ..settings.value };
    service.replace_settings(jacketed, settings.version).await.unwrap();
    let mut kinds = BTreeSet::new();
    for (name, _) in EXAMPLES {
        let (document, page) = quoted(&service, name).await;
        assert_fits(&page);
        let cables = document["take_off"]["cables"].as_array().unwrap();
        assert!(page.contains(if cables.is_empty() { "stays in single conductors" } else { "is one cable" }), "{name}");
        let gaps = document["gaps"].as_array().unwrap();
        assert!(*name == "gap" || gaps.is_empty(), "{name}: {gaps:#?}");
        for cable in cables {
            let metric = cable["gauge"].as_str().unwrap().ends_with("mm2");
            kinds.insert((metric, cable["colours"].as_array().unwrap().last().unwrap().to_string()));
        }
    }
    assert!(
        kinds.contains(&(false, "\"black\"".to_owned())) && kinds.contains(&(true, "\"yellow\"".to_owned())),
        "{kinds:?}"
    );

    // With panel and switch at the battery the skiff's bilge pump has both positives beside its return.
    let mut skiff: Value = serde_json::from_str(&examples::example("skiff").unwrap()).unwrap();
    skiff["spec"]["power"]["panels"][0]["station"] = json!("battery_box");
    let switch = json!({"sku": "SWB-20-IP", "quantity": 1, "station": "battery_box"});
    skiff["spec"]["equipment"].as_array_mut().unwrap().push(switch);
    for negative in ["black", "yellow"] {
        skiff["spec"]["boat"]["negative_colour"] = json!(negative);
        let quote = service.create_quote(serde_json::from_value(skiff.clone()).unwrap()).await.unwrap();
        let document = service.quote_document(quote.value.id).await.unwrap();
        let document: Value = serde_json::from_slice(&document.bytes).unwrap();
        assert_eq!(document["take_off"]["cables"][0]["colours"], json!(["brown", "red", negative]));
        assert_eq!(document["gaps"], json!([]));
        let needed = document["take_off"]["requirements"].as_array().unwrap().iter();
        assert_eq!(needed.filter(|r| r["need"]["kind"] == "cable" && r["need"]["conductors"] == 3).count(), 1);
    }
}

/// Blocks of JSON in the README, in order: the request, then the parts of the answer.
fn readme_blocks() -> Vec<&'static str> {
    let readme = include_str!("../../README.md");
    readme.split("```json\n").skip(1).map(|rest| rest.split("```").next().unwrap()).collect()
}

/// Whether everything that is shown stands in the real answer: fields by name, list entries anywhere in their list.
fn is_part_of(shown: &Value, real: &Value) -> bool {
    match (shown, real) {
        (Value::Object(shown), Value::Object(real)) => {
            shown.iter().all(|(name, value)| real.get(name).is_some_and(|real| is_part_of(value, real)))
        }
        (Value::Array(shown), Value::Array(real)) => {
            shown.iter().all(|value| real.iter().any(|real| is_part_of(value, real)))
        }
        _ => shown == real,
    }
}

#[tokio::test]
async fn the_readme_shows_an_example_and_what_the_service_answers_to_it() {
    let [request, answer] = readme_blocks()[..] else { panic!("the README has one request and one answer") };
    assert_eq!(request, examples::example("skiff").unwrap());
    let (document, page) = quoted(&demo_service().await, "skiff").await;
    let shown: Value = serde_json::from_str(answer).unwrap();
    for (name, part) in shown.as_object().unwrap() {
        assert!(is_part_of(part, &document[name]), "{name}: the README shows\n{part:#}\nand the page says\n{page}");
    }
    for (name, part) in shown["take_off"].as_object().unwrap() {
        assert!(is_part_of(part, &document["take_off"][name]), "take_off.{name}: {part:#}");
    }
}

/// Runs the program itself with these arguments: whether it did well, what it printed, and what it complained of.
fn rigbill(arguments: &[&str]) -> (bool, String, String) {
    // Its database goes where the test cleans up behind it.
    let folder = tempfile::tempdir().unwrap();
    let mut program = std::process::Command::new(env!("CARGO_BIN_EXE_rigbill-under-test"));
    let output = program.args(arguments).env("TMPDIR", folder.path()).output().unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (output.status.success(), text(output.stdout), text(output.stderr))
}

#[test]
fn the_demo_says_where_it_listens_prints_the_quote_and_ends() {
    let (well, printed, complaints) = rigbill(&["demo", "--once", "--port", "0"]);
    assert!(well, "{complaints}");
    assert!(printed.starts_with("listening on http://127.0.0.1:"), "{printed}");
    for part in ["Quote for Kittiwake", "WIRE BY COLOUR AND GAUGE", "TOTAL, USD", "/docs", "/v1/quotes/"] {
        assert!(printed.contains(part), "{part} is not in\n{printed}");
    }
}

#[test]
fn an_example_that_the_service_refuses_is_a_failure_that_names_the_faults() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("wrong.json");
    let body = examples::example("skiff").unwrap().replace("\"station\": \"helm\"}", "\"station\": \"hold\"}");
    std::fs::write(&file, body).unwrap();
    let (well, _, complaints) = rigbill(&["demo", "--once", "--port", "0", "--example", file.to_str().unwrap()]);
    assert!(!well && complaints.contains("/spec/equipment/1/station") && complaints.contains("hold"), "{complaints}");

    let (well, _, complaints) = rigbill(&["demo", "--once", "--port", "0", "--example", "no-such-boat"]);
    assert!(!well && complaints.contains("trolling-36v"), "{complaints}");
}

#[tokio::test]
async fn the_example_of_a_price_list_is_taken_in_whole() {
    let service = demo_service().await;
    let begun = service.start_import(true).await.unwrap();
    let csv = include_bytes!("../../api/examples/items.csv");
    let chunks = csv.chunks(100).map(|chunk| Ok::<_, std::convert::Infallible>(Bytes::from_static(chunk)));
    let import = service.import_csv(begun.id, stream::iter(chunks)).await.unwrap();
    assert!(import.rows_read >= 5 && import.report.is_empty(), "{import:#?}");
}
