//! What is on the shelf, and what quotes take hold of.

use futures_util::future::join_all;
use rigbill::calc::purchase_list::StockSourceState;
use rigbill::calc::shop::item::{Item, PriceKind};
use rigbill::calc::shop::settings::{Reserve, Settings, StockTerms};
use rigbill::calc::units::{LengthUnit, LengthValue};
use rigbill::service::life::Step;
use rigbill::service::once::{Answer, Claim, Made, Once};
use rigbill::service::quotes::{QuoteState, QuoteSummary};
use rigbill::service::stock::offcuts::{Offcut, OffcutEntry, OffcutFilter, OffcutState};
use rigbill::service::stock::{
    Adjustment, PickRequest, Reservation, ReservationFilter, ReserveRequest, StockCount, StockEntry, StockFilter,
};
use rigbill::service::{Error, Service, Stored};
use serde_json::{Value, json};
use uuid::Uuid;

use super::life::{cleats, draft, issued, set, step, with_cleats};
use super::shop::{exact, item, places, price, request};
use crate::fixture::{Database, clock, each_database};

/// What was done, now and not before.
pub fn now<T: std::fmt::Debug>(made: Result<Made<T>, Error>) -> T {
    match made.unwrap() {
        Made::Now(value) => value,
        Made::Before(answer) => panic!("nothing was claimed: {answer:?}"),
    }
}

/// Counts an item in a bin.
pub async fn count(service: &Service, sku: &str, bin: &str, quantity: &str) -> Stored<StockCount> {
    let (place, bin, quantity) = ("Store".to_owned(), bin.to_owned(), exact(quantity));
    now(service.create_stock(StockEntry { sku: sku.into(), place, bin, quantity }, Once::unclaimed()).await)
}

fn offcut_entry(sku: &str, feet: f64) -> OffcutEntry {
    OffcutEntry {
        sku: sku.into(),
        length: LengthValue { value: feet, unit: LengthUnit::Ft },
        place: "Store".to_owned(),
        bin: "Rack".to_owned(),
        state: OffcutState::OnShelf,
        remark: None,
    }
}

async fn offcut(service: &Service, sku: &str, feet: f64) -> Stored<Offcut> {
    now(service.create_offcut(offcut_entry(sku, feet), Once::unclaimed()).await)
}

fn wire(sku: &str, feet: &str) -> Item {
    let mut spool = item(
        sku,
        json!({
            "category": "wire", "selling_unit": "foot", "buying_unit": "spool", "buying_quantity": feet,
            "attributes": {"kind": "wire", "size": "16 AWG", "colour": "brown", "insulation_c": 105, "tinned": true},
        }),
    );
    spool.prices = vec![price(PriceKind::Cost, "2026-01-01", "31")];
    spool
}

async fn kinds(service: &Service) -> Vec<(String, Value)> {
    let events = service.events_behind(0, 1_000).await.unwrap();
    events.into_iter().map(|(event, said)| (event.kind, said)).collect()
}

async fn held(service: &Service, quote: &Stored<QuoteSummary>) -> Vec<Reservation> {
    let filter = ReservationFilter { quote: Some(quote.value.id), ..ReservationFilter::default() };
    service.list_reservations(&filter, None, 200).await.unwrap().rows
}

/// How many cleats a quote takes from the shelf and buys, by its purchase list.
async fn taken_and_bought(service: &Service, quote: Uuid) -> (String, u64) {
    let list = service.purchase_list(quote, None).await.unwrap().list;
    let taken = list.from_shelf.iter().find(|line| line.sku.as_str() == "CLEAT").map(|line| line.taken.to_string());
    let lines = list.suppliers.iter().flat_map(|order| &order.lines);
    let bought = lines.filter(|line| line.sku.as_str() == "CLEAT").map(|line| line.buy).sum();
    (taken.unwrap_or_else(|| "0".to_owned()), bought)
}

