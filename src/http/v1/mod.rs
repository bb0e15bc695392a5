//! Version 1: one file a resource, each with its bodies and its handlers.

mod calculators;
mod dashes;
mod events;
mod imports;
mod item_forms;
mod items;
mod keys;
mod labour_operations;
mod layouts;
mod life;
mod links;
mod lists;
mod offcuts;
mod packages;
mod quote_forms;
mod quotes;
mod reservations;
mod settings;
mod stock;
mod take_offs;
mod webhooks;

use std::future::{Ready, ready};

use actix_web::dev::Payload;
use actix_web::{FromRequest, HttpRequest};
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::problem::{Kind, Problem};
use crate::calc::findings::Fault;

/// All resources.
pub fn routes(config: &mut ServiceConfig) {
    take_offs::routes(config);
    quotes::routes(config);
    life::routes(config);
    links::routes(config);
    lists::routes(config);
    events::routes(config);
    items::routes(config);
    imports::routes(config);
    stock::routes(config);
    offcuts::routes(config);
    reservations::routes(config);
    packages::routes(config);
    labour_operations::routes(config);
    settings::routes(config);
    layouts::routes(config);
    calculators::routes(config);
    dashes::routes(config);
    webhooks::routes(config);
    keys::routes(config);
}

/// An identifier in the path. What is no identifier names nothing.
struct Id(Uuid);

impl FromRequest for Id {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let text = request.match_info().get("id").unwrap_or_default();
        let id = Uuid::try_parse(text).map(Id);
        ready(id.map_err(|_| Problem::new(Kind::NotFound, "The identifier in the address is none of this service's.")))
    }
}

/// Refuses a body that names another thing than the address does.
fn same_name(field: &str, in_body: &str, in_address: &str) -> Result<(), Problem> {
    if in_body == in_address {
        return Ok(());
    }
    let message = format!(
        "'{in_body}' stands here, but the address names '{in_address}'; a name stays, make a new one for another."
    );
    Err(Problem::faults(vec![Fault::new(format!("/{field}"), message)]))
}
