//! `GET /q/{link}/a4.pdf` and `letter.pdf`: the quote on paper, as its page shows it.

use actix_web::http::header::CONTENT_DISPOSITION;
use actix_web::web::{self, Data, Path};
use actix_web::{HttpRequest, HttpResponse};

use super::{link_of, opens_nothing, secret};
use crate::documents::customer::sheet;
use crate::documents::sheet::{Paper, pdf};
use crate::http::problem::Problem;
use crate::service::Service;

/// What setting the pages takes of the quota of a link: a look takes one unit.
const PAPER_UNITS: u32 = 5;

/// The quote as PDF.
pub(super) async fn read(
    request: HttpRequest,
    path: Path<(String, String)>,
    service: Data<Service>,
) -> Result<HttpResponse, Problem> {
    let (link, paper) = path.into_inner();
    let paper = if paper == "a4" { Paper::A4 } else { Paper::Letter };
    let secret = secret(&request)?;
    let link = link_of(&request, &link, secret, PAPER_UNITS)?;
    let opened = service.open_link(link, secret, &[]).await?.ok_or_else(opens_nothing)?;
    let name = format!("inline; filename=\"quote-{}.pdf\"", opened.document.number);
    let made = web::block(move || pdf(&sheet(&opened.document), paper)).await.map_err(Problem::internal)?;
    Ok(HttpResponse::Ok().content_type("application/pdf").insert_header((CONTENT_DISPOSITION, name)).body(made))
}
