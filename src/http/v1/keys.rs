//! `/v1/keys`: who may. A secret is in the answer that makes it, and nowhere else.

use actix_web::http::StatusCode;
use actix_web::{HttpRequest, HttpResponse, delete, get, post};
use chrono::{DateTime, Utc};
use serde::Serialize;
use utoipa::ToSchema;
use utoipa_actix_web::service_config::ServiceConfig;
use uuid::Uuid;

use super::Id;
use crate::http::access::Acting;
use crate::http::body::{Body, RequestBody};
use crate::http::etag::{self, IfMatch, IfMatchHeader};
use crate::http::once::{self, Creation, IdempotencyKeyHeader};
use crate::http::paging::{self, Paging, PagingParameters};
use crate::http::problem::Problem;
use crate::http::query::{NoParameters, Query};
use crate::service::Stored;
use crate::service::access::Role;
use crate::service::keys::{Key, KeyRequest, RotationRequest, Secret};
use crate::service::once::Answer;

const PATH: &str = "/v1/keys";

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(create_key).service(list_keys).service(read_key).service(rotate_key).service(revoke_key);
}

impl RequestBody for KeyRequest {}
impl RequestBody for RotationRequest {}

/// A key with its new secret.
#[derive(Serialize, ToSchema)]
struct IssuedKey {
    /// The secret, to be sent as `Authorization: Bearer …`. It is shown this once: what is kept here is its hash.
    #[schema(pattern = "^rigbill_[0-9a-f]{32}_[A-Za-z0-9_-]{43}$")]
    secret: String,
    /// Identifier.
    id: Uuid,
    /// Who or what uses it.
    name: String,
    /// What it may be used for. Expect new values.
    role: Role,
    /// When it was made.
    created_at: DateTime<Utc>,
    /// Name of the key that made it, or `command line`.
    created_by: String,
    /// When it was last made, rotated or revoked.
    updated_at: DateTime<Utc>,
    /// Name of the key that did so, or `command line`.
    changed_by: String,
    /// When it ends by itself; absent, it does not.
    #[serde(skip_serializing_if = "Option::is_none")]
    expires_at: Option<DateTime<Utc>>,
    /// Until when the secret before is valid too; absent when there is none.
    #[serde(skip_serializing_if = "Option::is_none")]
    earlier_secret_until: Option<DateTime<Utc>>,
}

impl IssuedKey {
    fn new(key: Key, secret: &Secret) -> Self {
        let Key {
            id,
            name,
            role,
            created_at,
            created_by,
            updated_at,
            changed_by,
            expires_at,
            earlier_secret_until,
            // What was just made or rotated is not revoked, and when it was last used has nothing to do with its secret.
            last_used_at: _,
            revoked_at: _,
        } = key;
        IssuedKey {
            secret: secret.expose().to_owned(),
            id,
            name,
            role,
            created_at,
            created_by,
            updated_at,
            changed_by,
            expires_at,
            earlier_secret_until,
        }
    }
}

/// One row of the list of keys.
#[derive(Serialize, ToSchema)]
struct KeyRow {
    /// Its address.
    #[schema(format = "uri-reference")]
    href: String,
    /// Its version, to be sent as `If-Match` when it is rotated or revoked.
    #[schema(example = "\"v3\"")]
    etag: String,
    /// The key, as its address answers it.
    key: Key,
}

/// One page of the list of keys.
#[derive(Serialize, ToSchema)]
struct KeyPage {
    /// The rows of this page.
    rows: Vec<KeyRow>,
    /// Cursor of the next page, to be sent as `cursor`; absent on the last page.
    #[serde(skip_serializing_if = "Option::is_none")]
    next: Option<String>,
}

fn issued((stored, secret): &(Stored<Key>, Secret)) -> Stored<IssuedKey> {
    stored.clone().map(|key| IssuedKey::new(key, secret))
}

/// Make a key
///
/// Its secret is in this answer and is never shown again, not even to the same Idempotency-Key: a repeat is told where
/// the key is that was made. Rotate that key, or revoke it and make another.
#[utoipa::path(tag = "keys", operation_id = "create_key", params(IdempotencyKeyHeader),
    request_body(content = KeyRequest, description = "Who or what will use it, and for what."),
    extensions(("x-problems" = json!(["already-there", "shown-once"]))),
    responses((status = 201, description = "The key and its secret.", body = IssuedKey,
        headers(("Location" = String, description = "Its address."), ("ETag" = String, description = "Its version.")))))]
