//! `/v1/items`: the shop's catalogue.

use actix_web::http::StatusCode;
use actix_web::web::Path;
use actix_web::{HttpRequest, HttpResponse, delete, get, post, put};
use serde::Deserialize;
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;

use super::item_forms::{ItemByRole, ItemPageByRole};
use super::same_name;
use crate::calc::shop::item::Item;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader, IfNoneMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Filters, Paging, PagingParameters, escaped};
use crate::http::problem::Problem;
use crate::http::query::{FromQuery, NoParameters, Query, Reader};
use crate::service::Stored;
use crate::service::items::ItemFilter;

pub(super) const PATH: &str = "/v1/items";

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(create_item).service(list_items).service(read_item).service(replace_item).service(retire_item);
}

impl RequestBody for Item {}

/// Every kind of item, as a filter.
#[derive(Deserialize, ToSchema)]
#[serde(rename_all = "snake_case")]
enum ItemKind {
    Device,
    Wire,
    Cable,
    RingTerminal,
    ButtSplice,
    Lug,
    HeatShrink,
    Fuse,
    FuseHolder,
    Breaker,
    WireLabel,
    Panel,
    Bus,
    Battery,
    BatterySwitch,
    TerminalBoot,
    FuseBlock,
    Charger,
    Combiner,
    BowReceptacle,
    BilgeSwitch,
    Hose,
    PlumbingFitting,
    Fastener,
    Loom,
    MessengerLine,
    Consumable,
    BatteryHardware,
    NetworkCable,
    NetworkTee,
    NetworkTerminator,
    NetworkPowerTap,
    DisplayCable,
    EngineGateway,
    CableExtension,
    Hardware,
}

const ITEM_KINDS: [&str; 36] = [
    "device",
    "wire",
    "cable",
    "ring_terminal",
    "butt_splice",
    "lug",
    "heat_shrink",
    "fuse",
    "fuse_holder",
    "breaker",
    "wire_label",
    "panel",
    "bus",
    "battery",
    "battery_switch",
    "terminal_boot",
    "fuse_block",
    "charger",
    "combiner",
    "bow_receptacle",
    "bilge_switch",
    "hose",
    "plumbing_fitting",
    "fastener",
    "loom",
    "messenger_line",
    "consumable",
    "battery_hardware",
    "network_cable",
    "network_tee",
    "network_terminator",
    "network_power_tap",
    "display_cable",
    "engine_gateway",
    "cable_extension",
    "hardware",
];

/// Which items a list shows.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `ItemQuery` reads")]
struct ItemParameters {
    /// Kind of item.
    #[param(inline)]
    kind: Option<ItemKind>,
    /// Price category.
    #[param(min_length = 1, max_length = 60)]
    category: Option<String>,
    /// Only retired ones (`true`), or only those that are not (`false`).
    retired: Option<bool>,
    /// Text that the sku or the description holds, in any case.
    #[param(min_length = 1, max_length = 100)]
    text: Option<String>,
}

struct ItemQuery {
    filter: ItemFilter,
    paging: Paging,
}

impl FromQuery for ItemQuery {
    fn read(reader: &mut Reader) -> Self {
        let filter = ItemFilter {
            kind: reader.one_of("kind", &ITEM_KINDS),
            category: reader.text("category", 60),
            retired: reader.flag("retired"),
            text: reader.text("text", 100),
        };
        ItemQuery { filter, paging: Paging::read(reader) }
    }
}

