//! What is counted and measured of the running service, for Prometheus (text format 0.0.4) at `/metrics`.
//!
//! Every service has counters of its own: two in one process, as in a test, do not count into each other.

use std::sync::Arc;
use std::time::{Duration, Instant};

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::web::Data;
use actix_web::{Error, HttpMessage, HttpResponse, get};
use metrics::{counter, describe_counter, describe_gauge, describe_histogram, gauge, histogram};
use metrics_exporter_prometheus::{PrometheusBuilder, PrometheusHandle, PrometheusRecorder};
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use super::problem::Problem;
use super::query::{NoParameters, Query};
use crate::calc::quote::ENGINE_EDITION;
use crate::service::Service;
use crate::service::webhooks::Tried;

const REQUESTS: &str = "rigbill_http_requests_total";
const DURATION: &str = "rigbill_http_request_duration_seconds";
const UNAVAILABLE: &str = "rigbill_unavailable_total";
/// Requests that a limit refused, by which.
pub const REFUSED: &str = "rigbill_refused_total";
const CONNECTIONS: &str = "rigbill_database_connections";
const CONNECTIONS_MOST: &str = "rigbill_database_connections_max";
const DATABASE_UP: &str = "rigbill_database_up";
const CATALOGUE: &str = "rigbill_catalogue_version";
const WEBHOOKS: &str = "rigbill_webhook_attempts_total";
const WEBHOOK_DURATION: &str = "rigbill_webhook_attempt_duration_seconds";
const LISTENERS: &str = "rigbill_event_listeners";
const BUILD: &str = "rigbill_build_info";

/// Upper bounds of the classes of durations, seconds: a take-off takes a few milliseconds, the patience of the store
/// is five seconds.
const BUCKETS_S: [f64; 12] = [0.001, 0.0025, 0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1.0, 2.5, 10.0];

/// How often measured durations are sorted into their classes; until then each is kept by itself.
const UPKEEP: Duration = Duration::from_secs(5);

/// Media type of the text format.
const MEDIA_TYPE: &str = "text/plain; version=0.0.4; charset=utf-8";

/// The pattern of the route that a request takes, found once for the log and the counters: neither the path nor the
/// query, in which names of customers and boats stand.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Route(pub Arc<str>);

impl Route {
    /// The route of a request; "unknown" for a path that the service does not have.
    pub fn of(request: &ServiceRequest) -> Self {
        if let Some(route) = request.extensions().get::<Route>() {
            return route.clone();
        }
        let route = Route(request.match_pattern().map_or_else(|| Arc::from("unknown"), Arc::from));
        request.extensions_mut().insert(route.clone());
        route
    }
}

/// The counters of one service.
#[derive(Clone)]
pub struct Metrics {
    recorder: Arc<PrometheusRecorder>,
    handle: PrometheusHandle,
}

impl Default for Metrics {
    fn default() -> Self {
        let builder = PrometheusBuilder::new().set_buckets(&BUCKETS_S).expect("there are buckets");
        let recorder = Arc::new(builder.build_recorder());
        let metrics = Metrics { handle: recorder.handle(), recorder };
        metrics.record(|| {
            describe_counter!(REQUESTS, "Requests that were answered, by method, route and class of status.");
            describe_histogram!(DURATION, "Seconds from the head of a request to that of its answer.");
            describe_counter!(UNAVAILABLE, "Requests that the database could not serve, by what was wrong with it.");
            describe_counter!(REFUSED, "Requests that a limit refused, by which limit.");
            describe_gauge!(CONNECTIONS, "Connections to the database, by pool and state.");
            describe_gauge!(CONNECTIONS_MOST, "Most connections of a pool; who wants one more waits.");
            describe_counter!(WEBHOOKS, "Tries to tell targets of events, by what came of them.");
            describe_histogram!(WEBHOOK_DURATION, "Seconds that a try to tell a target took, by what came of it.");
            describe_gauge!(LISTENERS, "Streams of events that are open.");
            describe_gauge!(DATABASE_UP, "1 when the database answers, 0 when it does not.");
            describe_gauge!(CATALOGUE, "Version of the shop's tables: it counts up with every change.");
            describe_gauge!(BUILD, "1, with the version of the program and the edition of its calculation.");
            gauge!(BUILD, "version" => env!("CARGO_PKG_VERSION"), "engine_edition" => ENGINE_EDITION).set(1.0);
        });
        metrics
    }
}

impl Metrics {
    /// Counts or measures something: what the macros of the crate `metrics` record inside goes to this service.
    pub fn record<T>(&self, what: impl FnOnce() -> T) -> T {
        metrics::with_local_recorder(&*self.recorder, what)
    }

    /// Sorts measured durations into their classes every few seconds, for ever: without that they pile up in memory
    /// while nobody asks for them.
    pub async fn upkeep(&self) {
        let mut ticks = tokio::time::interval(UPKEEP);
        loop {
            ticks.tick().await;
            self.handle.run_upkeep();
        }
    }

