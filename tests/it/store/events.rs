//! Events: one for each thing that happened, in order, without a gap, and none for what did not.

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};

use bytes::Bytes;
use futures_util::stream;
use rigbill::calc::shop::item::{BuyingUnit, PriceKind};
use rigbill::calc::shop::settings::Settings;
use rigbill::service::events::Event;
use rigbill::service::life::{MoveRequest, Step};
use rigbill::service::once::Once;
use rigbill::service::{Error, Service};
use serde_json::{Value, json};

use super::life::{cleats, draft, issued, set, step, with_cleats};
use super::shop::{item, price, request};
use crate::fixture::each_database;

/// All events, with what they say.
async fn all(service: &Service) -> Vec<(Event, Value)> {
    service.events_behind(0, 10_000).await.unwrap()
}

fn kinds(events: &[(Event, Value)]) -> Vec<&str> {
    events.iter().map(|(event, _)| event.kind.as_str()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn every_move_is_told_once_with_its_quote_and_what_fails_is_not() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let first = draft(&service, "Avocet", 1).await;
        step(&service, &first, Step::Replace).await.unwrap();
        assert!(all(&service).await.is_empty(), "drafts are nobody else's business");
        let first = service.quote(first.value.id).await.unwrap();
        let first = step(&service, &first, Step::Issue).await.unwrap();
        let revision = step(&service, &first, Step::Revise).await.unwrap();
        let second = step(&service, &revision, Step::Issue).await.unwrap();
        let accepted = step(&service, &second, Step::Accept).await.unwrap();
        let declined = issued(&service, "Ruff", 1).await;
        step(&service, &declined, Step::Decline).await.unwrap();
        let withdrawn = issued(&service, "Knot", 1).await;
        step(&service, &withdrawn, Step::Withdraw).await.unwrap();
        let lapsed = issued(&service, "Tern", 1).await;
        for refused in [Step::Replace, Step::Delete, Step::Issue, Step::Accept] {
            step(&service, &accepted, refused).await.unwrap_err();
        }
        set(&service, "2027-02-01T00:00:00Z");
        service.lapse_due().await.unwrap();
        service.lapse_due().await.unwrap();
        let events = all(&service).await;
        assert_eq!(
            kinds(&events),
            [
                "quote.issued",
                "quote.issued",
                "quote.superseded",
                "quote.accepted",
                "quote.issued",
                "quote.declined",
                "quote.issued",
                "quote.withdrawn",
                "quote.issued",
                "quote.lapsed",
            ]
        );
        let positions: Vec<i64> = events.iter().map(|(event, _)| event.position).collect();
        assert_eq!(positions, (1..=10).collect::<Vec<_>>());
        let ids: BTreeSet<_> = events.iter().map(|(event, _)| event.id).collect();
        assert_eq!(ids.len(), 10);
        let (superseded, said) = &events[2];
        assert_eq!(superseded.subject, first.value.id.to_string());
        assert_eq!(said["superseded_by"], second.value.id.to_string());
        assert_eq!((&said["number"], &said["revision"]), (&json!("2026-0001"), &json!(1)));
        let (lapse, said) = &events[9];
        assert_eq!((lapse.at, lapse.subject.clone()), (lapsed.value.lapses_at.unwrap(), lapsed.value.id.to_string()));
        assert_eq!((&said["state"], &said["version"]), (&json!("lapsed"), &json!(3)));
        let customer = events.iter().any(|(event, _)| String::from_utf8_lossy(&event.payload).contains("Calder"));
        assert!(!customer, "nothing of a customer is told");
        let told = |name: &str| events.iter().any(|(_, said)| said.get(name).is_some());
        assert!(!["name", "net", "tax", "total"].into_iter().any(told), "nor of a boat, nor of money");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_accepted_quote_tells_what_it_takes_in_the_units_that_are_bought() {
    each_database(async |database| {
        let service = database.service().await;
        let mut cleat = item("CLEAT", json!({"buying_unit": "pack", "buying_quantity": "4"}));
        cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "40")];
        service.create_item(cleat).await.unwrap();
        let quote = service.create_quote(with_cleats("Dunlin", 5)).await.unwrap();
        let quote = step(&service, &quote, Step::Issue).await.unwrap();
        // What it takes was settled when it was issued.
        let mut loose = item("CLEAT", json!({"description": "Loose cleat"}));
        loose.prices = vec![price(PriceKind::Cost, "2026-01-01", "11")];
        service.replace_item("CLEAT", loose, 1).await.unwrap();
        step(&service, &quote, Step::Accept).await.unwrap();
        let events = all(&service).await;
        let (_, said) = events.last().unwrap();
        // Five cleats in packs of four. XPK: package (UN/ECE Recommendation 21, as EN 16931's list of units carries it).
        assert_eq!(
            said["demand"],
            json!([{"sku": "CLEAT", "description": "Part CLEAT", "quantity": "2", "unit_code": "XPK",
                "buying_unit": "pack", "buying_quantity": "4"}])
        );
        let nothing = service.create_quote(request("Ruff", json!([]))).await.unwrap();
        let nothing = step(&service, &nothing, Step::Issue).await.unwrap();
        step(&service, &nothing, Step::Accept).await.unwrap();
        assert!(all(&service).await.last().unwrap().1.get("demand").is_none());
    })
    .await;
}

