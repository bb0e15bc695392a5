//! The program as a process of its own, with everything that it prints.

use std::fs::File;
use std::io::{BufRead, BufReader};
use std::path::PathBuf;
use std::process::{Child, Command, ExitStatus, Stdio};

use reqwest::{Client, RequestBuilder};
use rigbill::clock::Clock;
use tempfile::TempDir;

/// A running `rigbill serve`; killed when dropped.
pub struct Program {
    pub url: String,
    pub client: Client,
    /// Secret of an owner key, which goes with every request.
    pub key: String,
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
        let key = owner_key(database);
        let mut command = Command::new("bash");
        command.args(["-c", &format!("{commands}\nexec \"$@\""), "bash", env!("CARGO_BIN_EXE_rigbill-under-test")]);
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
        Program { url, client, key, child, log, _folder: folder }
    }

    /// Number of the process.
    pub fn id(&self) -> u32 {
        self.child.id()
    }

    /// A request to it, with the key.
    pub fn request(&self, method: &str, path: &str) -> RequestBuilder {
        self.client.request(method.parse().unwrap(), format!("{}{path}", self.url)).bearer_auth(&self.key)
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

/// The secret of a new owner key of a database, made by command as a shop makes its first.
pub fn owner_key(database: &str) -> String {
    let name = format!("Test {}", Clock::System.new_id());
    let mut command = Command::new(env!("CARGO_BIN_EXE_rigbill-under-test"));
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("RIGBILL_") || name == "RUST_LOG") {
        command.env_remove(name);
    }
    command.args(["key", "create", "--role", "owner", "--name", &name]).env("DATABASE_URL", database);
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap().trim().to_owned()
}

impl Drop for Program {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
