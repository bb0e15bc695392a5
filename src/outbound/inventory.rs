//! The shop's inventory system over HTTP, where that knows what is on the shelf and not our own rows.
//!
//! It is asked with `POST` and a list of skus, and answers with counts and with lengths that were left over. Whatever else
//! happens (it is slow, dead, answers half, too much or something else) is told in words and costs no more than the time
//! that was set for it. No redirect is followed: the key goes to the address that was set and nowhere else.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::{DateTime, Utc};
use reqwest::redirect::Policy;
use reqwest::{Client, StatusCode, Url};
use rust_decimal::Decimal;
use secrecy::{ExposeSecret, SecretString};
use serde::{Deserialize, Serialize};

use crate::calc::shelf::{Offcut, Spot};
use crate::calc::units::{LengthValue, Name};
use crate::clock::Clock;

/// Largest answer that is read, bytes.
const ANSWER_MOST: usize = 4 << 20;
/// Most skus of one request.
const SKUS_MOST: usize = 1_000;
/// Most tries of one request.
const TRIES_MOST: u32 = 3;
/// Pause before the second try; it doubles with each.
const PAUSE: Duration = Duration::from_millis(100);
/// Most answers that are kept for a short while.
const KEPT_MOST: usize = 64;
/// Longest text of a place, a bin or an identifier, characters.
const TEXT_MOST: usize = 60;

/// How the inventory system is reached.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Its address.
    pub url: String,
    /// What is sent as `Authorization: Bearer …`.
    pub key: Option<SecretString>,
    /// Time for one try.
    pub timeout: Duration,
    /// Time for all tries together, pauses included.
    pub total: Duration,
    /// How long an answer is used again.
    pub kept_for: Duration,
}

/// The address cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("the address of the inventory system cannot be used: {0}")]
pub struct BadAddress(String);

/// What the inventory system has of some items.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Answered {
    /// How many selling units of an item lie in a bin.
    pub counts: Vec<(Name, Spot, Decimal)>,
    /// Lengths that were left over.
    pub offcuts: Vec<Offcut>,
}

/// Why it did not say, in words for the purchase list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Said(pub String);

type Kept = (DateTime<Utc>, Result<Arc<Answered>, Said>);

/// The shop's inventory system.
pub struct Inventory {
    client: Client,
    settings: Settings,
    url: Url,
    clock: Clock,
    kept: Mutex<BTreeMap<Vec<String>, Kept>>,
}

impl fmt::Debug for Inventory {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Inventory").finish_non_exhaustive()
    }
}

#[derive(Serialize)]
struct Asked<'a> {
    skus: &'a [&'a str],
}

#[derive(Deserialize)]
struct Body {
    #[serde(default)]
    counts: Vec<CountRead>,
    #[serde(default)]
    offcuts: Vec<OffcutRead>,
}

#[derive(Deserialize)]
struct CountRead {
    sku: String,
    place: String,
    bin: String,
    quantity: Decimal,
}

#[derive(Deserialize)]
struct OffcutRead {
    id: String,
    sku: String,
    place: String,
    bin: String,
    length: LengthValue,
}

/// One try that failed, and whether another may do better.
struct Failed {
    said: String,
    again: bool,
}

impl Failed {
    fn for_good(said: impl Into<String>) -> Self {
        Failed { said: said.into(), again: false }
    }

    fn for_now(said: impl Into<String>) -> Self {
        Failed { said: said.into(), again: true }
    }
}

impl Inventory {
    /// From its settings.
    ///
    /// # Errors
    /// When the address is none of HTTP.
    pub fn new(settings: Settings, clock: Clock) -> Result<Self, BadAddress> {
        let url: Url = settings.url.parse().map_err(|cause| BadAddress(format!("{cause}")))?;
        if !["http", "https"].contains(&url.scheme()) || url.host().is_none() {
            return Err(BadAddress("expected is http://… or https://… with a host".to_owned()));
        }
        let client = Client::builder().redirect(Policy::none()).timeout(settings.timeout).no_proxy().build();
        let client = client.map_err(|cause| BadAddress(cause.to_string()))?;
        Ok(Inventory { client, settings, url, clock, kept: Mutex::default() })
    }

    /// What it has of some items. A short while the same question gets the same answer, also that there is none.
    ///
    /// # Errors
    /// With what went wrong, in words.
    pub async fn ask(&self, skus: &BTreeSet<&str>) -> Result<Arc<Answered>, Said> {
        let question: Vec<String> = skus.iter().map(|sku| (*sku).to_owned()).collect();
        let now = self.clock.now();
        if let Some((until, answer)) = self.kept().get(&question)
            && now < *until
        {
            return answer.clone();
        }
        let answer = self.asked(skus).await.map(Arc::new);
        let kept_for = chrono::Duration::from_std(self.settings.kept_for).unwrap_or_default();
        let mut kept = self.kept();
        kept.retain(|_, (until, _)| now < *until);
        if kept.len() < KEPT_MOST && !kept_for.is_zero() {
            kept.insert(question, (self.clock.now() + kept_for, answer.clone()));
        }
        answer
    }

