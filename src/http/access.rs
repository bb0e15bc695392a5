//! Who may do what: one table, which the check before every request, the description and the tests share.

use std::collections::BTreeMap;
use std::future::{Ready, ready};
use std::ops::Deref;
use std::sync::LazyLock;

use actix_web::body::{EitherBody, MessageBody};
use actix_web::dev::{Payload, ServiceRequest, ServiceResponse};
use actix_web::http::Method;
use actix_web::http::header::{AUTHORIZATION, HeaderMap};
use actix_web::middleware::Next;
use actix_web::web::Data;
use actix_web::{Error, FromRequest, HttpMessage, HttpRequest, ResponseError};
use serde_json::{Value, json};

use super::openapi;
use super::problem::{Kind, Problem};
use crate::service::Service;
use crate::service::access::{Principal, Role};

/// Name of the security scheme in the description.
pub const SCHEME: &str = "bearer";

/// Who may call an operation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// Everyone, without a key.
    Open,
    /// Whoever has a key of one of these roles.
    Roles(&'static [Role]),
}

use Access::{Open, Roles};
use Role::{FrontDesk, Inventory, Owner, Reader, Rigger};

/// Works on jobs: quantities, calculators, quotes.
const DESK_AND_BOAT: Access = Roles(&[FrontDesk, Owner, Rigger]);
/// A price for a customer, and what he says to it, is the desk's; the rigger overrules what is there.
const DESK: Access = Roles(&[FrontDesk, Owner]);
/// Reads quotes: everyone but the inventory system, which is told what accepted ones consume.
const QUOTE_READERS: Access = Roles(&[FrontDesk, Owner, Rigger, Reader]);
/// Reads what the shop works with. What an item costs and who supplies it is left out for all but owner and inventory.
const ALL: Access = Roles(&[FrontDesk, Owner, Rigger, Inventory, Reader]);
/// Takes things from the shelf for a boat.
const PICKERS: Access = Roles(&[Owner, Rigger, Inventory]);
/// Keeps the catalogue and the shelf.
const STOCK: Access = Roles(&[Owner, Inventory]);
/// Decides: prices, times, allowances, margin, keys.
const OWNER: Access = Roles(&[Owner]);

/// Every operation of the description by its id, and who may call it.
const TABLE: &[(&str, Access)] = &[
    ("livez", Open),
    ("readyz", Open),
    ("openapi", Open),
    ("metrics", Open),
    ("take_off", DESK_AND_BOAT),
    ("size_conductor", DESK_AND_BOAT),
    ("plan_cuts", DESK_AND_BOAT),
    ("lay_out_dash", DESK_AND_BOAT),
    ("create_quote", DESK),
    ("list_quotes", QUOTE_READERS),
    ("read_quote", QUOTE_READERS),
    ("replace_quote", DESK_AND_BOAT),
    ("delete_quote", DESK),
    ("read_quote_document", QUOTE_READERS),
    ("draw_quote_dash", QUOTE_READERS),
    ("read_quote_request", QUOTE_READERS),
    ("read_quote_costing", OWNER),
    ("issue_quote", DESK),
    ("accept_quote", DESK),
    ("decline_quote", DESK),
    ("withdraw_quote", DESK),
    ("revise_quote", DESK),
    ("read_quote_link", DESK),
    ("make_quote_link", DESK),
    ("revoke_quote_link", DESK),
    ("list_quote_moves", QUOTE_READERS),
    ("read_quote_changes", QUOTE_READERS),
    ("read_purchase_list", STOCK),
    ("read_pick_list", PICKERS),
    ("reserve_stock", STOCK),
    ("pick_stock", PICKERS),
    ("list_events", STOCK),
    ("create_item", STOCK),
    ("list_items", ALL),
    ("read_item", ALL),
    ("replace_item", STOCK),
    ("retire_item", STOCK),
    ("create_import", STOCK),
    ("read_import", STOCK),
    ("create_stock", STOCK),
    ("list_stock", ALL),
    ("read_stock", ALL),
    ("replace_stock", STOCK),
    ("delete_stock", STOCK),
    ("adjust_stock", STOCK),
    ("create_offcut", STOCK),
    ("list_offcuts", ALL),
    ("read_offcut", ALL),
    ("replace_offcut", STOCK),
    ("remove_offcut", STOCK),
    ("list_reservations", ALL),
    ("create_package", OWNER),
    ("list_packages", ALL),
    ("read_package", ALL),
    ("replace_package", OWNER),
    ("delete_package", OWNER),
    ("create_labour_operation", OWNER),
    ("list_labour_operations", ALL),
    ("read_labour_operation", ALL),
    ("replace_labour_operation", OWNER),
    ("delete_labour_operation", OWNER),
    ("list_layouts", ALL),
    ("read_layout", ALL),
    ("draw_layout_plan", ALL),
    ("read_settings", OWNER),
    ("replace_settings", OWNER),
    ("list_price_levels", DESK_AND_BOAT),
    ("create_webhook", OWNER),
    ("list_webhooks", OWNER),
    ("read_webhook", OWNER),
    ("replace_webhook", OWNER),
    ("delete_webhook", OWNER),
    ("rotate_webhook", OWNER),
    ("replay_events", OWNER),
    ("list_webhook_attempts", OWNER),
    ("create_key", OWNER),
    ("list_keys", OWNER),
    ("read_key", OWNER),
    ("rotate_key", OWNER),
    ("revoke_key", OWNER),
];

