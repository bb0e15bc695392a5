//! Pages of lists: opaque cursors that hold for the list and the filters that they were given with.

use actix_web::HttpRequest;
use actix_web::HttpResponse;
use actix_web::http::header::{HeaderValue, LINK};
use base64::Engine;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use utoipa::IntoParams;

use super::problem::{Kind, Problem};
use super::query::{FromQuery, Reader};

/// Rows on a page unless the client says otherwise.
const LIMIT_USUAL: u32 = 50;
/// Most rows on a page.
const LIMIT_MAX: u32 = 200;

/// Which page of a list, as the query says it.
#[derive(Debug)]
pub struct Paging {
    /// Most rows wanted.
    pub limit: u32,
    cursor: Option<String>,
}

/// The form of the cursors that are given out. One of another form was given out by another edition of the program.
const FORM: u8 = 1;

/// What a cursor holds: its form, the key after which the page begins, and a checksum of the list and its filters. Not
/// who asked: whoever may read the list may go on with it.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Cursor {
    form: u8,
    after: String,
    of: String,
}

impl FromQuery for Paging {
    fn read(reader: &mut Reader) -> Self {
        let limit = reader.whole("limit", 1, LIMIT_MAX).unwrap_or(LIMIT_USUAL);
        Paging { limit, cursor: reader.text("cursor", 1000) }
    }
}

impl Paging {
    /// The key after which the page begins; the cursor must have been given with the same list and filters.
    pub fn after(&self, list: &str, filters: &Filters) -> Result<Option<String>, Problem> {
        let Some(cursor) = &self.cursor else { return Ok(None) };
        let bytes = URL_SAFE_NO_PAD.decode(cursor).map_err(|_| unknown_cursor())?;
        let cursor: Cursor = serde_json::from_slice(&bytes).map_err(|_| unknown_cursor())?;
        if cursor.form != FORM {
            return Err(unknown_cursor());
        }
        if cursor.of != checksum(list, filters, &cursor.after) {
            let detail = "The cursor was given with other filters; send the same ones, or begin without a cursor.";
            return Err(Problem::new(Kind::BadCursor, detail));
        }
        Ok(Some(cursor.after))
    }
}

/// The problem of a cursor that was never given out, or not in this form.
pub fn unknown_cursor() -> Problem {
    Problem::new(Kind::BadCursor, "The cursor is not one that this service gives out; begin without a cursor.")
}

/// Checksum of a list, its filters and the key, so that a cursor made up or taken elsewhere is noticed.
fn checksum(list: &str, filters: &Filters, after: &str) -> String {
    let told: Vec<_> = filters.iter().filter_map(|(name, value)| Some((name, value.as_ref()?))).collect();
    let text = serde_json::to_vec(&(list, told, after)).expect("texts are plain values");
    URL_SAFE_NO_PAD.encode(&Sha256::digest(text)[..9])
}

/// The cursor of the page after this one.
fn next_cursor(list: &str, filters: &Filters, after: String) -> String {
    let of = checksum(list, filters, &after);
    URL_SAFE_NO_PAD.encode(serde_json::to_vec(&Cursor { form: FORM, after, of }).expect("texts are plain values"))
}

/// Defines the page and the row of a list of one of the shop's own tables.
macro_rules! page_of {
    ($page:ident, $row:ident, $field:ident: $value:ty) => {
        /// One row of the list, ready to be edited.
        #[derive(serde::Serialize, utoipa::ToSchema)]
        pub struct $row {
            /// Its address.
            #[schema(format = "uri-reference")]
            href: String,
            /// Its version, to be sent as `If-Match` when it is changed.
            #[schema(example = "\"v3\"")]
            etag: String,
            /// When it was last changed.
            updated_at: chrono::DateTime<chrono::Utc>,
            /// Name of the key that changed it last, or `command line`; absent for what was written before keys were.
            #[serde(skip_serializing_if = "Option::is_none")]
            changed_by: Option<String>,
            /// The thing itself, as its address answers it.
            $field: $value,
        }

        /// One page of the list.
        #[derive(serde::Serialize, utoipa::ToSchema)]
        pub struct $page {
            /// The rows of this page.
            rows: Vec<$row>,
            /// Cursor of the next page, to be sent as `cursor` with the same filters; absent on the last page.
            #[serde(skip_serializing_if = "Option::is_none")]
            next: Option<String>,
        }

        impl $row {
            fn new(list: &str, name: &str, stored: $crate::service::Stored<$value>) -> Self {
                $row {
                    href: format!("{list}/{}", $crate::http::paging::escaped(name)),
                    etag: $crate::http::etag::tag(stored.version),
                    updated_at: stored.updated_at,
                    changed_by: stored.changed_by,
                    $field: stored.value,
                }
            }
        }
    };
}
pub(super) use page_of;

