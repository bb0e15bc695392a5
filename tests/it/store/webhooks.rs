//! Targets are told of every event, whatever becomes of them and of us: on both databases, step by step.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::time::Duration;

use rigbill::outbound::addresses::Listed;
use rigbill::outbound::webhooks::{Sender, Settings};
use rigbill::service::events::EventType;
use rigbill::service::once::{Made, Once};
use rigbill::service::webhooks::{
    DisabledReason, FAILURES_OF_TARGET, ReplayRequest, RotationRequest, TRIED_FOR, Webhook, WebhookEntry, WebhookSecret,
};
use rigbill::service::{Error, Service, Stored};
use uuid::Uuid;

use super::life::{cleats, issued, set};
use crate::fixture::{Database, NOW, clock, each_database};
use crate::receiver::{Does, Received, Receiver};

/// Time that a try may take in these tests.
const TIMEOUT: Duration = Duration::from_millis(700);

/// What may call this computer, in short time.
pub fn sender() -> Sender {
    // Another test of this binary may have chosen it already.
    let _ = rustls::crypto::ring::default_provider().install_default();
    let listed = Listed::by(|address| address.is_loopback());
    Sender::new(Settings { listed, connect_timeout: TIMEOUT, timeout: TIMEOUT })
}

async fn service(database: &Database) -> Service {
    database.service().await.with_sender(sender())
}

/// Two instances on one database, which share a clock.
async fn instances(database: &Database) -> [Service; 2] {
    let clock = clock();
    [database.store().await, database.store().await]
        .map(|store| Service::new(store, clock.clone()).with_sender(sender()))
}

fn entry(url: &str) -> WebhookEntry {
    WebhookEntry { url: url.to_owned(), description: None, event_types: Vec::new(), enabled: true }
}

async fn made(service: &Service, entry: WebhookEntry) -> (Stored<Webhook>, WebhookSecret) {
    match service.create_webhook(entry, Once::unclaimed()).await.unwrap() {
        Made::Now(made) => made,
        Made::Before(answer) => panic!("nothing was claimed: {answer:?}"),
    }
}

/// Has something happen, so many times.
async fn happen(service: &Service, times: usize) {
    for _ in 0..times {
        let settings = service.settings().await.unwrap();
        service.replace_settings(settings.value, settings.version).await.unwrap();
    }
}

/// Sets the clock to so long after its beginning.
fn later(service: &Service, after: chrono::Duration) {
    let begin: chrono::DateTime<chrono::Utc> = NOW.parse().unwrap();
    set(service, &(begin + after).to_rfc3339());
}

fn ids(received: &[Received]) -> Vec<String> {
    received.iter().map(|one| one.id().to_owned()).collect()
}

async fn told_of(service: &Service) -> Vec<String> {
    service.events_behind(0, 10_000).await.unwrap().into_iter().map(|(event, _)| event.id.to_string()).collect()
}

