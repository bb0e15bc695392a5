//! The bare endpoint that `POST /v1/take-offs` is measured against: actix alone, no spans, no checks, no calculation. It
//! parses the same body into the same types and writes a prebuilt typed answer of the same bytes.
//!
//! `bare stock` brings the demo shop into the database at DATABASE_URL, unless a shop is there. `bare serve BODY` takes
//! the answer for the boat spec in the file BODY from that database's shop, then serves on a free port until it is
//! stopped, and prints where. Used by tests/load/run only.

use std::error::Error;
use std::sync::Arc;

use actix_web::{App, HttpResponse, HttpServer, web};
use rigbill::calc::spec::input::BoatSpecInput;
use rigbill::calc::take_off::TakeOff;
use rigbill::cli::demo;
use rigbill::clock::Clock;
use rigbill::service::Service;
use rigbill::service::items::ItemFilter;
use rigbill::store;

async fn answer(spec: web::Json<BoatSpecInput>, prebuilt: web::Data<TakeOff>) -> HttpResponse {
    // The parsed body is used, so that no compiler leaves the parsing out.
    if std::hint::black_box(&spec.equipment).is_empty() {
        return HttpResponse::BadRequest().finish();
    }
    HttpResponse::Ok().json(prebuilt.as_ref())
}

#[actix_web::main]
async fn main() -> Result<(), Box<dyn Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let store = store::connect(&std::env::var("DATABASE_URL")?).await?;
    let clock = Clock::System;
    store.migrate(clock.now()).await?;
    let service = Service::new(store, clock);
    match &arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["stock"] => {
            if service.list_items(&ItemFilter::default(), None, 1).await?.rows.is_empty() {
                let loaded = demo::shop::load(&service).await?;
                println!("{} item rows", loaded.item_rows);
            }
        }
        ["serve", body] => {
            let spec: BoatSpecInput = serde_json::from_str(&std::fs::read_to_string(body)?)?;
            let prebuilt = web::Data::from(Arc::new(service.take_off(spec).await?));
            let server = HttpServer::new(move || {
                let limit = web::JsonConfig::default().limit(1 << 20);
                App::new().app_data(prebuilt.clone()).app_data(limit).route("/v1/take-offs", web::post().to(answer))
            })
            .workers(std::thread::available_parallelism()?.get())
            .bind(("127.0.0.1", 0))?;
            println!("listening on http://{}", server.addrs()[0]);
            server.run().await?;
        }
        _ => return Err("usage: bare stock | bare serve BODY".into()),
    }
    Ok(())
}
