//! What a customer reads of a quote: his document, by hand-written quotes and by those of the demo shop.

use rigbill::calc::customer::{CustomerDocument, NoCustomerDocument, customer_document};
use rigbill::cli::demo::examples::{self, EXAMPLES};
use rigbill::documents::customer::{Form, Standing, quote_page};
use rigbill::service::quotes::QuoteRequest;
use rust_decimal::{Decimal, dec};
use serde_json::{Value, json};

use crate::demo::demo_service;

/// A small document written by hand; it was not issued, and has a gap.
fn small_quote() -> Value {
    serde_json::from_slice(include_bytes!("demo/small_quote.json")).unwrap()
}

/// The same, issued, with things, what a person wrote, and something left out.
fn issued() -> Value {
    let mut quote = small_quote();
    quote["issue"] = json!({"number": "2026-0042", "revision": 2, "issued_on": "2026-11-25"});
    quote["totals"]["total"] = json!("200.74");
    quote["exclusions"] = json!([{"gap": "item/COVE", "need": "a cove heater", "reason": "The builder fits it"}]);
    let item = |sku: &str, quantity: &str, user: &str, yours: &str| {
        json!({"key": format!("item/{sku}"), "need": {"kind": "item", "sku": sku}, "quantity": quantity, "unit": "each",
               "used_by": [user], "customer_supplied": yours})
    };
    let needs = quote["take_off"]["requirements"].as_array_mut().unwrap();
    needs.extend([
        item("P", "2", "pump", "1"),
        item("W", "1", "winch", "1"),
        item("COVE", "1", "heater", "0"),
        item("MAST", "1", "mast-head", "1"),
        item("TRAY", "1", "bank/house", "0"),
        json!({"key": "charger/2 x 20 A", "need": {"kind": "charger"}, "quantity": "1", "unit": "each", "used_by": ["pump"]}),
    ]);
    let lines = quote["lines"].as_array_mut().unwrap();
    let line = |kind: &str, description: &str, quantity: &str, unit: &str, meets: &[&str]| {
        json!({"number": 9, "kind": kind, "description": description, "quantity": quantity, "unit": unit, "unit_code": "EA",
               "unit_price": "0", "net": "0.00", "tax_class": "goods", "meets": meets})
    };
    lines.extend([
        line("item", "Battery tray", "1", "each", &["item/TRAY"]),
        line("manual", "Charger by special order", "1", "each", &["charger/2 x 20 A"]),
        line("extra", "Haul out and block", "1", "each", &[]),
        line("extra", "Polish", "2.50", "h", &[]),
        line("extra", "Trade-in of the old plotter", "-1", "each", &[]),
    ]);
    quote
}

fn read(quote: &Value) -> CustomerDocument {
    customer_document(quote.to_string().as_bytes()).unwrap()
}

#[test]
fn things_stand_under_their_system_whoever_brings_them() {
    let document = read(&issued());
    let told: Vec<(&str, Vec<String>)> = document
        .scope
        .iter()
        .map(|system| {
            let entry = |entry: &rigbill::calc::customer::Entry| {
                let unit = entry.unit.clone().unwrap_or_default();
                format!(
                    "{}{unit} {} [{}] {}",
                    entry.quantity.normalize(),
                    entry.what,
                    entry.places.join(","),
                    entry.yours
                )
            };
            (system.name.as_str(), system.entries.iter().map(entry).collect())
        })
        .collect();
    let expected: [(&str, &[&str]); 5] = [
        ("Bilge and pumps", &["2 Bilge pump 1100 gal/h, automatic with float, 12 V [aft bilge] 1"]),
        ("Anchor, bow motor and trim", &["1 Pot hauler [rail] 1"]),
        ("Batteries and charging", &["1 Battery tray [] 0", "1 Charger by special order [] 0"]),
        ("Other equipment", &["1 mast head [] 1"]),
        ("Also agreed", &["1 Haul out and block [] 0", "2.5h Polish [] 0"]),
    ];
    let expected: Vec<(&str, Vec<String>)> =
        expected.into_iter().map(|(name, entries)| (name, entries.iter().map(|e| (*e).to_owned()).collect())).collect();
    assert_eq!(told, expected);
}

