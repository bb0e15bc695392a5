//! What quotes hold of the shelf: `/v1/reservations`, and what is done with it below a quote.

use actix_web::{HttpRequest, HttpResponse, get, post};
use chrono::{DateTime, Utc};
use rust_decimal::Decimal;
use serde::Serialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::Id;
use crate::calc::shelf::Spot;
use crate::calc::shop::item::SellingUnit;
use crate::calc::units::Name;
use crate::http::access::Acting;
use crate::http::body::RequestBody;
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Filters, Paging, PagingParameters};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoParameters, Query, Reader};
use crate::service::once::Answer;
use crate::service::stock::{PickRequest, Reservation, ReservationFilter, ReserveRequest};

const PATH: &str = "/v1/reservations";

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(list_reservations).service(reserve_stock).service(pick_stock);
}

impl RequestBody for ReserveRequest {}
impl RequestBody for PickRequest {}

/// What a quote holds, or was given, of one bin, or one length that was left over.
#[derive(Serialize, ToSchema)]
struct Held {
    /// Identifier.
    id: Uuid,
    /// The quote.
    quote: Uuid,
    /// The item.
    #[schema(value_type = String, example = "TERM-RING-16-8")]
    sku: Name,
    /// How many selling units.
    #[schema(value_type = String, example = "12")]
    quantity: Decimal,
    /// The unit.
    unit: SellingUnit,
    /// UN/ECE Recommendation 20 code of the unit.
    #[schema(example = "EA")]
    unit_code: &'static str,
    /// Room, van or rack.
    place: String,
    /// Bin, drawer or peg there.
    bin: String,
    /// Which length that was left over, where it is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    #[schema(value_type = Option<String>)]
    offcut: Option<Name>,
    /// How long that is, exactly, in nanometres.
    #[serde(skip_serializing_if = "Option::is_none")]
    length_nm: Option<i64>,
    /// When it was reserved.
    reserved_at: DateTime<Utc>,
    /// Name of the key in whose name it was reserved, or `command line`.
    reserved_by: String,
    /// When it was taken from the shelf; absent while it lies there.
    #[serde(skip_serializing_if = "Option::is_none")]
    picked_at: Option<DateTime<Utc>>,
}

impl From<Reservation> for Held {
    fn from(reservation: Reservation) -> Self {
        let Reservation { id, quote, sku, at, quantity, unit, offcut, reserved_at, reserved_by, picked_at } =
            reservation;
        let Spot { place, bin } = at;
        let length_nm = offcut.as_ref().map(|(_, length)| length.nanometres());
        let offcut = offcut.map(|(id, _)| id);
        let unit_code = unit.unece_code();
        let quantity = quantity.normalize();
        Held {
            id,
            quote,
            sku,
            quantity,
            unit,
            unit_code,
            place,
            bin,
            offcut,
            length_nm,
            reserved_at,
            reserved_by,
            picked_at,
        }
    }
}

/// What a quote holds of the shelf.
#[derive(Serialize, ToSchema)]
struct QuoteReservations {
    /// All of it; what was picked says when.
    reservations: Vec<Held>,
}

/// One page of the list of reservations.
#[derive(Serialize, ToSchema)]
struct ReservationPage {
    /// The reservations of this page.
    rows: Vec<Held>,
    /// Cursor of the next page, to be sent as `cursor` with the same filters; absent on the last page.
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<String>,
}

/// Which reservations a list shows.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `ReservationQuery` reads")]
struct ReservationParameters {
    /// The quote.
    quote: Option<Uuid>,
    /// The item.
    #[param(min_length = 1, max_length = 60)]
    sku: Option<String>,
    /// Only what was taken from the shelf (`true`), or only what lies there still (`false`).
    picked: Option<bool>,
}

struct ReservationQuery {
    filter: ReservationFilter,
    paging: Paging,
}

impl FromQuery for ReservationQuery {
    fn read(reader: &mut Reader) -> Self {
        let filter =
            ReservationFilter { quote: reader.id("quote"), sku: reader.text("sku", 60), picked: reader.flag("picked") };
        ReservationQuery { filter, paging: Paging::read(reader) }
    }
}

#[expect(clippy::ptr_arg, reason = "it is handed over as what answers the very value that the service gives")]
fn answer(reservations: &Vec<Reservation>) -> Answer {
    let reservations = reservations.iter().cloned().map(Held::from).collect();
    Answer { status: 200, location: None, ..once::made(&QuoteReservations { reservations }, "") }
}

/// List reservations
///
/// Newest first, in pages: what quotes hold of the shelf, and what was taken from it for them. What was let go of is not
/// there any more; events tell of it.
#[utoipa::path(tag = "stock", operation_id = "list_reservations", params(ReservationParameters, PagingParameters),
    responses((status = 200, description = "A page of reservations.", body = ReservationPage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/reservations")]
async fn list_reservations(
    request: HttpRequest,
    service: Acting,
    query: Query<ReservationQuery>,
) -> Result<HttpResponse, Problem> {
    let ReservationQuery { filter, paging } = query.0;
    let ReservationFilter { quote, sku, picked } = filter.clone();
    let filters: &Filters = &[
        ("quote", quote.map(|quote| quote.to_string())),
        ("sku", sku),
        ("picked", picked.map(|picked| picked.to_string())),
    ];
    let after = paging.after(PATH, filters)?;
    let after = after.map(|id| Uuid::try_parse(&id).map_err(|_| paging::unknown_cursor())).transpose()?;
    let page = service.list_reservations(&filter, after, paging.limit).await?;
    let rows = page.rows.into_iter().map(Held::from).collect();
    Ok(paging::answer(&request, &paging, filters, page.next_after, |next| ReservationPage { rows, next }))
}

/// Reserve for a quote what the shelf has now
///
/// In place of what it holds: after goods have come in, or a count was mended. Or lets go of all that was not picked. A
/// quote reserves by itself when it is accepted, or issued, as the shop's settings say.
#[utoipa::path(tag = "stock", operation_id = "reserve_stock",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IdempotencyKeyHeader),
    request_body(content = ReserveRequest, description = "Whether it takes hold or lets go."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "What it holds now.", body = QuoteReservations)))]
#[post("/v1/quotes/{id}/reservations")]
async fn reserve_stock(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    request: Creation<ReserveRequest>,
) -> Result<HttpResponse, Problem> {
    request.once(&service, async |request, once| service.reserve_quote(id.0, request, once).await, answer).await
}

/// Say what was picked for a quote
///
/// What an accepted quote holds was taken from the shelf: it leaves the counts, and offcuts are used up. What is left of a
/// length is recorded as a new offcut.
#[utoipa::path(tag = "stock", operation_id = "pick_stock",
    params(("id" = Uuid, Path, description = "Identifier of the quote."), IdempotencyKeyHeader),
    request_body(content = PickRequest, description = "Which of it; all of it unless stated."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "What it holds, and what it was given.", body = QuoteReservations)))]
#[post("/v1/quotes/{id}/pick")]
async fn pick_stock(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    request: Creation<PickRequest>,
) -> Result<HttpResponse, Problem> {
    request.once(&service, async |request, once| service.pick_quote(id.0, request, once).await, answer).await
}
