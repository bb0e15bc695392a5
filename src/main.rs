//! The command line of rigbill.

use std::process::ExitCode;

#[tokio::main]
async fn main() -> ExitCode {
    // The HTTP client and the database driver take whichever provider the process has chosen.
    if rustls::crypto::ring::default_provider().install_default().is_err() {
        eprintln!("rigbill: another TLS provider is installed already");
        return ExitCode::FAILURE;
    }
    rigbill::cli::run(std::env::args_os()).await
}
