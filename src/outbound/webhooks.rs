//! Tells a target of an event, as Standard Webhooks 1.0.0 has it: a POST with `webhook-id`, `webhook-timestamp` and
//! `webhook-signature`.
//!
//! No redirect is followed. The address that is connected to is looked at (`addresses`). Of an answer the status counts;
//! a little of the rest is read, so that the connection can be used again, and thrown away.

use std::error::Error as _;
use std::fmt;
use std::net::IpAddr;
use std::sync::{Arc, OnceLock};
use std::time::{Duration, Instant};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use chrono::{DateTime, Utc};
use hmac::{Hmac, KeyInit, Mac};
use reqwest::header::{CONTENT_TYPE, RETRY_AFTER};
use reqwest::redirect::Policy;
use reqwest::{Client, Response, Url};
use sha2::Sha256;
use uuid::Uuid;

use super::addresses::{Checked, Listed, Refused};
use crate::store::webhooks::SigningSecret;

/// Most that is read of the rest of an answer, bytes; more, and the connection is closed.
const ANSWER_MOST: usize = 16 << 10;
/// Time for reading that.
const ANSWER_TIME: Duration = Duration::from_secs(1);
/// Connections to one target that are kept while nothing is sent, and for how long.
const IDLE_MOST: usize = 1;
const IDLE_TIME: Duration = Duration::from_secs(30);
/// Media type of a CloudEvent in JSON (CloudEvents 1.0, HTTP protocol binding, section 3.2).
const MEDIA_TYPE: &str = "application/cloudevents+json; charset=utf-8";

/// How targets are called.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Addresses that may be called whatever they are.
    pub listed: Listed,
    /// Time for connecting.
    pub connect_timeout: Duration,
    /// Time for everything until the status has arrived.
    pub timeout: Duration,
}

impl Default for Settings {
    fn default() -> Self {
        let (connect_timeout, timeout) = (Duration::from_secs(5), Duration::from_secs(15));
        Settings { listed: Listed::default(), connect_timeout, timeout }
    }
}

/// What a target is told.
#[derive(Clone, Debug)]
pub struct Message<'a> {
    /// Identifier: the same with every try.
    pub id: Uuid,
    /// The event.
    pub payload: &'a [u8],
    /// When it is sent.
    pub at: DateTime<Utc>,
    /// What signs it: all secrets that are valid.
    pub secrets: Vec<&'a SigningSecret>,
}

/// What came of a try. Expect new values.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// The target took it.
    Delivered,
    /// The target answered with a status that is no success.
    WrongStatus,
    /// The target sent us elsewhere, which is not followed.
    Redirected,
    /// It took too long.
    TimedOut,
    /// There is no connection to it.
    Unreachable,
    /// The connection broke before there was an answer.
    BrokeOff,
    /// The address is one that must not be called.
    AddressRefused,
}

impl Outcome {
    /// All of them.
    pub const ALL: [Outcome; 7] = [
        Outcome::Delivered,
        Outcome::WrongStatus,
        Outcome::Redirected,
        Outcome::TimedOut,
        Outcome::Unreachable,
        Outcome::BrokeOff,
        Outcome::AddressRefused,
    ];

    /// As JSON, the table and the counters have it.
    pub const fn as_str(self) -> &'static str {
        match self {
            Outcome::Delivered => "delivered",
            Outcome::WrongStatus => "wrong_status",
            Outcome::Redirected => "redirected",
            Outcome::TimedOut => "timed_out",
            Outcome::Unreachable => "unreachable",
            Outcome::BrokeOff => "broke_off",
            Outcome::AddressRefused => "address_refused",
        }
    }
}

/// A try that is over.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tried {
    /// What came of it.
    pub outcome: Outcome,
    /// Status of the answer, when there was one.
    pub status: Option<u16>,
    /// What went wrong, in words; nothing of what the target sent.
    pub error: Option<String>,
    /// How long the target asks to be left alone.
    pub retry_after: Option<Duration>,
    /// How long it took.
    pub took: Duration,
}

