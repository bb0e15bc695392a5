//! Spans of requests to an OpenTelemetry collector: OTLP over HTTP, in batches, on a thread of their own.
//!
//! It goes by the variables of OpenTelemetry itself (its specification, "OTLP exporter configuration"):
//! `OTEL_EXPORTER_OTLP_ENDPOINT` such as `http://127.0.0.1:4318`, or `OTEL_EXPORTER_OTLP_TRACES_ENDPOINT` with the
//! whole address. Without either nothing is sent.

use std::sync::OnceLock;

use opentelemetry::trace::TracerProvider;
use opentelemetry_otlp::SpanExporter;
use opentelemetry_sdk::Resource;
use opentelemetry_sdk::trace::SdkTracerProvider;
use tracing::Subscriber;
use tracing_subscriber::EnvFilter;
use tracing_subscriber::layer::Layer;
use tracing_subscriber::registry::LookupSpan;

/// Variables that name a collector.
const WHERE: [&str; 2] = ["OTEL_EXPORTER_OTLP_TRACES_ENDPOINT", "OTEL_EXPORTER_OTLP_ENDPOINT"];

/// What is sent: the spans of this program. What the sending itself does must not be sent again.
const SENT: &str = "off,rigbill=info";

static PROVIDER: OnceLock<SdkTracerProvider> = OnceLock::new();

/// The layer, when a collector is named.
pub(super) fn layer<S: Subscriber + for<'span> LookupSpan<'span> + Send + Sync>()
-> Option<Box<dyn Layer<S> + Send + Sync>> {
    if !WHERE.iter().any(|name| std::env::var_os(name).is_some_and(|value| !value.is_empty())) {
        return None;
    }
    let exporter = match SpanExporter::builder().with_http().build() {
        Ok(exporter) => exporter,
        // There is no log yet.
        Err(error) => {
            eprintln!("rigbill: spans cannot be sent to the collector: {error}");
            return None;
        }
    };
    let about = Resource::builder().with_service_name(env!("CARGO_PKG_NAME")).build();
    let provider = SdkTracerProvider::builder().with_batch_exporter(exporter).with_resource(about).build();
    let tracer = provider.tracer(env!("CARGO_PKG_NAME"));
    let _ = PROVIDER.set(provider);
    Some(tracing_opentelemetry::layer().with_tracer(tracer).with_filter(EnvFilter::new(SENT)).boxed())
}

/// Sends what is still waiting, for a few seconds at most.
pub(super) fn end() {
    if let Some(Err(error)) = PROVIDER.get().map(SdkTracerProvider::shutdown) {
        tracing::warn!(error = &error as &dyn std::error::Error, "the last spans did not reach the collector");
    }
}