#[post("/v1/keys")]
async fn create_key(
    _: Query<NoParameters>,
    service: Acting,
    creation: Creation<KeyRequest>,
) -> Result<HttpResponse, Problem> {
    let answer = |made: &(Stored<Key>, Secret)| Answer {
        shows_secret: true,
        ..once::created(&issued(made), &format!("{PATH}/{}", made.0.value.id))
    };
    creation.once(&service, async |request, once| service.create_key_once(request, once).await, answer).await
}

/// List keys
///
/// Newest first, in pages; also those that are revoked or have ended.
#[utoipa::path(tag = "keys", operation_id = "list_keys", params(PagingParameters),
    responses((status = 200, description = "A page of keys.", body = KeyPage,
        headers(("Link" = String, description = "Address of the next page, while there is one.")))))]
#[get("/v1/keys")]
async fn list_keys(request: HttpRequest, service: Acting, query: Query<Paging>) -> Result<HttpResponse, Problem> {
    let paging = query.0;
    let after = paging.after(PATH, &[])?;
    if after.as_deref().is_some_and(|id| Uuid::try_parse(id).is_err()) {
        return Err(paging::unknown_cursor());
    }
    let page = service.list_keys(after.as_deref(), paging.limit).await?;
    let row = |stored: Stored<Key>| KeyRow {
        href: format!("{PATH}/{}", stored.value.id),
        etag: etag::tag(stored.version),
        key: stored.value,
    };
    let rows = page.rows.into_iter().map(row).collect();
    Ok(paging::answer(&request, &paging, &[], page.next_after, |next| KeyPage { rows, next }))
}

/// Read a key
///
/// Everything but its secret. Its ETag changes with every rotation and revocation; that it was used is no change.
#[utoipa::path(tag = "keys", operation_id = "read_key",
    params(("id" = Uuid, Path, description = "Identifier of the key.")),
    responses((status = 200, description = "The key.", body = Key, headers(("ETag" = String, description = "Its version.")))))]
#[get("/v1/keys/{id}")]
async fn read_key(_: Query<NoParameters>, service: Acting, id: Id) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.key(id.0).await?))
}

/// Rotate a key
///
/// Gives it a new secret, shown in this answer only. The secret that was in force stays valid for the stated overlap, so
/// that whoever uses it can change over in peace; one from a rotation before that ends at once. If-Match keeps a
/// repeated request from ending a secret that is still in use.
#[utoipa::path(tag = "keys", operation_id = "rotate_key",
    params(("id" = Uuid, Path, description = "Identifier of the key."), IfMatchHeader),
    request_body(content = RotationRequest, description = "How long both secrets are valid."),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The key and its new secret.", body = IssuedKey,
        headers(("ETag" = String, description = "Its version.")))))]
#[post("/v1/keys/{id}/rotations")]
async fn rotate_key(
    _: Query<NoParameters>,
    service: Acting,
    id: Id,
    seen: IfMatch,
    request: Body<RotationRequest>,
) -> Result<HttpResponse, Problem> {
    let rotated = service.rotate_key(id.0, request.0, seen.0).await?;
    Ok(once::not_kept(etag::written(StatusCode::OK, &issued(&rotated))))
}

/// Revoke a key
///
/// It ends at once, with all its secrets; other instances of the service follow within a second. It stays in the list,
/// since what was done with it is told by its name. The last valid owner key cannot be revoked here.
#[utoipa::path(tag = "keys", operation_id = "revoke_key",
    params(("id" = Uuid, Path, description = "Identifier of the key."), IfMatchHeader),
    extensions(("x-problems" = json!(["not-allowed"]))),
    responses((status = 200, description = "The key, revoked.", body = Key, headers(("ETag" = String, description = "Its version.")))))]
#[delete("/v1/keys/{id}")]
async fn revoke_key(_: Query<NoParameters>, service: Acting, id: Id, seen: IfMatch) -> Result<HttpResponse, Problem> {
    Ok(etag::written(StatusCode::OK, &service.revoke_key(id.0, seen.0, false).await?))
}