#[test]
fn what_is_said_beside_the_scope_follows_from_the_quote() {
    let mut quote = issued();
    quote["take_off"]["questions"] = json!([
        {"id": "petrol_vapour_unknown", "text": "Can petrol vapour be at 'Captain's seat': is it a tank space? It is treated as if it can"},
        {"id": "run_estimated", "text": "How long is the run?"},
        {"id": "of_a_later_edition", "text": "What does it cost the shop?"},
    ]);
    quote["take_off"]["cautions"] = json!([
        {"id": "local_rules_first", "text": "Local rules come first", "source": "common practice"},
        {"id": "fuse_first", "text": "No conductor is live before its fuse.", "source": "common practice"},
    ]);
    let document = read(&quote);
    assert_eq!(document.about, "Re-rigging, diesel engine inboard");
    assert_eq!((document.number.as_str(), document.revision), ("2026-0042", 2));
    assert_eq!(
        document.questions,
        ["Can petrol vapour be at Captain's seat: is it a tank space? It is treated as if it can."]
    );
    assert_eq!(document.cautions, ["Local rules come first."]);
    let excluded: Vec<_> = document.excluded.iter().map(|one| (one.what.as_str(), one.reason.as_deref())).collect();
    assert_eq!(
        excluded,
        [("A cove heater", Some("The builder fits it.")), ("Everything that this quote does not name", None)]
    );
    assert_eq!(document.included.len(), 4, "{:?}", document.included);
    assert_eq!(
        document.assumptions,
        [
            "About 62 % of the way that wire is run has been measured; the rest is estimated.",
            "The battery switch that is aboard is sound and stays.",
            "What stays aboard of the old equipment and wiring is sound.",
            "No petrol is aboard.",
        ]
    );
}

#[test]
fn only_what_was_issued_whole_has_a_form_for_customers() {
    let refused = |quote: &Value| customer_document(quote.to_string().as_bytes()).unwrap_err();
    assert!(matches!(refused(&small_quote()), NoCustomerDocument::NotIssued));
    let mut gap = issued();
    gap["totals"].as_object_mut().unwrap().remove("total");
    assert!(matches!(refused(&gap), NoCustomerDocument::NoTotal));
    assert!(matches!(refused(&json!({})), NoCustomerDocument::Unreadable(_)));
}

#[test]
fn the_page_shows_every_part_and_asks_for_an_answer_only_while_one_can_be_given() {
    let mut document = read(&issued());
    document.deposit = Some(rigbill::calc::customer::Deposit {
        special_orders: dec!(40.00),
        share_percent: dec!(30),
        share: dec!(1048.22),
        total: dec!(1088.22),
    });
    document.boat = "<Knot> & \"Tern\"".to_owned();
    let form = Form::default();
    let page = quote_page(&document, (&[], ""), &Standing::Open, "/q/x", &form);
    for part in [
        "2026-0042, revision 2",
        "25 December 2026",
        "&#60;Knot&#62; &#38; &#34;Tern&#34;",
        "2 ×",
        "aft bilge; 1 of them you bring; we fit them all",
        "rail; you bring it; we fit it",
        "Together",
        "\u{2212}6.58",
        "Tax: Goods 7.25 %, on 22.24",
        "Tax: Labour and services, exempt, on 189.76",
        "200.74",
        "special orders in full (40.00), and 30 % of the rest (1,048.22)",
        "The builder fits it.",
        "agreed with you in writing",
        "action=\"/q/x/accept#answer\"",
    ] {
        assert!(page.contains(part), "{part} is not in\n{page}");
    }
    assert!(!page.contains("<Knot>"));
    let day = "2026-11-26".parse().unwrap();
    for (standing, words) in [
        (Standing::Accepted(Some((day, Some("R. Calder".to_owned())))), "accepted on 26 November 2026, by R. Calder."),
        (Standing::Accepted(None), "This quote was accepted."),
        (Standing::Declined(Some(day)), "declined on 26 November 2026."),
        (Standing::Lapsed, "valid until 25 December 2026, and that day is over."),
        (Standing::Withdrawn, "taken this quote back"),
        (Standing::Superseded, "A newer revision"),
    ] {
        let page = quote_page(&document, (&[], ""), &standing, "/q/x", &form);
        assert!(page.contains(words) && !page.contains("<form"), "{words} is not in\n{page}");
    }
}

