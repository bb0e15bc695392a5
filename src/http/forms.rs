//! Which of several forms of an answer a client takes: what the query says, else what the Accept header likes best
//! (RFC 9110, section 12.5.1).

use actix_web::HttpRequest;
use actix_web::HttpResponse;
use actix_web::http::header::{ACCEPT, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, HeaderValue};
use serde::Deserialize;
use utoipa::ToSchema;

use super::etag;
use super::problem::{Kind, Problem};

/// A form of a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize, ToSchema)]
#[serde(rename_all = "lowercase")]
pub enum Form {
    /// For programs.
    Json,
    /// For spreadsheets.
    Csv,
    /// To print.
    Html,
}

impl Form {
    /// As the query has them; of two that are liked as much the first is given.
    pub const WORDS: [&'static str; 3] = ["json", "csv", "html"];
    const ALL: [Form; 3] = [Form::Json, Form::Csv, Form::Html];

    const fn media_type(self) -> &'static str {
        match self {
            Form::Json => "application/json",
            Form::Csv => "text/csv",
            Form::Html => "text/html",
        }
    }

    /// The form that a request asks for.
    ///
    /// # Errors
    /// When its Accept header leaves out every form.
    pub fn of(request: &HttpRequest, wanted: Option<Form>) -> Result<Form, Problem> {
        if let Some(form) = wanted {
            return Ok(form);
        }
        let header = request.headers().get_all(ACCEPT).filter_map(|value| value.to_str().ok());
        let ranges: Vec<&str> =
            header.flat_map(|value| value.split(',')).map(str::trim).filter(|one| !one.is_empty()).collect();
        if ranges.is_empty() {
            return Ok(Form::Json);
        }
        let mut best: Option<(u16, Form)> = None;
        for form in Form::ALL {
            let liked = form.liked(&ranges);
            if liked > best.map_or(0, |(most, _)| most) {
                best = Some((liked, form));
            }
        }
        best.map(|(_, form)| form).ok_or_else(|| {
            let types: Vec<&str> = Form::ALL.iter().map(|form| form.media_type()).collect();
            let detail = format!("This is given as {}, which the Accept header leaves out.", types.join(", "));
            Problem::new(Kind::NotAcceptable, detail)
        })
    }

    /// How much it is liked, in thousandths.
    fn liked(self, ranges: &[&str]) -> u16 {
        liked(self.media_type(), ranges)
    }

    /// Answers with bytes of this form; `name` is what a file of them is called.
    pub fn answer(self, request: &HttpRequest, bytes: Vec<u8>, name: &str) -> HttpResponse {
        let media_type = match self {
            Form::Json => "application/json",
            Form::Csv => "text/csv; charset=utf-8; header=present",
            Form::Html => "text/html; charset=utf-8",
        };
        let mut answer = etag::bytes(request, bytes, media_type);
        let headers = answer.headers_mut();
        match self {
            Form::Json => {}
            Form::Csv => {
                let attached = format!("attachment; filename=\"{name}.csv\"");
                if let Ok(value) = HeaderValue::from_str(&attached) {
                    headers.insert(CONTENT_DISPOSITION, value);
                }
            }
            // The page is text and its own style sheet; whatever slipped in would not run.
            Form::Html => {
                let policy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'";
                headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
            }
        }
        answer
    }
}

/// How much a media type is liked, in thousandths: by the range that names it most closely.
fn liked(media_type: &str, ranges: &[&str]) -> u16 {
    let (major, _) = media_type.split_once('/').unwrap_or((media_type, ""));
    let closeness = |range: &str| match range {
        exact if exact == media_type => 3,
        all if all.strip_suffix("/*") == Some(major) => 2,
        "*/*" => 1,
        _ => 0,
    };
    let read = ranges.iter().map(|range| {
        let mut parts = range.split(';').map(str::trim);
        let kind = parts.next().unwrap_or_default().to_ascii_lowercase();
        let q = parts.find_map(|part| part.strip_prefix("q=")).map_or(1.0, |q| q.parse::<f64>().unwrap_or(0.0));
        (closeness(&kind), (q.clamp(0.0, 1.0) * 1000.0) as u16)
    });
    read.filter(|(close, _)| *close > 0).max().map_or(0, |(_, q)| q)
}

/// Whether a drawing is wanted and not JSON, where both are given.
///
/// # Errors
/// When the Accept header leaves out both.
pub fn wants_svg(request: &HttpRequest) -> Result<bool, Problem> {
    let header = request.headers().get_all(ACCEPT).filter_map(|value| value.to_str().ok());
    let ranges: Vec<&str> =
        header.flat_map(|value| value.split(',')).map(str::trim).filter(|one| !one.is_empty()).collect();
    let (json, svg) = (liked("application/json", &ranges), liked("image/svg+xml", &ranges));
    if !ranges.is_empty() && json == 0 && svg == 0 {
        let detail = "This is given as application/json, image/svg+xml, which the Accept header leaves out.";
        return Err(Problem::new(Kind::NotAcceptable, detail));
    }
    Ok(svg > json)
}

#[cfg(test)]
mod tests {
    use actix_web::test::TestRequest;

    use super::*;

    #[test]
    fn the_form_is_the_one_that_the_client_likes_best() {
        let met = |accept: &str| {
            let request = TestRequest::default().insert_header((ACCEPT, accept)).to_http_request();
            Form::of(&request, None).map_err(|problem| problem.kind())
        };
        // RFC 9110, section 12.5.1: the closest range gives the weight, 0 refuses.
        for (accept, form) in [
            ("", Ok(Form::Json)),
            ("*/*", Ok(Form::Json)),
            ("text/html,application/xhtml+xml,application/xml;q=0.9,*/*;q=0.8", Ok(Form::Html)),
            ("text/*", Ok(Form::Csv)),
            ("text/csv;q=0.5, application/json;q=0.4", Ok(Form::Csv)),
            ("application/json;q=0, */*;q=0.1", Ok(Form::Csv)),
            ("TEXT/HTML", Ok(Form::Html)),
            ("application/pdf", Err(Kind::NotAcceptable)),
            ("*/*;q=0", Err(Kind::NotAcceptable)),
        ] {
            assert_eq!(met(accept), form, "{accept}");
        }
        let request = TestRequest::default().insert_header((ACCEPT, "application/pdf")).to_http_request();
        assert_eq!(Form::of(&request, Some(Form::Csv)).ok(), Some(Form::Csv), "the query goes before the header");
    }
}