fn filters(filter: &ItemFilter) -> [(&'static str, Option<String>); 4] {
    let ItemFilter { kind, category, retired, text } = filter.clone();
    [("kind", kind), ("category", category), ("retired", retired.map(|flag| flag.to_string())), ("text", text)]
}

/// Add an item to the catalogue
///
/// Its sku must be free, also of retired items.
#[utoipa::path(tag = "items", operation_id = "create_item", params(IdempotencyKeyHeader),
    request_body(content = Item, description = "The item."),
    extensions(("x-problems" = json!(["already-there"]))),
    responses((status = 201, description = "The item as it stands in the catalogue.", body = Item,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/items")]
async fn create_item(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<Item>,
) -> Result<HttpResponse, Problem> {
    let answer =
        |stored: &Stored<Item>| once::created(stored, &format!("{PATH}/{}", escaped(stored.value.sku.as_str())));
    creation.once(&service, async |item, once| service.create_item_once(item, once).await, answer).await
}

/// List items
///
/// In order of sku, in pages. An owner or inventory key reads them whole; others read them without cost, supplier and how
/// they are bought.
#[utoipa::path(tag = "items", operation_id = "list_items", params(ItemParameters, PagingParameters),
    responses((status = 200, description = "A page of items, each in the form for the role.", body = ItemPageByRole,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/items")]
async fn list_items(request: HttpRequest, service: Acting, query: Query<ItemQuery>) -> Result<HttpResponse, Problem> {
    let ItemQuery { filter, paging } = query.0;
    let filters: &Filters = &filters(&filter);
    let after = paging.after(PATH, filters)?;
    let page = service.list_items(&filter, after.as_deref(), paging.limit).await?;
    let (rows, role) = (page.rows, service.role());
    Ok(paging::answer(&request, &paging, filters, page.next_after, |next| ItemPageByRole::new(rows, next, role)))
}

/// Read an item
///
/// Retired items too. An owner or inventory key reads it whole; others read it without cost, supplier and how it is bought.
#[utoipa::path(tag = "items", operation_id = "read_item",
    params(("sku" = String, Path, min_length = 1, max_length = 60, description = "The shop's identifier of the item."), IfNoneMatchHeader),
    responses((status = 200, description = "The item in the form for the role.", body = ItemByRole, headers(("ETag" = String, description = "Its version."))),
        (status = 304, description = "The client has it already.")))]
#[get("/v1/items/{sku}")]
async fn read_item(
    request: HttpRequest,
    _: Query<NoParameters>,
    service: Acting,
    sku: Path<String>,
) -> Result<HttpResponse, Problem> {
    let item = ItemByRole::new(service.item(&sku).await?, service.role());
    Ok(etag::read(&request, &item))
}

/// Replace an item
///
/// With all its prices: send the whole item, as it was read and then changed.
#[utoipa::path(tag = "items", operation_id = "replace_item",
    params(("sku" = String, Path, min_length = 1, max_length = 60, description = "The shop's identifier of the item."), IfMatchHeader),
    request_body(content = Item, description = "The whole item; its sku is that of the address."),
    responses((status = 200, description = "The item as it stands now.", body = Item, headers(("ETag" = String, description = "Its version.")))))]
#[put("/v1/items/{sku}")]
async fn replace_item(
    _: Query<NoParameters>,
    service: Acting,
    sku: Path<String>,
    seen: IfMatch,
    item: Body<Item>,
) -> Result<HttpResponse, Problem> {
    same_name("sku", item.0.sku.as_str(), &sku)?;
    Ok(etag::written(StatusCode::OK, &service.replace_item(&sku, item.0, seen.0).await?))
}

/// Retire an item
///
/// It can still be read, but no longer quoted; quotes that hold it stay as they are. Replace it with `retired` false to
/// bring it back.
#[utoipa::path(tag = "items", operation_id = "retire_item",
    params(("sku" = String, Path, min_length = 1, max_length = 60, description = "The shop's identifier of the item."), IfMatchHeader),
    responses((status = 200, description = "The item, retired.", body = Item, headers(("ETag" = String, description = "Its version.")))))]
#[delete("/v1/items/{sku}")]
async fn retire_item(
    _: Query<NoParameters>,
    service: Acting,
    sku: Path<String>,
    seen: IfMatch,
) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.retire_item(&sku, seen.0).await?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::http::openapi;

    #[test]
    fn every_kind_of_item_can_be_filtered_by() {
        let forms = openapi::description()["components"]["schemas"]["Attributes"]["oneOf"].as_array().unwrap();
        let kinds: Vec<&str> =
            forms.iter().map(|form| openapi::resolved(form)["properties"]["kind"]["const"].as_str().unwrap()).collect();
        assert_eq!(kinds, ITEM_KINDS);
        assert!(ITEM_KINDS.iter().all(|kind| serde_json::from_value::<ItemKind>((*kind).into()).is_ok()));
    }
}