/// Who may call an operation.
///
/// # Panics
/// When the operation is not in the table: whoever adds one says there who may call it.
pub fn of(operation: &str) -> Access {
    let found = TABLE.iter().find(|(id, _)| *id == operation);
    found.unwrap_or_else(|| panic!("src/http/access.rs does not say who may call '{operation}'")).1
}

/// Whether a role sees what things cost, what they earn, and who supplies them.
pub fn sees_cost(role: Role) -> bool {
    matches!(role, Owner | Inventory)
}

/// Whether a role may call an operation.
pub fn may(role: Role, operation: &str) -> bool {
    match of(operation) {
        Open => true,
        Roles(roles) => roles.contains(&role),
    }
}

/// Says in an operation of the description who may call it.
pub fn describe(operation: &mut Value) {
    let id = operation["operationId"].as_str().unwrap_or_default();
    let (security, roles, sentence) = match of(id) {
        Open => (json!([]), Vec::new(), "Needs no key.".to_owned()),
        Roles(roles) => {
            let words: Vec<&str> = roles.iter().map(|role| role.as_str()).collect();
            let told: Vec<String> = words.iter().map(|word| format!("`{word}`")).collect();
            (json!([{SCHEME: []}]), words, format!("Roles: {}.", told.join(", ")))
        }
    };
    let description = operation["description"].as_str().unwrap_or_default();
    operation["description"] = json!(format!("{description}\n\n{sentence}"));
    operation["security"] = security;
    if !roles.is_empty() {
        operation["x-roles"] = json!(roles);
    }
}

/// The problems that a check of keys and roles brings to an operation.
pub fn problems(operation: &str) -> Vec<Kind> {
    match of(operation) {
        Open => Vec::new(),
        Roles(roles) if roles.len() == Role::ALL.len() => vec![Kind::NoKey],
        Roles(_) => vec![Kind::NoKey, Kind::NotYourRole],
    }
}

/// The security scheme of the description.
pub fn scheme() -> Value {
    json!({
        "type": "http",
        "scheme": "bearer",
        "description": "A key of this shop, as `rigbill key create` or `POST /v1/keys` showed it once: `rigbill_…`.",
    })
}

/// What stands in the way of a request: nothing, a key, or a key of one of some roles.
fn needed(method: &Method, path: &str, pattern: Option<&str>) -> Option<Option<&'static str>> {
    static OPERATIONS: LazyLock<BTreeMap<(&str, &str), &str>> =
        LazyLock::new(|| openapi::operation_ids().map(|(path, method, id)| ((path, method), id)).collect());
    let operation = pattern.and_then(|pattern| OPERATIONS.get(&(pattern, method.as_str())).copied());
    match operation {
        Some(id) if of(id) == Open => None,
        Some(id) => Some(Some(id)),
        // What is not there, or takes another method, is told only to those who have a key.
        None if path == "/v1" || path.starts_with("/v1/") => Some(None),
        None => None,
    }
}

/// Looks at the key of a request before anything else of it is read. Whose it is goes with the request from there on.
pub async fn check<B: MessageBody>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<EitherBody<B>>, Error> {
    // Routing goes by the decoded path; the raw one would let `/v1/%71uotes` pass as something else.
    let path = request.match_info().as_str();
    let pattern = request.resource_map().match_pattern(path);
    let Some(operation) = needed(request.method(), path, pattern.as_deref()) else {
        return Ok(next.call(request).await?.map_into_left_body());
    };
    match admitted(&request, operation).await {
        Ok(principal) => {
            request.extensions_mut().insert(principal);
            Ok(next.call(request).await?.map_into_left_body())
        }
        Err(problem) => {
            let answer = problem.error_response();
            Ok(request.into_response(answer).map_into_right_body())
        }
    }
}

async fn admitted(request: &ServiceRequest, operation: Option<&'static str>) -> Result<Principal, Problem> {
    let service = request.app_data::<Data<Service>>().expect("the app sets its service");
    let Some(secret) = bearer(request.headers())? else {
        let detail = "The request has no key; send one as 'Authorization: Bearer rigbill_…'.";
        return Err(Problem::no_key(detail, false));
    };
    let Some(principal) = service.authenticate(secret).await? else {
        return Err(Problem::no_key("There is no valid key of that text.", true));
    };
    match operation {
        Some(operation) if !may(principal.role, operation) => {
            let role = principal.role;
            let detail = format!("A key of the role {role} may not do this; the description says which roles may.");
            Err(Problem::new(Kind::NotYourRole, detail))
        }
        _ => Ok(principal),
    }
}

