//! `rigbill serve`.

use std::io::{self, Write};

use crate::config::Config;
use crate::{app, telemetry};

/// Serves until SIGTERM or Ctrl-C. Prints the address once it can be reached.
pub async fn run(config: &Config) -> Result<(), Box<dyn std::error::Error>> {
    tracing::info!("settings: {}", config.summary());
    if !config.listen.is_loopback() {
        tracing::warn!(
            "listening on {}: keys travel unencrypted unless a proxy with TLS stands in front",
            config.listen
        );
    }
    let app = app::build(config).await?;
    if !app.service().has_key().await? {
        tracing::warn!(
            "there is no valid key, so every request to /v1 is refused: make one with the same settings by \
             `rigbill key create --role owner --name \"Office\"`"
        );
    }
    // The listener takes connections from here on; whoever started the program may wait for this line.
    println!("listening on {}", app.url());
    io::stdout().flush()?;
    let served = app.run(app::stop_signal()).await;
    // It waits for the collector, so it goes to a thread that may wait.
    tokio::task::spawn_blocking(telemetry::end).await?;
    Ok(served?)
}
