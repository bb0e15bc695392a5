//! A quote's life: its moves, its last day, its number, and that it stands as it was issued.

use chrono::{DateTime, NaiveDate, Utc};
use rigbill::calc::shop::item::PriceKind;
use rigbill::calc::shop::settings::Settings;
use rigbill::clock::Clock;
use rigbill::service::life::{MoveRequest, Step};
use rigbill::service::once::{Made, Once};
use rigbill::service::quotes::{QuoteFilter, QuoteState, QuoteSummary};
use rigbill::service::{Error, Service, Stored};
use sea_orm::{ConnectionTrait, Database as Connection};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::shop::{day, item, places, price, request};
use crate::fixture::{Database, clock, each_database};

/// What a step comes to.
pub type Outcome = Result<Stored<QuoteSummary>, Error>;

/// Sets the clock that a service goes by.
pub fn set(service: &Service, now: &str) {
    let Clock::Fixed(clock) = service.clock() else { panic!("the clock of a test is fixed") };
    clock.set(now.parse().unwrap());
}

fn done(made: Result<Made<Stored<QuoteSummary>>, Error>) -> Outcome {
    made.map(|made| match made {
        Made::Now(quote) => quote,
        Made::Before(answer) => panic!("nothing was claimed: {answer:?}"),
    })
}

/// A shop that sells cleats: cost 10.00 with the category's mark-up of 45 %.
pub async fn cleats(service: &Service) {
    let mut cleat = item("CLEAT", json!({}));
    cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "10")];
    service.create_item(cleat).await.unwrap();
}

/// A draft of so many cleats.
pub async fn draft(service: &Service, name: &str, count: u32) -> Stored<QuoteSummary> {
    service.create_quote(with_cleats(name, count)).await.unwrap()
}

/// What a draft of so many cleats is made from.
pub fn with_cleats(name: &str, count: u32) -> rigbill::service::quotes::QuoteRequest {
    request(name, json!([{"sku": "CLEAT", "quantity": count, "station": "helm"}]))
}

/// Does one step on the version of a quote that is given.
pub async fn step(service: &Service, quote: &Stored<QuoteSummary>, step: Step) -> Outcome {
    let (id, seen, none) = (quote.value.id, quote.version, MoveRequest::default());
    match step {
        Step::Replace => service.replace_quote(id, with_cleats("Avocet", 2), seen).await,
        Step::Delete => service.delete_quote(id, seen).await.map(|()| quote.clone()),
        Step::Issue => match service.issue_quote(id, none, seen, Once::unclaimed()).await? {
            Made::Now(issued) => Ok(issued.quote),
            Made::Before(answer) => panic!("nothing was claimed: {answer:?}"),
        },
        Step::Accept => done(service.accept_quote(id, none, seen, Once::unclaimed()).await),
        Step::Decline => done(service.decline_quote(id, none, seen, Once::unclaimed()).await),
        Step::Withdraw => done(service.withdraw_quote(id, none, seen, Once::unclaimed()).await),
        Step::Revise => done(service.revise_quote(id, with_cleats("Avocet", 3), seen, Once::unclaimed()).await),
    }
}

/// A quote that was issued just now.
pub async fn issued(service: &Service, name: &str, count: u32) -> Stored<QuoteSummary> {
    let made = draft(service, name, count).await;
    step(service, &made, Step::Issue).await.unwrap()
}

/// What stands in the way of a step, and what is allowed instead.
pub fn refused(outcome: Outcome) -> (String, Vec<Step>) {
    match outcome {
        Err(Error::WrongMove { told, allowed }) => (told, allowed),
        other => panic!("expected a wrong move, met {other:?}"),
    }
}

