//! What every request goes through: its identifier, `HEAD`, panics, and errors that are not ours.

use std::panic::AssertUnwindSafe;

use actix_web::body::{BoxBody, MessageBody};
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::error::InternalError;
use actix_web::http::header::{CONTENT_TYPE, HeaderName, HeaderValue};
use actix_web::http::{Method, StatusCode};
use actix_web::middleware::Next;
use actix_web::{Error, HttpMessage, ResponseError};
use futures_util::FutureExt;
use tracing_actix_web::RequestId;

use super::problem::{self, Kind, Problem};

/// The header that carries a request's identifier; the same identifier stands on its lines of the log.
pub const REQUEST_ID: HeaderName = HeaderName::from_static("x-request-id");

/// Gives the answer the request's identifier.
pub async fn identify<B: MessageBody>(request: ServiceRequest, next: Next<B>) -> Result<ServiceResponse<B>, Error> {
    let id = request.extensions().get::<RequestId>().map(RequestId::to_string).unwrap_or_default();
    let id = HeaderValue::from_str(&id).expect("an identifier is a header value");
    match next.call(request).await {
        Ok(mut response) => {
            response.headers_mut().insert(REQUEST_ID, id);
            Ok(response)
        }
        // The request went with the panic, so the answer is made here.
        Err(error) => {
            let mut answer = error.error_response();
            answer.headers_mut().insert(REQUEST_ID, id);
            Err(InternalError::from_response(error, answer).into())
        }
    }
}

/// Answers `HEAD` as `GET`: the connection leaves the body away by itself, having read the method before.
pub async fn head_as_get<B: MessageBody>(
    mut request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<B>, Error> {
    if request.method() == Method::HEAD {
        request.head_mut().method = Method::GET;
    }
    next.call(request).await
}

/// Makes a problem of a panic, and of every error that is not one of ours.
pub async fn problems_only<B: MessageBody + 'static>(
    request: ServiceRequest,
    next: Next<B>,
) -> Result<ServiceResponse<BoxBody>, Error> {
    // No copy of the request is kept for an error's sake: routing needs it to be the only one. What a panicking handler
    // held is dropped with it; shared state is behind locks and databases that survive that.
    let response = match AssertUnwindSafe(next.call(request)).catch_unwind().await {
        Ok(Ok(response)) => response.map_into_boxed_body(),
        Ok(Err(error)) if error.as_error::<Problem>().is_some() => return Err(error),
        Ok(Err(error)) => {
            let status = error.as_response_error().status_code();
            return Err(Problem::new(kind_of(status), "The request could not be answered.").into());
        }
        Err(panic) => {
            let problem = Problem::internal(format!("panic: {}", panic_text(panic.as_ref())));
            tracing::error!(causes = problem.causes(), "a request failed");
            return Err(problem.into());
        }
    };
    let status = response.status();
    // Only our own pages are HTML.
    let ours = response
        .headers()
        .get(CONTENT_TYPE)
        .is_some_and(|value| value == problem::MEDIA_TYPE || value.as_bytes().starts_with(b"text/html"));
    if ours || !(status.is_client_error() || status.is_server_error()) {
        return Ok(response);
    }
    let (request, original) = response.into_parts();
    let problem = Problem::new(kind_of(status), "The request could not be answered.");
    let mut answer = problem.error_response();
    *answer.status_mut() = original.status();
    for (name, value) in original.headers().iter().filter(|(name, _)| *name != CONTENT_TYPE) {
        answer.headers_mut().append(name.clone(), value.clone());
    }
    Ok(ServiceResponse::new(request, answer))
}

fn kind_of(status: StatusCode) -> Kind {
    match status {
        StatusCode::NOT_FOUND => Kind::UnknownPath,
        StatusCode::METHOD_NOT_ALLOWED => Kind::MethodNotAllowed,
        StatusCode::NOT_ACCEPTABLE => Kind::NotAcceptable,
        StatusCode::REQUEST_TIMEOUT => Kind::TooSlow,
        StatusCode::PAYLOAD_TOO_LARGE => Kind::TooLarge,
        StatusCode::UNSUPPORTED_MEDIA_TYPE => Kind::WrongContentType,
        StatusCode::SERVICE_UNAVAILABLE => Kind::Unavailable,
        other if other.is_client_error() => Kind::BadRequest,
        _ => Kind::Internal,
    }
}

fn panic_text(panic: &(dyn std::any::Any + Send)) -> &str {
    panic
        .downcast_ref::<&str>()
        .copied()
        .or_else(|| panic.downcast_ref::<String>().map(String::as_str))
        .unwrap_or("no message")
}
