//! Drafts: calculated, kept with their documents, replaced, deleted, listed.

use rigbill::calc::shop::item::PriceKind;
use rigbill::calc::shop::settings::Settings;
use rigbill::service::quotes::{QuoteFilter, QuoteState};
use rigbill::service::{Error, Service};
use sea_orm::{ConnectionTrait, Database as Connection, Statement};
use serde_json::{Value, json};
use uuid::Uuid;

use super::shop::{day, faults, item, price, request};
use crate::fixture::{Database, clock, each_database};

async fn cleats(service: &Service) {
    let mut cleat = item("CLEAT", json!({}));
    cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "10"), price(PriceKind::Cost, "2027-01-01", "12")];
    service.create_item(cleat).await.unwrap();
}

fn with_cleats(name: &str, count: u32) -> rigbill::service::quotes::QuoteRequest {
    request(name, json!([{"sku": "CLEAT", "quantity": count, "station": "helm"}]))
}

async fn count(database: &Database, table: &str) -> i64 {
    let connection = Connection::connect(&database.url).await.unwrap();
    let question =
        Statement::from_string(connection.get_database_backend(), format!("SELECT COUNT(*) AS n FROM {table}"));
    let counted = connection.query_one_raw(question).await.unwrap().unwrap().try_get("", "n").unwrap();
    connection.close().await.unwrap();
    counted
}

