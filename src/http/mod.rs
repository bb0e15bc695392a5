//! HTTP: the only place that knows actix. It translates, and decides nothing about boats: a handler extracts, calls
//! one function of the service, converts, and answers.

pub mod access;
pub mod address;
pub mod body;
pub mod connections;
pub mod customer;
pub mod deadline;
pub mod etag;
pub mod faults;
pub mod forms;
pub mod limits;
pub mod listening;
pub mod metrics;
pub mod middleware;
pub mod once;
pub mod openapi;
pub mod paging;
pub mod problem;
pub mod problem_pages;
pub mod query;
mod quick;
pub mod site;
pub mod v1;

use actix_web::web;
use actix_web::{HttpRequest, HttpResponse, ResponseError};
use utoipa_actix_web::service_config::ServiceConfig;

use problem::{Kind, Problem};

/// Everything that the description describes.
pub fn routes(config: &mut ServiceConfig) {
    site::routes(config);
    metrics::routes(config);
    v1::routes(config);
}

/// What stands behind the described routes: a problem for a wrong method on a known path, the pages for people.
pub fn routes_behind(config: &mut web::ServiceConfig) {
    for (path, methods) in openapi::methods_by_path() {
        let allow = methods.join(", ");
        config.service(web::resource(path).to(move |request: HttpRequest| {
            let problem = Problem::method_not_allowed(request.method().as_str(), allow.clone());
            async move { problem.error_response() }
        }));
    }
    site::pages(config);
    customer::routes(config);
}

/// Answers what no route takes.
pub async fn unknown_path(request: HttpRequest) -> Result<HttpResponse, Problem> {
    Err(Problem::new(Kind::UnknownPath, format!("There is nothing at '{}'.", request.path())))
}
