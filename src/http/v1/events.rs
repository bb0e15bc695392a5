//! `/v1/events`: what happened, to be read by the shop's other systems.

use actix_web::{HttpResponse, get};
use chrono::{DateTime, Utc};
use serde::Serialize;
use serde_json::Value;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use crate::http::access::Acting;
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, Query, Reader};
use crate::service::events::{Event, EventData};

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

/// Something that happened: a CloudEvent 1.0 in JSON.
#[derive(Serialize, ToSchema)]
struct CloudEvent {
    /// Edition of CloudEvents: `1.0`.
    #[schema(example = "1.0")]
    specversion: &'static str,
    /// Identifier: whoever meets it twice has met one event.
    id: Uuid,
    /// Where it happened, relative to the service.
    #[schema(format = "uri-reference", example = "/v1/quotes")]
    source: &'static str,
    /// What happened: `quote.issued`, `quote.accepted`, `quote.declined`, `quote.lapsed`, `quote.withdrawn`,
    /// `quote.superseded`, `stock.reserved`, `stock.released`, `stock.picked`, `items.imported`, `settings.changed`. Expect
    /// new values.
    #[serde(rename = "type")]
    #[schema(example = "quote.accepted")]
    event_type: String,
    /// To what it happened: the identifier of a quote or an import, or `settings`.
    subject: String,
    /// When.
    time: DateTime<Utc>,
    /// Media type of the data: `application/json`.
    #[schema(example = "application/json")]
    datacontenttype: &'static str,
    /// Its place among all events, as digits that sort like the numbers they are.
    #[schema(example = "0000000000000000042")]
    sequence: String,
    /// What there is to say of it.
    #[schema(value_type = EventData)]
    data: Value,
}

/// Events in the order in which they happened.
#[derive(Serialize, ToSchema)]
struct EventPage {
    /// The events; none when nothing happened since.
    events: Vec<CloudEvent>,
    /// Position of the last of them: to be sent as `after` to hear what comes next.
    after: i64,
}

/// Where events of a kind happen.
fn source(kind: &str) -> &'static str {
    match kind.split('.').next() {
        Some("quote") => "/v1/quotes",
        Some("items") => "/v1/imports",
        Some("settings") => "/v1/settings",
        Some("stock") => "/v1/reservations",
        _ => "/v1/events",
    }
}

impl From<(Event, Value)> for CloudEvent {
    fn from((event, data): (Event, Value)) -> Self {
        let Event { position, id, kind, subject, at, payload: _ } = event;
        CloudEvent {
            specversion: "1.0",
            id,
            source: source(&kind),
            event_type: kind,
            subject,
            time: at,
            datacontenttype: "application/json",
            sequence: format!("{position:019}"),
            data,
        }
    }
}

/// Read what happened
///
/// Moves of quotes, imports of items and changes of the settings, in the order in which they happened, without a gap:
/// whoever goes on from the last position never misses one, however many write at the same time. Drafts are nobody
/// else's business and tell nothing. An event can be read as often as wanted; its `id` tells a repeat.
///
/// `quote.accepted` has what the quote will take, in the units that the shop buys in. `stock.reserved`, `stock.released` and
/// `stock.picked` have what a quote took hold of on the shelf, let go of, or was given, in selling units, by place and bin.
#[utoipa::path(tag = "events", operation_id = "list_events", params(EventQuery),
    responses((status = 200, description = "The events.", body = EventPage)))]
#[get("/v1/events")]
async fn list_events(query: Query<EventQuery>, service: Acting) -> Result<HttpResponse, Problem> {
    let EventQuery { after, limit } = query.0;
    let events = service.events_behind(i64::from(after), limit).await?;
    let after = events.last().map_or(i64::from(after), |(event, _)| event.position);
    let events = events.into_iter().map(CloudEvent::from).collect();
    Ok(HttpResponse::Ok().json(EventPage { events, after }))
}
