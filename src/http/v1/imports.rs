//! `/v1/imports`: catalogue items from CSV, all or nothing.

use std::cell::RefCell;
use std::rc::Rc;
use std::time::Instant;

use actix_web::web::{Data, Payload};
use actix_web::{HttpRequest, HttpResponse, get, post};
use bytes::Bytes;
use futures_util::{Stream, StreamExt, stream};
use utoipa::{IntoParams, ToSchema};
use utoipa_actix_web::service_config::ServiceConfig;

use super::Id;
use crate::http::access::Acting;
use crate::http::body::{self, Limits};
use crate::http::once::{self, IdempotencyKeyHeader};
use crate::http::problem::{Kind, Problem};
use crate::http::query::{FromQuery, NoParameters, Query, Reader};
use crate::service::imports::{Import, ImportState};
use crate::service::once::Made;

pub(super) fn routes(config: &mut ServiceConfig) {
    config.service(create_import).service(read_import);
}

/// A CSV file (RFC 4180) in UTF-8, with a header that names its columns.
#[derive(ToSchema)]
#[schema(value_type = String, format = Binary)]
#[expect(dead_code, reason = "only describes the body, which is read as it arrives")]
struct CsvFile(Vec<u8>);

/// Bytes that must arrive each second, over the whole of a file: one that comes drop by drop never pauses for long, and
/// would never end.
const LEAST_BYTES_A_SECOND: u64 = 1_024;

/// How an import is carried out.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
struct ImportQuery {
    /// Whether it is only a trial: everything is checked and nothing is changed.
    #[param(value_type = Option<bool>, default = false)]
    dry_run: bool,
}

impl FromQuery for ImportQuery {
    fn read(reader: &mut Reader) -> Self {
        ImportQuery { dry_run: reader.flag("dry_run").unwrap_or(false) }
    }
}

/// Import items from CSV
///
/// UTF-8, one row an item, with a header that names the columns in any order. All rows are taken or none: when one is
/// bad the import is refused, with a report of every bad row by line and column. An item that is there already is
/// replaced, and its new prices are added to the old ones. While a long file is read, its progress can be followed at
/// the address of the import.
///
/// With an `Idempotency-Key`, a file that is sent again is read to its end, to be compared with the first, and answered
/// as the first was; so is a trial. The trial and the import that follows it need a key each. A refused import keeps no
/// key: mend the file and send it with the same one.
#[utoipa::path(tag = "imports", operation_id = "create_import", params(ImportQuery, IdempotencyKeyHeader),
    request_body(content = CsvFile, content_type = "text/csv", description = "The file, at most 256 MiB."),
    extensions(("x-problems" = json!(["import-refused"]))),
    responses((status = 201, description = "The finished import.", body = Import,
        headers(("Location" = String, description = "Its address.")))))]
#[post("/v1/imports")]
async fn create_import(
    request: HttpRequest,
    query: Query<ImportQuery>,
    service: Acting,
    limits: Data<Limits>,
    payload: Payload,
) -> Result<HttpResponse, Problem> {
    body::must_be(&request, "text/csv")?;
    let claim = once::open_claim(&request)?;
    let broken = Rc::new(RefCell::new(None));
    let file = Box::pin(file(payload, **limits, broken.clone()));
    let answer = |import: &Import| once::made(import, &format!("/v1/imports/{}", import.id));
    let made = service.import_once(query.0.dry_run, file, claim, &answer).await;
    if let Some(problem) = broken.take() {
        return Err(problem);
    }
    match made? {
        Made::Now(import) if import.state == ImportState::Refused => Err(refused(&import)),
        made => once::respond(made, answer),
    }
}

fn refused(import: &Import) -> Problem {
    let detail = format!("{} of {} rows are bad; nothing was changed.", import.rows_bad, import.rows_read);
    match serde_json::to_value(import) {
        Ok(import) => Problem::import_refused(import, detail),
        Err(error) => Problem::internal(error),
    }
}

/// The file as it arrives. What breaks it off is kept in `broken` too, for the answer: the import itself is refused.
fn file(
    payload: Payload,
    limits: Limits,
    broken: Rc<RefCell<Option<Problem>>>,
) -> impl Stream<Item = Result<Bytes, &'static str>> {
    let begun = Instant::now();
    stream::unfold(Some((payload, 0usize)), move |state| {
        let broken = broken.clone();
        async move {
            let (mut payload, arrived) = state?;
            let (problem, message) = match next_chunk(&mut payload, arrived, limits, begun).await {
                Ok(None) => return None,
                Ok(Some(chunk)) => {
                    let arrived = arrived + chunk.len();
                    return Some((Ok(chunk), Some((payload, arrived))));
                }
                Err(faulty) => faulty,
            };
            *broken.borrow_mut() = Some(problem);
            Some((Err(message), None))
        }
    })
}

async fn next_chunk(
    payload: &mut Payload,
    arrived: usize,
    limits: Limits,
    begun: Instant,
) -> Result<Option<Bytes>, (Problem, &'static str)> {
    let (limit, pause) = (limits.import_bytes, limits.import_pause);
    let too_slow = |detail: String| (Problem::new(Kind::TooSlow, detail), "the file did not arrive in time");
    let chunk = tokio::time::timeout(pause, payload.next())
        .await
        .map_err(|_| too_slow(format!("Nothing of the file arrived for {} s.", pause.as_secs())))?;
    let due = begun.elapsed().saturating_sub(pause).as_secs() * LEAST_BYTES_A_SECOND;
    match chunk {
        Some(Ok(_)) if u64::try_from(arrived).is_ok_and(|arrived| arrived < due) => {
            Err(too_slow(format!("Less than {LEAST_BYTES_A_SECOND} bytes of the file arrive a second.")))
        }
        None => Ok(None),
        Some(Ok(chunk)) if arrived + chunk.len() > limit => Err((body::too_large(limit), "the file is too large")),
        Some(Ok(chunk)) => Ok(Some(chunk)),
        Some(Err(error)) => {
            Err((Problem::new(Kind::BadRequest, format!("The file broke off: {error}.")), "the file broke off"))
        }
    }
}

/// Read an import
///
/// While it is being read: how far it has come. Afterwards: what became of it.
#[utoipa::path(tag = "imports", operation_id = "read_import",
    params(("id" = Uuid, Path, description = "Identifier of the import.")),
    responses((status = 200, description = "The import.", body = Import)))]
#[get("/v1/imports/{id}")]
async fn read_import(_: Query<NoParameters>, service: Acting, id: Id) -> Result<HttpResponse, Problem> {
    Ok(HttpResponse::Ok().json(service.import(id.0).await?))
}
