//! The log: readable on a terminal, JSON otherwise. One line for each request that has ended, with its identifier,
//! method, route, status and times; nothing of what was asked for or sent.

use std::io::IsTerminal;

use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::{Error, HttpMessage};
use tracing::Span;
use tracing_actix_web::{RequestId, RootSpanBuilder};
use tracing_subscriber::EnvFilter;
use tracing_subscriber::fmt::format::FmtSpan;

use crate::config::LogFormat;
use crate::http::problem::Problem;

/// What is logged unless `RUST_LOG` says otherwise.
const USUAL: &str = "info,sqlx=warn,sea_orm_migration=warn,actix_server=warn";

/// Begins to log to standard error: standard output belongs to what a command prints. A second call changes nothing.
pub fn start(format: LogFormat) {
    let filter = EnvFilter::try_from_default_env().unwrap_or_else(|_| EnvFilter::new(USUAL));
    let readable = match format {
        LogFormat::Text => true,
        LogFormat::Json => false,
        LogFormat::Auto => std::io::stderr().is_terminal(),
    };
    let lines =
        tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr).with_span_events(FmtSpan::CLOSE);
    // Another subscriber is there already when tests start several services in one process.
    let _ = if readable {
        lines.with_target(false).with_ansi(std::io::stderr().is_terminal()).try_init()
    } else {
        lines.json().flatten_event(true).try_init()
    };
}

/// Opens one span a request: its identifier, method and route. Neither path nor query is told: names of customers and
/// boats stand in them.
pub struct RequestSpan;

impl RootSpanBuilder for RequestSpan {
    fn on_request_start(request: &ServiceRequest) -> Span {
        let id = request.extensions().get::<RequestId>().map(RequestId::to_string).unwrap_or_default();
        let route = request.match_pattern().unwrap_or_else(|| "unknown".to_owned());
        tracing::info_span!(
            "request",
            request_id = id,
            method = %request.method(),
            route,
            status = tracing::field::Empty,
        )
    }

    fn on_request_end<B: MessageBody>(span: Span, outcome: &Result<ServiceResponse<B>, Error>) {
        let (status, error) = match outcome {
            Ok(response) => (response.status(), response.response().error()),
            Err(error) => (error.as_response_error().status_code(), Some(error)),
        };
        span.record("status", status.as_u16());
        // A panic was logged where it was caught.
        if let Some(causes) = error.and_then(|error| error.as_error::<Problem>()).and_then(Problem::causes) {
            span.in_scope(|| tracing::error!(causes, "a request failed"));
        }
    }
}
