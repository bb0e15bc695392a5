//! How much a client may do: a limit for each address, looked at before anything else, one for each key, one for each link
//! of a customer, and a stricter one for keys and links that are none.
//!
//! Each is a quota of units that fills up again evenly over a minute. Answers tell what is left in the fields `RateLimit`
//! and `RateLimit-Policy` (draft-ietf-httpapi-ratelimit-headers-10): `q` units in `w` seconds; `r` units left, and `t`
//! seconds until all are there again.

use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher, Hash};
use std::net::IpAddr;
use std::num::NonZeroU32;
use std::sync::Arc;
use std::time::Duration;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web::Data;
use actix_web::{Error, HttpMessage, HttpRequest};
use governor::clock::{Clock, DefaultClock};
use governor::middleware::StateInformationMiddleware;
use governor::state::keyed::HashMapStateStore;
use governor::{Quota, RateLimiter};
use metrics::counter;
use uuid::Uuid;

use super::address;
use super::connections::Refused;
use super::metrics::{Metrics, Route};
use super::problem::{Kind, Problem};
use crate::config::{Config, Proxies};
use crate::service::access::Principal;

/// Fields of an answer that tell what is left.
const RATE_LIMIT: HeaderName = HeaderName::from_static("ratelimit");
const RATE_LIMIT_POLICY: HeaderName = HeaderName::from_static("ratelimit-policy");

/// Time in which a quota fills up.
const WINDOW_S: u32 = 60;

/// Most clients that one limit tells apart. It takes some 100 bytes each.
const CLIENTS_MAX: usize = 50_000;

/// Quotas that all further clients share.
const CROWDS: u64 = 1_024;

/// How often clients that have their whole quota again are forgotten.
const FORGET: Duration = Duration::from_secs(30);

/// Operations that cost more than a unit, by method and route.
pub const WEIGHTS: [(&str, &str, u32); 10] = [
    ("POST", "/v1/take-offs", 5),
    ("POST", "/v1/quotes", 5),
    ("PUT", "/v1/quotes/{id}", 5),
    ("POST", "/v1/quotes/{id}/issue", 5),
    ("POST", "/v1/quotes/{id}/revisions", 5),
    ("POST", "/v1/quotes/{id}/reservations", 5),
    ("GET", "/v1/quotes/{id}/purchase-list", 5),
    ("GET", "/v1/quotes/{id}/pick-list", 5),
    ("POST", "/v1/calculators/cut-plan", 5),
    ("POST", "/v1/imports", 50),
];

fn weight(method: &Method, route: &Route) -> u32 {
    let found = WEIGHTS.iter().find(|(of, at, _)| method.as_str() == *of && *route.0 == **at);
    found.map_or(1, |(.., weight)| *weight)
}

/// Whom a limit tells apart.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
enum Client {
    Address(IpAddr),
    Key(Uuid),
    /// A link together with the secret that was shown for it.
    Link(u64),
    /// Too many to be told apart.
    Crowd(u64),
}

type Buckets = RateLimiter<Client, HashMapStateStore<Client>, DefaultClock, StateInformationMiddleware>;

/// A limit of one name.
struct Limit {
    name: &'static str,
    quota: NonZeroU32,
    buckets: Buckets,
    clients_max: usize,
}

/// What is left to a client.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Left {
    name: &'static str,
    quota: u32,
    remaining: u32,
    /// Seconds until the whole quota is there again.
    reset_s: u32,
}

/// A client that has to wait.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Refusal {
    left: Left,
    wait_s: u64,
}

impl Limit {
    /// A limit of so many units a minute; none for 0.
    fn new(name: &'static str, units: u32, clients_max: usize) -> Option<Self> {
        let quota = NonZeroU32::new(units)?;
        let replenish = Duration::from_secs(WINDOW_S.into()) / units;
        let refilled = Quota::with_period(replenish)?.allow_burst(quota);
        let buckets = RateLimiter::hashmap(refilled).with_middleware();
        Some(Limit { name, quota, buckets, clients_max })
    }

    /// Takes units from a client's quota.
    fn take(&self, client: Client, units: u32) -> Result<Left, Refusal> {
        let client = if self.buckets.len() < self.clients_max { client } else { crowd(client) };
        // More than the whole quota can never be there at once.
        let units = NonZeroU32::new(units).unwrap_or(NonZeroU32::MIN).min(self.quota);
        let quota = self.quota.get();
        match self.buckets.check_key_n(&client, units).expect("no more units than the quota") {
            Ok(state) => {
                let remaining = state.remaining_burst_capacity();
                let missing = u64::from(quota - remaining.min(quota));
                let reset_s = (missing * u64::from(WINDOW_S)).div_ceil(u64::from(quota));
                let reset_s = u32::try_from(reset_s).unwrap_or(WINDOW_S);
                Ok(Left { name: self.name, quota, remaining, reset_s })
            }
            Err(until) => {
                let wait = until.wait_time_from(self.buckets.clock().now());
                let wait_s = wait.as_secs() + u64::from(wait.subsec_nanos() > 0);
                let reset_s = WINDOW_S;
                let left = Left { name: self.name, quota, remaining: 0, reset_s };
                Err(Refusal { left, wait_s: wait_s.max(1) })
            }
        }
    }
}

