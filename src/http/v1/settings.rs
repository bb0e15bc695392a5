//! `/v1/settings`: allowances, colours, rates, mark-ups and tax; `/v1/price-levels`: what of that the desk chooses from.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, get, put};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;

use crate::calc::shop::settings::{PriceLevel, Settings};
use crate::calc::units::Name;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(read_settings).service(replace_settings).service(list_price_levels);
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

/// A price level as the desk chooses it: not what it does to prices.
#[derive(Serialize, ToSchema)]
struct PriceLevelRow {
    /// Code that quotes refer to.
    #[schema(value_type = String, example = "trade")]
    code: Name,
    /// As printed.
    #[schema(example = "Trade")]
    name: String,
    /// Whether only an owner gives it.
    owner_only: bool,
}

/// The price levels of the shop.
#[derive(Serialize, ToSchema)]
struct PriceLevelList {
    /// One row for each, in the order of the settings.
    rows: Vec<PriceLevelRow>,
}

impl From<Settings> for PriceLevelList {
    fn from(settings: Settings) -> Self {
        let row = |level: PriceLevel| {
            let PriceLevel { code, name, owner_only, prices: _ } = level;
            PriceLevelRow { code, name, owner_only }
        };
        PriceLevelList { rows: settings.price_levels.into_iter().map(row).collect() }
    }
}

/// List the price levels
///
/// Their codes and names, for a quote to name one. What they do to prices stands in the settings.
#[utoipa::path(tag = "settings", operation_id = "list_price_levels", params(IfNoneMatchHeader),
    responses((status = 200, description = "The price levels.", body = PriceLevelList, headers(("ETag" = String, description = "The version of the settings."))),
        (status = 304, description = "The client has them already.")))]
#[get("/v1/price-levels")]
async fn list_price_levels(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
) -> Result<HttpResponse, Problem> {
    Ok(etag::read(&request, &service.settings().await?.map(PriceLevelList::from)))
}