#[test]
fn buying_units_have_the_codes_of_the_trade() {
    // UN/ECE Recommendation 20, and Recommendation 21 behind an X, as the unit list of EN 16931 carries them; a stick
    // has no code of its own there and counts as one.
    for (unit, code) in [
        (BuyingUnit::Each, "EA"),
        (BuyingUnit::Pack, "XPK"),
        (BuyingUnit::Box, "XBX"),
        (BuyingUnit::Spool, "XRL"),
        (BuyingUnit::Stick, "C62"),
        (BuyingUnit::Foot, "FOT"),
        (BuyingUnit::Metre, "MTR"),
    ] {
        assert_eq!(unit.unece_code(), code);
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn an_import_that_changes_items_and_a_change_of_settings_are_told_once() {
    let csv = "sku,description,category,kind,selling_unit,buying_unit,buying_quantity\n\
               CLEAT-1,Cleat,hardware,hardware,each,each,1\nCLEAT-2,Cleat,hardware,hardware,each,each,1\n";
    let bad = csv.replace("CLEAT-2,Cleat,hardware", "CLEAT-2,Cleat,software");
    each_database(async |database| {
        let service = database.service().await;
        let import = async |text: &str, dry_run: bool| {
            let begun = service.start_import(dry_run).await.unwrap();
            let file = stream::iter([Ok::<_, String>(Bytes::copy_from_slice(text.as_bytes()))]);
            service.import_csv(begun.id, file).await.unwrap()
        };
        import(csv, true).await;
        import(&bad, false).await;
        import(csv.lines().next().unwrap(), false).await;
        assert!(all(&service).await.is_empty(), "what changes nothing tells nothing");
        let applied = import(csv, false).await;
        let settings = Settings { shop_name: "Slip Seven".to_owned(), ..Settings::starting() };
        service.replace_settings(settings.clone(), 1).await.unwrap();
        service.replace_settings(settings, 1).await.unwrap_err();
        service.create_item(item("LONE", json!({}))).await.unwrap();
        let events = all(&service).await;
        assert_eq!(kinds(&events), ["items.imported", "settings.changed"]);
        assert_eq!(events[0].1, json!({"import": applied.id, "items": 2}));
        assert_eq!(events[1].1, json!({"settings_version": 2}));
    })
    .await;
}

/// Chance that is the same every time (George Marsaglia, "Xorshift RNGs", 2003: shifts of 13, 7 and 17).
pub struct Chance(u64);

impl Chance {
    /// Begins with a seed that is not 0.
    pub fn new(seed: u64) -> Self {
        Chance(seed)
    }

    /// A number below a bound.
    pub fn below(&mut self, bound: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 % bound as u64).unwrap()
    }
}

/// Writes that tell one event each, by each of the writers.
const WRITES: usize = 12;

/// What one writer does: quotes that are issued and answered, settings that change, and writes that fail on the way.
async fn write(service: Service, writer: usize) -> usize {
    let mut told = 0;
    for round in 0..WRITES / 2 {
        let quote = service.create_quote(request(&format!("Boat {writer}-{round}"), json!([]))).await.unwrap();
        // Settings move meanwhile, and then the draft is made anew.
        let mut quote = quote;
        let issued = loop {
            match step(&service, &quote, Step::Issue).await {
                Ok(issued) => break issued,
                Err(Error::Moved { .. }) => {
                    let request = service.quote_request(quote.value.id).await.unwrap();
                    quote = service.replace_quote(quote.value.id, request.value, request.version).await.unwrap();
                }
                Err(other) => panic!("{other:?}"),
            }
        };
        told += 1;
        let twice = service.issue_quote(issued.value.id, MoveRequest::default(), 1, Once::unclaimed()).await;
        assert!(twice.is_err());
        if (writer + round).is_multiple_of(3) {
            // Of several who change the settings at once all but one are told that they were late.
            let settings = service.settings().await.unwrap();
            let changed = Settings { shop_name: format!("Shop {writer}-{round}"), ..settings.value };
            told += usize::from(service.replace_settings(changed, settings.version).await.is_ok());
        } else {
            let answers = [Step::Accept, Step::Decline, Step::Withdraw];
            step(&service, &issued, answers[round % 3]).await.unwrap();
            told += 1;
        }
    }
    told
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_reader_that_goes_on_from_anywhere_misses_nothing_under_eight_writers() {
    each_database(async |database| {
        let one = database.service().await;
        let other = Service::new(database.store().await, one.clock().clone());
        let writers = (0..8).map(|writer| {
            let service = if writer % 2 == 0 { one.clone() } else { other.clone() };
            tokio::spawn(write(service, writer))
        });
        let writers: Vec<_> = writers.collect();
        let ended = AtomicBool::new(false);
        let reading = async {
            let mut chance = Chance::new(0x2545_f491_4f6c_dd1d);
            let mut met: Vec<Event> = Vec::new();
            let mut read = 0;
            loop {
                let last_round = ended.load(Ordering::Acquire);
                // Most often from where it was, now and then from somewhere before.
                let from = if chance.below(4) == 0 { chance.below(met.len() + 1) } else { met.len() };
                let service = if chance.below(2) == 0 { &one } else { &other };
                let limit = 1 + chance.below(9);
                let page = service.events_behind(from as i64, limit as u32).await.unwrap();
                read += 1;
                for (offset, (event, _)) in page.into_iter().enumerate() {
                    let place = from + offset;
                    assert_eq!(event.position, place as i64 + 1, "what comes next, and nothing behind it first");
                    match met.get(place) {
                        Some(before) => assert_eq!(before, &event, "what was read once stays as it is"),
                        None => met.push(event),
                    }
                }
                if last_round && one.events_behind(met.len() as i64, 1).await.unwrap().is_empty() {
                    return (met, read);
                }
            }
        };
        let writing = async {
            let mut told = 0;
            for writer in writers {
                told += writer.await.unwrap();
            }
            ended.store(true, Ordering::Release);
            told
        };
        let ((met, read), told) = tokio::join!(reading, writing);
        assert_eq!(met.len(), told, "each thing that happened once");
        assert!(read > 8, "{read} readings");
        let ids: BTreeSet<_> = met.iter().map(|event| event.id).collect();
        assert_eq!(ids.len(), met.len());
    })
    .await;
}