#[tokio::test(flavor = "multi_thread")]
async fn a_quote_is_kept_with_the_very_bytes_of_its_documents() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let created = service.create_quote(with_cleats("Kittiwake", 2)).await.unwrap();
        let id = created.value.id;
        assert_eq!(service.quote(id).await.unwrap(), created);
        assert_eq!((created.version, created.value.state), (1, QuoteState::Draft));
        assert_eq!(created.value.priced_on, day("2026-11-25"));
        assert_eq!(service.quote_request(id).await.unwrap().value, with_cleats("Kittiwake", 2));

        let document = service.quote_document(id).await.unwrap();
        assert_eq!(document.hash, created.value.document_hash);
        let text: Value = serde_json::from_slice(&document.bytes).unwrap();
        let line = text["lines"].as_array().unwrap().iter().find(|line| line["sku"] == "CLEAT").unwrap();
        // Cost 10.00 with the category's mark-up of 45 %, twice.
        assert_eq!((&line["unit_price"], &line["net"]), (&json!("14.5"), &json!("29.00")));
        assert_eq!(text["totals"]["net"], json!(created.value.net.to_string()));
        assert_eq!(text["totals"]["tax"], json!(created.value.tax.to_string()));
        assert_eq!(text["catalogue_version"], json!(created.value.catalogue_version));
        let costing = service.quote_costing(id).await.unwrap();
        assert_eq!(costing.hash, created.value.costing_hash);
        assert!(String::from_utf8(costing.bytes).unwrap().contains("\"purchase_cost\""));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_hash_is_the_sha_256_of_the_bytes() {
    use sha2::{Digest, Sha256};
    each_database(async |database| {
        let service = database.service().await;
        let id = service.create_quote(request("Tern", json!([]))).await.unwrap().value.id;
        let document = service.quote_document(id).await.unwrap();
        let digest = Sha256::digest(&document.bytes);
        let hex: String = digest.iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(document.hash, hex);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn prices_are_those_of_the_day_in_the_time_zone_of_the_shop() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let net = async |on: Option<&str>| {
            let mut asked = with_cleats("Knot", 1);
            asked.priced_on = on.map(day);
            let made = service.create_quote(asked).await.unwrap().value;
            (made.priced_on, made.net.to_string())
        };
        let (today, now) = net(None).await;
        assert_eq!(today, day("2026-11-25"));
        assert_eq!(net(Some("2026-12-31")).await.1, now, "the later price is not in force yet");
        let later = net(Some("2027-01-01")).await.1;
        assert_eq!(
            rust_decimal::Decimal::from_str_exact(&later).unwrap()
                - rust_decimal::Decimal::from_str_exact(&now).unwrap(),
            rust_decimal::dec!(2.90)
        );
        // 15:30 in UTC is the next day in Auckland (UTC+13 in November, IANA time zone database).
        let zone = Settings { time_zone: "Pacific/Auckland".to_owned(), ..Settings::starting() };
        service.replace_settings(zone, 1).await.unwrap();
        assert_eq!(net(None).await.0, day("2026-11-26"));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_draft_is_replaced_at_the_version_that_was_read() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let first = service.create_quote(with_cleats("Avocet", 1)).await.unwrap();
        let id = first.value.id;
        let second = service.replace_quote(id, with_cleats("Avocet", 3), 1).await.unwrap();
        assert_eq!((second.version, second.value.id, second.value.created_at), (2, id, first.value.created_at));
        assert_ne!(second.value.document_hash, first.value.document_hash);
        assert_eq!(service.quote(id).await.unwrap(), second);
        assert_eq!(service.quote_document(id).await.unwrap().hash, second.value.document_hash);
        let stale = service.replace_quote(id, with_cleats("Avocet", 4), 1).await.unwrap_err();
        assert!(matches!(stale, Error::Stale { current: 2, .. }), "{stale:?}");
        let stale = service.delete_quote(id, 1).await.unwrap_err();
        assert!(matches!(stale, Error::Stale { current: 2, .. }), "{stale:?}");
        assert_eq!(count(&database, "documents").await, 2, "the documents of the first version are gone");
        service.delete_quote(id, 2).await.unwrap();
        assert_eq!(count(&database, "documents").await, 0);
        for gone in [
            service.quote(id).await.map(drop),
            service.quote_document(id).await.map(drop),
            service.quote_request(id).await.map(drop),
            service.delete_quote(id, 2).await,
        ] {
            assert!(matches!(gone, Err(Error::NotFound { .. })), "{gone:?}");
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn quotes_with_the_same_document_share_it_until_the_last_is_gone() {
    each_database(async |database| {
        let service = database.service().await;
        let one = service.create_quote(request("Dunlin", json!([]))).await.unwrap().value;
        let other = service.create_quote(request("Dunlin", json!([]))).await.unwrap().value;
        assert_eq!(one.document_hash, other.document_hash);
        let before = service.quote_document(other.id).await.unwrap();
        service.delete_quote(one.id, 1).await.unwrap();
        assert_eq!(service.quote_document(other.id).await.unwrap(), before);
        service.delete_quote(other.id, 1).await.unwrap();
        assert_eq!(count(&database, "documents").await, 0);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn only_a_draft_can_be_replaced_or_deleted() {
    each_database(async |database| {
        let service = database.service().await;
        let id = service.create_quote(request("Turnstone", json!([]))).await.unwrap().value.id;
        let connection = Connection::connect(&database.url).await.unwrap();
        connection.execute_unprepared("UPDATE quotes SET state = 'issued'").await.unwrap();
        for outcome in [
            service.delete_quote(id, 1).await,
            service.replace_quote(id, request("Turnstone", json!([])), 1).await.map(drop),
        ] {
            match outcome {
                Err(Error::WrongMove { told, .. }) => assert!(told.contains("is issued and cannot be"), "{told}"),
                other => panic!("{other:?}"),
            }
        }
        connection.execute_unprepared("UPDATE quotes SET state = 'lost'").await.unwrap();
        match service.quote(id).await {
            Err(Error::Store(cause)) => assert!(cause.to_string().starts_with("table quotes, row"), "{cause}"),
            other => panic!("{other:?}"),
        }
        connection.close().await.unwrap();
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn faults_point_into_the_request_and_nothing_is_kept() {
    each_database(async |database| {
        let service = database.service().await;
        let mut bad = request("Ruff", json!([{"sku": "NONE", "quantity": 1, "station": "helm"}]));
        bad.customer = Some("a\u{0}b".to_owned());
        bad.priced_on = Some(day("0001-01-01"));
        let met: Vec<String> = faults(service.create_quote(bad).await).into_iter().map(|f| f.pointer).collect();
        for expected in ["/customer", "/priced_on", "/spec/equipment/0/sku"] {
            assert!(met.iter().any(|pointer| pointer == expected), "{expected} is not in {met:?}");
        }
        let mut bad = request("Ruff", json!([]));
        bad.spec.extra_lines = serde_json::from_value(json!([{"description": "Haul out", "quantity": "1",
            "unit": "each", "unit_price": "350.00", "tax_class": "nothing"}]))
        .unwrap();
        bad.discount = serde_json::from_value(json!({"kind": "amount", "amount": "999999999"})).unwrap();
        let met: Vec<String> = faults(service.create_quote(bad).await).into_iter().map(|f| f.pointer).collect();
        assert!(met.iter().any(|pointer| pointer.starts_with("/spec/extra_lines/0")), "{met:?}");
        assert!(met.iter().all(|pointer| !pointer.starts_with("/spec/discount")), "{met:?}");
        assert_eq!(count(&database, "quotes").await, 0);
        assert_eq!(count(&database, "documents").await, 0);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn lists_show_the_newest_first_and_go_on_under_inserts() {
    each_database(async |database| {
        let service = database.service().await;
        let mut ids = Vec::new();
        for name in ["Gannet", "Osprey", "Petrel", "Skua"] {
            ids.push(service.create_quote(request(name, json!([]))).await.unwrap().value.id);
        }
        let all = QuoteFilter::default();
        let first = service.list_quotes(&all, None, 2).await.unwrap();
        let names = |page: &rigbill::service::Page<rigbill::service::Stored<_>>| {
            let rows: &Vec<rigbill::service::Stored<rigbill::service::quotes::QuoteSummary>> = &page.rows;
            rows.iter().map(|row| row.value.name.clone()).collect::<Vec<_>>()
        };
        assert_eq!(names(&first), ["Skua", "Petrel"]);
        service.create_quote(request("Fulmar", json!([]))).await.unwrap();
        let second = service.list_quotes(&all, first.next_after.as_deref(), 2).await.unwrap();
        assert_eq!(names(&second), ["Osprey", "Gannet"]);
        assert_eq!(second.next_after, None);

        let found = QuoteFilter { text: Some("OSP".to_owned()), state: Some(QuoteState::Draft) };
        assert_eq!(names(&service.list_quotes(&found, None, 5).await.unwrap()), ["Osprey"]);
        let customer = QuoteFilter { text: Some("calder".to_owned()), state: None };
        assert_eq!(service.list_quotes(&customer, None, 9).await.unwrap().rows.len(), 5);
        let issued = QuoteFilter { text: None, state: Some(QuoteState::Issued) };
        assert!(service.list_quotes(&issued, None, 9).await.unwrap().rows.is_empty());
        assert_eq!(faults(service.list_quotes(&all, Some("x"), 9).await)[0].pointer, "/after");
        assert!(matches!(service.quote(Uuid::nil()).await, Err(Error::NotFound { .. })));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_request_gives_the_same_bytes_on_either_database() {
    let hashes = std::sync::Mutex::new(Vec::new());
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let quote = service.create_quote(with_cleats("Whimbrel", 2)).await.unwrap().value;
        assert_eq!(quote.created_at, clock().now());
        hashes.lock().unwrap().push((quote.document_hash, quote.costing_hash));
    })
    .await;
    let hashes = hashes.into_inner().unwrap();
    assert_eq!(hashes.len(), 2);
    assert_eq!(hashes[0], hashes[1]);
}
