//! `rigbill import items FILE.csv`.

use std::io::Read;
use std::path::Path;
use std::process::ExitCode;

use bytes::Bytes;
use futures_util::stream;

use crate::app;
use crate::clock::Clock;
use crate::config::Config;
use crate::service::Service;
use crate::service::imports::{Import, ImportState};

/// Bytes that are read from the file at once.
const CHUNK: usize = 64 * 1024;

/// Takes items in from a CSV file and prints what became of it; a file with bad rows is a failure.
pub async fn items(config: &Config, file: &Path, dry_run: bool) -> Result<ExitCode, Box<dyn std::error::Error>> {
    let mut reader = std::fs::File::open(file).map_err(|error| format!("{}: {error}", file.display()))?;
    let store = app::open(config, &Clock::System).await?;
    let service = Service::new(store, Clock::System);
    let chunks = std::iter::from_fn(move || {
        let mut chunk = vec![0; CHUNK];
        match reader.read(&mut chunk) {
            Ok(0) => None,
            Ok(length) => {
                chunk.truncate(length);
                Some(Ok(Bytes::from(chunk)))
            }
            Err(error) => Some(Err(error)),
        }
    });
    let begun = service.start_import(dry_run).await?;
    let import = service.import_csv(begun.id, stream::iter(chunks)).await?;
    service.store().clone().close().await?;
    print!("{}", told(&import, file));
    Ok(if import.state == ImportState::Refused { ExitCode::FAILURE } else { ExitCode::SUCCESS })
}

/// What became of an import, one line for each fault.
fn told(import: &Import, file: &Path) -> String {
    let Import { state, rows_read, rows_bad, report, .. } = import;
    let file = file.display();
    let mut text = match state {
        ImportState::Refused => format!("{file}: {rows_bad} of {rows_read} rows are bad; nothing was changed.\n"),
        ImportState::DryRun => format!("{file}: all {rows_read} rows are good; nothing was changed (dry run).\n"),
        _ => format!("{file}: {rows_read} items are in the catalogue.\n"),
    };
    for fault in report {
        let column = fault.column.as_deref().map(|column| format!(", {column}")).unwrap_or_default();
        text.push_str(&format!("  line {}{column}: {}\n", fault.line, fault.message));
    }
    text
}
