//! The program itself: it says where it listens, ends when told, and says what is wrong with its settings.

use std::io::{BufRead, BufReader, Read};
use std::process::{Child, Command, Stdio};
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};

fn rigbill() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_rigbill-under-test"));
    for (name, _) in std::env::vars().filter(|(name, _)| name.starts_with("RIGBILL_") || name == "RUST_LOG") {
        command.env_remove(name);
    }
    command.env_remove("DATABASE_URL").stdout(Stdio::piped()).stderr(Stdio::piped());
    command
}

/// A program that is killed when its test fails.
struct Running(Child);

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.0.kill();
    }
}

#[tokio::test]
async fn it_serves_until_sigterm_and_ends_well() {
    let folder = tempfile::tempdir().unwrap();
    let database = format!("sqlite://{}?mode=rwc", folder.path().join("new/shop.db").display());
    let child = rigbill().args(["serve", "--port", "0"]).env("DATABASE_URL", &database).spawn().unwrap();
    let Running(child) = &mut Running(child);
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let first = lines.next().unwrap().unwrap();
    let url = first.strip_prefix("listening on ").unwrap_or_else(|| panic!("{first}")).to_owned();
    assert!(url.starts_with("http://127.0.0.1:"), "only this computer unless told otherwise: {url}");
    let _ = rustls::crypto::ring::default_provider().install_default();
    let client = reqwest::Client::builder().no_proxy().build().unwrap();
    let answer = client.get(format!("{url}/readyz?x=secret")).send().await.unwrap();
    let id = answer.headers()["x-request-id"].to_str().unwrap().to_owned();
    assert_eq!(client.get(format!("{url}/readyz")).send().await.unwrap().status(), 200);

    let told = Instant::now();
    assert!(Command::new("kill").arg("-TERM").arg(child.id().to_string()).status().unwrap().success());
    let status = child.wait().unwrap();
    assert!(status.success(), "{status}");
    assert!(told.elapsed() < Duration::from_secs(15));
    let mut log = String::new();
    child.stderr.take().unwrap().read_to_string(&mut log).unwrap();
    // Not a terminal: one JSON object a line.
    let lines: Vec<serde_json::Value> = log.lines().map(|line| serde_json::from_str(line).unwrap()).collect();
    assert!(lines.iter().any(|line| line["message"].as_str().is_some_and(|text| text.contains("settings:"))), "{log}");
    let request =
        lines.iter().find(|line| line["span"]["request_id"] == id.as_str()).unwrap_or_else(|| panic!("{log}"));
    assert_eq!((&request["span"]["route"], &request["span"]["status"]), (&"/readyz".into(), &400.into()), "{request}");
    assert!(!log.contains("secret"), "no query in the log: {log}");
}

/// Starts the service on a database; where it listens.
fn serving(database: &str) -> (Running, String) {
    let mut child =
        rigbill().args(["serve", "--port", "0"]).env("DATABASE_URL", database).env("RUST_LOG", "off").spawn().unwrap();
    let first = BufReader::new(child.stdout.take().unwrap()).lines().next().unwrap().unwrap();
    let url = first.strip_prefix("listening on ").unwrap_or_else(|| panic!("{first}")).to_owned();
    (Running(child), url)
}

async fn keyed_quote(client: &reqwest::Client, url: &str, secret: &str, key: &str) -> reqwest::Result<(bool, String)> {
    let body = serde_json::to_string(&crate::store::shop::request("Petrel", serde_json::json!([]))).unwrap();
    let request = client
        .post(format!("{url}/v1/quotes"))
        .bearer_auth(secret)
        .header("content-type", "application/json")
        .body(body);
    let answer = request.header("idempotency-key", key).send().await?;
    let replayed = answer.headers().contains_key("idempotent-replay");
    assert_eq!(answer.status(), 201);
    Ok((replayed, answer.text().await?))
}