fn hash_of(one: impl Hash) -> u64 {
    BuildHasherDefault::<DefaultHasher>::default().hash_one(one)
}

fn crowd(client: Client) -> Client {
    Client::Crowd(hash_of(client) % CROWDS)
}

/// All limits of a service.
pub struct Limits {
    proxies: Proxies,
    address: Option<Limit>,
    key: Option<Limit>,
    link: Option<Limit>,
    failed_keys: Option<Limit>,
}

impl Limits {
    /// The limits that the settings ask for.
    pub fn new(config: &Config) -> Arc<Self> {
        Arc::new(Limits {
            proxies: config.proxies.clone(),
            address: Limit::new("address", config.address_units_per_minute, CLIENTS_MAX),
            key: Limit::new("key", config.key_units_per_minute, CLIENTS_MAX),
            link: Limit::new("link", config.link_units_per_minute, CLIENTS_MAX),
            failed_keys: Limit::new("failed-keys", config.failed_keys_per_minute, CLIENTS_MAX),
        })
    }

    /// Forgets clients that have their whole quota again, every now and then, for ever.
    pub async fn forget(&self) {
        let mut ticks = tokio::time::interval(FORGET);
        loop {
            ticks.tick().await;
            for limit in [&self.address, &self.key, &self.link, &self.failed_keys].into_iter().flatten() {
                limit.buckets.retain_recent();
                limit.buckets.shrink_to_fit();
            }
        }
    }
}

fn limits(request: &ServiceRequest) -> Data<Limits> {
    request.app_data::<Data<Limits>>().expect("the app has its limits").clone()
}

/// Refuses an address that does too much, before its key is looked at, and one whose keys fail too often.
pub async fn by_address<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let limits = limits(&request);
    let metrics = request.app_data::<Data<Metrics>>().expect("the app has its metrics").clone();
    if request.conn_data::<Refused>().is_some() {
        return Err(Problem::new(Kind::TooMany, "This address has too many connections open; close some.").into());
    }
    let client = Client::Address(address::bucket(address::of(&request, &limits.proxies)));
    let units = weight(request.method(), &Route::of(&request));
    let taken = limits.address.as_ref().map(|limit| limit.take(client, units)).transpose();
    let left = taken.map_err(|refusal| refused(&metrics, refusal))?;
    // A link that opens nothing is a key that is none.
    let none =
        if request.match_info().as_str().starts_with("/q/") { StatusCode::NOT_FOUND } else { StatusCode::UNAUTHORIZED };
    let outcome = next.call(request).await.map(ServiceResponse::map_into_boxed_body);
    let failed = match &outcome {
        Ok(response) => response.status() == none,
        Err(error) => error.as_response_error().status_code() == none,
    };
    if failed && let Some(limit) = &limits.failed_keys {
        // Only who fails is held up: a machine with an old key must not shut out the others of its shop.
        limit.take(client, 1).map_err(|refusal| refused(&metrics, refusal))?;
    }
    told(outcome, left)
}

/// Refuses a key that does too much.
pub async fn by_key<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let limits = limits(&request);
    let key = request.extensions().get::<Principal>().map(|principal| principal.key);
    let mut left = None;
    if let (Some(key), Some(limit)) = (key, &limits.key) {
        let units = weight(request.method(), &Route::of(&request));
        let taken = limit.take(Client::Key(key), units).map_err(|refusal| {
            let metrics = request.app_data::<Data<Metrics>>().expect("the app has its metrics");
            refused(metrics, refusal)
        })?;
        left = Some(taken);
    }
    told(next.call(request).await.map(ServiceResponse::map_into_boxed_body), left)
}

/// Takes units from the quota of a customer's link, as it was shown: who knows the link and not its secret must not use up
/// what its customer may do.
pub fn by_link(request: &HttpRequest, link: Uuid, shown: &str, units: u32) -> Result<(), Problem> {
    let limits = request.app_data::<Data<Limits>>().expect("the app has its limits");
    let Some(limit) = &limits.link else { return Ok(()) };
    let taken = limit.take(Client::Link(hash_of((link, shown))), units);
    let metrics = request.app_data::<Data<Metrics>>().expect("the app has its metrics");
    taken.map(|_| ()).map_err(|refusal| refused(metrics, refusal))
}

