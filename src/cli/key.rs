//! `rigbill key …`: the keys of those who use the service. The first owner key can only be made here.

use std::error::Error;

use chrono::{DateTime, NaiveDate, Utc};
use clap::{Args, Subcommand};
use uuid::Uuid;

use crate::app;
use crate::clock::{self, Clock};
use crate::config::Config;
use crate::service::access::Role;
use crate::service::keys::{Key, KeyRequest, RotationRequest, Secret};
use crate::service::{Service, Stored};

/// Keys that are read from the database at once.
const PAGE: u32 = 200;

/// What can be done with keys.
#[derive(Subcommand)]
pub enum Command {
    /// Make a key and print its secret, once.
    ///
    /// The secret alone goes to standard output, so that a script can take it; everything else to standard error. Only
    /// its hash is kept: a secret that was lost cannot be shown again, but the key can be rotated.
    Create(Create),
    /// List all keys: who uses them, for what, when they were last used and when they end.
    List,
    /// Give a key a new secret; the one before stays valid for a while, so that whoever uses it can change over.
    Rotate(Rotate),
    /// End a key at once. It stays in the list, since what was done with it is told by its name.
    Revoke {
        /// Name or identifier of the key, as `rigbill key list` shows them.
        key: String,
    },
}

/// A key that is to be made.
#[derive(Args)]
pub struct Create {
    /// What it may be used for.
    ///
    /// owner: everything, also costs, settings and keys. front_desk: quotes, take-offs, the catalogue without cost.
    /// rigger: the same, but makes and deletes no quotes. inventory: the catalogue with its costs, and imports. reader:
    /// reads quotes and the catalogue without cost.
    #[arg(long, value_parser = clap::builder::PossibleValuesParser::new(Role::ALL.map(Role::as_str)))]
    role: String,
    /// Who or what will use it, such as "Front desk, left till". No two keys ever have the same name.
    #[arg(long)]
    name: String,
    /// Last day on which it is valid, in the shop's time zone, such as 2027-01-31; for good unless stated.
    #[arg(long, value_name = "DAY")]
    expires: Option<NaiveDate>,
}

/// A key that is to be rotated.
#[derive(Args)]
pub struct Rotate {
    /// Name or identifier of the key, as `rigbill key list` shows them.
    key: String,
    /// Hours for which the secret before stays valid too, up to 168; 0 ends it at once.
    #[arg(long, value_name = "HOURS", default_value_t = 24, value_parser = clap::value_parser!(u32).range(0..=168))]
    overlap: u32,
}

/// Carries a command out, and prints what it has to say.
///
/// # Errors
/// When the database cannot be used, or the command makes no sense.
pub async fn run(config: &Config, command: Command) -> Result<(), Box<dyn Error>> {
    let service = Service::new(app::open(config, &Clock::System).await?, Clock::System);
    let done = carry_out(&service, command).await;
    service.store().clone().close().await?;
    done
}

async fn carry_out(service: &Service, command: Command) -> Result<(), Box<dyn Error>> {
    match command {
        Command::Create(Create { role, name, expires }) => {
            let expires_at = match expires {
                Some(day) => Some(end_of(service, day).await?),
                None => None,
            };
            let request = KeyRequest { name, role: role.parse()?, expires_at };
            let (key, secret) = service.create_key(request).await.map_err(told)?;
            let Key { name, role, .. } = key.value;
            eprintln!(
                "Made the key '{name}' ({role}). Its secret is shown this once; keep it where passwords are kept:"
            );
            show(&secret);
        }
        Command::List => print!("{}", table(&all(service).await?, service.clock().now())),
        Command::Rotate(Rotate { key, overlap }) => {
            let found = find(service, &key).await?;
            let request = RotationRequest { overlap_min: overlap * 60 };
            let (key, secret) = service.rotate_key(found.value.id, request, found.version).await.map_err(told)?;
            match key.value.earlier_secret_until {
                Some(until) => eprintln!("The secret before stays valid until {}. The new one:", shown(until)),
                None => eprintln!("The secret before is no longer valid. The new one:"),
            }
            show(&secret);
        }
        Command::Revoke { key } => {
            let found = find(service, &key).await?;
            let revoked = service.revoke_key(found.value.id, found.version, true).await.map_err(told)?;
            println!("The key '{}' is revoked; a running service refuses it within a second.", revoked.value.name);
            if !service.has_key().await? {
                println!("No valid key is left: make one with `rigbill key create --role owner --name …`.");
            }
        }
    }
    Ok(())
}