/// The parameters that every list takes, for the description.
#[derive(IntoParams)]
#[into_params(parameter_in = Query)]
#[expect(dead_code, reason = "only describes what `Paging::read` reads")]
pub struct PagingParameters {
    /// Most rows on the page; 50 unless stated.
    #[param(minimum = 1, maximum = 200)]
    limit: Option<u32>,
    /// Cursor of the page, as the page before gave it; with the same filters.
    #[param(min_length = 1, max_length = 1000)]
    cursor: Option<String>,
}

/// Filters of a list by parameter: they go into the cursor's checksum and into the next page's address.
pub type Filters = [(&'static str, Option<String>)];

/// Answers with a page: the next one's cursor in the body that `page` makes, its address in the `Link` header.
pub fn answer<T: Serialize>(
    request: &HttpRequest,
    paging: &Paging,
    filters: &Filters,
    next_after: Option<String>,
    page: impl FnOnce(Option<String>) -> T,
) -> HttpResponse {
    let list = request.path();
    let next = next_after.map(|after| next_cursor(list, filters, after));
    let mut response = HttpResponse::Ok();
    if let Some(cursor) = &next {
        let mut query = form(filters);
        query.push(("limit", paging.limit.to_string()));
        query.push(("cursor", cursor.clone()));
        let query: Vec<String> = query.iter().map(|(name, value)| format!("{name}={}", escaped(value))).collect();
        let link = format!("<{list}?{}>; rel=\"next\"", query.join("&"));
        response.insert_header((LINK, HeaderValue::from_str(&link).expect("escaped texts are ASCII")));
    }
    response.json(page(next))
}

fn form(filters: &Filters) -> Vec<(&'static str, String)> {
    filters.iter().filter_map(|(name, value)| Some((*name, value.clone()?))).collect()
}

/// Percent-encodes everything but RFC 3986's unreserved characters: one segment of a path, or a value in a query.
pub fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for byte in text.bytes() {
        match byte {
            b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' | b'_' | b'~' => out.push(char::from(byte)),
            other => out.push_str(&format!("%{other:02X}")),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    fn paging(cursor: &str) -> Paging {
        Paging { limit: 10, cursor: Some(cursor.to_owned()) }
    }

    #[test]
    fn a_cursor_holds_for_its_list_and_filters_only() {
        let filters = [("kind", Some("wire".to_owned())), ("text", None)];
        let cursor = next_cursor("/v1/items", &filters, "W16".to_owned());
        assert_eq!(paging(&cursor).after("/v1/items", &filters).unwrap().as_deref(), Some("W16"));
        assert_eq!(paging(&cursor).after("/v1/packages", &filters).unwrap_err().kind(), Kind::BadCursor);
        let others = [("kind", None), ("text", Some("wire".to_owned()))];
        assert_eq!(paging(&cursor).after("/v1/items", &others).unwrap_err().kind(), Kind::BadCursor);
        assert_eq!(paging("nonsense!").after("/v1/items", &filters).unwrap_err().kind(), Kind::BadCursor);
    }

    #[test]
    fn a_cursor_that_was_changed_anywhere_or_has_another_form_is_none() {
        let list = "/v1/items";
        let cursor = next_cursor(list, &[], "W16".to_owned());
        let refused = |cursor: &str| paging(cursor).after(list, &[]).unwrap_err().kind() == Kind::BadCursor;
        for place in 0..cursor.len() {
            for other in ["A", "b", "0", "_", "-", "=", "%", "é"] {
                let mut changed = cursor.clone();
                changed.replace_range(place..=place, other);
                assert!(changed == cursor || refused(&changed), "{changed}");
            }
            assert!(refused(&cursor[..place]) && refused(&format!("{}{}", &cursor[..place], &cursor[place + 1..])));
        }
        let of = checksum(list, &[], "W16");
        let formerly = [json!({"after": "W16", "of": of}), json!({"form": 2, "after": "W16", "of": of})];
        for form in formerly {
            assert!(refused(&URL_SAFE_NO_PAD.encode(form.to_string())), "{form}");
        }
    }

    #[test]
    fn a_segment_is_escaped_whole() {
        assert_eq!(escaped("W16/BRN 100 %"), "W16%2FBRN%20100%20%25");
    }
}