#[tokio::test(flavor = "multi_thread")]
async fn a_bin_is_counted_moved_adjusted_and_forgotten() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let first = count(&service, "CLEAT", "A-1", "12.50").await;
        assert_eq!(
            (first.version, first.value.quantity.to_string(), first.value.unit_code),
            (1, "12.5".to_owned(), "EA")
        );
        assert_eq!(service.stock(first.value.id).await.unwrap(), first, "read as it was written");
        let entry = |bin: &str, quantity: &str| StockEntry {
            sku: "CLEAT".into(),
            place: "Store".to_owned(),
            bin: bin.to_owned(),
            quantity: exact(quantity),
        };
        let again = service.create_stock(entry("A-1", "3"), Once::unclaimed()).await.unwrap_err();
        assert!(matches!(again, Error::AlreadyThere { .. }), "{again:?}");
        let moved = service.replace_stock(first.value.id, entry("A-2", "13"), 1).await.unwrap();
        assert_eq!((moved.version, &*moved.value.bin, moved.value.created_at), (2, "A-2", first.value.created_at));
        let stale = service.replace_stock(first.value.id, entry("A-2", "13"), 1).await.unwrap_err();
        assert!(matches!(stale, Error::Stale { current: 2, .. }), "{stale:?}");

        let adjust = async |delta: &str| {
            service.adjust_stock(first.value.id, Adjustment { delta: exact(delta) }, Once::unclaimed()).await
        };
        assert_eq!(now(adjust("+3").await).value.quantity, exact("16"));
        assert_eq!(now(adjust("-16").await).value.quantity, exact("0"));
        let refused = adjust("-0.5").await.unwrap_err().to_string();
        assert!(refused.contains("0 each of CLEAT lie at Store, A-2"), "what stands is told: {refused}");
        assert_eq!(places(adjust("0").await), ["/delta"]);
        assert_eq!(service.stock(first.value.id).await.unwrap().version, 4, "a refusal changes nothing");

        let other = count(&service, "CLEAT", "A-1", "1").await;
        let taken = service.replace_stock(other.value.id, entry("A-2", "1"), 1).await.unwrap_err();
        assert!(matches!(taken, Error::AlreadyThere { .. }), "{taken:?}");
        let all = service.list_stock(&StockFilter::default(), None, 10).await.unwrap().rows;
        assert_eq!(all.iter().map(|row| &*row.value.bin).collect::<Vec<_>>(), ["A-1", "A-2"]);
        let page = service.list_stock(&StockFilter::default(), None, 1).await.unwrap();
        let next = service.list_stock(&StockFilter::default(), page.next_after.as_deref(), 1).await.unwrap();
        assert_eq!((&*next.rows[0].value.bin, next.next_after), ("A-2", None));
        service.delete_stock(other.value.id, 1).await.unwrap();
        assert!(matches!(service.stock(other.value.id).await, Err(Error::NotFound { .. })));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_lie_there_is_a_fault() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        service.create_item(wire("REEL", "100")).await.unwrap();
        let mut loose = wire("FOOT", "1");
        loose.buying_unit = rigbill::calc::shop::item::BuyingUnit::Foot;
        service.create_item(loose).await.unwrap();
        let entry = |sku: &str, bin: &str, quantity: &str| StockEntry {
            sku: sku.into(),
            place: "Store".to_owned(),
            bin: bin.to_owned(),
            quantity: exact(quantity),
        };
        for (entry, place) in [
            (entry("CLEAT", "A", "-1"), "/quantity"),
            (entry("CLEAT", "A", "0.0000001"), "/quantity"),
            (entry("CLEAT", " A", "1"), "/bin"),
            (entry("CLEAT", "A\tB", "1"), "/bin"),
            (entry("NONE", "A", "1"), "/sku"),
            // An opened spool is an unbroken length by itself.
            (entry("REEL", "A", "150"), "/quantity"),
            (entry("FOOT", "A", "150"), "/quantity"),
        ] {
            assert_eq!(places(service.create_stock(entry.clone(), Once::unclaimed()).await), [place], "{entry:?}");
        }
        assert_eq!(count(&service, "REEL", "A", "300").await.value.unit_code, "FOT");
        let mut zero = offcut_entry("REEL", 0.0);
        assert_eq!(places(service.create_offcut(zero.clone(), Once::unclaimed()).await), ["/length"]);
        assert_eq!(places(service.create_offcut(offcut_entry("CLEAT", 2.0), Once::unclaimed()).await), ["/sku"]);
        zero = OffcutEntry { state: OffcutState::Used, ..offcut_entry("REEL", 2.0) };
        assert_eq!(places(service.create_offcut(zero, Once::unclaimed()).await), ["/state"]);
        assert!(service.list_stock(&StockFilter::default(), None, 10).await.unwrap().rows.len() == 1);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_offcut_is_kept_to_the_nanometre_and_is_never_deleted() {
    each_database(async |database| {
        let service = database.service().await;
        service.create_item(wire("REEL", "100")).await.unwrap();
        // 12 ft 7 19/64 in, exactly (an inch is 25.4 mm by definition).
        let inches = 12.0 * 12.0 + 7.0 + 19.0 / 64.0;
        let entry =
            OffcutEntry { length: LengthValue { value: inches, unit: LengthUnit::In }, ..offcut_entry("REEL", 1.0) };
        let made = now(service.create_offcut(entry.clone(), Once::unclaimed()).await);
        assert_eq!(made.value.length_nm, 3_842_940_625);
        assert_eq!(service.offcut(made.value.id).await.unwrap().value.length, entry.length);
        let gone = service.remove_offcut(made.value.id, 1).await.unwrap();
        assert_eq!((gone.value.state, gone.version), (OffcutState::Removed, 2));
        assert_eq!(
            service.remove_offcut(made.value.id, 2).await.unwrap(),
            gone,
            "taking it away again changes nothing"
        );
        let there = OffcutFilter { state: Some(OffcutState::OnShelf), ..OffcutFilter::default() };
        assert!(service.list_offcuts(&there, None, 10).await.unwrap().rows.is_empty());
        let back = service.replace_offcut(made.value.id, offcut_entry("REEL", 12.0), 2).await.unwrap();
        assert_eq!(service.list_offcuts(&there, None, 10).await.unwrap().rows, [back]);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_adjustment_that_is_sent_again_counts_once() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let id = count(&service, "CLEAT", "A-1", "10").await.value.id;
        let claim = Claim { principal: Uuid::nil(), key: "monday".to_owned(), fingerprint: [7; 32] };
        let answer = |stored: &Stored<StockCount>| Answer {
            status: 200,
            location: None,
            etag: None,
            content_type: "application/json".to_owned(),
            body: stored.value.quantity.to_string().into_bytes(),
            shows_secret: false,
        };
        let send =
            async || service.adjust_stock(id, Adjustment { delta: exact("-3") }, Once::by(Some(&claim), &answer)).await;
        let outcomes = join_all((0..6).map(|_| send())).await;
        let done = outcomes.iter().filter(|outcome| matches!(outcome, Ok(Made::Now(_)))).count();
        assert_eq!(done, 1, "{outcomes:?}");
        for outcome in outcomes {
            if let Made::Before(answer) = outcome.unwrap() {
                assert_eq!(answer.body, b"7");
            }
        }
        assert_eq!(service.stock(id).await.unwrap().value.quantity, exact("7"));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn acceptance_takes_hold_of_what_is_there_and_tells_it_and_the_price_stays() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let without = draft(&service, "Avocet", 5).await.value;
        count(&service, "CLEAT", "A-1", "2").await;
        count(&service, "CLEAT", "B-1", "1").await;
        let quote = issued(&service, "Avocet", 5).await;
        assert_eq!(quote.value.total, without.total, "the customer's price does not know the shelf");
        assert_eq!(taken_and_bought(&service, quote.value.id).await, ("3".to_owned(), 2), "before it is accepted too");
        assert!(held(&service, &quote).await.is_empty(), "nothing is held before it is accepted");
        let accepted = step(&service, &quote, Step::Accept).await.unwrap();
        let mut bins: Vec<(String, String)> =
            held(&service, &accepted).await.into_iter().map(|held| (held.at.bin, held.quantity.to_string())).collect();
        bins.sort();
        assert_eq!(bins, [("A-1".to_owned(), "2".to_owned()), ("B-1".to_owned(), "1".to_owned())]);
        let events = kinds(&service).await;
        let told: Vec<&str> = events.iter().map(|(kind, _)| kind.as_str()).collect();
        assert_eq!(told, ["quote.issued", "quote.accepted", "stock.reserved"]);
        let said = &events[2].1;
        assert_eq!(
            said["lines"],
            json!([
                {"sku": "CLEAT", "quantity": "2", "unit_code": "EA", "place": "Store", "bin": "A-1"},
                {"sku": "CLEAT", "quantity": "1", "unit_code": "EA", "place": "Store", "bin": "B-1"},
            ])
        );
        assert_eq!((&said["quote"], &said["number"]), (&json!(accepted.value.id), &json!(accepted.value.number)));
        // What one holds, another one buys.
        let other = issued(&service, "Ruff", 1).await;
        assert_eq!(taken_and_bought(&service, other.value.id).await, ("0".to_owned(), 1));
        step(&service, &other, Step::Accept).await.unwrap();
        assert_eq!(taken_and_bought(&service, other.value.id).await, ("0".to_owned(), 1));
        assert_eq!(taken_and_bought(&service, accepted.value.id).await, ("3".to_owned(), 2));
        // What comes later is anyone's, until a quote takes hold of it.
        count(&service, "CLEAT", "C-1", "9").await;
        assert_eq!(taken_and_bought(&service, accepted.value.id).await, ("3".to_owned(), 2));
        let request = ReserveRequest { release: false };
        let holds = now(service.reserve_quote(accepted.value.id, request.clone(), Once::unclaimed()).await);
        assert_eq!(holds.iter().map(|held| held.quantity).sum::<rust_decimal::Decimal>(), exact("5"));
        assert_eq!(taken_and_bought(&service, accepted.value.id).await, ("5".to_owned(), 0));
        let before = kinds(&service).await.len();
        now(service.reserve_quote(accepted.value.id, request, Once::unclaimed()).await);
        assert_eq!(kinds(&service).await.len(), before, "what stays as it is is not told again");
        now(service.reserve_quote(accepted.value.id, ReserveRequest { release: true }, Once::unclaimed()).await);
        assert!(held(&service, &accepted).await.is_empty());
        assert_eq!(kinds(&service).await.last().unwrap().0, "stock.released");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn goods_that_come_into_the_same_bin_are_counted_once_and_so_are_those_that_were_picked() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let bin = count(&service, "CLEAT", "A-1", "2").await.value;
        count(&service, "CLEAT", "B-1", "1").await;
        let quote = issued(&service, "Avocet", 7).await;
        let accepted = step(&service, &quote, Step::Accept).await.unwrap();
        let id = accepted.value.id;
        let come = async |delta: &str| {
            let delta = Adjustment { delta: exact(delta) };
            now(service.adjust_stock(bin.id, delta, Once::unclaimed()).await)
        };
        let reserve = async || {
            let holds = now(service.reserve_quote(id, ReserveRequest::default(), Once::unclaimed()).await);
            holds.iter().map(|held| held.quantity).sum::<rust_decimal::Decimal>()
        };
        come("2").await;
        assert_eq!(reserve().await, exact("5"), "4 lie in one bin and 1 in the other");
        // Who looks for them finds them where they were reserved.
        let elsewhere =
            StockEntry { sku: "CLEAT".into(), place: "Van".to_owned(), bin: "A-1".to_owned(), quantity: exact("4") };
        let version = service.stock(bin.id).await.unwrap().version;
        assert!(matches!(service.replace_stock(bin.id, elsewhere, version).await, Err(Error::NotAllowed(_))));
        assert!(matches!(service.delete_stock(bin.id, version).await, Err(Error::NotAllowed(_))));

        now(service.pick_quote(id, PickRequest::default(), Once::unclaimed()).await);
        come("9").await;
        assert_eq!(reserve().await, exact("7"), "5 were picked, 2 are still needed");
        assert_eq!(held(&service, &accepted).await.iter().filter(|held| held.picked_at.is_none()).count(), 1);
    })
    .await;
}