fn show(secret: &Secret) {
    println!("{}", secret.expose());
    eprintln!("Programs send it as the header 'Authorization: Bearer …'; at /docs, press Authorize and paste it.");
}

/// An error with every fault that it carries: its own text only counts them.
fn told(error: crate::service::Error) -> Box<dyn Error> {
    match error {
        crate::service::Error::Faults(faults) => {
            let faults: Vec<String> = faults
                .into_iter()
                .map(|fault| format!("{}: {}", fault.pointer.trim_start_matches('/'), fault.message))
                .collect();
            faults.join("; ").into()
        }
        other => other.into(),
    }
}

/// The end of a day in the shop's time zone.
async fn end_of(service: &Service, day: NaiveDate) -> Result<DateTime<Utc>, Box<dyn Error>> {
    let zone = service.settings().await?.value.time_zone;
    clock::end_of_day(&zone, day).ok_or_else(|| format!("{day} has no end in the time zone '{zone}'").into())
}

async fn find(service: &Service, key: &str) -> Result<Stored<Key>, Box<dyn Error>> {
    Ok(match Uuid::try_parse(key) {
        Ok(id) => service.key(id).await?,
        Err(_) => service.key_by_name(key).await?,
    })
}

async fn all(service: &Service) -> Result<Vec<Key>, Box<dyn Error>> {
    let mut keys = Vec::new();
    let mut after = None;
    loop {
        let page = service.list_keys(after.as_deref(), PAGE).await?;
        keys.extend(page.rows.into_iter().map(|row| row.value));
        after = page.next_after;
        if after.is_none() {
            return Ok(keys);
        }
    }
}

fn shown(at: DateTime<Utc>) -> String {
    at.format("%Y-%m-%d %H:%M UTC").to_string()
}

/// Keys as a table, newest first.
fn table(keys: &[Key], now: DateTime<Utc>) -> String {
    if keys.is_empty() {
        return "There is no key yet: make one with `rigbill key create --role owner --name …`.\n".to_owned();
    }
    let head = ["NAME", "ROLE", "STATE", "LAST USED", "IDENTIFIER"].map(str::to_owned);
    let rows = keys.iter().map(|key| {
        let state = match (key.revoked_at, key.expires_at) {
            (Some(at), _) => format!("revoked {}", shown(at)),
            (None, Some(end)) if !key.is_valid(now) => format!("ended {}", shown(end)),
            (None, Some(end)) => format!("valid until {}", shown(end)),
            (None, None) => "valid".to_owned(),
        };
        let used = key.last_used_at.map_or("never".to_owned(), shown);
        [key.name.clone(), key.role.to_string(), state, used, key.id.to_string()]
    });
    let rows: Vec<[String; 5]> = std::iter::once(head).chain(rows).collect();
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or_default();
    let widths: Vec<usize> = (0..4).map(width).collect();
    let mut text = String::new();
    for [name, role, state, used, id] in &rows {
        let [a, b, c, d] = widths[..] else { continue };
        text.push_str(&format!("{name:a$}  {role:b$}  {state:c$}  {used:d$}  {id}\n"));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_says_of_each_key_how_it_stands() {
        let at = |text: &str| text.parse::<DateTime<Utc>>().unwrap();
        let key = |name: &str, expires_at, revoked_at| Key {
            id: Uuid::from_u128(1),
            name: name.to_owned(),
            role: Role::FrontDesk,
            created_at: at("2026-11-01T08:00:00Z"),
            created_by: "command line".to_owned(),
            updated_at: at("2026-11-01T08:00:00Z"),
            changed_by: "command line".to_owned(),
            expires_at,
            earlier_secret_until: None,
            last_used_at: None,
            revoked_at,
        };
        let keys = [
            key("Till", None, None),
            key("Season", Some(at("2026-12-01T05:00:00Z")), None),
            key("Old", Some(at("2026-11-20T05:00:00Z")), None),
            key("Lost phone", None, Some(at("2026-11-02T09:30:00Z"))),
        ];
        let table = table(&keys, at("2026-11-25T12:00:00Z"));
        let lines: Vec<&str> = table.lines().collect();
        assert_eq!(lines.len(), 5);
        assert!(lines[1].starts_with("Till        front_desk  valid   "), "{table}");
        assert!(lines[2].contains("valid until 2026-12-01 05:00 UTC"), "{table}");
        assert!(lines[3].contains("ended 2026-11-20 05:00 UTC"), "{table}");
        assert!(lines[4].contains("revoked 2026-11-02 09:30 UTC") && lines[4].contains("never"), "{table}");
    }
}
