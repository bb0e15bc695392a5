//! `/v1/take-offs`: a boat spec in, quantities out; nothing is stored.

use std::sync::atomic::{AtomicUsize, Ordering};

use actix_web::http::header::ContentType;
use actix_web::web::Data;
use actix_web::{HttpResponse, post};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::calc::findings::Fault;
use crate::calc::spec::input::BoatSpecInput;
use crate::calc::take_off::TakeOff;
use crate::http::body::{Body, RequestBody};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};
use crate::service::{self, Service};

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(take_off);
}

impl RequestBody for BoatSpecInput {
    async fn more_faults(self, service: &Service) -> Vec<Fault> {
        match service.take_off(self).await {
            Err(service::Error::Faults(faults)) => faults,
            _ => Vec::new(),
        }
    }
}

/// Take off the quantities of a job
///
/// Circuits, conductors, protection, terminations, labour and requirements of one boat, before any price, each figure
/// with its basis. What cannot be met is a gap in the answer; what is unwise is a warning.
#[utoipa::path(tag = "take-offs", operation_id = "take_off",
    request_body(content = BoatSpecInput, description = "The boat spec."),
    responses((status = 200, description = "The take-off.", body = TakeOff)))]
#[post("/v1/take-offs")]
async fn take_off(
    _: Query<NoParameters>,
    service: Data<Service>,
    spec: Body<BoatSpecInput>,
) -> Result<HttpResponse, Problem> {
    let taken = service.take_off(spec.0).await?;
    Ok(HttpResponse::Ok().content_type(ContentType::json()).body(written(&taken)?))
}

/// The JSON of a take-off. It is written into room for one an eighth longer than the last: to make room bit by bit for
/// some hundred thousand bytes copies them several times over.
fn written(taken: &TakeOff) -> Result<Vec<u8>, Problem> {
    static LAST_BYTES: AtomicUsize = AtomicUsize::new(64 << 10);
    let last = LAST_BYTES.load(Ordering::Relaxed);
    let mut json = Vec::with_capacity(last + last / 8);
    serde_json::to_writer(&mut json, taken)
        .map_err(|cause| Problem::internal(format!("a take-off could not be written: {cause}")))?;
    LAST_BYTES.store(json.len(), Ordering::Relaxed);
    Ok(json)
}
