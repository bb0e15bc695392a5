//! `/v1/settings`: allowances, colours, rates, mark-ups and tax.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, get, put};
use utoipa_actix_web::service_config::ServiceConfig;

use crate::calc::shop::settings::Settings;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(read_settings).service(replace_settings);
}

impl RequestBody for Settings {}

/// Read the shop's settings
///
/// As they can be sent back, changed.
#[utoipa::path(tag = "settings", operation_id = "read_settings", params(IfNoneMatchHeader),
    responses((status = 200, description = "The settings.", body = Settings, headers(("ETag" = String, description = "Their version."))),
        (status = 304, description = "The client has them already.")))]
#[get("/v1/settings")]
async fn read_settings(request: HttpRequest, _: Query<NoParameters>, service: Acting) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.settings().await?))
}

/// Replace the shop's settings
///
/// Send all settings, as they were read and then changed. Quotes that were made before stay as they are.
#[utoipa::path(tag = "settings", operation_id = "replace_settings", params(IfMatchHeader),
    request_body(content = Settings, description = "All settings."),
    responses((status = 200, description = "The settings as they stand now.", body = Settings, headers(("ETag" = String, description = "Their version.")))))]
#[put("/v1/settings")]
async fn replace_settings(
    _: Query<NoParameters>,
    service: Acting,
    seen: IfMatch,
    settings: Body<Settings>,
) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.replace_settings(settings.0, seen.0).await?))
}
