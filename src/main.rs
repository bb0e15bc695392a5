//! The command line of rigbill.

use std::process::ExitCode;

fn main() -> ExitCode {
    rigbill::cli::main()
}