    /// Counts a try to tell a target of an event.
    pub fn webhook_tried(&self, tried: &Tried) {
        self.record(|| {
            let labels = [("outcome", tried.outcome.as_str())];
            counter!(WEBHOOKS, &labels).increment(1);
            histogram!(WEBHOOK_DURATION, &labels).record(tried.took.as_secs_f64());
        });
    }

    /// Notes how many listen to events.
    pub fn listeners(&self, count: usize) {
        // Exact far beyond what may be open.
        self.record(|| gauge!(LISTENERS).set(count as f64));
    }

    fn answered(&self, method: &'static str, route: Route, status: StatusCode, took: Duration) {
        let class = match status.as_u16() {
            100..=199 => "1xx",
            200..=299 => "2xx",
            300..=399 => "3xx",
            400..=499 => "4xx",
            _ => "5xx",
        };
        self.record(|| {
            let labels = [("method", method.to_owned()), ("route", route.0.to_string()), ("status", class.to_owned())];
            counter!(REQUESTS, &labels).increment(1);
            histogram!(DURATION, &labels).record(took.as_secs_f64());
        });
    }
}

/// Methods as a label: whatever a client makes up is one more, and not one each.
fn method_label(method: &Method) -> &'static str {
    match *method {
        Method::GET => "GET",
        Method::HEAD => "HEAD",
        Method::POST => "POST",
        Method::PUT => "PUT",
        Method::PATCH => "PATCH",
        Method::DELETE => "DELETE",
        Method::OPTIONS => "OPTIONS",
        _ => "other",
    }
}

/// Counts every request and measures its time, whatever becomes of it.
pub async fn observe<B: MessageBody>(request: ServiceRequest, next: Next<B>) -> Result<ServiceResponse<B>, Error> {
    let metrics = request.app_data::<Data<Metrics>>().expect("the app has its metrics").clone();
    let begun = Instant::now();
    let (method, route) = (method_label(request.method()), Route::of(&request));
    let outcome = next.call(request).await;
    let (status, error) = match &outcome {
        Ok(response) => (response.status(), response.response().error()),
        Err(error) => (error.as_response_error().status_code(), Some(error)),
    };
    if let Some(reason) = error.and_then(|error| error.as_error::<Problem>()).and_then(Problem::unavailable) {
        metrics.record(|| counter!(UNAVAILABLE, "reason" => reason).increment(1));
    }
    metrics.answered(method, route, status, begun.elapsed());
    outcome
}

/// What is described.
pub fn routes(config: &mut ServiceConfig) {
    config.service(read_metrics);
}

/// Counters and measures in the text format of Prometheus, a sample a line.
#[derive(ToSchema)]
#[schema(value_type = String)]
#[expect(dead_code, reason = "only describes the answer, which the exporter writes")]
struct Counters(String);

/// A part of what is answered, for the description.
const EXAMPLE: &str = "# TYPE rigbill_http_requests_total counter\n\
    rigbill_http_requests_total{method=\"POST\",route=\"/v1/quotes\",status=\"2xx\"} 12\n\
    # TYPE rigbill_catalogue_version gauge\nrigbill_catalogue_version 41\n";

/// Counters and measures
///
/// In the text format of Prometheus, for whoever watches the service: requests and their durations by route, method
/// and class of status, connections to the database, version of the shop's tables, version of the program. Nothing of
/// customers or boats is in it.
#[utoipa::path(tag = "service", operation_id = "metrics",
    responses((status = 200, description = "The counters.", content_type = "text/plain", body = Counters,
        examples(("part" = (summary = "A part of it", value = json!(EXAMPLE)))))))]
#[get("/metrics")]
async fn read_metrics(_: Query<NoParameters>, metrics: Data<Metrics>, service: Data<Service>) -> HttpResponse {
    let condition = service.condition().await;
    metrics.record(|| {
        gauge!(DATABASE_UP).set(if condition.database_answers { 1.0 } else { 0.0 });
        if let Some(version) = condition.catalogue_version {
            // Exact up to 2^53 changes.
            gauge!(CATALOGUE).set(version as f64);
        }
        for pool in condition.connections {
            gauge!(CONNECTIONS, "pool" => pool.pool, "state" => "idle").set(f64::from(pool.idle));
            gauge!(CONNECTIONS, "pool" => pool.pool, "state" => "used").set(f64::from(pool.open - pool.idle));
            gauge!(CONNECTIONS_MOST, "pool" => pool.pool).set(f64::from(pool.most));
        }
    });
    HttpResponse::Ok()
        .insert_header((CACHE_CONTROL, "no-store"))
        .insert_header((CONTENT_TYPE, MEDIA_TYPE))
        .body(metrics.handle.render())
}
