//! A client that speaks bytes: what a well-meaning one never sends.

use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::time::{Duration, Instant};

use socket2::{Domain, Socket, Type};

use super::app::TestApp;

/// The address from which tests come unless they say so.
pub const HERE: Ipv4Addr = Ipv4Addr::LOCALHOST;
/// Another address of this computer: all of 127.0.0.0/8 is its own (RFC 1122, section 3.2.1.3).
pub const ELSEWHERE: Ipv4Addr = Ipv4Addr::new(127, 0, 0, 2);

/// A connection.
pub struct Wire {
    stream: TcpStream,
    key: String,
}

impl Wire {
    /// Connects to the service from an address.
    pub fn open(app: &TestApp, from: Ipv4Addr) -> Self {
        let to: SocketAddr = app.url.trim_start_matches("http://").parse().unwrap();
        let socket = Socket::new(Domain::IPV4, Type::STREAM, None).unwrap();
        socket.bind(&SocketAddr::from((from, 0)).into()).unwrap();
        socket.connect(&to.into()).unwrap();
        let stream: TcpStream = socket.into();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        stream.set_write_timeout(Some(Duration::from_millis(500))).unwrap();
        Wire { stream, key: app.key.clone() }
    }

    /// Sends bytes, with the owner key behind a line `Host: x`; `false` when the other end takes no more.
    pub fn send(&mut self, bytes: impl AsRef<[u8]>) -> bool {
        let host = b"Host: x\r\n";
        let bytes = bytes.as_ref();
        let Some(place) = bytes.windows(host.len()).position(|part| part == host) else {
            return self.stream.write_all(bytes).is_ok();
        };
        let (head, rest) = bytes.split_at(place + host.len());
        let key = format!("Authorization: Bearer {}\r\n", self.key);
        self.stream.write_all(&[head, key.as_bytes(), rest].concat()).is_ok()
    }

    /// Everything that comes until the other end closes the connection.
    pub fn rest(&mut self) -> String {
        let mut all = Vec::new();
        let mut part = [0; 4096];
        loop {
            match self.stream.read(&mut part) {
                Ok(0) => break,
                Ok(length) => all.extend_from_slice(&part[..length]),
                // Closed with something of ours unread.
                Err(error) if error.kind() == ErrorKind::ConnectionReset => break,
                Err(error) => panic!("{error}; so far {}", String::from_utf8_lossy(&all)),
            }
        }
        String::from_utf8_lossy(&all).into_owned()
    }

    /// Sends a byte now and then until the other end takes no more or answers; gives the answer and how long it took.
    pub fn drip(&mut self, byte: &[u8], pause: Duration) -> (String, Duration) {
        let begun = Instant::now();
        self.stream.set_read_timeout(Some(pause)).unwrap();
        let mut part = [0; 4096];
        loop {
            assert!(begun.elapsed() < Duration::from_secs(30), "it is still listening");
            let more = self.send(byte);
            match self.stream.read(&mut part) {
                Ok(length) => return (String::from_utf8_lossy(&part[..length]).into_owned(), begun.elapsed()),
                Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) && more => {}
                Err(_) => return (String::new(), begun.elapsed()),
            }
        }
    }
}

/// One request from an address, whose connection closes behind it, and the whole answer.
pub fn ask(app: &TestApp, from: Ipv4Addr, request: &str) -> String {
    let mut wire = Wire::open(app, from);
    let (line, headers) = request.split_once('\n').unwrap_or((request, ""));
    let headers: String = headers.lines().map(|line| format!("{}\r\n", line.trim())).collect();
    wire.send(format!("{line} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n{headers}\r\n"));
    wire.rest()
}