/// A shop that reserves when a quote is issued.
async fn reserving_at_issue(service: &Service) {
    let settings = service.settings().await.unwrap();
    let stock = StockTerms { reserve: Reserve::AtIssue, ..StockTerms::default() };
    service.replace_settings(Settings { stock, ..settings.value }, settings.version).await.unwrap();
}

#[tokio::test(flavor = "multi_thread")]
async fn whatever_ends_a_quote_lets_go_of_what_it_held() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        reserving_at_issue(&service).await;
        count(&service, "CLEAT", "A-1", "4").await;
        let free = async || {
            let probe = draft(&service, "Probe", 9).await;
            let (free, _) = taken_and_bought(&service, probe.value.id).await;
            step(&service, &probe, Step::Delete).await.unwrap();
            free
        };
        for end in [QuoteState::Declined, QuoteState::Withdrawn, QuoteState::Lapsed, QuoteState::Superseded] {
            let quote = issued(&service, "Avocet", 3).await;
            assert_eq!(held(&service, &quote).await.len(), 1);
            assert_eq!(free().await, "1", "{end}");
            let before = kinds(&service).await.len();
            let mut freed = "4";
            match end {
                QuoteState::Declined => drop(step(&service, &quote, Step::Decline).await.unwrap()),
                QuoteState::Withdrawn => drop(step(&service, &quote, Step::Withdraw).await.unwrap()),
                QuoteState::Lapsed => {
                    set(&service, "2027-06-01T00:00:00Z");
                    assert_eq!(service.lapse_due().await.unwrap(), 1);
                    set(&service, crate::fixture::NOW);
                }
                _ => {
                    // Three cleats again: the revision takes over what its forerunner held.
                    let revision = step(&service, &quote, Step::Revise).await.unwrap();
                    let second = step(&service, &revision, Step::Issue).await.unwrap();
                    assert_eq!(held(&service, &second).await[0].quantity, exact("3"));
                    freed = "1";
                }
            }
            assert!(held(&service, &quote).await.is_empty(), "{end}");
            assert_eq!(free().await, freed, "{end}");
            let told: Vec<String> = kinds(&service).await.into_iter().skip(before).map(|(kind, _)| kind).collect();
            let expected: &[&str] = match end {
                QuoteState::Superseded => &["quote.issued", "quote.superseded", "stock.released", "stock.reserved"],
                other => &[&format!("quote.{other}"), "stock.released"].map(|kind| kind.to_owned().leak() as &str),
            };
            assert_eq!(told, expected, "{end}");
        }
        let quote = issued(&service, "Knot", 1).await;
        step(&service, &quote, Step::Accept).await.unwrap();
        assert_eq!(held(&service, &quote).await.len(), 1, "an accepted one keeps what it held");
    })
    .await;
}