/// An address that no target can have.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0}")]
pub struct BadTarget(String);

/// Two clients: what goes over TLS may go anywhere on the internet, what goes in the clear to listed addresses only.
struct Clients {
    encrypted: Client,
    clear: Client,
}

/// Tells targets.
#[derive(Default)]
pub struct Sender {
    settings: Settings,
    clients: OnceLock<Result<Clients, String>>,
}

impl fmt::Debug for Sender {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Sender").field("settings", &self.settings).finish_non_exhaustive()
    }
}

/// The signature header: one signature for each secret, the newest first (Standard Webhooks 1.0.0, "Signature scheme").
pub fn signature(id: &str, timestamp: i64, payload: &[u8], secrets: &[&SigningSecret]) -> String {
    let signed = secrets.iter().map(|secret| {
        let mut mac = Hmac::<Sha256>::new_from_slice(secret.expose()).expect("a key of any length is taken");
        mac.update(format!("{id}.{timestamp}.").as_bytes());
        mac.update(payload);
        format!("v1,{}", STANDARD.encode(mac.finalize().into_bytes()))
    });
    signed.collect::<Vec<_>>().join(" ")
}

impl Sender {
    /// From its settings.
    pub fn new(settings: Settings) -> Self {
        Sender { settings, clients: OnceLock::new() }
    }

    /// Longest time that a try can take.
    pub fn longest(&self) -> Duration {
        self.settings.timeout + ANSWER_TIME
    }

    /// Refuses an address that can be called never, or not as the settings are. A name is looked up when it is called.
    ///
    /// # Errors
    /// With what is wrong, and what would do.
    pub fn check(&self, url: &str) -> Result<(), BadTarget> {
        let bad = |told: String| Err(BadTarget(told));
        let Ok(url) = url.parse::<Url>() else {
            return bad("this is no address: expected is one such as https://stock.example/rigbill".to_owned());
        };
        let encrypted = url.scheme() == "https";
        if !encrypted && url.scheme() != "http" {
            return bad("expected is an address that begins with https://".to_owned());
        }
        if url.cannot_be_a_base() || url.host_str().is_none_or(str::is_empty) {
            return bad("this address names no host: expected is one such as https://stock.example/rigbill".to_owned());
        }
        if !url.username().is_empty() || url.password().is_some() || url.fragment().is_some() {
            let told = "an address with a name, a password or a fragment is not taken: what is sent is signed, so that \
                        the target can tell whom it is from";
            return bad(told.to_owned());
        }
        match (literal(&url), encrypted) {
            (Some(address), _) => self.settings.listed.allow(address, encrypted).or_else(|refused| {
                bad(format!("{refused}: list it as webhook_networks in the settings if it is meant, or take another"))
            }),
            (None, _) => Ok(()),
        }
    }

    fn client(&self, encrypted: bool) -> Result<&Client, &str> {
        let built = self.clients.get_or_init(|| {
            let client = |encrypted: bool| {
                let resolver = Arc::new(Checked { listed: self.settings.listed.clone(), encrypted });
                Client::builder()
                    .redirect(Policy::none())
                    .no_proxy()
                    .https_only(encrypted)
                    .dns_resolver(resolver)
                    .connect_timeout(self.settings.connect_timeout)
                    .pool_max_idle_per_host(IDLE_MOST)
                    .pool_idle_timeout(IDLE_TIME)
                    .user_agent(concat!("rigbill/", env!("CARGO_PKG_VERSION")))
                    .build()
                    .map_err(|error| error.to_string())
            };
            Ok(Clients { encrypted: client(true)?, clear: client(false)? })
        });
        match built {
            Ok(clients) if encrypted => Ok(&clients.encrypted),
            Ok(clients) => Ok(&clients.clear),
            Err(error) => Err(error),
        }
    }

    /// Tells a target once.
    pub async fn send(&self, url: &str, message: &Message<'_>) -> Tried {
        let begun = Instant::now();
        let (outcome, status, error, retry_after) = match self.answered(url, message).await {
            Ok(response) => {
                let read = judged(&response, message.at);
                let _ = tokio::time::timeout(ANSWER_TIME, rest_of(response)).await;
                read
            }
            Err((outcome, error)) => (outcome, None, Some(error), None),
        };
        Tried { outcome, status, error, retry_after, took: begun.elapsed() }
    }

