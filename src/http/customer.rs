//! `/q/…`: the pages of customers. HTML for people, who have no key but the secret in the address that they were sent;
//! the description leaves them out.
//!
//! The address that is sent is `/q/{link}/{secret}`. It answers with a cookie and leads to `/q/{link}`, so that what stands
//! in the address bar, in the history and in the log of a proxy's second line holds no secret. Nothing here says whether
//! a link that does not open ever was one.

mod paper;

use std::sync::LazyLock;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::http::StatusCode;
use actix_web::http::header::{
    CACHE_CONTROL, CONTENT_ENCODING, CONTENT_LENGTH, CONTENT_SECURITY_POLICY, CONTENT_TYPE, COOKIE, HOST, HeaderMap,
    HeaderName, HeaderValue, LOCATION, ORIGIN, REFERRER_POLICY, RETRY_AFTER, SET_COOKIE, X_CONTENT_TYPE_OPTIONS,
};
use actix_web::middleware::Next;
use actix_web::web::{self, Data, Path, Payload};
use actix_web::{Error, HttpRequest, HttpResponse};
use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use sha2::{Digest, Sha256};
use uuid::Uuid;

use super::body;
use super::limits;
use super::problem::{self, Kind, Problem};
use crate::calc::choices::joined;
use crate::calc::findings::Fault;
use crate::calc::units::Name;
use crate::config::Config;
use crate::documents::customer::{Form, STYLE, Standing, plain_page, quote_page};
use crate::service::links::{CustomerAnswer, NewLink, Opened};
use crate::service::quotes::QuoteState;
use crate::service::{self, Service};

/// Name of the cookie that holds the secret of a link; its path names the link.
const SECRET: &str = "quote";
/// How long a browser keeps it, seconds: an evening. Then the address is opened once more.
const KEPT_S: u32 = 4 * 3600;
/// Largest form, bytes.
const FORM_BYTES_MAX: usize = 16 << 10;
/// What an answer takes of the quota of its link; a look takes one unit.
const ANSWER_UNITS: u32 = 5;

const ROBOTS: HeaderName = HeaderName::from_static("x-robots-tag");
const FETCH_SITE: HeaderName = HeaderName::from_static("sec-fetch-site");