/// Two instances of the service on one database, with a clock that they share.
async fn instances(database: &Database) -> [Service; 2] {
    let clock = clock();
    [Service::new(database.store().await, clock.clone()), Service::new(database.store().await, clock)]
}

/// A boat with one light on ten feet of 16 AWG brown wire or so.
fn lit(name: &str) -> rigbill::service::quotes::QuoteRequest {
    request(name, json!([{"sku": "LIGHT", "quantity": 1, "station": "helm", "panel": "helm_panel"}]))
}

/// A shop whose light is wired in brown.
async fn lights(service: &Service) {
    let light: Item = serde_json::from_value(json!({
        "sku": "LIGHT", "description": "Light", "category": "hardware",
        "attributes": {
            "kind": "device", "function": "interior_light", "rated_voltage_v": 12, "nominal_voltages_v": [12],
            "leads": [
                {"role": "switched_positive", "current_a": 1.0, "size": "16 AWG", "length": {"value": 6, "unit": "in"}},
                {"role": "return", "size": "16 AWG", "length": {"value": 6, "unit": "in"}},
            ],
        },
        "selling_unit": "each", "buying_unit": "each", "buying_quantity": "1",
        "prices": [{"kind": "cost", "valid_from": "2026-01-01", "minimum_quantity": "1", "amount": "20"}],
    }))
    .unwrap();
    service.create_item(light).await.unwrap();
    for colour in ["black", "brown", "dark blue", "dark grey", "red", "orange", "yellow"] {
        let mut spool = wire(&format!("REEL-{}", colour.replace(' ', "-")), "100");
        if let rigbill::calc::shop::item::Attributes::Wire { colour: of, .. } = &mut spool.attributes {
            *of = colour.to_owned();
        }
        service.create_item(spool).await.unwrap();
    }
}

