//! `/v1/calculators`: one question, one answer.

use actix_web::{HttpResponse, post};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::calc::circuits::conductor::{self, ConductorAnswer, ConductorRequest};
use crate::calc::findings::Fault;
use crate::http::body::{Body, RequestBody};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};
use crate::service::Service;

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(size_conductor);
}

impl RequestBody for ConductorRequest {
    async fn more_faults(self, _: &Service) -> Vec<Fault> {
        conductor::check(&self).err().unwrap_or_default()
    }
}

/// Find the conductor for a current over a length
///
/// The smallest size that carries the current, stays within the voltage drop and can be protected, what limited it, and
/// its basis. When no single conductor is enough, the problem says how many in parallel or which voltage would do.
#[utoipa::path(tag = "calculators", operation_id = "size_conductor",
    request_body(content = ConductorRequest, description = "The question."),
    extensions(("x-problems" = json!(["no-conductor"]))),
    responses((status = 200, description = "The conductor.", body = ConductorAnswer)))]
#[post("/v1/calculators/conductor")]
async fn size_conductor(_: Query<NoParameters>, request: Body<ConductorRequest>) -> Result<HttpResponse, Problem> {
    let question = conductor::check(&request.0).map_err(Problem::faults)?;
    let answer = conductor::answer(&question).map_err(Problem::no_conductor)?;
    Ok(HttpResponse::Ok().json(answer))
}