/// What a browser may do with a page: show it in its own style, and send its forms back.
static POLICY: LazyLock<HeaderValue> = LazyLock::new(|| {
    let style = STANDARD.encode(Sha256::digest(STYLE));
    let policy = format!(
        "default-src 'none'; style-src 'sha256-{style}'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    );
    HeaderValue::from_str(&policy).expect("a policy is a header value")
});

/// Where customers find the service.
#[derive(Clone, Debug)]
pub struct Site {
    /// Scheme and host, without a slash at the end; empty where nobody has said.
    public: String,
}

impl Site {
    /// The site of the settings.
    pub fn new(config: &Config) -> Self {
        Site { public: config.public_url.clone() }
    }

    /// The address to be sent to a customer; a path where nobody has said under what name customers find the service.
    pub fn address(&self, link: &NewLink) -> String {
        format!("{}/q/{}/{}", self.public, link.id.simple(), link.secret.expose())
    }

    fn is_secure(&self) -> bool {
        self.public.starts_with("https://")
    }

    /// Whether a form came from a page of ours. Browsers say it themselves (Fetch Metadata); older ones name where the page
    /// was from, but not of pages without a referrer, as ours are: what then stands there is `null`. What neither tells
    /// has the cookie all the same, which no browser sends along with a form of another site (`SameSite`).
    fn is_own(&self, headers: &HeaderMap) -> bool {
        let text = |name: &HeaderName| headers.get(name).map(|value| value.to_str().unwrap_or("?"));
        match (text(&FETCH_SITE), text(&ORIGIN)) {
            (Some(site), _) => site == "same-origin",
            (None, None | Some("null")) => true,
            (None, Some(origin)) if !self.public.is_empty() => origin.eq_ignore_ascii_case(&self.public),
            (None, Some(origin)) => {
                let named = origin.split_once("://").map(|(_, host)| host);
                named.zip(text(&HOST)).is_some_and(|(named, host)| named.eq_ignore_ascii_case(host))
            }
        }
    }
}

/// The pages.
pub fn routes(config: &mut web::ServiceConfig) {
    config
        .service(web::resource("/robots.txt").get(robots))
        .service(web::resource("/q/{link}").get(read))
        .service(web::resource("/q/{link}/accept").get(back).post(accept))
        .service(web::resource("/q/{link}/choose").get(back).post(choose))
        .service(web::resource("/q/{link}/decline").get(back).post(decline))
        .service(web::resource("/q/{link}/{paper:a4|letter}.pdf").get(paper::read))
        .service(web::resource("/q/{link}/{secret}").get(enter));
}

async fn robots() -> HttpResponse {
    HttpResponse::Ok().content_type("text/plain; charset=utf-8").body("User-agent: *\nDisallow: /q/\n")
}

fn page(status: StatusCode, html: String) -> HttpResponse {
    HttpResponse::build(status).content_type("text/html; charset=utf-8").body(html)
}

fn address(link: Uuid) -> String {
    format!("/q/{}", link.simple())
}

/// The one answer to all that opens nothing.
fn opens_nothing() -> Problem {
    Problem::new(Kind::NotFound, "This address opens no quote.")
}

/// The link in an address, as far as it may still ask with the secret that is shown for it.
fn link_of(request: &HttpRequest, text: &str, shown: &str, units: u32) -> Result<Uuid, Problem> {
    let link = Uuid::try_parse(text).map_err(|_| opens_nothing())?;
    limits::by_link(request, link, shown, units)?;
    Ok(link)
}

/// The secrets in the cookies of a request: as a rule one.
fn secrets(request: &HttpRequest) -> impl Iterator<Item = &str> {
    let lines = request.headers().get_all(COOKIE).filter_map(|line| line.to_str().ok());
    lines.flat_map(|line| line.split(';')).filter_map(|pair| {
        let (name, value) = pair.trim().split_once('=')?;
        (name == SECRET).then_some(value)
    })
}

fn secret(request: &HttpRequest) -> Result<&str, Problem> {
    secrets(request).next().ok_or_else(opens_nothing)
}

/// Gives the browser the secret of a link, for the pages of that link only.
fn with_secret(mut response: HttpResponse, site: &Site, link: Uuid, secret: &str) -> Result<HttpResponse, Problem> {
    let secure = if site.is_secure() { "; Secure" } else { "" };
    let path = address(link);
    let cookie = format!("{SECRET}={secret}; Path={path}; Max-Age={KEPT_S}; HttpOnly; SameSite=Lax{secure}");
    let cookie = HeaderValue::from_str(&cookie).map_err(Problem::internal)?;
    response.headers_mut().append(SET_COOKIE, cookie);
    Ok(response)
}

/// `GET /q/{link}/{secret}`: what was sent. From here on the address holds no secret.
async fn enter(
    request: HttpRequest,
    path: Path<(String, String)>,
    service: Data<Service>,
    site: Data<Site>,
) -> Result<HttpResponse, Problem> {
    let (link, secret) = path.into_inner();
    let link = link_of(&request, &link, &secret, 1)?;
    service.open_link(link, &secret, &[]).await?.ok_or_else(opens_nothing)?;
    let response = HttpResponse::SeeOther().insert_header((LOCATION, address(link))).finish();
    with_secret(response, &site, link, &secret)
}

/// `GET /q/{link}/accept`: whoever reloads or goes back comes to the quote.
async fn back(link: Path<String>) -> Result<HttpResponse, Problem> {
    let link = Uuid::try_parse(&link).map_err(|_| opens_nothing())?;
    Ok(HttpResponse::SeeOther().insert_header((LOCATION, address(link))).finish())
}

fn standing(opened: &Opened) -> Standing {
    let answered = || opened.answered.as_ref().map(|answered| (answered.on, answered.by.clone()));
    match opened.state {
        // A link is made of what was issued.
        QuoteState::Issued | QuoteState::Draft => Standing::Open,
        QuoteState::Accepted => Standing::Accepted(answered()),
        QuoteState::Declined => Standing::Declined(answered().map(|(on, _)| on)),
        QuoteState::Lapsed => Standing::Lapsed,
        QuoteState::Withdrawn => Standing::Withdrawn,
        QuoteState::Superseded => Standing::Superseded,
    }
}

/// `GET /q/{link}`: the quote.
async fn read(
    request: HttpRequest,
    path: Path<String>,
    service: Data<Service>,
    site: Data<Site>,
) -> Result<HttpResponse, Problem> {
    let secret = secret(&request)?;
    let link = link_of(&request, &path, secret, 1)?;
    let opened = service.open_link(link, secret, &[]).await?.ok_or_else(opens_nothing)?;
    let html = shown(&opened, &Form::default());
    with_secret(page(StatusCode::OK, html), &site, link, secret)
}

/// The page of what was opened.
fn shown(opened: &Opened, form: &Form) -> String {
    let chosen = joined(&opened.chosen);
    quote_page(&opened.document, (&opened.offers, &chosen), &standing(opened), &address(opened.link), form)
}

/// The fields of a form.
struct Fields(Vec<(String, String)>);

impl Fields {
    async fn arrived(request: &HttpRequest, payload: Payload) -> Result<Self, Problem> {
        let media_type = "application/x-www-form-urlencoded";
        let bytes = body::arrived_as(request, payload.into_inner(), media_type, FORM_BYTES_MAX).await?;
        let text = std::str::from_utf8(&bytes).ok();
        let fields = text.and_then(|text| web::Query::<Vec<(String, String)>>::from_query(text).ok());
        let unreadable = || Problem::new(Kind::BadRequest, "The form cannot be read.");
        Ok(Fields(fields.ok_or_else(unreadable)?.into_inner()))
    }

    fn take(&mut self, name: &str) -> String {
        let found = self.0.iter_mut().find(|(met, _)| met == name);
        found.map(|(_, value)| std::mem::take(value)).unwrap_or_default()
    }

    /// Options that are ticked, in the order of the page.
    fn options(&self) -> Vec<Name> {
        let ticked = self.0.iter().filter(|(name, value)| name == "option" && !value.is_empty());
        ticked.map(|(_, value)| Name::from(value.as_str())).collect()
    }

    /// Options that are ticked, and the form of the page as it was filled in.
    fn filled(&mut self) -> (Vec<Name>, Form) {
        let options = self.options();
        let ticked = options.iter().map(|id| id.as_str().to_owned()).collect();
        (options, Form { name: self.take("name"), options: ticked, ..Form::default() })
    }
}

/// `POST /q/{link}/accept`
async fn accept(
    request: HttpRequest,
    path: Path<String>,
    payload: Payload,
    service: Data<Service>,
    site: Data<Site>,
) -> Result<HttpResponse, Problem> {
    let link = from_own_page(&request, &path, &site)?;
    let mut fields = Fields::arrived(&request, payload).await?;
    let (options, form) = fields.filled();
    // Nobody accepts a total that he has not seen.
    if joined(&options) != fields.take("shown") {
        return chosen(&request, link, &service, &options, Form { changed: true, ..form }).await;
    }
    answer(&request, link, &service, CustomerAnswer::Accept { name: form.name.clone(), options }, form).await
}

/// `POST /q/{link}/choose`: the quote with the options that are ticked. Sent like an answer, so that the name that was
/// typed stays out of the address.
async fn choose(
    request: HttpRequest,
    path: Path<String>,
    payload: Payload,
    service: Data<Service>,
    site: Data<Site>,
) -> Result<HttpResponse, Problem> {
    let link = from_own_page(&request, &path, &site)?;
    let (options, form) = Fields::arrived(&request, payload).await?.filled();
    chosen(&request, link, &service, &options, form).await
}

/// The page with options, or with what is wrong with them.
async fn chosen(
    request: &HttpRequest,
    link: Uuid,
    service: &Service,
    options: &[Name],
    form: Form,
) -> Result<HttpResponse, Problem> {
    let secret = secret(request)?;
    match service.open_link(link, secret, options).await {
        Ok(opened) => {
            let opened = opened.ok_or_else(opens_nothing)?;
            if opened.state == QuoteState::Issued {
                Ok(page(StatusCode::OK, shown(&opened, &form)))
            } else {
                too_late(&opened)
            }
        }
        Err(service::Error::Faults(faults)) => wrong(service, (link, secret), &[], &faults, form).await,
        Err(other) => Err(other.into()),
    }
}

/// The page with options and with what is wrong in its forms.
async fn wrong(
    service: &Service,
    (link, secret): (Uuid, &str),
    named: &[Name],
    faults: &[Fault],
    form: Form,
) -> Result<HttpResponse, Problem> {
    let fault = |pointer: &str| {
        let of_it =
            faults.iter().filter(|fault| fault.pointer.starts_with(pointer)).map(|fault| fault.message.as_str());
        of_it.collect::<Vec<_>>().join(" ")
    };
    let options_fault = match fault("/options") {
        none if none.is_empty() => none,
        _ => "These options do not go together. Please choose again.".to_owned(),
    };
    let form =
        Form { name_fault: fault("/name"), reason_fault: fault("/reason"), options_fault, changed: false, ..form };
    let opened = service.open_link(link, secret, named).await?.ok_or_else(opens_nothing)?;
    Ok(page(StatusCode::UNPROCESSABLE_ENTITY, shown(&opened, &form)))
}

/// What stands, to who comes too late.
fn too_late(opened: &Opened) -> Result<HttpResponse, Problem> {
    let mut texts = standing(opened).told(&opened.document);
    texts.push("What you have just sent changed nothing.".to_owned());
    let html = plain_page("Your answer came too late", &texts, Some(&address(opened.link)));
    Ok(page(StatusCode::CONFLICT, html))
}

/// `POST /q/{link}/decline`
async fn decline(
    request: HttpRequest,
    path: Path<String>,
    payload: Payload,
    service: Data<Service>,
    site: Data<Site>,
) -> Result<HttpResponse, Problem> {
    let link = from_own_page(&request, &path, &site)?;
    let reason = Fields::arrived(&request, payload).await?.take("reason");
    let form = Form { reason: reason.clone(), ..Form::default() };
    answer(&request, link, &service, CustomerAnswer::Decline { reason }, form).await
}

/// The link of a form that a page of ours sent.
fn from_own_page(request: &HttpRequest, path: &str, site: &Site) -> Result<Uuid, Problem> {
    let link = link_of(request, path, secret(request)?, ANSWER_UNITS)?;
    if site.is_own(request.headers()) {
        return Ok(link);
    }
    Err(Problem::new(Kind::NotYourRole, "This form was sent from a page of another site."))
}

async fn answer(
    request: &HttpRequest,
    link: Uuid,
    service: &Service,
    answer: CustomerAnswer,
    form: Form,
) -> Result<HttpResponse, Problem> {
    let secret = secret(request)?;
    let outcome = service.answer_link(link, secret, &answer).await;
    match outcome {
        Ok(Some(_)) => Ok(HttpResponse::SeeOther().insert_header((LOCATION, address(link))).finish()),
        Ok(None) => Err(opens_nothing()),
        Err(service::Error::Faults(faults)) => {
            // What was shown is shown again, where that can be.
            let options: Vec<Name> = form.options.iter().map(|id| Name::from(id.as_str())).collect();
            let of_options = faults.iter().any(|fault| fault.pointer.starts_with("/options"));
            let named = if of_options { &[] } else { &options[..] };
            wrong(service, (link, secret), named, &faults, form).await
        }
        Err(service::Error::WrongMove { .. }) => {
            too_late(&service.open_link(link, secret, &[]).await?.ok_or_else(opens_nothing)?)
        }
        Err(other) => Err(other.into()),
    }
}

/// What a person reads in place of a problem.
fn in_words(status: StatusCode, wait: Option<&str>) -> String {
    let (heading, texts) = match status {
        StatusCode::NOT_FOUND | StatusCode::METHOD_NOT_ALLOWED => (
            "There is no quote here",
            vec![
                "The address that you were sent may have ended, or your browser may have forgotten it.".to_owned(),
                "Please open the address in your message once more, with cookies allowed. If that does not help, ask the \
                 shop for a new one."
                    .to_owned(),
            ],
        ),
        StatusCode::TOO_MANY_REQUESTS => {
            let wait = wait.map(|seconds| format!("wait {seconds} seconds")).unwrap_or("wait a minute".to_owned());
            ("Too much at once", vec![format!("Please {wait} and try again.")])
        }
        StatusCode::FORBIDDEN => (
            "This did not come from our page",
            vec!["Please open the address in your message once more and answer there. Nothing was changed.".to_owned()],
        ),
        other if other.is_client_error() => (
            "This could not be read",
            vec!["Please open the address in your message once more and try again. Nothing was changed.".to_owned()],
        ),
        _ => (
            "This does not work at the moment",
            vec![
                "Please try again in a minute. If you were about to answer, look first whether your answer has arrived."
                    .to_owned(),
            ],
        ),
    };
    plain_page(heading, &texts, None)
}

/// Gives whatever is answered below `/q` to a person: problems become pages, and no page is kept, indexed, framed or told
/// of to another site.
pub async fn for_people<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    let path = request.match_info().as_str();
    if path != "/q" && !path.starts_with("/q/") {
        return Ok(next.call(request).await?.map_into_boxed_body());
    }
    // No copy of the request is kept for an error's sake: routing needs it to be the only one.
    let kept = match next.call(request).await {
        Ok(response) => response.map_into_boxed_body(),
        Err(error) => {
            let mut answer = worded(&error.error_response());
            protect(answer.headers_mut());
            return Err(actix_web::error::InternalError::from_response(error, answer).into());
        }
    };
    // The log tells why a request failed by the error, which a page does not carry.
    let causes = kept.response().error().and_then(|error| error.as_error::<Problem>()).and_then(Problem::causes);
    let is_problem = kept.headers().get(CONTENT_TYPE).is_some_and(|value| value == problem::MEDIA_TYPE);
    let mut response = kept;
    if is_problem {
        if let Some(causes) = causes {
            tracing::error!(causes, "a request failed");
        }
        let (request, refused) = response.into_parts();
        response = ServiceResponse::new(request, worded(&refused));
    }
    protect(response.headers_mut());
    Ok(response)
}