    async fn answered(&self, url: &str, message: &Message<'_>) -> Result<Response, (Outcome, String)> {
        let url: Url = url.parse().map_err(|_| (Outcome::Unreachable, "the address cannot be read".to_owned()))?;
        let encrypted = url.scheme() == "https";
        // A number needs no look-up, so the resolver does not see it.
        if let Some(address) = literal(&url) {
            let allowed = self.settings.listed.allow(address, encrypted);
            allowed.map_err(|refused| (Outcome::AddressRefused, refused.to_string()))?;
        }
        let client = self.client(encrypted).map_err(|error| (Outcome::Unreachable, error.to_owned()))?;
        let Message { id, payload, at, secrets } = message;
        let (id, timestamp) = (id.to_string(), at.timestamp());
        let request = client
            .post(url)
            .header("webhook-id", &id)
            .header("webhook-timestamp", timestamp.to_string())
            .header("webhook-signature", signature(&id, timestamp, payload, secrets))
            .header(CONTENT_TYPE, MEDIA_TYPE)
            .body(payload.to_vec());
        let timeout = self.settings.timeout;
        match tokio::time::timeout(timeout, request.send()).await {
            Ok(Ok(response)) => Ok(response),
            Ok(Err(error)) => Err(self.broke_off(&error)),
            Err(_) => {
                Err((Outcome::TimedOut, format!("the target had not answered within {} ms", timeout.as_millis())))
            }
        }
    }

    fn broke_off(&self, error: &reqwest::Error) -> (Outcome, String) {
        let mut cause = error.source();
        while let Some(inner) = cause {
            if let Some(refused) = inner.downcast_ref::<Refused>() {
                return (Outcome::AddressRefused, refused.to_string());
            }
            cause = inner.source();
        }
        if error.is_timeout() {
            let within = self.settings.connect_timeout.as_millis();
            (Outcome::TimedOut, format!("the target did not take a connection within {within} ms"))
        } else if error.is_connect() {
            (Outcome::Unreachable, "the target cannot be reached".to_owned())
        } else {
            (Outcome::BrokeOff, "the target broke off before it answered".to_owned())
        }
    }
}

/// The number that stands as host.
fn literal(url: &Url) -> Option<IpAddr> {
    let host = url.host_str()?;
    host.trim_start_matches('[').trim_end_matches(']').parse().ok()
}

/// What an answer means.
fn judged(response: &Response, now: DateTime<Utc>) -> (Outcome, Option<u16>, Option<String>, Option<Duration>) {
    let status = response.status();
    let code = status.as_u16();
    if status.is_success() {
        return (Outcome::Delivered, Some(code), None, None);
    }
    if status.is_redirection() {
        let told = format!("the target sent us elsewhere ({code}), which is not followed: give its own address");
        return (Outcome::Redirected, Some(code), Some(told), None);
    }
    let wait = response.headers().get(RETRY_AFTER).and_then(|value| value.to_str().ok());
    let wait = wait.and_then(|text| retry_after(text, now));
    (Outcome::WrongStatus, Some(code), Some(format!("the target answered with the status {code}")), wait)
}

/// Seconds, or a date (RFC 9110, section 10.2.3).
fn retry_after(text: &str, now: DateTime<Utc>) -> Option<Duration> {
    if let Ok(seconds) = text.trim().parse() {
        return Some(Duration::from_secs(seconds));
    }
    let date = DateTime::parse_from_rfc2822(text.trim()).ok()?;
    (date.with_timezone(&Utc) - now).to_std().ok()
}

/// Reads a little of what is left, and throws it away.
async fn rest_of(mut response: Response) {
    let mut read = 0;
    while let Ok(Some(chunk)) = response.chunk().await {
        read += chunk.len();
        if read > ANSWER_MOST {
            return;
        }
    }
}