/// The token of the `Authorization` header (RFC 6750, section 2.1).
fn bearer(headers: &HeaderMap) -> Result<Option<&str>, Problem> {
    let mut values = headers.get_all(AUTHORIZATION);
    let Some(value) = values.next() else { return Ok(None) };
    let unfit = || Problem::no_key("The Authorization header is not of the form 'Bearer rigbill_…'.", true);
    if values.next().is_some() {
        return Err(Problem::no_key("There is more than one Authorization header; send one.", true));
    }
    let (scheme, token) = value.to_str().ok().and_then(|text| text.trim().split_once(' ')).ok_or_else(unfit)?;
    if scheme.eq_ignore_ascii_case("bearer") { Ok(Some(token.trim_start())) } else { Err(unfit()) }
}

fn principal_of(request: &HttpRequest) -> Result<Principal, Problem> {
    let found = request.extensions().get::<Principal>().cloned();
    found.ok_or_else(|| Problem::internal("a handler asks for the principal of an operation that needs no key"))
}

/// Whose key the request came with.
impl FromRequest for Principal {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        ready(principal_of(request))
    }
}

/// The service, writing in the name of the key that the request came with.
pub struct Acting(Service);

impl Deref for Acting {
    type Target = Service;

    fn deref(&self) -> &Service {
        &self.0
    }
}

impl Acting {
    /// The role of the key.
    pub fn role(&self) -> Role {
        self.0.principal().role
    }
}

impl FromRequest for Acting {
    type Error = Problem;
    type Future = Ready<Result<Self, Problem>>;

    fn from_request(request: &HttpRequest, _: &mut Payload) -> Self::Future {
        let service = request.app_data::<Data<Service>>().expect("the app sets its service");
        ready(principal_of(request).map(|principal| Acting(service.by(principal))))
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use actix_web::http::header::HeaderValue;

    use super::*;

    #[test]
    fn the_table_has_every_operation_once_and_no_other() {
        let described: BTreeSet<&str> = openapi::operation_ids().map(|(_, _, id)| id).collect();
        let listed: BTreeSet<&str> = TABLE.iter().map(|(id, _)| *id).collect();
        assert_eq!(listed, described);
        assert_eq!(listed.len(), TABLE.len());
    }

    #[test]
    fn no_address_belongs_to_two_patterns() {
        // The pattern is found by the path alone: were there two, the check could look at another operation than the
        // one that answers.
        let patterns: BTreeSet<&str> = openapi::operation_ids().map(|(path, _, _)| path).collect();
        let overlap = |one: &str, other: &str| {
            let (one, other): (Vec<_>, Vec<_>) = (one.split('/').collect(), other.split('/').collect());
            let parameter = |segment: &str| segment.contains('{');
            one.len() == other.len()
                && one.iter().zip(&other).all(|(one, other)| one == other || parameter(one) || parameter(other))
        };
        for one in &patterns {
            for other in patterns.iter().filter(|other| *other > one) {
                assert!(!overlap(one, other), "{one} and {other}");
            }
        }
    }

    #[test]
    fn a_token_is_read_from_one_bearer_header_only() {
        let met = |values: &[&'static str]| {
            let mut headers = HeaderMap::new();
            for value in values {
                headers.append(AUTHORIZATION, HeaderValue::from_static(value));
            }
            bearer(&headers).map(|token| token.map(str::to_owned)).map_err(|problem| problem.kind())
        };
        assert_eq!(met(&[]), Ok(None));
        assert_eq!(met(&["Bearer abc"]), Ok(Some("abc".to_owned())));
        assert_eq!(met(&["bearer  abc"]), Ok(Some("abc".to_owned())));
        for wrong in [&["abc"][..], &["Basic abc"], &[""], &["Bearer"], &["Bearer a", "Bearer b"]] {
            assert_eq!(met(wrong), Err(Kind::NoKey), "{wrong:?}");
        }
    }

    #[test]
    fn whatever_is_below_v1_needs_a_key() {
        assert_eq!(needed(&Method::GET, "/livez", Some("/livez")), None);
        assert_eq!(needed(&Method::GET, "/nothing", None), None);
        assert_eq!(needed(&Method::GET, "/v1/nothing", None), Some(None));
        assert_eq!(needed(&Method::PATCH, "/v1/quotes", Some("/v1/quotes")), Some(None));
        assert_eq!(needed(&Method::GET, "/v1/quotes", Some("/v1/quotes")), Some(Some("list_quotes")));
    }
}
