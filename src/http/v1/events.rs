//! `/v1/events`: what happened, to be read by the shop's other systems.

use actix_web::web::Data;
use actix_web::{HttpRequest, HttpResponse, get};
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::http::access::Acting;
use crate::http::listening::{self, Listeners};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, Reader};
use crate::service::events::CloudEvent;

/// Events in an answer unless the client says otherwise.
const LIMIT_USUAL: u32 = 100;
/// Most events in an answer.
const LIMIT_MAX: u32 = 500;

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(list_events);
}

/// Which events an answer has.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
struct EventQuery {
    /// Position behind which it begins: 0 for the first of all, then `after` of the answer before.
    #[param(value_type = Option<i64>, minimum = 0, maximum = 4294967295i64, default = 0)]
    after: u32,
    /// Most events wanted.
    #[param(value_type = Option<u32>, minimum = 1, maximum = 500, default = 100)]
    limit: u32,
}

impl FromQuery for EventQuery {
    fn read(reader: &mut Reader) -> Self {
        EventQuery {
            after: reader.whole("after", 0, u32::MAX).unwrap_or(0),
            limit: reader.whole("limit", 1, LIMIT_MAX).unwrap_or(LIMIT_USUAL),
        }
    }
}

/// Events in the order in which they happened.
#[derive(Serialize, ToSchema)]
struct EventPage {
    /// The events; none when nothing happened since.
    events: Vec<CloudEvent>,
    /// Position of the last of them: to be sent as `after` to hear what comes next.
    after: i64,
}

/// Events as server-sent events.
#[derive(ToSchema)]
#[schema(value_type = String)]
#[expect(dead_code, reason = "only describes the stream, which `listening` writes")]
struct EventStream(String);

/// A part of a stream, for the description.
const STREAM_EXAMPLE: &str =
    "retry: 2000\n\nid: 42\nevent: quote.accepted\ndata: {\"specversion\":\"1.0\", …}\n\n:\n\n";

/// The header in which a listener says where he stopped, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Header)]
#[expect(dead_code, reason = "only describes what `listening::last_met` reads")]
struct LastEventIdHeader {
    /// `id` of the last event that a stream gave: it goes on behind that one, whatever `after` says. Counts for a stream only.
    #[param(rename = "Last-Event-ID", pattern = "^[0-9]{1,18}$", example = "42")]
    last_event_id: Option<String>,
}

/// Read what happened
///
/// Moves of quotes, imports of items and changes of the settings, in the order in which they happened, without a gap:
/// whoever goes on from the last position never misses one, however many write at the same time. Drafts are nobody
/// else's business and tell nothing. An event can be read as often as wanted; its `id` tells a repeat.
///
/// `quote.accepted` has what the quote will take, in the units that the shop buys in. `stock.reserved`, `stock.released` and
/// `stock.picked` have what a quote took hold of on the shelf, let go of, or was given, in selling units, by place and bin.
///
/// With `Accept: text/event-stream` the same events come as a stream (server-sent events) that goes on as things happen, from
/// `after` or `Last-Event-ID` on: each with its position as `id`, its type as `event`, and the CloudEvent as `data`. A comment
/// every 15 seconds shows that it lives. It ends when the service does or the key is revoked; come back with
/// `Last-Event-ID` then. A key has at most ten streams.
#[utoipa::path(tag = "events", operation_id = "list_events", params(EventQuery, LastEventIdHeader),
    extensions(("x-problems" = json!(["bad-header"]))),
    responses((status = 200, description = "The events.", content(
        (EventPage = "application/json"),
        (EventStream = "text/event-stream", examples(
            ("part" = (summary = "The beginning of a stream", value = json!(STREAM_EXAMPLE)))
        )),
    ))))]
#[get("/v1/events")]
async fn list_events(
    request: HttpRequest,
    query: Query<EventQuery>,
    service: Acting,
    listeners: Data<Listeners>,
) -> Result<HttpResponse, Problem> {
    let EventQuery { after, limit } = query.0;
    let met = listening::last_met(&request)?;
    if listening::is_asked_for(&request) {
        return listening::answer(&listeners, &service, met.unwrap_or(i64::from(after)));
    }
    let (events, after) = service.cloud_events_behind(i64::from(after), limit).await?;
    Ok(HttpResponse::Ok().json(EventPage { events, after }))
}