#[tokio::test(flavor = "multi_thread")]
async fn a_target_is_told_in_order_of_what_happens_from_then_on() {
    each_database(async |database| {
        let service = service(&database).await;
        cleats(&service).await;
        happen(&service, 3).await;
        let receiver = Receiver::that(Does::status(204)).await;
        let (webhook, _) = made(&service, entry(&receiver.url)).await;
        assert_eq!(webhook.value.position, 3, "it begins behind what happened before");
        assert_eq!(service.tell_due().await.unwrap(), 0);
        issued(&service, "Avocet", 1).await;
        happen(&service, 30).await;
        assert_eq!(service.tell_due().await.unwrap(), 31);
        let received = receiver.received();
        assert_eq!(ids(&received), told_of(&service).await[3..]);
        let first = received[0].event();
        assert_eq!(first["type"], "quote.issued");
        let (read, _) = service.cloud_events_behind(3, 1).await.unwrap();
        assert_eq!(first, serde_json::to_value(&read[0]).unwrap(), "the same as /v1/events has it");
        assert_eq!(received[0].header("content-type"), "application/cloudevents+json; charset=utf-8");
        assert_eq!(service.tell_due().await.unwrap(), 0, "once is enough");
        let standing = service.webhook(webhook.value.id).await.unwrap();
        assert_eq!((standing.value.position, standing.value.waiting, standing.version), (34, 0, 1));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn only_the_types_that_were_asked_for_are_told() {
    each_database(async |database| {
        let service = service(&database).await;
        cleats(&service).await;
        let receiver = Receiver::that(Does::status(200)).await;
        let event_types = vec![EventType::QuoteIssued];
        let (webhook, _) = made(&service, WebhookEntry { event_types, ..entry(&receiver.url) }).await;
        happen(&service, 2).await;
        assert_eq!(service.tell_due().await.unwrap(), 0);
        assert_eq!(service.webhook(webhook.value.id).await.unwrap().value.position, 2, "passed over");
        issued(&service, "Avocet", 1).await;
        happen(&service, 1).await;
        assert_eq!(service.tell_due().await.unwrap(), 1);
        assert_eq!(receiver.received()[0].event()["type"], "quote.issued");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn whatever_a_receiver_does_costs_no_more_than_its_time_and_is_told() {
    each_database(async |database| {
        let service = service(&database).await;
        let beside = Receiver::that(Does::status(200)).await;
        let dead = {
            let listener = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
            format!("http://{}/", listener.local_addr().unwrap())
        };
        let cases = [
            (Does::status(200), "delivered", None),
            (Does::status(204), "delivered", None),
            // The status has arrived; what follows is nobody's business.
            (Does::Floods(200), "delivered", None),
            (Does::status(500), "wrong_status", Some("status 500")),
            (Does::status(404), "wrong_status", Some("status 404")),
            (Does::Floods(500), "wrong_status", Some("status 500")),
            (Does::SendsOn(beside.url.clone()), "redirected", Some("elsewhere (307)")),
            (Does::Sleeps, "timed_out", Some("not answered within 700 ms")),
            (Does::Closes, "broke_off", Some("broke off")),
            (Does::BreaksOff, "broke_off", Some("broke off")),
        ];
        let mut expected = Vec::new();
        for (does, outcome, told) in cases {
            let url = Receiver::that(does).await.url;
            expected.push((made(&service, entry(&url)).await.0.value.id, outcome, told));
        }
        expected.push((made(&service, entry(&dead)).await.0.value.id, "unreachable", Some("cannot be reached")));
        // A name is looked up when it is called, and this one leads to this computer, which only some tests may call.
        happen(&service, 1).await;
        let begun = std::time::Instant::now();
        assert_eq!(service.tell_due().await.unwrap(), 11);
        assert!(begun.elapsed() < Duration::from_secs(8), "{:?}", begun.elapsed());
        for (id, outcome, told) in expected {
            let tries = service.list_attempts(id, None, None, 10).await.unwrap().rows;
            assert_eq!((tries.len(), tries[0].outcome.as_str(), tries[0].attempt), (1, outcome, 1));
            assert_eq!(tries[0].next_at.is_some(), outcome != "delivered");
            match (told, &tries[0].error) {
                (None, None) => {}
                (Some(told), Some(said)) => assert!(said.contains(told), "{said}"),
                other => panic!("{other:?}"),
            }
        }
        assert!(beside.received().is_empty(), "no redirect is followed");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_name_that_leads_to_this_computer_is_refused_when_it_is_called() {
    each_database(async |database| {
        let service = database.service().await.with_sender({
            let _ = rustls::crypto::ring::default_provider().install_default();
            Sender::default()
        });
        let receiver = Receiver::that(Does::status(200)).await;
        let port = receiver.url.rsplit_once(':').unwrap().1;
        for scheme in ["http", "https"] {
            // No number, so only a look-up can tell where it leads (RFC 6761, section 6.3: localhost is this computer).
            let url = format!("{scheme}://localhost:{port}");
            let (webhook, _) = made(&service, entry(&url)).await;
            happen(&service, 1).await;
            service.tell_due().await.unwrap();
            let tries = service.list_attempts(webhook.value.id, None, None, 1).await.unwrap().rows;
            assert_eq!((tries[0].outcome.as_str(), tries[0].status), ("address_refused", None));
            assert!(tries[0].error.as_deref().unwrap().contains("loopback"), "{tries:?}");
        }
        assert!(receiver.received().is_empty());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_dead_target_slows_no_other() {
    each_database(async |database| {
        let service = service(&database).await;
        let (dead, well) = (Receiver::that(Does::Sleeps).await, Receiver::that(Does::status(200)).await);
        made(&service, entry(&dead.url)).await;
        made(&service, entry(&well.url)).await;
        happen(&service, 40).await;
        let telling = {
            let service = service.clone();
            tokio::spawn(async move { service.tell_due().await })
        };
        // All of these arrive while the first try at the other is still under way.
        let begun = std::time::Instant::now();
        dead.until(1).await;
        well.until(40).await;
        let within = begun.elapsed();
        assert!(dead.received().len() < 10, "{} tries in {within:?}", dead.received().len());
        telling.await.unwrap().unwrap();
        let tried = dead.received().len();
        assert_eq!(tried as i64, FAILURES_OF_TARGET, "then it is left alone");
        assert_eq!(ids(&well.received()), told_of(&service).await);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_fails_is_tried_again_under_the_same_identifier_until_it_arrives() {
    each_database(async |database| {
        let service = service(&database).await;
        let receiver = Receiver::that(Does::status(503)).await;
        let (webhook, _) = made(&service, entry(&receiver.url)).await;
        happen(&service, 2).await;
        assert_eq!(service.tell_due().await.unwrap(), 2);
        assert_eq!(service.tell_due().await.unwrap(), 0, "not before its time");
        let standing = service.webhook(webhook.value.id).await.unwrap().value;
        assert_eq!((standing.waiting, standing.position), (2, 2));
        assert_eq!(standing.failing_since, Some(NOW.parse().unwrap()));
        // Five seconds after each, at most.
        later(&service, chrono::Duration::seconds(6));
        happen(&service, 1).await;
        receiver.set(Does::status(200));
        assert_eq!(service.tell_due().await.unwrap(), 3);
        let all = told_of(&service).await;
        let received = ids(&receiver.received());
        assert_eq!(received, [&all[0], &all[1], &all[0], &all[1], &all[2]].map(String::clone));
        let (first, again) = (&receiver.received()[0], &receiver.received()[2]);
        assert_eq!(first.body, again.body);
        assert_ne!(first.header("webhook-timestamp"), again.header("webhook-timestamp"));
        let standing = service.webhook(webhook.value.id).await.unwrap().value;
        assert_eq!((standing.waiting, standing.failing_since), (0, None));
        let event = Some(all[0].parse::<Uuid>().unwrap());
        let tries = service.list_attempts(webhook.value.id, event, None, 10).await.unwrap().rows;
        let told: Vec<_> = tries.iter().map(|one| (one.attempt, one.status)).collect();
        assert_eq!(told, [(2, Some(200)), (1, Some(503))], "newest first");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_killed_instance_is_followed_by_another_and_nothing_is_lost() {
    each_database(async |database| {
        let [first, second] = instances(&database).await;
        let receiver = Receiver::that(Does::status(200)).await;
        made(&first, entry(&receiver.url)).await;
        happen(&first, 5).await;
        receiver.set(Does::Sleeps);
        // Killed in the middle of a delivery: the request is out, and nobody will write down what comes of it.
        let killed = {
            let first = first.clone();
            tokio::spawn(async move { first.tell_due().await })
        };
        receiver.until(1).await;
        assert_eq!(second.tell_due().await.unwrap(), 0, "the lease holds");
        killed.abort();
        assert!(killed.await.unwrap_err().is_cancelled());
        receiver.set(Does::status(200));
        assert_eq!(second.tell_due().await.unwrap(), 0, "nobody knows yet that it is dead");
        later(&second, chrono::Duration::seconds(60));
        assert_eq!(second.tell_due().await.unwrap(), 5);
        let received = ids(&receiver.received());
        let all = told_of(&second).await;
        assert_eq!(received[0], received[1], "told once more under the same identifier");
        assert_eq!(received[1..], all);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn two_instances_never_tell_the_same_at_once() {
    each_database(async |database| {
        let instances = Arc::new(instances(&database).await);
        let receiver = Receiver::that(Does::status(200)).await;
        made(&instances[0], entry(&receiver.url)).await;
        happen(&instances[0], 60).await;
        let telling = (0..8).map(|n| {
            let service = instances[n % 2].clone();
            tokio::spawn(async move { service.tell_due().await.unwrap() })
        });
        let tries: u64 = futures_util::future::join_all(telling).await.into_iter().map(Result::unwrap).sum();
        assert_eq!(tries, 60);
        assert_eq!(ids(&receiver.received()), told_of(&instances[0]).await, "each once, in order");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_target_that_fails_for_three_days_is_told_no_more_and_loses_nothing() {
    each_database(async |database| {
        let service = service(&database).await;
        let (dead, other) = (Receiver::that(Does::status(500)).await, Receiver::that(Does::status(200)).await);
        let (webhook, _) = made(&service, entry(&dead.url)).await;
        let event_types = vec![EventType::WebhookDisabled];
        made(&service, WebhookEntry { event_types, ..entry(&other.url) }).await;
        happen(&service, 1).await;
        let mut hours = 0;
        while service.webhook(webhook.value.id).await.unwrap().value.enabled {
            service.tell_due().await.unwrap();
            hours += 1;
            assert!(hours < 100, "it ends");
            later(&service, chrono::Duration::hours(hours));
        }
        assert!(chrono::Duration::hours(hours) >= TRIED_FOR - chrono::Duration::hours(7), "{hours}");
        let tries = dead.received().len();
        assert!((12..40).contains(&tries), "{tries}");
        let standing = service.webhook(webhook.value.id).await.unwrap();
        assert_eq!(standing.value.disabled_reason, Some(DisabledReason::Failing));
        assert_eq!((standing.version, standing.value.changed_by.as_str()), (2, "webhook delivery"));
        assert_eq!(standing.value.waiting, 1);
        service.tell_due().await.unwrap();
        let told = other.received()[0].event();
        assert_eq!(
            (&told["type"], &told["subject"]),
            (&"webhook.disabled".into(), &webhook.value.id.to_string().into())
        );
        assert_eq!(told["data"]["reason"], "failing");
        assert!(!other.received()[0].body.contains("127.0.0.1"), "an address may hold a secret");
        // What happens meanwhile waits with it.
        happen(&service, 2).await;
        service.tell_due().await.unwrap();
        assert_eq!(dead.received().len(), tries);
        dead.set(Does::status(200));
        service.replace_webhook(webhook.value.id, entry(&dead.url), standing.version).await.unwrap();
        service.tell_due().await.unwrap();
        let arrived: BTreeSet<String> = ids(&dead.received()[tries..]).into_iter().collect();
        assert_eq!(arrived, told_of(&service).await.into_iter().collect());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_target_that_is_gone_is_told_no_more_at_once() {
    each_database(async |database| {
        let service = service(&database).await;
        let receiver = Receiver::that(Does::status(410)).await;
        let (webhook, _) = made(&service, entry(&receiver.url)).await;
        happen(&service, 3).await;
        assert_eq!(service.tell_due().await.unwrap(), 1);
        let standing = service.webhook(webhook.value.id).await.unwrap().value;
        assert_eq!((standing.enabled, standing.disabled_reason), (false, Some(DisabledReason::Gone)));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn events_are_told_once_more_when_asked_for() {
    each_database(async |database| {
        let service = service(&database).await;
        cleats(&service).await;
        let receiver = Receiver::that(Does::status(200)).await;
        happen(&service, 3).await;
        let event_types = vec![EventType::SettingsChanged];
        let (webhook, _) = made(&service, WebhookEntry { event_types, ..entry(&receiver.url) }).await;
        let id = webhook.value.id;
        issued(&service, "Avocet", 1).await;
        happen(&service, 1).await;
        let range = |from, to| ReplayRequest { event: None, from, to };
        let places = |error: Error| match error {
            Error::Faults(faults) => faults.into_iter().map(|fault| fault.pointer).collect::<Vec<_>>(),
            other => panic!("{other:?}"),
        };
        let all = told_of(&service).await;
        let one = |place: usize| ReplayRequest { event: Some(all[place].parse().unwrap()), from: None, to: None };
        assert_eq!(places(service.replay(id, &one(4)).await.unwrap_err()), ["/event"], "it was not told yet");
        service.tell_due().await.unwrap();
        // Those from before it was made too, and no others than it is told of.
        assert_eq!(service.replay(id, &range(Some(1), None)).await.unwrap().events, 4);
        assert_eq!(service.tell_due().await.unwrap(), 4);
        assert_eq!(service.replay(id, &range(Some(2), Some(4))).await.unwrap().events, 2);
        assert_eq!(service.replay(id, &one(2)).await.unwrap().events, 1);
        assert_eq!(service.tell_due().await.unwrap(), 2, "what was asked for twice comes once");
        let expected: Vec<&String> = [4, 0, 1, 2, 4, 1, 2].map(|place| &all[place]).into();
        assert_eq!(ids(&receiver.received()).iter().collect::<Vec<_>>(), expected);
        assert_eq!(places(service.replay(id, &one(3)).await.unwrap_err()), ["/event"], "it is not told of that type");
        let nothing = ReplayRequest { event: Some(Uuid::nil()), from: None, to: None };
        assert_eq!(places(service.replay(id, &nothing).await.unwrap_err()), ["/event"]);
        assert_eq!(places(service.replay(id, &range(None, None)).await.unwrap_err()), [""]);
        assert_eq!(places(service.replay(id, &range(Some(3), Some(2))).await.unwrap_err()), ["/to"]);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn for_the_overlap_of_a_rotation_both_secrets_sign() {
    each_database(async |database| {
        let service = service(&database).await;
        let receiver = Receiver::that(Does::status(200)).await;
        let (webhook, first) = made(&service, entry(&receiver.url)).await;
        let id = webhook.value.id;
        let (rotated, second) = service.rotate_webhook(id, RotationRequest { overlap_min: 60 }, 1).await.unwrap();
        assert_ne!(first.expose(), second.expose());
        assert_eq!((rotated.version, rotated.value.earlier_secret_until.is_some()), (2, true));
        for (minutes, count) in [(0, 2), (59, 2), (60, 1), (61, 1)] {
            later(&service, chrono::Duration::minutes(minutes));
            happen(&service, 1).await;
            assert_eq!(service.tell_due().await.unwrap(), 1);
            let received = receiver.received().pop().unwrap();
            let signatures: Vec<&str> = received.header("webhook-signature").split(' ').collect();
            assert_eq!(signatures.len(), count, "after {minutes} minutes");
            assert_eq!(signatures[0], signed(&received, second.expose()));
            if let Some(earlier) = signatures.get(1) {
                assert_eq!(*earlier, signed(&received, first.expose()));
            }
        }
        let (_, third) = service.rotate_webhook(id, RotationRequest { overlap_min: 0 }, 2).await.unwrap();
        happen(&service, 1).await;
        service.tell_due().await.unwrap();
        let received = receiver.received().pop().unwrap();
        assert_eq!(received.header("webhook-signature"), signed(&received, third.expose()));
    })
    .await;
}

/// The signature of what was received, by Standard Webhooks 1.0.0, "Signature scheme", and RFC 2104 written out. The
/// contract test has it checked by the standard's own libraries.
fn signed(received: &Received, secret: &str) -> String {
    use base64::Engine;
    use base64::engine::general_purpose::STANDARD;
    use sha2::{Digest, Sha256};
    let key = STANDARD.decode(secret.strip_prefix("whsec_").unwrap()).unwrap();
    assert_eq!(key.len(), 32);
    let text = format!("{}.{}.{}", received.id(), received.header("webhook-timestamp"), received.body);
    let padded = |with: u8| (0..64).map(|place| key.get(place).copied().unwrap_or(0) ^ with).collect::<Vec<u8>>();
    let inner = Sha256::digest([padded(0x36), text.into_bytes()].concat());
    let outer = Sha256::digest([padded(0x5c), inner.to_vec()].concat());
    format!("v1,{}", STANDARD.encode(outer))
}

#[tokio::test(flavor = "multi_thread")]
async fn tries_are_kept_for_thirty_days() {
    each_database(async |database| {
        let service = service(&database).await;
        let receiver = Receiver::that(Does::status(200)).await;
        let (webhook, _) = made(&service, entry(&receiver.url)).await;
        happen(&service, 2).await;
        service.tell_due().await.unwrap();
        later(&service, chrono::Duration::days(29));
        happen(&service, 1).await;
        service.tell_due().await.unwrap();
        assert_eq!(service.forget_attempts().await.unwrap(), 0);
        later(&service, chrono::Duration::days(31));
        assert_eq!(service.forget_attempts().await.unwrap(), 2);
        assert_eq!(service.list_attempts(webhook.value.id, None, None, 10).await.unwrap().rows.len(), 1);
    })
    .await;
}
