//! A receiver of webhooks that does what a test says, and keeps what it was sent.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use std::time::Duration;

use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::watch;

/// How it answers.
#[derive(Clone, Debug)]
pub enum Does {
    /// This status, with these lines in its head.
    Says(u16, String),
    /// Nothing, for ever.
    Sleeps,
    /// Closes before it answers.
    Closes,
    /// A head that promises more than comes.
    BreaksOff,
    /// A body without end, behind this status.
    Floods(u16),
    /// Elsewhere.
    SendsOn(String),
}

impl Does {
    /// A status and nothing else.
    pub fn status(status: u16) -> Self {
        Does::Says(status, String::new())
    }
}

/// What it was sent.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Received {
    pub headers: BTreeMap<String, String>,
    pub body: String,
}

impl Received {
    /// A header; empty when it is not there.
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", String::as_str)
    }

    /// What tells a repeat.
    pub fn id(&self) -> &str {
        self.header("webhook-id")
    }

    /// The event as JSON.
    pub fn event(&self) -> serde_json::Value {
        serde_json::from_str(&self.body).unwrap()
    }
}

/// A receiver on a port of its own.
#[derive(Clone)]
pub struct Receiver {
    pub url: String,
    does: Arc<Mutex<Does>>,
    received: Arc<Mutex<Vec<Received>>>,
    count: watch::Sender<usize>,
}

impl Receiver {
    /// One that does this until it is told otherwise.
    pub async fn that(does: Does) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let url = format!("http://{}/events", listener.local_addr().unwrap());
        let receiver =
            Receiver { url, does: Arc::new(Mutex::new(does)), received: Arc::default(), count: watch::Sender::new(0) };
        let own = receiver.clone();
        tokio::spawn(async move {
            loop {
                let (stream, _) = listener.accept().await.unwrap();
                let own = own.clone();
                tokio::spawn(async move { own.serve(stream).await });
            }
        });
        receiver
    }

    /// Has it do something else from now on.
    pub fn set(&self, does: Does) {
        *self.does.lock().unwrap() = does;
    }

    /// All that it was sent, in order.
    pub fn received(&self) -> Vec<Received> {
        self.received.lock().unwrap().clone()
    }

    /// Waits until it was sent so much.
    pub async fn until(&self, count: usize) {
        let mut counted = self.count.subscribe();
        let enough = counted.wait_for(|met| *met >= count);
        let arrived = tokio::time::timeout(Duration::from_secs(60), enough).await.is_ok();
        assert!(arrived, "{} of {count} arrived", self.received().len());
    }

    /// One request after the other on one connection.
    async fn serve(&self, mut stream: TcpStream) {
        let mut met = Vec::new();
        let mut buffer = [0; 65_536];
        loop {
            let whole = whole(&met);
            let Some((received, length)) = whole else {
                match stream.read(&mut buffer).await {
                    Ok(read) if read > 0 => met.extend_from_slice(&buffer[..read]),
                    _ => return,
                }
                continue;
            };
            met.drain(..length);
            let does = self.does.lock().unwrap().clone();
            {
                let mut all = self.received.lock().unwrap();
                all.push(received);
                self.count.send_replace(all.len());
            }
            if !answer(&mut stream, does).await {
                let _ = stream.shutdown().await;
                return;
            }
        }
    }
}

/// The first request, if all of it has arrived, and how long it is.
fn whole(met: &[u8]) -> Option<(Received, usize)> {
    let end = met.windows(4).position(|four| four == b"\r\n\r\n")? + 4;
    let head = String::from_utf8_lossy(&met[..end]);
    let headers: BTreeMap<String, String> = head
        .lines()
        .filter_map(|line| line.split_once(": "))
        .map(|(name, value)| (name.to_lowercase(), value.to_owned()))
        .collect();
    let length = headers.get("content-length").map_or(0, |text| text.parse().unwrap());
    let body = met.get(end..end + length)?;
    Some((Received { body: String::from_utf8(body.to_vec()).unwrap(), headers }, end + length))
}

/// Answers; whether the connection goes on.
async fn answer(stream: &mut TcpStream, does: Does) -> bool {
    let head = |status: u16, more: &str, length: usize| {
        format!("HTTP/1.1 {status} X\r\n{more}Content-Length: {length}\r\n\r\n")
    };
    match does {
        Does::Says(status, more) => stream.write_all(head(status, &more, 0).as_bytes()).await.is_ok(),
        Does::Sleeps => std::future::pending().await,
        Does::Closes => false,
        Does::BreaksOff => {
            let _ = stream.write_all(&head(200, "", 500).as_bytes()[..20]).await;
            false
        }
        Does::Floods(status) => {
            let _ = stream.write_all(head(status, "", 1 << 40).as_bytes()).await;
            let chunk = vec![b' '; 1 << 16];
            while stream.write_all(&chunk).await.is_ok() {}
            false
        }
        Does::SendsOn(to) => stream.write_all(head(307, &format!("Location: {to}\r\n"), 0).as_bytes()).await.is_ok(),
    }
}
