//! The demo as a client of the service: it knows nothing but addresses and JSON.

use std::time::Duration;

use reqwest::header::{ACCEPT, CONTENT_TYPE, ETAG, HeaderMap, HeaderName, IF_MATCH, LOCATION};
use reqwest::{Client, Response, StatusCode};
use serde::Deserialize;

/// How long one request may take.
const PATIENCE: Duration = Duration::from_secs(30);

/// The service's own interface did not do what the demo asked.
#[derive(Debug, thiserror::Error)]
pub enum Error {
    /// The service could not be reached, or the answer broke off.
    #[error("the service could not be asked")]
    Http(#[from] reqwest::Error),
    /// The service refused the request.
    #[error("the service answered {status}: {problem}")]
    Refused {
        /// The status.
        status: StatusCode,
        /// The problem in words, each fault on a line of its own.
        problem: String,
    },
    /// A created quote came without an address.
    #[error("the service created a quote and did not say where it is")]
    NoLocation,
}

/// A quote as the demo fetched it.
#[derive(Debug)]
pub struct Fetched {
    /// Address of the quote.
    pub quote: String,
    /// Address of its document.
    pub document: String,
    /// The document's JSON.
    pub json: Vec<u8>,
    /// Address that its customer is sent; none for one that could not be issued, since a gap stands.
    pub customer: Option<String>,
}

/// What the demo reads of a quote.
#[derive(Deserialize)]
struct Quote {
    incomplete: bool,
    customer_address: Option<String>,
}

/// Sends a quote request, with a key, to the service at `base` (such as `http://127.0.0.1:8080`), issues the quote unless a
/// gap stands, and fetches the document.
///
/// # Errors
/// [`Error`]; a refusal carries every fault that the problem lists.
pub async fn quote(base: &str, key: &str, body: String) -> Result<Fetched, Error> {
    let client = Client::builder().no_proxy().timeout(PATIENCE).build()?;
    let request =
        client.post(format!("{base}/v1/quotes")).bearer_auth(key).header(CONTENT_TYPE, "application/json").body(body);
    let answer = accepted(request.send().await?).await?;
    let location = text_of(answer.headers(), &LOCATION).ok_or(Error::NoLocation)?;
    let seen = text_of(answer.headers(), &ETAG).unwrap_or_default();
    let at = |address: &str| if address.starts_with('/') { format!("{base}{address}") } else { address.to_owned() };
    let quote = at(&location);
    let made: Quote = answer.json().await?;
    let customer = if made.incomplete {
        None
    } else {
        let issue = client.post(format!("{quote}/issue")).bearer_auth(key).header(IF_MATCH, seen);
        let issued = accepted(issue.header(CONTENT_TYPE, "application/json").body("{}").send().await?).await?;
        issued.json::<Quote>().await?.customer_address.map(|address| at(&address))
    };
    let document = format!("{quote}/document");
    let answer =
        accepted(client.get(&document).bearer_auth(key).header(ACCEPT, "application/json").send().await?).await?;
    Ok(Fetched { json: answer.bytes().await?.to_vec(), quote, document, customer })
}

fn text_of(headers: &HeaderMap, name: &HeaderName) -> Option<String> {
    headers.get(name)?.to_str().ok().map(str::to_owned)
}

/// What the demo reads of a problem (RFC 9457).
#[derive(Default, Deserialize)]
#[serde(default)]
struct Problem {
    title: String,
    detail: String,
    errors: Vec<Fault>,
}

#[derive(Default, Deserialize)]
#[serde(default)]
struct Fault {
    pointer: String,
    message: String,
}

async fn accepted(answer: Response) -> Result<Response, Error> {
    let status = answer.status();
    if status.is_success() {
        return Ok(answer);
    }
    let body = answer.bytes().await?;
    let problem = serde_json::from_slice::<Problem>(&body).unwrap_or_default();
    let mut words =
        [problem.title, problem.detail].into_iter().filter(|w| !w.is_empty()).collect::<Vec<_>>().join(". ");
    for fault in problem.errors {
        words.push_str(&format!("\n  {}: {}", fault.pointer, fault.message));
    }
    Err(Error::Refused { status, problem: words })
}
