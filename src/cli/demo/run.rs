//! The demo itself: from a fresh database to a printed page.

use std::io::{self, Write};

use tokio::sync::oneshot;

use super::{client, examples, page, shop};
use crate::app;
use crate::clock::Clock;
use crate::config::{Config, DatabaseUrl};

/// How the demo is run.
#[derive(Clone, Debug)]
pub struct DemoOptions {
    /// Port to listen on; 0 takes a free one.
    pub port: u16,
    /// Whether it ends after printing.
    pub once: bool,
    /// Name of an example that comes with the program, or a file.
    pub example: String,
}

/// Runs the demo; serves on until told to stop, unless it is to end at once.
///
/// # Errors
/// When the example is not there, the port is taken, or the service refuses the example.
pub async fn run(options: DemoOptions) -> Result<(), Box<dyn std::error::Error>> {
    let DemoOptions { port, once, example } = options;
    let body = examples::example(&example)?;
    let folder = std::env::temp_dir().join(format!("rigbill-demo-{}", Clock::System.new_id()));
    let file = folder.join("demo.db");
    // No file and no environment: the demo never touches the shop's own database, and stays on this computer.
    let mut config = Config::read(None, [], &[("port", port.to_string())])?;
    config.database = DatabaseUrl::new(format!("sqlite://{}?mode=rwc", file.display()));
    // Who tries things out on his own computer is not told to slow down.
    config.key_units_per_minute = 0;
    config.address_units_per_minute = 0;
    config.link_units_per_minute = 0;
    config.failed_keys_per_minute = 0;
    let app = app::build(&config).await?;
    shop::load(app.service()).await?;
    let secret = shop::owner_key(app.service()).await?;
    let url = app.url();
    println!("listening on {url}");
    println!("its owner key: {}", secret.expose());
    io::stdout().flush()?;

    let (stop, stopped) = oneshot::channel::<()>();
    let serving = app.run(async {
        // A sender that was dropped says stop too.
        let _ = stopped.await;
    });
    let printing = async {
        let printed = print(&url, secret.expose(), body, &file.display().to_string()).await;
        if printed.is_ok() && !once {
            println!("Serving until Ctrl-C.");
            app::stop_signal().await;
        }
        drop(stop);
        printed
    };
    let (served, printed) = tokio::join!(serving, printing);
    served?;
    printed
}

async fn print(url: &str, key: &str, body: String, file: &str) -> Result<(), Box<dyn std::error::Error>> {
    let fetched = client::quote(url, key, body).await?;
    println!("{}", page::page(&fetched.json)?);
    println!("The service, operation by operation: {url}/docs/");
    println!("Press Authorize there and paste the key; programs send it as a header:");
    println!("  Authorization: Bearer {key}");
    println!("This quote: {}", fetched.quote);
    println!("Its document: {}", fetched.document);
    match &fetched.customer {
        Some(address) => println!("It is issued. What its customer reads and answers, without a key: {address}"),
        None => println!("It is a draft: a gap stands, and until that is settled there is nothing for a customer."),
    }
    println!("What to take from the shelf for it: {}/pick-list", fetched.quote);
    println!("What to buy beside that:            {}/purchase-list (and ?form=html, ?form=csv)", fetched.quote);
    println!("The invented shop's database: {file}");
    Ok(())
}
