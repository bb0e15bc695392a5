//! Connections: how many one address may have, and how long one may leave an answer untaken.

use std::any::Any;
use std::collections::HashMap;
use std::net::{IpAddr, Shutdown};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use actix_web::dev::Extensions;
use actix_web::rt::net::TcpStream;
use socket2::SockRef;

use super::address;
use crate::config::{Config, Proxies};

/// The answer on a connection that is one too many. It is written once, before the connection is closed.
const ANSWER: &str = concat!(
    "HTTP/1.1 429 Too Many Requests\r\nconnection: close\r\nretry-after: 5\r\n",
    "content-type: application/problem+json\r\ncontent-length: 144\r\n\r\n",
    "{\"type\":\"/problems/too-many\",\"title\":\"That is too much at once\",\"status\":429,",
    "\"detail\":\"This address has too many connections open; close some.\"}"
);

/// A mark on a connection that is one too many: what arrives on it is not looked at.
#[derive(Clone, Copy, Debug)]
pub struct Refused;

/// Counts the connections of each address.
#[derive(Debug)]
pub struct Connections {
    open: Mutex<HashMap<IpAddr, usize>>,
    most: usize,
    answer_timeout: Duration,
    proxies: Proxies,
}

/// One connection; counted until it is dropped with the connection.
struct Counted {
    of: Arc<Connections>,
    address: IpAddr,
}

impl Drop for Counted {
    fn drop(&mut self) {
        let mut open = self.of.open();
        if let Some(count) = open.get_mut(&self.address) {
            *count -= 1;
            if *count == 0 {
                open.remove(&self.address);
            }
        }
    }
}

impl Connections {
    /// As the settings have it.
    pub fn new(config: &Config) -> Arc<Self> {
        Arc::new(Connections {
            open: Mutex::default(),
            most: config.max_connections_per_address,
            answer_timeout: config.answer_timeout,
            proxies: config.proxies.clone(),
        })
    }

    fn open(&self) -> MutexGuard<'_, HashMap<IpAddr, usize>> {
        self.open.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Takes a new connection in, or refuses it.
    pub fn connected(self: &Arc<Self>, stream: &dyn Any, marks: &mut Extensions) {
        let Some(stream) = stream.downcast_ref::<TcpStream>() else { return };
        // A connection that has gone already has no address any more.
        let Ok(peer) = stream.peer_addr() else { return };
        self.give_up_on_silence(stream);
        if self.proxies.trusts(peer.ip()) {
            return;
        }
        let address = address::bucket(peer.ip());
        {
            let mut open = self.open();
            let count = open.entry(address).or_insert(0);
            *count += 1;
            marks.insert(Counted { of: self.clone(), address });
            if *count <= self.most {
                return;
            }
        }
        marks.insert(Refused);
        // A new connection has room for so little; one that has gone already needs no answer.
        let socket = SockRef::from(stream);
        let _ = socket.send(ANSWER.as_bytes());
        let _ = socket.shutdown(Shutdown::Both);
    }

    /// Has the system close a connection whose other end takes nothing of what is sent, or has gone without a word.
    fn give_up_on_silence(&self, stream: &TcpStream) {
        #[cfg(target_os = "linux")]
        if let Err(error) = SockRef::from(stream).set_tcp_user_timeout(Some(self.answer_timeout)) {
            tracing::debug!(%error, "a connection has no limit on how long an answer may be left untaken");
        }
        #[cfg(not(target_os = "linux"))]
        let _ = (stream, self.answer_timeout);
    }
}

#[cfg(test)]
mod tests {
    use super::super::problem::Kind;
    use super::*;

    #[test]
    fn the_answer_is_a_whole_problem() {
        let (head, body) = ANSWER.split_once("\r\n\r\n").unwrap();
        assert!(head.contains(&format!("content-length: {}", body.len())), "{}", body.len());
        let problem: serde_json::Value = serde_json::from_str(body).unwrap();
        let row = Kind::TooMany.row();
        assert_eq!(problem["type"], format!("/problems/{}", row.slug));
        assert_eq!((&problem["title"], &problem["status"]), (&row.title.into(), &429.into()));
    }
}
