//! Keys: made, taken, rotated, revoked; on both databases.

use std::time::Duration;

use chrono::{DateTime, TimeDelta, Utc};
use rigbill::clock::Clock;
use rigbill::service::access::{Principal, Role};
use rigbill::service::keys::{KeyRequest, RotationRequest, Secret};
use rigbill::service::{Error, Service};
use uuid::Uuid;

use crate::fixture::{NOW, each_database};

fn wanted(name: &str, role: Role) -> KeyRequest {
    KeyRequest { name: name.to_owned(), role, expires_at: None }
}

fn now() -> DateTime<Utc> {
    NOW.parse().unwrap()
}

fn set_clock(service: &Service, to: DateTime<Utc>) {
    let Clock::Fixed(clock) = service.clock() else { panic!("a test has a fixed clock") };
    clock.set(to);
}

async fn taken(service: &Service, secret: &Secret) -> bool {
    service.authenticate(secret.expose()).await.unwrap().is_some()
}

async fn version(service: &Service, id: Uuid) -> i64 {
    service.key(id).await.unwrap().version
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_tells_whose_it_is_and_its_name_is_given_once() {
    each_database(async |database| {
        let service = database.service().await;
        assert!(!service.has_key().await.unwrap());
        let (owner, secret) = service.create_key(wanted("Office", Role::Owner)).await.unwrap();
        assert!(service.has_key().await.unwrap());
        let principal = service.authenticate(secret.expose()).await.unwrap().unwrap();
        assert_eq!(principal, Principal { key: owner.value.id, name: "Office".to_owned(), role: Role::Owner });
        assert_eq!((owner.value.created_by.as_str(), owner.version), ("command line", 1));

        let office = service.by(principal);
        let (till, _) = office.create_key(wanted("Till", Role::FrontDesk)).await.unwrap();
        assert_eq!((till.value.created_by.as_str(), till.value.changed_by.as_str()), ("Office", "Office"));
        for name in ["Till", "Office"] {
            let twice = service.create_key(wanted(name, Role::Reader)).await.unwrap_err();
            assert!(matches!(twice, Error::AlreadyThere { .. }), "{twice:?}");
        }
        let listed = service.list_keys(None, 1).await.unwrap();
        assert_eq!(listed.rows, [till]);
        let rest = service.list_keys(listed.next_after.as_deref(), 1).await.unwrap();
        assert_eq!((rest.rows[0].value.name.as_str(), rest.next_after), ("Office", None));
        assert_eq!(service.key_by_name("Till").await.unwrap().value.role, Role::FrontDesk);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn what_cannot_be_a_key_is_refused_with_every_fault() {
    each_database(async |database| {
        let service = database.service().await;
        let past = KeyRequest { expires_at: Some(now()), ..wanted(" a\nb", Role::Owner) };
        let Err(Error::Faults(faults)) = service.create_key(past).await else { panic!("it was taken") };
        let places: Vec<&str> = faults.iter().map(|fault| fault.pointer.as_str()).collect();
        assert_eq!(places, ["/expires_at", "/name", "/name"]);
        let reserved = service.create_key(wanted("command line", Role::Owner)).await;
        assert!(matches!(reserved, Err(Error::Faults(_))));
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn only_the_whole_secret_of_a_key_that_stands_is_taken() {
    each_database(async |database| {
        let service = database.service().await;
        let (key, secret) = service.create_key(wanted("Office", Role::Owner)).await.unwrap();
        let (_, other) = service.create_key(wanted("Till", Role::FrontDesk)).await.unwrap();
        let text = secret.expose();
        let id = key.value.id.simple().to_string();
        let (head, tail) = text.split_at(text.len() - 43);
        // The random part of another key; one sign changed; an identifier that nobody has; cut, extended, cased.
        let others = [
            format!("{head}{}", &other.expose()[other.expose().len() - 43..]),
            format!("{head}{}{}", if tail.starts_with('A') { 'B' } else { 'A' }, &tail[1..]),
            text.replace(&id, &Uuid::from_u128(9).simple().to_string()),
            text[..text.len() - 1].to_owned(),
            format!("{text}A"),
            text.to_uppercase(),
            String::new(),
        ];
        for wrong in others {
            assert_eq!(service.authenticate(&wrong).await.unwrap(), None, "{wrong}");
        }
        assert!(taken(&service, &secret).await);
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_key_ends_at_its_time() {
    each_database(async |database| {
        let service = database.service().await;
        let end = now() + TimeDelta::days(30);
        let request = KeyRequest { expires_at: Some(end), ..wanted("Season", Role::Rigger) };
        let (key, secret) = service.create_key(request).await.unwrap();
        assert_eq!(key.value.expires_at, Some(end));
        set_clock(&service, end - TimeDelta::microseconds(1));
        assert!(taken(&service, &secret).await);
        set_clock(&service, end);
        assert!(!taken(&service, &secret).await);
        assert!(!service.has_key().await.unwrap());
        let rotated = service.rotate_key(key.value.id, RotationRequest { overlap_min: 0 }, 1).await;
        assert!(matches!(rotated, Err(Error::NotAllowed(_))), "{rotated:?}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_rotation_leaves_the_secret_before_it_valid_for_the_overlap() {
    each_database(async |database| {
        let service = database.service().await;
        let (key, first) = service.create_key(wanted("Till", Role::FrontDesk)).await.unwrap();
        let id = key.value.id;
        let (rotated, second) = service.rotate_key(id, RotationRequest { overlap_min: 60 }, 1).await.unwrap();
        let end = now() + TimeDelta::hours(1);
        assert_eq!((rotated.version, rotated.value.earlier_secret_until), (2, Some(end)));
        assert!(taken(&service, &first).await && taken(&service, &second).await);
        set_clock(&service, end);
        assert!(!taken(&service, &first).await && taken(&service, &second).await);

        let (_, third) = service.rotate_key(id, RotationRequest { overlap_min: 60 }, 2).await.unwrap();
        let (_, fourth) = service.rotate_key(id, RotationRequest { overlap_min: 60 }, 3).await.unwrap();
        let stand = [taken(&service, &second).await, taken(&service, &third).await, taken(&service, &fourth).await];
        assert_eq!(stand, [false, true, true], "the one before the last rotation but one has ended");
        let (at_once, fifth) = service.rotate_key(id, RotationRequest { overlap_min: 0 }, 4).await.unwrap();
        assert_eq!(at_once.value.earlier_secret_until, None);
        assert!(!taken(&service, &fourth).await && taken(&service, &fifth).await);
        let again = service.rotate_key(id, RotationRequest { overlap_min: 0 }, 4).await;
        assert!(matches!(again, Err(Error::Stale { current: 5, .. })), "{again:?}");
        let long = service.rotate_key(id, RotationRequest { overlap_min: 10_081 }, 5).await;
        assert!(matches!(long, Err(Error::Faults(_))), "{long:?}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn a_revoked_key_ends_at_once_here_and_within_a_second_elsewhere() {
    each_database(async |database| {
        let here = database.service().await;
        let elsewhere = database.service().await;
        let (_, _) = here.create_key(wanted("Office", Role::Owner)).await.unwrap();
        let (key, secret) = here.create_key(wanted("Till", Role::FrontDesk)).await.unwrap();
        let (_, renewed) = here.rotate_key(key.value.id, RotationRequest { overlap_min: 60 }, 1).await.unwrap();
        for secret in [&secret, &renewed] {
            assert!(taken(&here, secret).await && taken(&elsewhere, secret).await);
        }
        let revoked = here.revoke_key(key.value.id, 2, false).await.unwrap();
        assert_eq!((revoked.version, revoked.value.revoked_at), (3, Some(now())));
        assert!(!taken(&here, &secret).await && !taken(&here, &renewed).await);
        tokio::time::sleep(Duration::from_millis(1_000)).await;
        assert!(!taken(&elsewhere, &secret).await && !taken(&elsewhere, &renewed).await);
        let mut again = here.revoke_key(key.value.id, 3, false).await.unwrap();
        // That it was used is noted behind the request's back, and may be written after the key was revoked.
        again.value.last_used_at = revoked.value.last_used_at;
        assert_eq!(again, revoked, "one that is revoked stays as it is");
        let rotated = here.rotate_key(key.value.id, RotationRequest { overlap_min: 0 }, 3).await;
        assert!(matches!(rotated, Err(Error::NotAllowed(_))), "{rotated:?}");
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn of_two_owner_keys_revoked_at_once_one_remains() {
    each_database(async |database| {
        let service = database.service().await;
        let (one, _) = service.create_key(wanted("Office", Role::Owner)).await.unwrap();
        let (two, _) = service.create_key(wanted("Home", Role::Owner)).await.unwrap();
        // One that has ended is no owner key any more.
        let ended = KeyRequest { expires_at: Some(now() + TimeDelta::minutes(1)), ..wanted("Old", Role::Owner) };
        service.create_key(ended).await.unwrap();
        set_clock(&service, now() + TimeDelta::minutes(2));
        let both = futures_util::future::join(
            service.revoke_key(one.value.id, 1, false),
            service.revoke_key(two.value.id, 1, false),
        );
        let both: [_; 2] = both.await.into();
        assert_eq!(both.iter().filter(|revoked| revoked.is_ok()).count(), 1, "{both:?}");
        assert!(both.iter().any(|revoked| matches!(revoked, Err(Error::NotAllowed(_)))), "{both:?}");
        assert!(service.has_key().await.unwrap());
        let last = if both[0].is_ok() { two } else { one };
        service.revoke_key(last.value.id, 1, true).await.unwrap();
        assert!(!service.has_key().await.unwrap());
    })
    .await;
}

#[tokio::test(flavor = "multi_thread")]
async fn the_last_use_is_noted_to_the_minute_and_is_no_change_of_the_key() {
    each_database(async |database| {
        let service = database.service().await;
        let (key, secret) = service.create_key(wanted("Till", Role::FrontDesk)).await.unwrap();
        let id = key.value.id;
        assert_eq!(key.value.last_used_at, None);
        for (after_s, noted_s) in [(0, 0), (59, 0), (60, 60), (100, 60), (200, 200)] {
            set_clock(&service, now() + TimeDelta::seconds(after_s));
            assert!(taken(&service, &secret).await);
            let expected = Some(now() + TimeDelta::seconds(noted_s));
            // It is written behind the request's back.
            for _ in 0..200 {
                if service.key(id).await.unwrap().value.last_used_at == expected {
                    break;
                }
                tokio::time::sleep(Duration::from_millis(10)).await;
            }
            assert_eq!(service.key(id).await.unwrap().value.last_used_at, expected, "after {after_s} s");
        }
        assert_eq!(version(&service, id).await, 1);
        let (_, _) = service.rotate_key(id, RotationRequest { overlap_min: 0 }, 1).await.unwrap();
        let used = service.key(id).await.unwrap().value.last_used_at;
        assert_eq!(used, Some(now() + TimeDelta::seconds(200)), "a rotation keeps it");
    })
    .await;
}
