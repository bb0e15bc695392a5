//! The pages that explain the problems: one for each kind, where its `type` leads, their list at `/problems`, and the
//! same as one text for the project's documentation (`api/problems.md`). All of it is made from the table of kinds.

use std::fmt::Write;

use actix_web::HttpResponse;
use actix_web::web::{self, Path};

use super::openapi;
use super::problem::{self, Kind, MEDIA_TYPE, Problem, Row};
use super::site::page;

/// The pages, which the description leaves out.
pub fn routes(config: &mut web::ServiceConfig) {
    config.service(web::resource("/problems").get(list)).service(web::resource("/problems/{slug}").get(one));
}

/// Every kind, in order of status and then of name.
fn rows() -> Vec<(Kind, Row)> {
    let mut rows: Vec<(Kind, Row)> = problem::ALL.into_iter().map(|kind| (kind, kind.row())).collect();
    rows.sort_by_key(|(_, row)| (row.status.as_u16(), row.slug));
    rows
}

/// Which operations can answer with a kind, by the description.
enum AnsweredBy {
    /// No described one: only what stands outside of them, such as an unknown path.
    None,
    /// All of them.
    All,
    /// These, by method and path.
    Some(Vec<String>),
}

fn answered_by(slug: &str) -> AnsweredBy {
    let mut all = 0;
    let mut found = Vec::new();
    for (path, operations) in openapi::description()["paths"].as_object().into_iter().flatten() {
        for (method, operation) in operations.as_object().into_iter().flatten() {
            all += 1;
            let mut responses = operation["responses"].as_object().into_iter().flatten();
            if responses.any(|(_, response)| response["content"][MEDIA_TYPE]["examples"].get(slug).is_some()) {
                found.push(format!("{} {path}", method.to_uppercase()));
            }
        }
    }
    match found.len() {
        0 => AnsweredBy::None,
        count if count == all => AnsweredBy::All,
        _ => AnsweredBy::Some(found),
    }
}

fn example(kind: Kind) -> String {
    serde_json::to_string_pretty(&openapi::problem_example(kind)).expect("an example is plain values")
}

/// All kinds as one text in Markdown, ending with a new line.
pub fn markdown() -> String {
    let mut text = String::from(
        "# Problems\n\n\
         What goes wrong is answered as a problem (RFC 9457, `application/problem+json`). Its `type` names the kind: an \
         address, relative to\nthe service, of a page that says what this file says. Decide by the `type`, or by the \
         status where you do not know the\ntype: new kinds come. The `detail` is for people and may change; `errors` lists \
         all faults at once, each with a JSON pointer\n(RFC 6901) into the body or with the name of a query parameter.\n\n\
         Made from the program by `rigbill openapi --problems`; a test compares.\n\n\
         | type | status | title |\n| --- | --- | --- |\n",
    );
    let rows = rows();
    for (_, Row { slug, status, title, .. }) in &rows {
        let _ = writeln!(text, "| [`/problems/{slug}`](#{slug}) | {} | {title} |", status.as_u16());
    }
    for (kind, Row { slug, status, title, cause, mend }) in rows {
        let _ = write!(text, "\n## {slug}\n\n{status}. {title}.\n\n- Cause: {cause}\n- Mend: {mend}\n- Answered by: ");
        match answered_by(slug) {
            AnsweredBy::None => text.push_str("what is no operation of the description"),
            AnsweredBy::All => text.push_str("every operation"),
            AnsweredBy::Some(some) => {
                let some: Vec<String> = some.iter().map(|operation| format!("`{operation}`")).collect();
                text.push_str(&some.join(", "));
            }
        }
        let _ = write!(text, "\n\n```json\n{}\n```\n", example(kind));
    }
    text
}

async fn list() -> HttpResponse {
    let mut body = String::from(
        "<h1>Problems</h1><p>What goes wrong is answered as a problem (RFC 9457). Its <code>type</code> leads to one of \
         these pages.</p><table><tr><th>Status</th><th>Type</th><th></th></tr>",
    );
    for (_, Row { slug, status, title, .. }) in rows() {
        let _ = write!(
            body,
            "<tr><td>{}</td><td><a href=\"/problems/{slug}\"><code>{slug}</code></a></td><td>{}</td></tr>",
            status.as_u16(),
            escaped(title)
        );
    }
    body.push_str("</table>");
    page("Problems", &body)
}

/// The page that a problem's `type` points to.
async fn one(slug: Path<String>) -> Result<HttpResponse, Problem> {
    let found = rows().into_iter().find(|(_, row)| row.slug == *slug);
    let (kind, Row { slug, status, title, cause, mend }) = found.ok_or_else(|| {
        Problem::new(Kind::NotFound, "There is no kind of problem by that name; /problems lists all.")
    })?;
    let by = match answered_by(slug) {
        AnsweredBy::None => "<p>What is no operation of the description.</p>".to_owned(),
        AnsweredBy::All => "<p>Every operation.</p>".to_owned(),
        AnsweredBy::Some(some) => {
            let some: String = some.iter().map(|one| format!("<li><code>{}</code></li>", escaped(one))).collect();
            format!("<ul>{some}</ul>")
        }
    };
    let body = format!(
        "<h1>{}</h1><p>Status {status}.</p><h2>Cause</h2><p>{}</p><h2>Mend</h2><p>{}</p>\
         <h2>Example</h2><pre>{}</pre><h2>Answered by</h2>{by}<p><a href=\"/problems\">All problems</a></p>",
        escaped(title),
        escaped(cause),
        escaped(mend),
        escaped(&example(kind))
    );
    Ok(page(title, &body))
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;")
}
