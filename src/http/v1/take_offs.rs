//! `/v1/take-offs`: a boat spec in, quantities out; nothing is stored.

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
    Ok(HttpResponse::Ok().json(service.take_off(spec.0).await?))
}