/// The items of wire that a draft's purchase list cuts one piece from, with its length in feet.
async fn cut(service: &Service, quote: Uuid) -> Vec<(String, f64)> {
    let list = service.purchase_list(quote, None).await.unwrap().list;
    let lines = list.suppliers.into_iter().flat_map(|order| order.lines);
    lines
        .filter_map(|line| {
            let mut cuts = line.stock.iter().flat_map(|stock| &stock.cuts);
            let only = cuts.next().filter(|_| cuts.next().is_none())?;
            Some((line.sku.to_string(), only.length.length().unwrap().ft()))
        })
        .collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn two_that_want_one_offcut_at_once_do_not_both_get_it() {
    each_database(async |database| {
        let instances = instances(&database).await;
        lights(&instances[0]).await;
        let probe = instances[0].create_quote(lit("Probe")).await.unwrap();
        let pieces = cut(&instances[0], probe.value.id).await;
        let (sku, feet) = pieces.first().expect("the light needs wire").clone();
        for round in 0..6 {
            let piece = offcut(&instances[0], &sku, feet + 0.5).await.value;
            let mut quotes = Vec::new();
            for boat in ["Avocet", "Ruff", "Knot", "Dunlin"] {
                let settled = |request: rigbill::service::quotes::QuoteRequest, gaps: Vec<Value>| {
                    let mut request = serde_json::to_value(request).unwrap();
                    request["settlements"] = json!(gaps);
                    serde_json::from_value(request).unwrap()
                };
                let made = instances[0].create_quote(lit(boat)).await.unwrap();
                let document = instances[0].quote_document(made.value.id).await.unwrap();
                let document: Value = serde_json::from_slice(&document.bytes).unwrap();
                let gaps = document["gaps"].as_array().unwrap().iter();
                let gaps =
                    gaps.map(|gap| json!({"kind": "exclusion", "gap": gap["what"], "reason": "Not here"})).collect();
                let made = instances[0].replace_quote(made.value.id, settled(lit(boat), gaps), 1).await.unwrap();
                quotes.push(step(&instances[0], &made, Step::Issue).await.unwrap());
            }
            let accepting = quotes.iter().enumerate().map(|(n, quote)| {
                let (service, quote) = (instances[n % 2].clone(), quote.clone());
                tokio::spawn(async move { step(&service, &quote, Step::Accept).await })
            });
            for accepted in join_all(accepting).await {
                accepted.unwrap().unwrap();
            }
            let mut holders = 0;
            for quote in &quotes {
                let id = quote.value.id;
                let holds: Vec<Reservation> = held(&instances[1], quote).await;
                let list = instances[1].purchase_list(id, None).await.unwrap().list;
                let from_offcut = list
                    .from_shelf
                    .iter()
                    .flat_map(|line| &line.from)
                    .filter(|used| used.offcut.as_ref().is_some_and(|id| id.as_str() == piece.id.to_string()))
                    .count();
                let buys = list.suppliers.iter().flat_map(|order| &order.lines).any(|line| line.sku.as_str() == sku);
                let has = holds.iter().any(|one| one.offcut.is_some());
                assert_eq!(from_offcut, usize::from(has), "round {round}");
                assert_eq!(buys, !has, "round {round}: who has it not buys a spool");
                holders += usize::from(has);
                let other = instances[0].offcut(piece.id).await.unwrap().value.reserved_for;
                assert_eq!(other == Some(id), has);
            }
            assert_eq!(holders, 1, "round {round}");
            let refused = instances[0].remove_offcut(piece.id, 2).await.unwrap_err();
            assert!(matches!(refused, Error::NotAllowed(_)), "{refused:?}");
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn however_many_accept_at_once_no_bin_is_held_twice() {
    each_database(async |database| {
        let instances = instances(&database).await;
        cleats(&instances[0]).await;
        count(&instances[0], "CLEAT", "A-1", "7").await;
        count(&instances[0], "CLEAT", "A-2", "5").await;
        let mut quotes = Vec::new();
        for n in 0..10 {
            quotes.push(issued(&instances[0], &format!("Boat {n}"), 3).await);
        }
        let accepting = quotes.iter().enumerate().map(|(n, quote)| {
            let (service, quote) = (instances[n % 2].clone(), quote.clone());
            tokio::spawn(async move { step(&service, &quote, Step::Accept).await })
        });
        for accepted in join_all(accepting).await {
            accepted.unwrap().unwrap();
        }
        let mut bins = std::collections::BTreeMap::new();
        let mut all = rust_decimal::Decimal::ZERO;
        for quote in &quotes {
            let mut own = rust_decimal::Decimal::ZERO;
            for one in held(&instances[0], quote).await {
                *bins.entry(one.at.bin.clone()).or_insert(rust_decimal::Decimal::ZERO) += one.quantity;
                own += one.quantity;
            }
            let (taken, bought) = taken_and_bought(&instances[1], quote.value.id).await;
            assert_eq!(taken, own.to_string());
            assert_eq!(own + rust_decimal::Decimal::from(bought), exact("3"), "what is not held is bought");
            all += own;
        }
        assert!(bins["A-1"] <= exact("7") && bins["A-2"] <= exact("5"), "{bins:?}");
        assert!(all >= exact("9"), "most of the shelf was found in time: {all}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_picked_leaves_the_shelf_once() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let a = count(&service, "CLEAT", "A-1", "2").await.value.id;
        let b = count(&service, "CLEAT", "B-1", "9").await.value.id;
        let quote = issued(&service, "Avocet", 10).await;
        let none = service.pick_quote(quote.value.id, PickRequest::default(), Once::unclaimed()).await.unwrap_err();
        assert!(matches!(none, Error::NotAllowed(_)), "an issued quote has nothing to pick: {none:?}");
        let accepted = step(&service, &quote, Step::Accept).await.unwrap();
        let holds = held(&service, &accepted).await;
        let first = holds.iter().find(|one| one.at.bin == "B-1").unwrap().clone();
        let some = PickRequest { reservations: Some(vec![first.id]) };
        let after = now(service.pick_quote(accepted.value.id, some.clone(), Once::unclaimed()).await);
        assert_eq!(after.iter().filter(|one| one.picked_at.is_some()).count(), 1);
        assert_eq!(service.stock(b).await.unwrap().value.quantity, exact("0"));
        assert_eq!(places(service.pick_quote(accepted.value.id, some, Once::unclaimed()).await), ["/reservations/0"]);
        assert_eq!(
            taken_and_bought(&service, accepted.value.id).await,
            ("10".to_owned(), 0),
            "what was picked counts still"
        );
        // A count that was wrong is found out.
        let one_missing = Adjustment { delta: exact("-1.5") };
        now(service.adjust_stock(a, one_missing, Once::unclaimed()).await);
        let list = service.pick_list(accepted.value.id, None).await.unwrap().list;
        assert!(
            list.warnings.iter().any(|warning| warning.message.contains("count the bin again")),
            "{:?}",
            list.warnings
        );
        let refused =
            service.pick_quote(accepted.value.id, PickRequest::default(), Once::unclaimed()).await.unwrap_err();
        assert!(refused.to_string().contains("fewer than 1 of CLEAT lie at Store, A-1"), "{refused}");
        now(service.adjust_stock(a, Adjustment { delta: exact("1") }, Once::unclaimed()).await);
        now(service.pick_quote(accepted.value.id, PickRequest::default(), Once::unclaimed()).await);
        assert_eq!(service.stock(a).await.unwrap().value.quantity, exact("0.5"));
        let again = service.pick_quote(accepted.value.id, PickRequest::default(), Once::unclaimed()).await.unwrap_err();
        assert!(matches!(again, Error::NotAllowed(_)), "{again:?}");
        let told: Vec<String> = kinds(&service).await.into_iter().map(|(kind, _)| kind).collect();
        assert_eq!(told, ["quote.issued", "quote.accepted", "stock.reserved", "stock.picked", "stock.picked"]);
        let list = service.purchase_list(accepted.value.id, None).await.unwrap().list;
        assert_eq!(list.stock_source.state, StockSourceState::KeptHere);
        assert!(list.warnings.is_empty(), "{:?}", list.warnings);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn stock_that_is_not_to_be_used_first_is_left_alone() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        count(&service, "CLEAT", "A-1", "2").await;
        let settings = service.settings().await.unwrap();
        let stock = StockTerms { use_stock_first: false, ..StockTerms::default() };
        service.replace_settings(Settings { stock, ..settings.value }, settings.version).await.unwrap();
        let quote = issued(&service, "Avocet", 2).await;
        assert_eq!(taken_and_bought(&service, quote.value.id).await, ("0".to_owned(), 2));
        step(&service, &quote, Step::Accept).await.unwrap();
        assert!(held(&service, &quote).await.is_empty());
        let missing = service.purchase_list(Uuid::nil(), None).await.unwrap_err();
        assert!(matches!(missing, Error::NotFound { .. }), "{missing:?}");
        let left_out = service.create_quote(with_cleats("Tern", 1)).await.unwrap();
        let soon = service.purchase_list(left_out.value.id, Some("2026-12-24".parse().unwrap())).await.unwrap().list;
        assert_eq!(
            (soon.ordered_on.to_string(), soon.all_here_on.to_string()),
            ("2026-12-24".into(), "2026-12-24".into())
        );
    })
    .await;
}
