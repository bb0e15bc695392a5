//! `/v1/calculators`: one question, one answer.

use actix_web::{HttpResponse, post, web};
use tokio::sync::Semaphore;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::calc::circuits::conductor::{self, ConductorAnswer, ConductorRequest};
use crate::calc::cuts::question::{self, CutPlanAnswer, CutPlanRequest};
use crate::calc::findings::Fault;
use crate::http::body::{Body, RequestBody};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};
use crate::service::Service;

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(size_conductor).service(plan_cuts);
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

impl RequestBody for CutPlanRequest {
    async fn more_faults(self, _: &Service) -> Vec<Fault> {
        question::check(&self).err().unwrap_or_default()
    }
}

/// Plans that are worked on at once: each may keep a processor for its whole budget, and the others have to go on.
static PLANS: Semaphore = Semaphore::const_new(2);

/// Plan from which stock each piece is cut
///
/// The cheapest way to cut pieces from stock lengths and from what is sold to measure; of the cheapest that were met the
/// one with the least waste. `optimal` says that no plan can cost less; otherwise `lower_bound` says what none can be
/// below. A piece that no stock holds, and stock that is not enough, are faults of the question.
#[utoipa::path(tag = "calculators", operation_id = "plan_cuts",
    request_body(content = CutPlanRequest, description = "What is to be cut, and what there is to cut it from."),
    responses((status = 200, description = "The plan.", body = CutPlanAnswer)))]
#[post("/v1/calculators/cut-plan")]
async fn plan_cuts(_: Query<NoParameters>, request: Body<CutPlanRequest>) -> Result<HttpResponse, Problem> {
    let turn = PLANS.acquire().await.map_err(Problem::internal)?;
    // The turn ends with the work, also when nobody waits for the answer any more.
    let planned = web::block(move || {
        let _turn = turn;
        question::check(&request.0).and_then(|question| question::answer(&question))
    });
    let answer = planned.await.map_err(Problem::internal)?.map_err(Problem::faults)?;
    Ok(HttpResponse::Ok().json(answer))
}
