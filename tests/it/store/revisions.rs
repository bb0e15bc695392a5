//! Revisions of a quote, and what they change.

use rigbill::service::life::Step;
use rigbill::service::quotes::QuoteState;
use rigbill::service::{Error, Service};
use serde_json::json;

use super::life::{cleats, draft, issued, refused, step, with_cleats};
use super::shop::item;
use crate::fixture::each_database;

#[tokio::test(flavor = "multi_thread")]
async fn a_revision_keeps_the_number_and_takes_the_place_of_its_forerunner_when_it_is_issued() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let first = issued(&service, "Avocet", 2).await;
        let other = issued(&service, "Ruff", 1).await;
        let revision = step(&service, &first, Step::Revise).await.unwrap();
        let facts =
            |quote: &rigbill::service::quotes::QuoteSummary| (quote.state, quote.number.clone(), quote.revision);
        let number = Some("2026-0001".to_owned());
        assert_eq!(facts(&revision.value), (QuoteState::Draft, number.clone(), 2));
        assert_eq!(revision.value.revises, Some(first.value.id));
        assert_eq!(service.quote(first.value.id).await.unwrap(), first, "it stands until its revision is issued");
        let (told, allowed) = refused(step(&service, &first, Step::Revise).await);
        assert!(told.contains(&revision.value.id.to_string()), "{told}");
        assert_eq!(allowed, [Step::Accept, Step::Decline, Step::Withdraw]);

        let replaced = service.replace_quote(revision.value.id, with_cleats("Avocet", 4), 1).await.unwrap();
        assert_eq!(facts(&replaced.value), (QuoteState::Draft, number.clone(), 2));
        assert_eq!(replaced.value.revises, Some(first.value.id));
        let second = step(&service, &replaced, Step::Issue).await.unwrap();
        assert_eq!(facts(&second.value), (QuoteState::Issued, number.clone(), 2));
        let superseded = service.quote(first.value.id).await.unwrap();
        assert_eq!((superseded.value.state, superseded.version), (QuoteState::Superseded, 3));
        let moves = service.quote_moves(first.value.id).await.unwrap().value;
        let last = moves.last().unwrap();
        assert_eq!((last.to, last.superseded_by), (QuoteState::Superseded, Some(second.value.id)));

        let third = step(&service, &second, Step::Revise).await.unwrap();
        assert_eq!(facts(&third.value), (QuoteState::Draft, number, 3));
        service.delete_quote(third.value.id, 1).await.unwrap();
        step(&service, &second, Step::Revise).await.unwrap();
        let next = issued(&service, "Knot", 1).await;
        assert_eq!(next.value.number.as_deref(), Some("2026-0003"), "a revision takes no number of its own");
        assert_eq!(service.quote(other.value.id).await.unwrap(), other);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_revision_says_what_it_changes_line_by_line_and_in_money() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let mut hook = item("HOOK", json!({}));
        hook.prices = vec![super::shop::price(rigbill::calc::shop::item::PriceKind::Cost, "2026-01-01", "2")];
        service.create_item(hook).await.unwrap();
        let first = draft(&service, "Dunlin", 2).await;
        let nothing = service.quote_changes(first.value.id).await.unwrap().value.1;
        assert!(nothing.is_none(), "it revises none: {nothing:?}");
        let first = step(&service, &first, Step::Issue).await.unwrap();
        let revision = step(&service, &first, Step::Revise).await.unwrap();
        let mut asked = with_cleats("Dunlin", 3);
        let more = json!([{"sku": "CLEAT", "quantity": 3, "station": "helm"},
            {"sku": "HOOK", "quantity": 5, "station": "helm"}]);
        asked.spec.equipment = serde_json::from_value(more).unwrap();
        asked.spec.extra_lines = serde_json::from_value(json!([{"description": "Haul out", "quantity": "1",
            "unit": "each", "unit_price": "350.00", "tax_class": "service"}]))
        .unwrap();
        let revision = service.replace_quote(revision.value.id, asked, 1).await.unwrap();
        let changes = service.quote_changes(revision.value.id).await.unwrap();
        assert_eq!(changes.version, 2);
        let shown = serde_json::to_value(changes.value.1.unwrap()).unwrap();
        let line = |place: usize| {
            let line = &shown["lines"][place];
            (line["change"].as_str().unwrap(), line["description"].as_str().unwrap(), &line["net_difference"])
        };
        // Cleats at 14.50, hooks at 2.90: 45 % on the cost.
        assert_eq!(line(0), ("changed", "Part CLEAT", &json!("14.50")));
        assert_eq!(line(1), ("added", "Part HOOK", &json!("14.50")));
        assert_eq!(line(2), ("added", "Haul out", &json!("350.00")));
        assert_eq!(shown["lines"].as_array().unwrap().len(), 3);
        assert_eq!(shown["net"], json!({"before": "29.00", "after": "408.00", "difference": "379.00"}));
        assert_eq!(shown["take_off_changed"], true);

        let second = step(&service, &revision, Step::Issue).await.unwrap();
        let third = service
            .revise_quote(second.value.id, with_cleats("Dunlin", 3), 3, rigbill::service::once::Once::unclaimed())
            .await;
        let rigbill::service::once::Made::Now(third) = third.unwrap() else { panic!("nothing was claimed") };
        let shown = serde_json::to_value(service.quote_changes(third.value.id).await.unwrap().value.1).unwrap();
        let removed: Vec<_> = shown["lines"].as_array().unwrap().iter().map(|line| &line["change"]).collect();
        assert_eq!(removed, ["removed", "removed"]);
        assert_eq!(shown["total"]["difference"], "-364.50");
        // What an issued revision changed no longer changes itself.
        let of_second = service.quote_changes(second.value.id).await.unwrap().value.1;
        assert_eq!(serde_json::to_value(of_second).unwrap()["net"]["difference"], "379.00");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_revision_of_what_was_accepted_meanwhile_is_not_issued() {
    each_database(async |database| {
        let service = database.service().await;
        cleats(&service).await;
        let first = issued(&service, "Godwit", 1).await;
        let revision = step(&service, &first, Step::Revise).await.unwrap();
        let accepted = step(&service, &first, Step::Accept).await.unwrap();
        let (told, allowed) = refused(step(&service, &revision, Step::Issue).await);
        assert!(told.contains("which is accepted by now"), "{told}");
        assert_eq!(allowed, [Step::Replace, Step::Delete]);
        assert_eq!(service.quote(first.value.id).await.unwrap(), accepted);
        assert_eq!(service.quote(revision.value.id).await.unwrap(), revision);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn of_many_who_revise_one_quote_one_does_and_accepting_it_or_issuing_its_revision_is_one_of_the_two() {
    each_database(async |database| {
        let one = database.service().await;
        let other = Service::new(database.store().await, one.clock().clone());
        cleats(&one).await;
        for round in 0..4 {
            let quote = issued(&one, &format!("Skua {round}"), 1).await;
            let tries = (0..8).map(|n| {
                let (service, quote) = (if n % 2 == 0 { one.clone() } else { other.clone() }, quote.clone());
                tokio::spawn(async move { step(&service, &quote, Step::Revise).await })
            });
            let outcomes: Vec<_> =
                futures_util::future::join_all(tries).await.into_iter().map(Result::unwrap).collect();
            let [revision] = &outcomes.iter().filter_map(|outcome| outcome.as_ref().ok()).collect::<Vec<_>>()[..]
            else {
                panic!("{outcomes:?}")
            };
            assert!(outcomes.iter().all(|one| matches!(one, Ok(_) | Err(Error::WrongMove { .. }))), "{outcomes:?}");
            let (accepted, issued) =
                tokio::join!(step(&one, &quote, Step::Accept), step(&other, revision, Step::Issue));
            assert_ne!(accepted.is_ok(), issued.is_ok(), "{accepted:?} {issued:?}");
            let (first, second) =
                (one.quote(quote.value.id).await.unwrap(), one.quote(revision.value.id).await.unwrap());
            let expected = if accepted.is_ok() {
                (QuoteState::Accepted, QuoteState::Draft)
            } else {
                (QuoteState::Superseded, QuoteState::Issued)
            };
            assert_eq!((first.value.state, second.value.state), expected);
        }
    })
    .await;
}