/// What was declined is an exclusion of the quote, and what is aboard an assumption; neither is asked any more.
#[tokio::test]
async fn what_was_declined_is_left_out_in_writing() {
    let service = demo_service().await;
    let request: QuoteRequest = serde_json::from_str(&examples::example("center-console-22").unwrap()).unwrap();
    let quote = service.create_quote(request).await.unwrap();
    let document = service.quote_document(quote.value.id).await.unwrap();
    let mut document: Value = serde_json::from_slice(&document.bytes).unwrap();
    assert_eq!(document["exclusions"][0]["gap"], "answer/charger_absent");
    document["issue"] = json!({"number": "2026-0001", "revision": 1, "issued_on": "2026-11-25"});
    let read = read(&document);
    assert_eq!(read.excluded[0].what, "A battery charger");
    assert_eq!(read.excluded[0].reason.as_deref(), Some("The batteries are charged ashore."));
    let aboard = "Aboard already, as you told us: an engine stop switch.";
    assert!(read.assumptions.iter().any(|text| text == aboard), "{:?}", read.assumptions);
    assert!(!read.questions.iter().any(|text| text.contains("charger") || text.contains("engine stop")));
}

/// Every thing that the demo shop's examples name is in the scope, and the rows of the price add up.
#[tokio::test]
async fn the_examples_leave_nothing_out_and_their_rows_add_up() {
    let service = demo_service().await;
    for (name, _) in EXAMPLES.iter().filter(|(name, _)| *name != "gap") {
        let request: QuoteRequest = serde_json::from_str(&examples::example(name).unwrap()).unwrap();
        let quote = service.create_quote(request).await.unwrap();
        let document = service.quote_document(quote.value.id).await.unwrap();
        let mut document: Value = serde_json::from_slice(&document.bytes).unwrap();
        document["issue"] = json!({"number": "2026-0001", "revision": 1, "issued_on": "2026-11-25"});
        let read = read(&document);
        let sum: Decimal = read.price.rows.iter().map(|row| row.amount).sum();
        assert_eq!(sum, read.price.lines_net, "{name}");
        let charge = read.price.charge.as_ref().map_or(Decimal::ZERO, |charge| charge.amount);
        assert_eq!(read.price.net, read.price.lines_net - read.price.discount + charge, "{name}");
        assert_eq!(read.price.total, read.price.net + read.price.tax, "{name}");
        let things: Decimal =
            read.scope.iter().flat_map(|s| &s.entries).filter(|e| e.unit.is_none()).map(|e| e.quantity).sum();
        let needs = document["take_off"]["requirements"].as_array().unwrap().iter();
        let items = needs.filter(|need| need["need"]["kind"] == "item");
        let items: Decimal = items.map(|need| need["quantity"].as_str().unwrap().parse::<Decimal>().unwrap()).sum();
        assert!(things >= items && !items.is_zero(), "{name}: {things} of {items}");
        let bytes = serde_json::to_vec(&read).unwrap();
        assert_eq!(
            serde_json::from_slice::<CustomerDocument>(&bytes).unwrap(),
            read,
            "{name}: it is read as it was written"
        );
    }
}
