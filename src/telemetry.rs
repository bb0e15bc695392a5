//! The log: readable on a terminal, JSON otherwise. One line for each request that has ended, with its identifier,
//! method, route, status, times and the key it came with; nothing of what was asked for or sent. With the feature
//! `otlp` the same spans go to a collector (OpenTelemetry).

use std::io::IsTerminal;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::{Error, HttpMessage};
use tracing::{Span, Subscriber};
use tracing_actix_web::{RequestId, RootSpanBuilder};
use tracing_subscriber::fmt::format::FmtSpan;
use tracing_subscriber::layer::{Layer, SubscriberExt};
use tracing_subscriber::registry::LookupSpan;
use tracing_subscriber::util::SubscriberInitExt;
use tracing_subscriber::{EnvFilter, Registry, fmt};

use crate::config::LogFormat;
use crate::http::metrics::Route;
use crate::http::problem::Problem;
use crate::service::access::Principal;

#[cfg(feature = "otlp")]
mod export;

/// What is logged unless `RUST_LOG` says otherwise.
const USUAL: &str = "info,sqlx=warn,sea_orm_migration=warn,actix_server=warn";

/// Begins to log to standard error: standard output belongs to what a command prints. A second call changes nothing.
pub fn start(format: LogFormat) {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new(USUAL));
    // Another subscriber is there already when tests start several services in one process.
    let _ = Registry::default().with(filter).with(lines(format)).with(exported()).try_init();
}

/// The layer that writes lines.
fn lines<S: Subscriber + for<'span> LookupSpan<'span>>(format: LogFormat) -> Box<dyn Layer<S> + Send + Sync> {
    let readable = match format {
        LogFormat::Text => true,
        LogFormat::Json => false,
        LogFormat::Auto => std::io::stderr().is_terminal(),
    };
    let lines = fmt::layer().with_writer(std::io::stderr).with_span_events(FmtSpan::CLOSE);
    if readable {
        lines.with_target(false).with_ansi(std::io::stderr().is_terminal()).boxed()
    } else {
        lines.json().flatten_event(true).boxed()
    }
}

/// The layer that sends spans to a collector, when the program was built for that and is told where it is.
#[cfg(feature = "otlp")]
fn exported<S: Subscriber + for<'span> LookupSpan<'span> + Send + Sync>() -> Option<Box<dyn Layer<S> + Send + Sync>> {
    export::layer()
}

/// No layer: built without the feature `otlp`.
#[cfg(not(feature = "otlp"))]
fn exported<S: Subscriber>() -> Option<Box<dyn Layer<S> + Send + Sync>> {
    None
}

/// Sends what is still waiting to the collector, and ends sending.
pub fn end() {
    #[cfg(feature = "otlp")]
    export::end();
}

/// Opens one span a request: its identifier, method and route. Neither path nor query is told: names of customers and
/// boats stand in them.
pub struct RequestSpan;

impl RootSpanBuilder for RequestSpan {
    fn on_request_start(request: &ServiceRequest) -> Span {
        let id = request.extensions().get::<RequestId>().map(RequestId::to_string).unwrap_or_default();
        tracing::info_span!(
            "request",
            request_id = id,
            method = %request.method(),
            route = &*Route::of(request).0,
            status = tracing::field::Empty,
            key = tracing::field::Empty,
            role = tracing::field::Empty,
        )
    }

    fn on_request_end<B: MessageBody>(span: Span, outcome: &Result<ServiceResponse<B>, Error>) {
        let (status, error) = match outcome {
            Ok(response) => (response.status(), response.response().error()),
            Err(error) => (error.as_response_error().status_code(), Some(error)),
        };
        span.record("status", status.as_u16());
        let extensions = outcome.as_ref().ok().map(|response| response.request().extensions());
        if let Some(principal) = extensions.as_ref().and_then(|extensions| extensions.get::<Principal>()) {
            span.record("key", principal.name.as_str());
            span.record("role", principal.role.as_str());
        }
        // A panic was logged where it was caught.
        if let Some(causes) = error.and_then(|error| error.as_error::<Problem>()).and_then(Problem::causes) {
            span.in_scope(|| tracing::error!(causes, "a request failed"));
        }
    }
}