#[tokio::test]
async fn killed_in_the_middle_it_has_what_it_answered_and_a_repeat_completes_the_rest_once() {
    let folder = tempfile::tempdir().unwrap();
    let database = format!("sqlite://{}?mode=rwc", folder.path().join("shop.db").display());
    let _ = rustls::crypto::ring::default_provider().install_default();
    let client = reqwest::Client::builder().no_proxy().build().unwrap();
    let secret = super::program::owner_key(&database);
    let (mut running, url) = serving(&database);
    // Eight clients send one quote after the other until the service is gone.
    let answered = AtomicUsize::new(0);
    let sending = (0..8).map(|n| {
        let (client, url, secret, answered) = (&client, &url, &secret, &answered);
        async move {
            let mut sent = Vec::new();
            loop {
                let key = format!("{n}-{}", sent.len());
                let answer = keyed_quote(client, url, secret, &key).await;
                let lost = answer.as_ref().err().map(|error| format!("{error:?}"));
                sent.push((key, answer.ok().map(|(_, text)| text)));
                match lost {
                    None => answered.fetch_add(1, Ordering::Relaxed),
                    Some(error) if answered.load(Ordering::Relaxed) == 0 => panic!("not even one is answered: {error}"),
                    Some(_) => return sent,
                };
            }
        }
    });
    let kill = async {
        while answered.load(Ordering::Relaxed) < 30 {
            tokio::time::sleep(Duration::from_millis(1)).await;
        }
        running.0.kill().unwrap();
    };
    let (sent, ()) = tokio::join!(futures_util::future::join_all(sending), kill);
    running.0.wait().unwrap();
    let sent: Vec<_> = sent.into_iter().flatten().collect();
    assert!(sent.iter().any(|(_, answer)| answer.is_none()), "the service was killed while it worked");

    let (_running, url) = serving(&database);
    for (key, before) in &sent {
        let (replayed, text) = keyed_quote(&client, &url, &secret, key).await.unwrap();
        if let Some(before) = before {
            assert!(replayed && text == *before, "{key}: {text}");
        }
    }
    let mut quotes = 0;
    let mut next = Some("/v1/quotes?limit=200".to_owned());
    while let Some(address) = next {
        let page: serde_json::Value =
            client.get(format!("{url}{address}")).bearer_auth(&secret).send().await.unwrap().json().await.unwrap();
        quotes += page["rows"].as_array().unwrap().len();
        next = page["next"].as_str().map(|cursor| format!("/v1/quotes?limit=200&cursor={cursor}"));
    }
    assert_eq!(quotes, sent.len(), "each key made one quote");
}

#[test]
fn wrong_settings_are_told_all_at_once_without_the_password() {
    let output = rigbill()
        .env("DATABASE_URL", "mysql://shop:hunter2@db/rigbill")
        .env("RIGBILL_PORT", "eighty")
        .args(["serve"])
        .output()
        .unwrap();
    let told = String::from_utf8(output.stderr).unwrap();
    assert!(!output.status.success());
    assert!(told.contains("RIGBILL_PORT") && told.contains("DATABASE_URL"), "{told}");
    assert!(!told.contains("hunter2"), "{told}");
}

#[test]
fn every_command_explains_itself() {
    for command in [
        &["serve"][..],
        &["migrate"],
        &["openapi"],
        &["import"],
        &["import", "items"],
        &["demo"],
        &["settings"],
        &["key"],
        &["key", "create"],
        &["key", "list"],
        &["key", "rotate"],
        &["key", "revoke"],
    ] {
        let output = rigbill().args(command).arg("--help").output().unwrap();
        let help = String::from_utf8(output.stdout).unwrap();
        assert!(output.status.success() && help.contains("Usage:"), "{command:?}: {help}");
    }
}

#[test]
fn migrate_brings_an_empty_database_up_to_date_and_openapi_needs_none() {
    let folder = tempfile::tempdir().unwrap();
    let database = format!("sqlite://{}?mode=rwc", folder.path().join("shop.db").display());
    for _ in 0..2 {
        let output = rigbill().args(["migrate", "--database-url", &database]).output().unwrap();
        assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    }
    let output = rigbill().arg("openapi").output().unwrap();
    let description: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(description["openapi"], "3.1.0");
}

