//! What is done once: claims and the work they stand for go together, whatever happens in between.

use std::time::Duration;

use chrono::Duration as Span;
use rigbill::clock::Clock;
use rigbill::service::once::{Answer, Claim, Made, Once, OpenClaim};
use rigbill::service::quotes::QuoteSummary;
use rigbill::service::{Error, Service, Stored};
use sea_orm::{ConnectionTrait, Database, Statement};
use serde_json::json;
use uuid::Uuid;

use super::shop::{item, request};
use crate::fixture::each_database;

fn claim(principal: Uuid, key: &str, body: &str) -> Claim {
    let mut open = OpenClaim::new(principal, key.to_owned(), "POST", "/somewhere");
    open.feed(body.as_bytes());
    open.close()
}

fn answer(id: &str, shows_secret: bool) -> Answer {
    Answer {
        status: 201,
        location: Some(format!("/somewhere/{id}")),
        etag: Some("\"v1\"".to_owned()),
        content_type: "application/json".to_owned(),
        body: format!("made {id}").into_bytes(),
        shows_secret,
    }
}

async fn quote(service: &Service, claim: &Claim) -> Result<Made<Stored<QuoteSummary>>, Error> {
    let answer = |made: &Stored<QuoteSummary>| answer(&made.value.id.to_string(), false);
    service.create_quote_once(request("Dunlin", json!([])), Once::by(Some(claim), &answer)).await
}

async fn quotes(service: &Service) -> Vec<Uuid> {
    let page = service.list_quotes(&Default::default(), None, 200).await.unwrap();
    page.rows.into_iter().map(|row| row.value.id).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn the_same_text_is_another_key_in_another_hand() {
    each_database(async |database| {
        let service = database.service().await;
        let (one, other) = (Uuid::from_u128(1), Uuid::from_u128(2));
        for principal in [one, other] {
            let made = quote(&service, &claim(principal, "k", "a")).await.unwrap();
            assert!(matches!(made, Made::Now(_)), "{made:?}");
        }
        let [second, first] = quotes(&service).await[..] else { panic!("two quotes") };
        for (principal, id) in [(one, first), (other, second)] {
            let again = quote(&service, &claim(principal, "k", "a")).await.unwrap();
            assert_eq!(again, Made::Before(answer(&id.to_string(), false)));
            let found = service.answered(&claim(principal, "k", "a")).await.unwrap();
            assert_eq!(found, Some(answer(&id.to_string(), false)));
            let reused = quote(&service, &claim(principal, "k", "b")).await;
            assert!(matches!(reused, Err(Error::KeyReused)), "{reused:?}");
            assert!(matches!(service.answered(&claim(principal, "k", "b")).await, Err(Error::KeyReused)));
        }
        assert_eq!(service.answered(&claim(one, "K", "a")).await.unwrap(), None, "letters keep their case");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn an_answer_with_a_secret_is_not_kept_and_its_work_is_still_done_once() {
    each_database(async |database| {
        let service = database.service().await;
        let key = claim(Uuid::nil(), "k", "a");
        let make = async |sku: &str| {
            let answer = |made: &Stored<rigbill::calc::shop::item::Item>| answer(made.value.sku.as_str(), true);
            service.create_item_once(item(sku, json!({})), Once::by(Some(&key), &answer)).await
        };
        assert!(matches!(make("I").await, Ok(Made::Now(_))));
        for outcome in [make("I").await.map(drop), service.answered(&key).await.map(drop)] {
            match outcome {
                Err(Error::ShownOnce { location }) => assert_eq!(location.as_deref(), Some("/somewhere/I")),
                other => panic!("{other:?}"),
            }
        }
        let connection = Database::connect(&database.url).await.unwrap();
        let question = Statement::from_string(connection.get_database_backend(), "SELECT body FROM idempotency");
        let row = connection.query_one_raw(question).await.unwrap().unwrap();
        assert_eq!(row.try_get::<Option<Vec<u8>>>("", "body").unwrap(), None);
        connection.close().await.unwrap();
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn old_answers_are_swept_out_and_young_ones_stay() {
    each_database(async |database| {
        let service = database.service().await;
        let Clock::Fixed(clock) = service.clock().clone() else { panic!("the clock of a test is fixed") };
        let begin = service.clock().now();
        quote(&service, &claim(Uuid::nil(), "old", "a")).await.unwrap();
        clock.set(begin + Span::hours(1));
        quote(&service, &claim(Uuid::nil(), "young", "a")).await.unwrap();
        clock.set(begin + Span::hours(24) - Span::microseconds(1));
        assert_eq!(service.forget_answers().await.unwrap(), 0);
        clock.set(begin + Span::hours(24));
        assert_eq!(service.answered(&claim(Uuid::nil(), "old", "a")).await.unwrap(), None);
        assert_eq!(service.forget_answers().await.unwrap(), 1);
        assert!(service.answered(&claim(Uuid::nil(), "young", "a")).await.unwrap().is_some());
    })
    .await;
}

/// A request whose client goes away is dropped wherever it stands: here at some hundred places between its first
/// statement and its commit.
#[tokio::test(flavor = "multi_thread")]
async fn work_that_is_dropped_anywhere_is_there_whole_or_not_at_all() {
    each_database(async |database| {
        let service = database.service().await;
        let begun = tokio::time::Instant::now();
        quote(&service, &claim(Uuid::nil(), "warm", "a")).await.unwrap();
        let whole = begun.elapsed().max(Duration::from_millis(2));
        let connection = Database::connect(&database.url).await.unwrap();
        let (mut kept, mut lost) = (0, 0);
        for place in 0..120u32 {
            let key = claim(Uuid::nil(), &format!("k{place}"), "a");
            let before = quotes(&service).await.len();
            let work = {
                let (service, key) = (service.clone(), key.clone());
                tokio::spawn(async move { quote(&service, &key).await.map(drop) })
            };
            tokio::time::sleep(whole * place / 80).await;
            work.abort();
            let _ = work.await;
            // One statement sees one state; a commit that was under way may still come through behind it.
            let apart = "SELECT (SELECT COUNT(*) FROM idempotency) - (SELECT COUNT(*) FROM quotes) AS n";
            let apart = Statement::from_string(connection.get_database_backend(), apart);
            let apart: i64 = connection.query_one_raw(apart).await.unwrap().unwrap().try_get("", "n").unwrap();
            assert_eq!(apart, 0, "claim and quote go together");
            match quote(&service, &key).await.unwrap() {
                Made::Before(_) => kept += 1,
                Made::Now(_) => lost += 1,
            }
            assert_eq!(quotes(&service).await.len(), before + 1);
        }
        assert!(lost > 0, "none of {kept} was dropped in time");
        connection.close().await.unwrap();
    })
    .await;
}