/// A problem as a page, with its other headers.
fn worded<B>(refused: &HttpResponse<B>) -> HttpResponse {
    let wait = refused.headers().get(RETRY_AFTER).and_then(|value| value.to_str().ok());
    let mut answer = page(refused.status(), in_words(refused.status(), wait));
    let others = refused.headers().iter();
    for (name, value) in others.filter(|(name, _)| ![CONTENT_TYPE, CONTENT_LENGTH, CONTENT_ENCODING].contains(name)) {
        answer.headers_mut().append(name.clone(), value.clone());
    }
    answer
}

fn protect(headers: &mut HeaderMap) {
    headers.insert(CONTENT_SECURITY_POLICY, POLICY.clone());
    // What a limit refuses has none of the headers that other answers get.
    let fixed = [
        (CACHE_CONTROL, "no-store"),
        (REFERRER_POLICY, "no-referrer"),
        (ROBOTS, "noindex, nofollow"),
        (X_CONTENT_TYPE_OPTIONS, "nosniff"),
    ];
    for (name, value) in fixed {
        headers.insert(name, HeaderValue::from_static(value));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_form_counts_only_when_a_page_of_ours_sent_it() {
        let own = |public: &str, lines: &[(&'static str, &'static str)]| {
            let mut headers = HeaderMap::new();
            headers.insert(HOST, HeaderValue::from_static("quotes.example:8080"));
            for (name, value) in lines {
                headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
            }
            Site { public: public.to_owned() }.is_own(&headers)
        };
        // Values of Sec-Fetch-Site by the Fetch Metadata specification (W3C).
        assert!(own("", &[("sec-fetch-site", "same-origin"), ("origin", "null")]));
        for site in ["cross-site", "same-site", "none", "made up"] {
            assert!(!own("", &[("sec-fetch-site", site), ("origin", "http://quotes.example:8080")]), "{site}");
        }
        assert!(own("", &[]) && own("", &[("origin", "null")]));
        assert!(own("", &[("origin", "http://Quotes.Example:8080")]));
        assert!(!own("", &[("origin", "http://quotes.example")]));
        assert!(!own("", &[("origin", "https://elsewhere.example")]));
        let public = "https://quotes.example";
        assert!(own(public, &[("origin", public)]));
        assert!(!own(public, &[("origin", "http://quotes.example:8080")]), "the inner name is not the public one");
    }
}