fn refused(metrics: &Metrics, refusal: Refusal) -> Problem {
    metrics.record(|| counter!(super::metrics::REFUSED, "by" => refusal.left.name).increment(1));
    let Refusal { left, wait_s } = refusal;
    let detail = match left.name {
        "failed-keys" => "Too many requests with a key or a link that is none came from this address".to_owned(),
        name => format!("This {name} has used up what it may do in a minute"),
    };
    let detail = format!("{detail}; wait as many seconds as Retry-After says.");
    Problem::too_many(detail, wait_s, fields(&[left]))
}

/// The two fields that tell what is left, as their names and values.
fn fields(left: &[Left]) -> [(HeaderName, String); 2] {
    let list = |one: fn(&Left) -> String| left.iter().map(one).collect::<Vec<_>>().join(", ");
    [
        (RATE_LIMIT_POLICY, list(|left| format!("\"{}\";q={};w={WINDOW_S}", left.name, left.quota))),
        (RATE_LIMIT, list(|left| format!("\"{}\";r={};t={}", left.name, left.remaining, left.reset_s))),
    ]
}

/// Adds to an answer what is left; in front of what another limit has told.
fn told(
    outcome: Result<ServiceResponse<BoxBody>, Error>,
    left: Option<Left>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let mut response = outcome?;
    for (name, value) in left.map(|left| fields(&[left])).into_iter().flatten() {
        let value = match response.headers().get(&name).and_then(|there| there.to_str().ok()) {
            Some(there) => format!("{value}, {there}"),
            None => value,
        };
        let value = HeaderValue::from_str(&value).expect("names and numbers are a header value");
        response.headers_mut().insert(name, value);
    }
    Ok(response)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(last: u32) -> Client {
        Client::Address(IpAddr::from(last.to_be_bytes()))
    }

    #[test]
    fn a_quota_is_used_up_and_fills_again() {
        let limit = Limit::new("address", 600, 10).unwrap();
        let first = limit.take(address(1), 590).unwrap();
        assert_eq!((first.quota, first.remaining, first.reset_s), (600, 10, 59));
        assert_eq!(limit.take(address(1), 20).unwrap_err().wait_s, 1, "10 of the 20 come at 10 a second");
        assert!(limit.take(address(2), 600).is_ok(), "another has his own");
        let refusal = limit.take(address(2), 1_000_000).unwrap_err();
        assert_eq!((refusal.wait_s, refusal.left.remaining), (60, 0), "never more than the whole quota is asked for");
        std::thread::sleep(Duration::from_millis(1_100));
        assert!(limit.take(address(1), 20).is_ok());
        assert!(Limit::new("address", 0, 10).is_none(), "0 sets no limit");
    }

    #[test]
    fn however_many_clients_come_memory_stays_bounded() {
        let limit = Limit::new("address", 60_000, 100).unwrap();
        for last in 0..100_000 {
            let _ = limit.take(address(last), 1);
        }
        assert!(limit.buckets.len() <= 100 + usize::try_from(CROWDS).unwrap(), "{}", limit.buckets.len());
        // A unit comes back every millisecond: each has its whole quota again.
        std::thread::sleep(Duration::from_millis(300));
        limit.buckets.retain_recent();
        assert!(limit.buckets.len() < 100, "{}", limit.buckets.len());
    }

    #[test]
    fn the_crowd_is_limited_too() {
        let limit = Limit::new("address", 5, 1).unwrap();
        assert!(limit.take(address(1), 1).is_ok());
        let refused = (2..20_000).filter(|last| limit.take(address(*last), 1).is_err()).count();
        assert!(refused > 10_000, "{refused}");
    }

    #[test]
    fn the_fields_are_structured_as_the_draft_has_them() {
        // draft-ietf-httpapi-ratelimit-headers-10, sections 3 and 4 (recalled): lists of strings with parameters.
        let left = |name, quota, remaining, reset_s| Left { name, quota, remaining, reset_s };
        let [policy, state] = fields(&[left("address", 100, 50, 30), left("key", 10, 0, 60)]);
        assert_eq!(policy.1, "\"address\";q=100;w=60, \"key\";q=10;w=60");
        assert_eq!(state.1, "\"address\";r=50;t=30, \"key\";r=0;t=60");
    }

    #[test]
    fn every_weight_is_of_an_operation_that_there_is() {
        for (method, route, _) in WEIGHTS {
            let operation = &super::super::openapi::description()["paths"][route][method.to_lowercase()];
            assert!(operation.is_object(), "{method} {route}");
        }
    }
}