/// A quote in each state, all of them of one shop; a lapsed one is past its last day.
async fn in_state(service: &Service, state: QuoteState) -> Stored<QuoteSummary> {
    let quote = match state {
        QuoteState::Draft => return draft(service, "Avocet", 1).await,
        _ => issued(service, "Avocet", 1).await,
    };
    match state {
        QuoteState::Accepted => step(service, &quote, Step::Accept).await.unwrap(),
        QuoteState::Declined => step(service, &quote, Step::Decline).await.unwrap(),
        QuoteState::Withdrawn => step(service, &quote, Step::Withdraw).await.unwrap(),
        QuoteState::Superseded => {
            let revision = step(service, &quote, Step::Revise).await.unwrap();
            step(service, &revision, Step::Issue).await.unwrap();
            service.quote(quote.value.id).await.unwrap()
        }
        QuoteState::Lapsed => {
            set(service, "2027-06-01T00:00:00Z");
            let lapsed = service.quote(quote.value.id).await.unwrap();
            assert_eq!(lapsed.value.state, QuoteState::Lapsed);
            lapsed
        }
        QuoteState::Draft | QuoteState::Issued => quote,
    }
}

#[tokio::test(flavor = "multi_thread")]
async fn in_each_state_only_what_is_allowed_can_be_done_and_a_refusal_says_what_that_is() {
    use QuoteState::{Accepted, Declined, Draft, Issued, Lapsed, Superseded, Withdrawn};
    const STEPS: [Step; 7] =
        [Step::Replace, Step::Delete, Step::Issue, Step::Accept, Step::Decline, Step::Withdraw, Step::Revise];
    // Common practice: a draft is worked on; what is out is answered, taken back or revised; what was not taken can be
    // offered anew; what is agreed stands.
    let table: [(QuoteState, &[(Step, QuoteState)]); 7] = [
        (Draft, &[(Step::Replace, Draft), (Step::Delete, Draft), (Step::Issue, Issued)]),
        (
            Issued,
            &[(Step::Accept, Accepted), (Step::Decline, Declined), (Step::Withdraw, Withdrawn), (Step::Revise, Issued)],
        ),
        (Accepted, &[]),
        (Declined, &[(Step::Revise, Declined)]),
        (Lapsed, &[(Step::Revise, Lapsed)]),
        (Withdrawn, &[(Step::Revise, Withdrawn)]),
        (Superseded, &[]),
    ];
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        for (state, may) in table {
            for wanted in STEPS {
                let quote = in_state(&service, state).await;
                assert_eq!(quote.value.state, state);
                let outcome = step(&service, &quote, wanted).await;
                match may.iter().find(|(step, _)| *step == wanted) {
                    Some((Step::Delete, _)) => {
                        assert!(outcome.is_ok() && service.quote(quote.value.id).await.is_err(), "{outcome:?}");
                    }
                    Some((_, to)) => {
                        outcome.unwrap_or_else(|error| panic!("{state} {wanted:?}: {error:?}"));
                        assert_eq!(service.quote(quote.value.id).await.unwrap().value.state, *to, "{state} {wanted:?}");
                    }
                    None => {
                        let (told, allowed) = refused(outcome);
                        assert!(told.contains(&format!(" is {state} ")), "{told}");
                        assert_eq!(allowed, may.iter().map(|(step, _)| *step).collect::<Vec<_>>(), "{told}");
                        assert!(may.iter().all(|(step, _)| told.contains(step.as_str())), "{told}");
                        assert_eq!(service.quote(quote.value.id).await.unwrap(), quote, "nothing was changed");
                    }
                }
                set(&service, crate::fixture::NOW);
            }
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_step_needs_the_version_that_was_seen() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let first = draft(&service, "Knot", 1).await;
        let second = step(&service, &first, Step::Replace).await.unwrap();
        let stale = step(&service, &first, Step::Issue).await.unwrap_err();
        assert!(matches!(stale, Error::Stale { current: 2, .. }), "{stale:?}");
        let quote = step(&service, &second, Step::Issue).await.unwrap();
        assert_eq!(quote.version, 3);
        for wanted in [Step::Accept, Step::Decline, Step::Withdraw, Step::Revise] {
            let stale = step(&service, &second, wanted).await.unwrap_err();
            assert!(matches!(stale, Error::Stale { current: 3, .. }), "{wanted:?}: {stale:?}");
        }
        assert_eq!(service.quote(quote.value.id).await.unwrap(), quote);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn every_move_says_who_made_it_when_and_why() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let made = draft(&service, "Dunlin", 1).await;
        assert!(service.quote_moves(made.value.id).await.unwrap().value.is_empty());
        let quote = step(&service, &made, Step::Issue).await.unwrap();
        set(&service, "2026-11-30T09:00:00Z");
        let remark = |text: &str| MoveRequest { remark: Some(text.to_owned()) };
        let outcome = service.accept_quote(quote.value.id, remark("By\ttelephone"), 2, Once::unclaimed()).await;
        assert_eq!(places(done(outcome)), ["/remark"]);
        let outcome = service.accept_quote(quote.value.id, remark("By telephone"), 2, Once::unclaimed()).await;
        let accepted = done(outcome).unwrap();
        assert_eq!((accepted.version, accepted.changed_by.as_deref()), (3, Some("command line")));
        let moves = service.quote_moves(quote.value.id).await.unwrap();
        assert_eq!(moves.version, 3);
        let told: Vec<_> = moves
            .value
            .iter()
            .map(|made| {
                let by = made.by.as_deref().unwrap_or("nobody");
                let remark = made.remark.as_deref().unwrap_or("-");
                format!("v{} {} to {} {} {by} {remark}", made.version, made.from, made.to, made.at.to_rfc3339())
            })
            .collect();
        assert_eq!(
            told,
            [
                "v2 draft to issued 2026-11-25T15:30:00.123456+00:00 command line -",
                "v3 issued to accepted 2026-11-30T09:00:00+00:00 command line By telephone",
            ]
        );
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_quote_lapses_at_the_end_of_its_last_day_where_the_shop_is_once_and_without_a_clerk() {
    each_database(async |database| {
        let one = database.service().await;
        let other = Service::new(database.store().await, one.clock().clone());
        cleats(&one).await;
        let zone = Settings { time_zone: "Pacific/Auckland".to_owned(), ..Settings::starting() };
        one.replace_settings(zone, 1).await.unwrap();
        let quote = issued(&one, "Petrel", 1).await;
        // 15:30 in UTC is the 26th there already; 30 days from then. UTC+13 in December (IANA time zone database).
        assert_eq!(quote.value.valid_until, day("2026-12-26"));
        let end: DateTime<Utc> = "2026-12-26T11:00:00Z".parse().unwrap();
        assert_eq!(quote.value.lapses_at, Some(end));
        // Where the shop moves to afterwards is nothing to a quote that is out.
        let moved = Settings { time_zone: "Pacific/Honolulu".to_owned(), valid_days: 1, ..Settings::starting() };
        one.replace_settings(moved, 2).await.unwrap();

        let in_state = async |service: &Service, state| {
            let filter = QuoteFilter { state: Some(state), text: None };
            service.list_quotes(&filter, None, 9).await.unwrap().rows
        };
        set(&one, "2026-12-26T10:59:59.999999Z");
        assert_eq!(one.quote(quote.value.id).await.unwrap(), quote);
        assert_eq!(in_state(&other, QuoteState::Issued).await, std::slice::from_ref(&quote));
        assert_eq!(in_state(&other, QuoteState::Lapsed).await, []);
        assert_eq!(one.lapse_due().await.unwrap(), 0);

        set(&one, "2026-12-26T11:00:00Z");
        let seen = one.quote(quote.value.id).await.unwrap();
        assert_eq!((seen.value.state, seen.version, seen.updated_at), (QuoteState::Lapsed, 3, end));
        assert_eq!(seen.changed_by, None, "nobody did it");
        assert_eq!(in_state(&other, QuoteState::Issued).await, [], "it is nowhere seen as issued");
        assert_eq!(in_state(&other, QuoteState::Lapsed).await, std::slice::from_ref(&seen));
        assert_eq!(other.quote_request(quote.value.id).await.unwrap().version, 3);
        let moves = other.quote_moves(quote.value.id).await.unwrap();
        for wanted in [Step::Accept, Step::Decline, Step::Withdraw] {
            let stale = step(&other, &quote, wanted).await.unwrap_err();
            assert!(matches!(stale, Error::Stale { current: 3, .. }), "{stale:?}");
            assert_eq!(refused(step(&other, &seen, wanted).await).1, [Step::Revise]);
        }
        // The refusals above have written it already; more of them are due by now.
        let mut more = Vec::new();
        set(&one, crate::fixture::NOW);
        for n in 0..7 {
            more.push(issued(&one, &format!("Skua {n}"), 1).await);
        }
        set(&one, "2027-02-01T00:00:00Z");
        let (first, second) = tokio::join!(one.lapse_due(), other.lapse_due());
        assert_eq!(first.unwrap() + second.unwrap(), 7, "each once, whoever was first");
        assert_eq!(one.lapse_due().await.unwrap() + other.lapse_due().await.unwrap(), 0);
        assert_eq!(one.quote(quote.value.id).await.unwrap(), seen, "what is written is what was seen before it was");
        assert_eq!(one.quote_moves(quote.value.id).await.unwrap(), moves);
        for quote in more {
            let moves = one.quote_moves(quote.value.id).await.unwrap().value;
            assert_eq!(moves.iter().filter(|made| made.to == QuoteState::Lapsed).count(), 1, "{moves:?}");
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn of_many_answers_to_one_quote_one_counts() {
    each_database(async |database| {
        let one = database.service().await;
        let other = Service::new(database.store().await, one.clock().clone());
        cleats(&one).await;
        let quote = issued(&one, "Godwit", 1).await;
        let tries = (0..12).map(|n| {
            let (service, quote) = (if n % 2 == 0 { one.clone() } else { other.clone() }, quote.clone());
            tokio::spawn(
                async move { step(&service, &quote, [Step::Accept, Step::Decline, Step::Withdraw][n % 3]).await },
            )
        });
        let outcomes: Vec<Outcome> =
            futures_util::future::join_all(tries).await.into_iter().map(Result::unwrap).collect();
        let won: Vec<_> = outcomes.iter().filter_map(|outcome| outcome.as_ref().ok()).collect();
        assert_eq!(won.len(), 1, "{outcomes:?}");
        assert_eq!(&one.quote(quote.value.id).await.unwrap(), won[0]);
        assert_eq!(one.quote_moves(quote.value.id).await.unwrap().value.len(), 2);
        let lost = outcomes.iter().filter(|outcome| matches!(outcome, Err(Error::Stale { current: 3, .. })));
        assert_eq!(lost.count(), 11, "{outcomes:?}");
    })
    .await;
}

/// The bytes of a quote's document and costing, as another instance reads them.
async fn bytes(database: &Database, id: Uuid) -> [Vec<u8>; 2] {
    let service = Service::new(database.store().await, clock());
    let (document, costing) = (service.quote_document(id).await.unwrap(), service.quote_costing(id).await.unwrap());
    service.store().clone().close().await.unwrap();
    [document.bytes, costing.bytes]
}

#[tokio::test(flavor = "multi_thread")]
async fn what_was_issued_stays_as_it_is_to_the_last_byte() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let seen = draft(&service, "Kittiwake", 2).await;
        let seen_document: Value =
            serde_json::from_slice(&service.quote_document(seen.value.id).await.unwrap().bytes).unwrap();
        let quote = step(&service, &seen, Step::Issue).await.unwrap();
        let id = quote.value.id;
        let frozen = bytes(&database, id).await;
        let mut document: Value = serde_json::from_slice(&frozen[0]).unwrap();
        let issue = document.as_object_mut().unwrap().remove("issue").unwrap();
        assert_eq!(issue, json!({"number": "2026-0001", "revision": 1, "issued_on": "2026-11-25"}));
        assert_eq!(document, seen_document, "what was seen is what was issued");
        assert_eq!((quote.value.net, quote.value.total), (seen.value.net, seen.value.total));
        let unchanged = async |what: &str| {
            assert_eq!(bytes(&database, id).await, frozen, "{what}");
            let hash: String = Sha256::digest(&frozen[0]).iter().map(|byte| format!("{byte:02x}")).collect();
            assert_eq!(service.quote(id).await.unwrap().value.document_hash, hash, "{what}");
        };
        unchanged("read by another instance, after a restart").await;

        let mut cleat = item("CLEAT", json!({"description": "Cleat, bronze"}));
        cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "99")];
        service.replace_item("CLEAT", cleat, 1).await.unwrap();
        unchanged("after a change of price").await;
        let settings =
            Settings { shop_name: "Slip Seven".to_owned(), currency: "EUR".to_owned(), ..Settings::starting() };
        service.replace_settings(settings, 1).await.unwrap();
        unchanged("after a change of settings").await;
        service.retire_item("CLEAT", 2).await.unwrap();
        unchanged("after the item was retired").await;
        step(&service, &quote, Step::Accept).await.unwrap();
        unchanged("after it was accepted").await;
    })
    .await;
}

/// A database as the release before this chapter left it: a shop with a cleat, and one draft of two of them. Made with
/// that release, and written down by the databases' own tools.
const BEFORE: [&str; 2] = [include_str!("before_life/sqlite.sql"), include_str!("before_life/postgres.sql")];
/// The hash of the draft's document, as that release answered it.
const HASH_BEFORE: &str = "1e38416903d456a99db364c0d8e3bf6c364110ab3723631793ece4366d660131";

#[tokio::test(flavor = "multi_thread")]
async fn what_the_release_before_kept_is_as_it_was_and_can_be_issued() {
    each_database(async |database| {
        let admin = Connection::connect(&database.url).await.unwrap();
        admin.execute_unprepared(BEFORE[usize::from(database.url.starts_with("postgres"))]).await.unwrap();
        admin.close().await.unwrap();
        let service = database.service().await;
        let [quote] = &service.list_quotes(&QuoteFilter::default(), None, 9).await.unwrap().rows[..] else {
            panic!("one quote was kept");
        };
        let value = &quote.value;
        assert_eq!((value.state, value.revision, value.number.as_deref()), (QuoteState::Draft, 1, None));
        assert_eq!((value.document_hash.as_str(), value.net.to_string().as_str()), (HASH_BEFORE, "29.00"));
        let document = service.quote_document(value.id).await.unwrap();
        let hash: String = Sha256::digest(&document.bytes).iter().map(|byte| format!("{byte:02x}")).collect();
        assert_eq!(hash, HASH_BEFORE);
        let settings = service.settings().await.unwrap();
        assert!(settings.value.price_levels.is_empty() && settings.value.freight == Settings::starting().freight);
        assert!(service.replace_settings(settings.value, settings.version).await.is_ok(), "they can be sent back");
        // This edition may calculate more than that one did: then the draft is looked over before it goes out.
        let request = service.quote_request(value.id).await.unwrap().value;
        let draft = service.replace_quote(value.id, request, quote.version).await.unwrap();
        let issued = step(&service, &draft, Step::Issue).await.unwrap();
        assert_eq!(issued.value.number.as_deref(), Some("2026-0001"));
        assert_eq!(issued.value.net.to_string(), "29.00");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_moved_since_it_was_seen_is_not_issued_but_told() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let seen = draft(&service, "Whimbrel", 2).await;
        let settings = Settings { shop_name: "Slip Seven".to_owned(), ..Settings::starting() };
        service.replace_settings(settings, 1).await.unwrap();
        let mut cleat = item("CLEAT", json!({}));
        cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "12")];
        service.replace_item("CLEAT", cleat.clone(), 1).await.unwrap();
        let (told, difference) = match step(&service, &seen, Step::Issue).await {
            Err(Error::Moved { told, difference: Some(difference) }) => (told, difference),
            other => panic!("{other:?}"),
        };
        // Two cleats at 10.00 and at 12.00, both with 45 % on them.
        assert!(told.contains("moved from 29.00 USD to 34.80 USD"), "{told}");
        let shown = serde_json::to_value(&difference).unwrap();
        assert_eq!(shown["net"], json!({"before": "29.00", "after": "34.80", "difference": "5.80"}));
        assert_eq!(shown["take_off_changed"], false);
        assert_eq!(
            shown["lines"],
            json!([{
                "change": "changed", "sku": "CLEAT", "description": "Part CLEAT", "net_difference": "5.80",
                "before": {"quantity": "2", "unit": "each", "unit_price": "14.5", "net": "29.00", "tax_class": "goods"},
                "after": {"quantity": "2", "unit": "each", "unit_price": "17.4", "net": "34.80", "tax_class": "goods"},
            }])
        );
        assert_eq!(service.quote(seen.value.id).await.unwrap(), seen, "nothing was changed");

        cleat.prices.clear();
        service.replace_item("CLEAT", cleat.clone(), 2).await.unwrap();
        let outcome = step(&service, &seen, Step::Issue).await;
        assert!(
            matches!(&outcome, Err(Error::Moved { difference: Some(moved), .. })
            if moved.lines.len() == 1),
            "its price is gone: {outcome:?}"
        );

        // What costs as much as before, from a shop of another name, has not moved.
        cleat.prices = vec![price(PriceKind::Cost, "2026-01-01", "10")];
        service.replace_item("CLEAT", cleat, 3).await.unwrap();
        let quote = step(&service, &seen, Step::Issue).await.unwrap();
        assert_eq!(quote.value.number.as_deref(), Some("2026-0001"), "what was refused has taken no number");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_quote_whose_days_are_over_is_not_issued() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let mut asked = with_cleats("Ruff", 1);
        asked.priced_on = Some(NaiveDate::from_ymd_opt(2026, 10, 25).unwrap());
        let late = service.create_quote(asked.clone()).await.unwrap();
        assert_eq!(late.value.valid_until, day("2026-11-24"));
        let (told, allowed) = refused(step(&service, &late, Step::Issue).await);
        assert!(told.contains("2026-11-24"), "{told}");
        assert_eq!(allowed, [Step::Replace, Step::Delete]);
        asked.priced_on = Some(NaiveDate::from_ymd_opt(2026, 10, 26).unwrap());
        let last_day = service.create_quote(asked).await.unwrap();
        step(&service, &last_day, Step::Issue).await.unwrap();
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_gap_is_settled_by_a_line_or_an_exclusion_before_a_quote_is_issued() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        service.create_item(item("BOLLARD", json!({}))).await.unwrap();
        let equipment = json!([
            {"sku": "CLEAT", "quantity": 1, "station": "helm"},
            {"sku": "BOLLARD", "quantity": 1, "station": "helm"},
        ]);
        let asked = request("Tern", equipment);
        let gap_ridden = service.create_quote(asked.clone()).await.unwrap();
        assert!(gap_ridden.value.incomplete && gap_ridden.value.total.is_none());
        let gaps = match step(&service, &gap_ridden, Step::Issue).await {
            Err(Error::GapsStand(gaps)) => gaps,
            other => panic!("{other:?}"),
        };
        let [gap] = &gaps[..] else { panic!("{gaps:?}") };
        assert!(gap.need.contains("BOLLARD"), "{gap:?}");

        let line = json!({"kind": "line", "gap": gap.what, "description": "Bollard, from the yard", "quantity": "2",
            "unit": "each", "unit_price": "40.25", "tax_class": "goods"});
        let exclusion = json!({"kind": "exclusion", "gap": gap.what, "reason": "Supplied by the customer"});
        let settled = |settlements: Value| {
            let mut asked = asked.clone();
            asked.settlements = serde_json::from_value(settlements).unwrap();
            asked
        };
        let id = gap_ridden.value.id;
        let mut wrong = line.clone();
        wrong["gap"] = json!("wire/16 AWG/brown");
        wrong["quantity"] = json!("0");
        wrong["tax_class"] = json!("nothing");
        assert_eq!(
            places(service.replace_quote(id, settled(json!([wrong, exclusion, line])), 1).await),
            ["/settlements/0/gap", "/settlements/2/gap", "/settlements/0/quantity"]
        );

        let priced = service.replace_quote(id, settled(json!([line])), 1).await.unwrap();
        assert_eq!(priced.value.total.unwrap().to_string(), "95.00", "14.50 and twice 40.25");
        let quote = step(&service, &priced, Step::Issue).await.unwrap();
        let document: Value = serde_json::from_slice(&service.quote_document(id).await.unwrap().bytes).unwrap();
        assert_eq!(document["gaps"], json!([]));
        let manual = document["lines"].as_array().unwrap().iter().find(|line| line["kind"] == "manual").unwrap();
        assert_eq!((&manual["net"], &manual["meets"]), (&json!("80.50"), &json!([gap.what])));
        assert_eq!(quote.value.state, QuoteState::Issued);

        let left_out = service.create_quote(settled(json!([exclusion]))).await.unwrap();
        assert_eq!(left_out.value.total.unwrap().to_string(), "14.50");
        step(&service, &left_out, Step::Issue).await.unwrap();
        let document = service.quote_document(left_out.value.id).await.unwrap();
        let document: Value = serde_json::from_slice(&document.bytes).unwrap();
        let excluded = json!([{"gap": gap.what, "need": gap.need, "reason": "Supplied by the customer"}]);
        assert_eq!(document["exclusions"], excluded);

        // A gap that closed by itself is not charged a second time.
        let again = service.create_quote(settled(json!([line]))).await.unwrap();
        let mut bollard = item("BOLLARD", json!({}));
        bollard.prices = vec![price(PriceKind::Cost, "2026-01-01", "30")];
        service.replace_item("BOLLARD", bollard, 1).await.unwrap();
        match step(&service, &again, Step::Issue).await {
            Err(Error::Moved { told, difference: None }) => assert!(told.contains("/settlements/0/gap"), "{told}"),
            other => panic!("{other:?}"),
        }
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn numbers_count_within_the_year_of_the_shop() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let zone = Settings { time_zone: "Pacific/Auckland".to_owned(), ..Settings::starting() };
        service.replace_settings(zone, 1).await.unwrap();
        let number = async |name: &str| issued(&service, name, 1).await.value.number.unwrap();
        assert_eq!([number("One").await, number("Two").await], ["2026-0001", "2026-0002"]);
        // The year ends there at 11:00 in UTC (UTC+13 in December, IANA time zone database).
        set(&service, "2026-12-31T10:59:59Z");
        assert_eq!(number("Three").await, "2026-0003");
        set(&service, "2026-12-31T11:00:00Z");
        assert_eq!([number("Four").await, number("Five").await], ["2027-0001", "2027-0002"]);
        let found = QuoteFilter { text: Some("2027-0002".to_owned()), state: None };
        let found = service.list_quotes(&found, None, 9).await.unwrap().rows;
        assert_eq!(found.iter().map(|row| row.value.name.as_str()).collect::<Vec<_>>(), ["Five"]);
    })
    .await;
}