    fn kept(&self) -> std::sync::MutexGuard<'_, BTreeMap<Vec<String>, Kept>> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner)
    }

    async fn asked(&self, skus: &BTreeSet<&str>) -> Result<Answered, Said> {
        let all = async {
            let mut answered = Answered::default();
            let skus: Vec<&str> = skus.iter().copied().collect();
            for some in skus.chunks(SKUS_MOST) {
                let Answered { counts, offcuts } = self.with_patience(some).await?;
                answered.counts.extend(counts);
                answered.offcuts.extend(offcuts);
            }
            whole(answered)
        };
        let total = self.settings.total;
        tokio::time::timeout(total, all).await.unwrap_or_else(|_| {
            Err(Said(format!("the inventory system had not answered within {} ms", total.as_millis())))
        })
    }

    /// Asks again, after a pause, what may go better the next time.
    async fn with_patience(&self, skus: &[&str]) -> Result<Answered, Said> {
        let mut tries = 0;
        loop {
            tries += 1;
            match self.once(skus).await {
                Ok(answered) => return Ok(answered),
                Err(Failed { said, again }) if !again || tries >= TRIES_MOST => return Err(Said(said)),
                Err(_) => {
                    // Between half of the pause and all of it, so that instances do not come back together.
                    let share = (self.clock.new_id().as_u128() % 512) as u32;
                    tokio::time::sleep(PAUSE * (1 << (tries - 1)) * (512 + share) / 1024).await;
                }
            }
        }
    }

    async fn once(&self, skus: &[&str]) -> Result<Answered, Failed> {
        let mut request = self.client.post(self.url.clone()).json(&Asked { skus });
        if let Some(key) = &self.settings.key {
            request = request.bearer_auth(key.expose_secret());
        }
        let mut response = request.send().await.map_err(|cause| self.broke_off(&cause))?;
        let status = response.status();
        if status.is_redirection() {
            return Err(Failed::for_good(format!(
                "the inventory system sent us elsewhere ({}), which is not followed: set its own address",
                status.as_u16()
            )));
        }
        if status != StatusCode::OK {
            let said = format!("the inventory system answered with the status {}", status.as_u16());
            let again = status.is_server_error() || status == StatusCode::TOO_MANY_REQUESTS;
            return Err(Failed { said, again });
        }
        let mut bytes = Vec::new();
        while let Some(chunk) = response.chunk().await.map_err(|cause| self.broke_off(&cause))? {
            if bytes.len() + chunk.len() > ANSWER_MOST {
                return Err(Failed::for_good(format!(
                    "the inventory system answered with more than {ANSWER_MOST} bytes"
                )));
            }
            bytes.extend_from_slice(&chunk);
        }
        // What it sent is not repeated: it may be anything.
        let body = serde_json::from_slice(&bytes).map_err(|cause| {
            let (line, column) = (cause.line(), cause.column());
            let what = if cause.is_eof() { "ends too early" } else { "is not what was agreed" };
            Failed::for_good(format!("the answer of the inventory system {what} (line {line}, column {column})"))
        })?;
        read(body, &skus.iter().copied().collect()).map_err(Failed::for_good)
    }

    fn broke_off(&self, cause: &reqwest::Error) -> Failed {
        if cause.is_timeout() {
            let timeout = self.settings.timeout.as_millis();
            Failed::for_now(format!("the inventory system had not answered within {timeout} ms"))
        } else if cause.is_connect() {
            Failed::for_now("the inventory system cannot be reached")
        } else {
            Failed::for_now("the answer of the inventory system broke off")
        }
    }
}

/// What was answered, if all of it makes sense.
fn read(Body { counts, offcuts }: Body, skus: &BTreeSet<&str>) -> Result<Answered, String> {
    let wrong = |what: String| Err(format!("the answer of the inventory system makes no sense: {what}"));
    let mut answered = Answered::default();
    for CountRead { sku, place, bin, quantity } in counts {
        if !skus.contains(&sku.as_str()) {
            return wrong(format!("it counts '{}', which was not asked for", shown(&sku)));
        }
        // As much as our own rows take.
        let kept =
            quantity >= Decimal::ZERO && quantity < Decimal::from(1_000_000_000) && quantity.normalize().scale() <= 6;
        if !kept || !fits(&place) || !fits(&bin) {
            return wrong(format!("a count of '{sku}' is {quantity} at '{}', '{}'", shown(&place), shown(&bin)));
        }
        answered.counts.push((sku.into(), Spot { place, bin }, quantity));
    }
    for OffcutRead { id, sku, place, bin, length } in offcuts {
        if !skus.contains(&sku.as_str()) {
            return wrong(format!("it has an offcut of '{}', which was not asked for", shown(&sku)));
        }
        let exact = length.length().filter(|length| length.nanometres() > 0);
        let (Some(exact), true) = (exact, fits(&id) && fits(&place) && fits(&bin)) else {
            return wrong(format!("an offcut of '{sku}' is '{}', {length} long", shown(&id)));
        };
        let (id, sku, at) = (id.into(), sku.into(), Spot { place, bin });
        answered.offcuts.push(Offcut { id, sku, at, length: exact, unit: length.unit });
    }
    Ok(answered)
}

/// Refuses a bin that is counted twice, and a length that stands there twice.
fn whole(answered: Answered) -> Result<Answered, Said> {
    let mut bins = BTreeSet::new();
    let mut ids = BTreeSet::new();
    let twice = answered.counts.iter().find(|(sku, at, _)| !bins.insert((sku, at))).map(|(sku, ..)| sku);
    let twice = twice.or_else(|| answered.offcuts.iter().map(|offcut| &offcut.id).find(|id| !ids.insert(*id)));
    match twice {
        Some(name) => {
            Err(Said(format!("the answer of the inventory system makes no sense: '{name}' stands in it twice")))
        }
        None => Ok(answered),
    }
}

fn fits(text: &str) -> bool {
    (1..=TEXT_MOST).contains(&text.chars().count()) && !text.chars().any(char::is_control)
}

fn shown(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(TEXT_MOST).collect()
}
