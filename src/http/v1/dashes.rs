//! Dashes: one laid out by itself, and the drawing of one of a quote.

use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse, get, post, web};
use serde::Deserialize;
use tokio::sync::Semaphore;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use super::Id;
use super::quotes::{ChoiceParameters, ChoiceQuery, choice_of};
use crate::calc::dash::question::{self, DashAnswer, DashRequest};
use crate::calc::findings::Fault;
use crate::calc::take_off::DashLayout;
use crate::documents::dash;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfNoneMatchHeader};
use crate::http::forms::wants_svg;
use crate::http::problem::{Kind, Problem};
use crate::http::query::{NoParameters, Query};
use crate::service::Service;
use crate::service::quotes::DocumentKind;

/// Media type of a drawing.
const SVG: &str = "image/svg+xml";

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(lay_out_dash).service(draw_quote_dash);
}

/// A drawing of a dash as SVG, at true proportion and in black and white, for the browser or for print.
#[derive(ToSchema)]
#[expect(dead_code, reason = "only describes what is drawn")]
struct DashDrawing(String);

impl RequestBody for DashRequest {
    async fn more_faults(self, _: &Service) -> Vec<Fault> {
        question::check(&self).err().unwrap_or_default()
    }
}

/// Dashes that are worked on at once: each may keep a processor for its whole budget, and the others have to go on.
static LAYOUTS: Semaphore = Semaphore::const_new(2);

/// Lay out a dash
///
/// Where each display, keypad, stereo, gauge and panel goes on a face of a given shape: all fit; then the fewest broken
/// symmetries about the centre line; then the largest least clearance; then nearest to eye height. `proof` says which of
/// these no other layout can better. With it the drill and cut list, what becomes of old openings, depth behind, and what
/// would make fit what does not. As `image/svg+xml` it is the drawing.
#[utoipa::path(tag = "calculators", operation_id = "lay_out_dash",
    request_body(content = DashRequest, description = "The face and its parts."),
    extensions(("x-problems" = json!(["not-acceptable"]))),
    responses((status = 200, description = "The layout.", content(
        (DashAnswer = "application/json"),
        (DashDrawing = "image/svg+xml", examples(("shortened" = (summary = "Its frame, without what is drawn in it", value = json!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1200 800\" role=\"img\"><title>Dash dash</title></svg>")))))))))]
#[post("/v1/calculators/dash")]
async fn lay_out_dash(
    request: HttpRequest,
    _: Query<NoParameters>,
    asked: Body<DashRequest>,
) -> Result<HttpResponse, Problem> {
    let drawn = wants_svg(&request)?;
    let turn = LAYOUTS.acquire().await.map_err(Problem::internal)?;
    // The turn ends with the work, also when nobody waits for the answer any more.
    let laid_out = web::block(move || {
        let _turn = turn;
        question::answer(&asked.0)
    });
    let answer = laid_out.await.map_err(Problem::internal)?.map_err(Problem::faults)?;
    if drawn {
        return Ok(HttpResponse::Ok().content_type(SVG).body(dash::svg(&answer.dash)));
    }
    Ok(HttpResponse::Ok().json(answer))
}

/// Of a quote's document what is drawn.
#[derive(Deserialize)]
struct Document {
    take_off: TakeOff,
}

#[derive(Deserialize)]
struct TakeOff {
    #[serde(default)]
    dashes: Vec<DashLayout>,
}

/// Draw a dash of a quote
///
/// An SVG picture as seen from the helm, at true proportion: the face, outline and cut-out of each part, places from the
/// centre line and the lower edge, and a table to cut by. It is drawn from the quote's document, and stays as that does.
#[utoipa::path(tag = "quotes", operation_id = "draw_quote_dash",
    params(("id" = Uuid, Path, description = "Identifier of the quote."),
        ("dash" = String, Path, description = "Identifier of the dash, as the spec has it."), ChoiceParameters, IfNoneMatchHeader),
    extensions(("x-problems" = json!(["moved"]))),
    responses((status = 200, description = "The picture.", headers(("ETag" = String, description = "Of these bytes.")),
        body = DashDrawing, content_type = "image/svg+xml",
        examples(("shortened" = (summary = "Its frame, without what is drawn in it", value = json!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 1200 800\" role=\"img\"><title>Dash helm_dash</title></svg>"))))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/quotes/{id}/dashes/{dash}")]
async fn draw_quote_dash(
    request: HttpRequest,
    query: Query<ChoiceQuery>,
    service: Acting,
    id: Id,
    path: Path<(String, String)>,
) -> Result<HttpResponse, Problem> {
    let document = choice_of(&service, id.0, &query.0, DocumentKind::Quote).await?;
    let Document { take_off } = serde_json::from_slice(&document.bytes).map_err(Problem::internal)?;
    let (_, wanted) = path.into_inner();
    let Some(found) = take_off.dashes.iter().find(|dash| dash.id.as_str() == wanted) else {
        let known: Vec<&str> = take_off.dashes.iter().map(|dash| dash.id.as_str()).collect();
        let detail = if known.is_empty() {
            "The quote has no dash; list some in its spec.".to_owned()
        } else {
            format!("The quote has no such dash; it has: {}.", known.join(", "))
        };
        return Err(Problem::new(Kind::NotFound, detail));
    };
    Ok(etag::bytes(&request, dash::svg(found).into_bytes(), SVG))
}
