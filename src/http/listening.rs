//! Events as a stream for those who listen (server-sent events, WHATWG HTML, section 9.2).
//!
//! The `id` of an event is its position, so that whoever comes back with `Last-Event-ID` goes on where he stopped. A comment
//! every few seconds keeps what stands between from closing the connection, and tells us when nobody is there any more.

use std::collections::{BTreeMap, VecDeque};
use std::convert::Infallible;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use actix_web::http::header::{ACCEPT, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE, HeaderName};
use actix_web::{HttpRequest, HttpResponse};
use bytes::Bytes;
use futures_util::stream;
use tokio::time::Instant;
use uuid::Uuid;

use super::metrics::Metrics;
use super::problem::{Kind, Problem};
use crate::service::{Listening, Service};

/// The header in which a listener says which event was the last that he met.
pub const LAST_EVENT_ID: HeaderName = HeaderName::from_static("last-event-id");
/// Media type of the stream.
pub const MEDIA_TYPE: &str = "text/event-stream";
/// Most streams of an instance, and of one key.
const STREAMS_MOST: usize = 100;
const STREAMS_OF_KEY_MOST: usize = 10;
/// How often a sign of life is sent.
const HEARTBEAT: Duration = Duration::from_secs(15);
/// Milliseconds after which a listener comes back when the stream has ended.
const COME_BACK_MS: u32 = 2_000;
/// Events that are read at once.
const AT_ONCE: u32 = 100;
/// Seconds that one more is told to wait.
const WAIT_S: u64 = 30;

/// How many listen, by key.
#[derive(Clone)]
pub struct Listeners(Arc<Open>);

struct Open {
    by_key: Mutex<BTreeMap<Uuid, usize>>,
    metrics: Metrics,
}

/// A place among those who listen, until it is dropped.
struct Place {
    open: Arc<Open>,
    key: Uuid,
}

impl Listeners {
    /// Nobody yet.
    pub fn new(metrics: Metrics) -> Self {
        Listeners(Arc::new(Open { by_key: Mutex::default(), metrics }))
    }

    fn enter(&self, key: Uuid) -> Result<Place, Problem> {
        let mut by_key = self.0.by_key.lock().unwrap_or_else(PoisonError::into_inner);
        let all: usize = by_key.values().sum();
        let own = by_key.get(&key).copied().unwrap_or(0);
        let detail = if own >= STREAMS_OF_KEY_MOST {
            format!("{own} streams of events are open with this key; close one.")
        } else if all >= STREAMS_MOST {
            format!("{all} streams of events are open, and no more are kept; read /v1/events in pages meanwhile.")
        } else {
            by_key.insert(key, own + 1);
            self.0.metrics.listeners(all + 1);
            return Ok(Place { open: self.0.clone(), key });
        };
        Err(Problem::too_many(detail, WAIT_S, Vec::new()))
    }
}

impl Drop for Place {
    fn drop(&mut self) {
        let mut by_key = self.open.by_key.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(own) = by_key.get_mut(&self.key) {
            *own -= 1;
            if *own == 0 {
                by_key.remove(&self.key);
            }
        }
        self.open.metrics.listeners(by_key.values().sum());
    }
}

/// Whether a request asks for the stream by name.
pub fn is_asked_for(request: &HttpRequest) -> bool {
    let ranges = request.headers().get_all(ACCEPT).filter_map(|value| value.to_str().ok());
    ranges.flat_map(|value| value.split(',')).any(|range| {
        let mut parts = range.split(';').map(str::trim);
        let named = parts.next().is_some_and(|name| name.eq_ignore_ascii_case(MEDIA_TYPE));
        named && !parts.any(|part| matches!(part, "q=0" | "q=0.0" | "q=0.00" | "q=0.000"))
    })
}

/// The position that a listener met last, if he says one.
///
/// # Errors
/// When it is none.
pub fn last_met(request: &HttpRequest) -> Result<Option<i64>, Problem> {
    let Some(value) = request.headers().get(LAST_EVENT_ID) else { return Ok(None) };
    let text = value.to_str().unwrap_or_default();
    let digits = (1..=18).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit());
    match text.parse() {
        Ok(position) if digits => Ok(Some(position)),
        _ => {
            let detail =
                "Last-Event-ID is no position; send the id of the last event that the stream gave, or leave it out.";
            Err(Problem::new(Kind::BadHeader, detail))
        }
    }
}

