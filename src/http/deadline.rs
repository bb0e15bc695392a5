//! The time in which a request must be answered.

use std::time::Duration;

use actix_web::Error;
use actix_web::body::MessageBody;
use actix_web::dev::{ServiceRequest, ServiceResponse};
use actix_web::middleware::Next;
use actix_web::web::Data;

use super::metrics::Route;
use super::problem::{Kind, Problem};

/// Time in which a request must be answered.
#[derive(Clone, Copy, Debug)]
pub struct Deadline(pub Duration);

/// Routes with limits of their own: a long file takes its time.
const EXCEPTED: [&str; 1] = ["/v1/imports"];

/// Gives up on a request that is not answered in time: a database that has gone without closing its connections would
/// hold it for ever. What it had begun to write is undone.
pub async fn hold<B: MessageBody>(request: ServiceRequest, next: Next<B>) -> Result<ServiceResponse<B>, Error> {
    let Deadline(time) = ***request.app_data::<Data<Deadline>>().expect("the app has its deadline");
    if EXCEPTED.contains(&&*Route::of(&request).0) {
        return next.call(request).await;
    }
    match tokio::time::timeout(time, next.call(request)).await {
        Ok(outcome) => outcome,
        Err(_) => {
            let detail = format!(
                "It was not done within {} s. Send it again with the same Idempotency-Key, or look first whether it is \
                 there.",
                time.as_secs()
            );
            Err(Problem::new(Kind::Unavailable, detail).into())
        }
    }
}