/// What a command printed to standard output and to standard error, when it ended well.
fn said(database: &str, arguments: &[&str]) -> (String, String) {
    let output = rigbill().args(arguments).env("DATABASE_URL", database).output().unwrap();
    let [out, err] = [output.stdout, output.stderr].map(|bytes| String::from_utf8(bytes).unwrap());
    assert!(output.status.success(), "{arguments:?}: {err}");
    (out, err)
}

/// Starts the service, asks it with each secret for the list of keys, and gives the statuses and the log.
async fn asked(database: &str, secrets: &[&str]) -> (Vec<u16>, String) {
    let child = rigbill().args(["serve", "--port", "0"]).env("DATABASE_URL", database).spawn().unwrap();
    let Running(child) = &mut Running(child);
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let url = lines.next().unwrap().unwrap().strip_prefix("listening on ").unwrap().to_owned();
    let _ = rustls::crypto::ring::default_provider().install_default();
    let client = reqwest::Client::builder().no_proxy().build().unwrap();
    let mut statuses = Vec::new();
    for secret in secrets {
        let answer = client.get(format!("{url}/v1/keys")).bearer_auth(secret).send().await.unwrap();
        statuses.push(answer.status().as_u16());
    }
    assert!(Command::new("kill").arg("-TERM").arg(child.id().to_string()).status().unwrap().success());
    assert!(child.wait().unwrap().success());
    let mut log = String::new();
    child.stderr.take().unwrap().read_to_string(&mut log).unwrap();
    for secret in secrets {
        assert!(!log.contains(&secret[secret.len() - 43..]), "no secret in the log: {log}");
    }
    (statuses, log)
}

#[tokio::test]
async fn the_first_key_is_made_rotated_and_revoked_by_command() {
    let folder = tempfile::tempdir().unwrap();
    let database = format!("sqlite://{}?mode=rwc", folder.path().join("shop.db").display());
    assert!(said(&database, &["key", "list"]).0.contains("rigbill key create --role owner"));
    let (none, log) = asked(&database, &["rigbill_no-key-of-ours-and-as-long-as-one-should-be-so"]).await;
    assert_eq!(none, [401]);
    assert!(log.contains("rigbill key create --role owner"), "serve says how to make a key: {log}");

    let create = ["key", "create", "--role", "owner", "--name", "Office", "--expires", "2099-01-31"];
    let (first, told) = said(&database, &create);
    let first = first.strip_suffix('\n').unwrap().to_owned();
    assert!(first.starts_with("rigbill_") && !first.contains(char::is_whitespace), "the secret alone: {first}");
    assert!(told.contains("'Office' (owner)") && !told.contains(&first), "{told}");
    let (second, _) = said(&database, &["key", "rotate", "Office", "--overlap", "1"]);
    let second = second.trim_end().to_owned();
    let (both, log) = asked(&database, &[&first, &second]).await;
    assert_eq!(both, [200, 200], "{log}");
    assert!(!log.contains("rigbill key create"), "{log}");

    let list = said(&database, &["key", "list"]).0;
    let row = list.lines().nth(1).unwrap();
    // The starting settings of a shop are in universal time.
    assert!(row.contains("Office") && row.contains("valid until 2099-02-01 00:00 UTC"), "{list}");
    let id = row.split_whitespace().last().unwrap().to_owned();
    assert!(said(&database, &["key", "revoke", &id]).0.contains("No valid key is left"));
    assert_eq!(asked(&database, &[&first, &second]).await.0, [401, 401]);
    let twice = rigbill().args(create).env("DATABASE_URL", &database).output().unwrap();
    assert!(!twice.status.success());
    assert!(String::from_utf8(twice.stderr).unwrap().contains("there is a key 'Office' already"));
}