/// One who listens.
struct Listener {
    service: Service,
    listening: Listening,
    position: i64,
    ready: VecDeque<Bytes>,
    /// When its key was looked at last.
    looked_at: Instant,
    _place: Place,
}

/// Begins a stream of what happens behind a position.
///
/// # Errors
/// When too many listen.
pub fn answer(listeners: &Listeners, service: &Service, position: i64) -> Result<HttpResponse, Problem> {
    let place = listeners.enter(service.principal().key)?;
    let first = Bytes::from(format!("retry: {COME_BACK_MS}\n\n"));
    let listening = service.listen();
    let listener = Listener {
        service: service.clone(),
        listening,
        position,
        ready: VecDeque::from([first]),
        looked_at: Instant::now(),
        _place: place,
    };
    let answer = HttpResponse::Ok()
        .insert_header((CONTENT_TYPE, MEDIA_TYPE))
        .insert_header((CACHE_CONTROL, "no-store"))
        // What is compressed is gathered first, and a stream would stand still.
        .insert_header((CONTENT_ENCODING, "identity"))
        .insert_header(("x-accel-buffering", "no"))
        .streaming(stream::unfold(listener, |mut listener| async move {
            let next = listener.next().await?;
            Some((Ok::<_, Infallible>(next), listener))
        }));
    Ok(answer)
}

impl Listener {
    /// What is sent next; `None` at the end.
    async fn next(&mut self) -> Option<Bytes> {
        loop {
            let last = self.listening.last()?;
            // A key that was revoked meanwhile opens nothing more, however much there is to tell.
            if self.looked_at.elapsed() >= HEARTBEAT && !self.key_is_valid().await? {
                return None;
            }
            if let Some(ready) = self.ready.pop_front() {
                return Some(ready);
            }
            if self.position < last {
                // A listener comes back by himself and goes on from where he was.
                let (events, position) = self.service.cloud_events_behind(self.position, AT_ONCE).await.ok()?;
                for event in events {
                    let data = serde_json::to_string(&event).expect("an event is plain values");
                    let at = event.sequence.trim_start_matches('0');
                    let text = format!("id: {at}\nevent: {}\ndata: {data}\n\n", event.event_type);
                    self.ready.push_back(Bytes::from(text));
                }
                if !self.ready.is_empty() {
                    self.position = position;
                    continue;
                }
            }
            if tokio::time::timeout(HEARTBEAT, self.listening.changed()).await.is_err() {
                return self.key_is_valid().await?.then(|| Bytes::from_static(b":\n\n"));
            }
        }
    }

    /// Whether the key that opened the stream still opens something.
    async fn key_is_valid(&mut self) -> Option<bool> {
        let key = self.service.key(self.service.principal().key).await.ok()?;
        self.looked_at = Instant::now();
        Some(key.value.is_valid(self.service.clock().now()))
    }
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    #[test]
    fn the_stream_is_given_to_those_who_name_it() {
        for (accept, asked) in [
            ("text/event-stream", true),
            ("application/json;q=0.5, Text/Event-Stream; q=0.9", true),
            ("text/event-stream;q=0", false),
            ("*/*", false),
            ("text/*", false),
            ("application/json", false),
        ] {
            let request = TestRequest::default().insert_header((ACCEPT, accept)).to_http_request();
            assert_eq!(is_asked_for(&request), asked, "{accept}");
        }
    }

    #[test]
    fn the_last_event_is_a_position() {
        for (text, met) in [("0", Some(Some(0))), ("42", Some(Some(42))), ("", None), ("-1", None), ("+1", None)] {
            let request = TestRequest::default().insert_header((LAST_EVENT_ID, text)).to_http_request();
            assert_eq!(last_met(&request).ok(), met, "{text}");
        }
        assert_eq!(last_met(&TestRequest::default().to_http_request()).ok(), Some(None));
    }

    #[test]
    fn a_key_has_so_many_streams_and_gets_its_places_back() {
        let listeners = Listeners::new(Metrics::default());
        let (one, other) = (Uuid::from_u128(1), Uuid::from_u128(2));
        let mut places: Vec<Place> = (0..STREAMS_OF_KEY_MOST).map(|_| listeners.enter(one).ok().unwrap()).collect();
        assert_eq!(listeners.enter(one).err().unwrap().kind(), Kind::TooMany);
        assert!(listeners.enter(other).is_ok());
        places.pop();
        assert!(listeners.enter(one).is_ok());
    }
}
