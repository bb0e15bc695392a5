//! The program as a process of its own, with everything that it prints.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};

use reqwest::{Client, RequestBuilder};
use tempfile::TempDir;

/// A running `rigbill serve`; killed when dropped.
pub struct Program {
    pub url: String,
    pub client: Client,
    child: Child,
    log: PathBuf,
    _folder: TempDir,
}

impl Program {
    /// Starts it on a database, with more variables in its environment.
    pub fn serve(database: &str, variables: &[(&str, &str)]) -> Self {
        Self::serve_behind("", database, variables)
    }

    /// The same, by a shell that carries out a few commands first.
    pub fn serve_behind(commands: &str, database: &str, variables: &[(&str, &str)]) -> Self {
        let _ = rustls::crypto::ring::default_provider().install_default();
        let folder = tempfile::tempdir().unwrap();
        let log = folder.path().join("log");
        let mut command = Command::new("bash");
        command.args(["-c", &format!("{commands}\nexec \"$@\""), "bash", env!("CARGO_BIN_EXE_rigbill")]);
        for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("RIGBILL_") || name == "RUST_LOG") {
            command.env_remove(name);
        }
        command.args(["serve", "--port", "0"]).env("DATABASE_URL", database);
        command.envs(variables.iter().copied()).stdout(Stdio::piped()).stderr(File::create(&log).unwrap());
        let mut child = command.spawn().unwrap();
        let mut first = String::new();
        BufReader::new(child.stdout.take().unwrap()).read_line(&mut first).unwrap();
        let url = first.trim().strip_prefix("listening on ").map(str::to_owned);
        let url = url.unwrap_or_else(|| panic!("{first}{}", std::fs::read_to_string(&log).unwrap()));
        let client = Client::builder().no_proxy().build().unwrap();
        Program { url, client, child, log, _folder: folder }
    }

    /// Number of the process.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// A request to it.
    pub fn request(&self, method: &str, path: &str) -> RequestBuilder {
        self.client.request(method.parse().unwrap(), format!("{}{path}", self.url))
    }

    /// What it has logged so far.
    pub fn log(&self) -> String {
        std::fs::read_to_string(&self.log).unwrap()
    }

    /// Tells it to stop, and waits until it has.
    pub fn stop(&mut self) -> ExitStatus {
        assert!(Command::new("kill").arg("-TERM").arg(self.id().to_string()).status().unwrap().success());
        self.child.wait().unwrap()
    }
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
