//! Which addresses may be called. A name is looked up here, and what is connected to is what was looked at: a name that
//! leads somewhere else a moment later gains nothing.

use std::fmt;
use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::sync::Arc;

use reqwest::dns::{Addrs, Name, Resolve, Resolving};

/// IPv4 networks that are no place on the internet.
///
/// Source: IANA IPv4 Special-Purpose Address Registry (rows that are not globally reachable, and the deprecated 6to4 relay
/// network), and multicast (RFC 5771).
const SPECIAL_V4: [([u8; 4], u8, &str); 17] = [
    ([0, 0, 0, 0], 8, "this network"),
    ([10, 0, 0, 0], 8, "private use"),
    ([100, 64, 0, 0], 10, "shared address space"),
    ([127, 0, 0, 0], 8, "loopback"),
    ([169, 254, 0, 0], 16, "link-local"),
    ([172, 16, 0, 0], 12, "private use"),
    ([192, 0, 0, 0], 24, "protocol assignments"),
    ([192, 0, 2, 0], 24, "documentation"),
    ([192, 88, 99, 0], 24, "6to4 relay"),
    ([192, 168, 0, 0], 16, "private use"),
    ([198, 18, 0, 0], 15, "benchmarking"),
    ([198, 51, 100, 0], 24, "documentation"),
    ([203, 0, 113, 0], 24, "documentation"),
    ([224, 0, 0, 0], 4, "multicast"),
    ([233, 252, 0, 0], 24, "documentation"),
    ([240, 0, 0, 0], 4, "reserved"),
    ([255, 255, 255, 255], 32, "broadcast"),
];

/// IPv6 networks within 2000::/3 that are no place on the internet, or lead to an IPv4 address that is written into them.
/// Outside of 2000::/3 nothing is (RFC 4291, section 2.4, and the IANA IPv6 Global Unicast Address Assignments).
///
/// Source: IANA IPv6 Special-Purpose Address Registry.
const SPECIAL_V6: [([u16; 8], u8, &str); 4] = [
    ([0x2001, 0, 0, 0, 0, 0, 0, 0], 23, "protocol assignments"),
    ([0x2001, 0xdb8, 0, 0, 0, 0, 0, 0], 32, "documentation"),
    ([0x2002, 0, 0, 0, 0, 0, 0, 0], 16, "6to4"),
    ([0x3fff, 0, 0, 0, 0, 0, 0, 0], 20, "documentation"),
];

/// The rest of IPv6, named for whoever wonders.
const OUTSIDE_V6: [([u16; 8], u8, &str); 10] = [
    ([0, 0, 0, 0, 0, 0, 0, 0], 128, "unspecified"),
    ([0, 0, 0, 0, 0, 0, 0, 1], 128, "loopback"),
    ([0x64, 0xff9b, 0, 0, 0, 0, 0, 0], 96, "translated IPv4"),
    ([0x64, 0xff9b, 1, 0, 0, 0, 0, 0], 48, "translated IPv4"),
    ([0x100, 0, 0, 0, 0, 0, 0, 0], 64, "discard-only"),
    ([0x5f00, 0, 0, 0, 0, 0, 0, 0], 16, "segment routing"),
    ([0xfc00, 0, 0, 0, 0, 0, 0, 0], 7, "unique-local"),
    ([0xfe80, 0, 0, 0, 0, 0, 0, 0], 10, "link-local"),
    ([0xfec0, 0, 0, 0, 0, 0, 0, 0], 10, "site-local"),
    ([0xff00, 0, 0, 0, 0, 0, 0, 0], 8, "multicast"),
];

fn holds_v4((network, bits, _): &([u8; 4], u8, &str), address: Ipv4Addr) -> bool {
    let differing = Ipv4Addr::from(*network).to_bits() ^ address.to_bits();
    differing.checked_shr(32 - u32::from(*bits)).unwrap_or(0) == 0
}

fn holds_v6((network, bits, _): &([u16; 8], u8, &str), address: Ipv6Addr) -> bool {
    let differing = Ipv6Addr::from(*network).to_bits() ^ address.to_bits();
    differing.checked_shr(128 - u32::from(*bits)).unwrap_or(0) == 0
}

/// Why an address is no place on the internet; `None` for one that is. An IPv4 address that is written as an IPv6 one is
/// that IPv4 address.
pub fn special(address: IpAddr) -> Option<&'static str> {
    match address.to_canonical() {
        IpAddr::V4(v4) => SPECIAL_V4.iter().find(|network| holds_v4(network, v4)).map(|(.., what)| *what),
        IpAddr::V6(v6) if v6.segments()[0] & 0xe000 == 0x2000 => {
            SPECIAL_V6.iter().find(|network| holds_v6(network, v6)).map(|(.., what)| *what)
        }
        IpAddr::V6(v6) => {
            let named = OUTSIDE_V6.iter().find(|network| holds_v6(network, v6)).map(|(.., what)| *what);
            Some(named.unwrap_or("reserved"))
        }
    }
}

/// An address that must not be called.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{address} is no address on the internet ({what}), and none that the settings list")]
pub struct Refused {
    /// The address.
    pub address: IpAddr,
    /// What it is.
    pub what: &'static str,
}

/// Which addresses the owner lists: these may be called whatever they are, and without TLS.
#[derive(Clone)]
pub struct Listed(Arc<dyn Fn(IpAddr) -> bool + Send + Sync>);

impl Default for Listed {
    fn default() -> Self {
        Listed::by(|_| false)
    }
}

impl fmt::Debug for Listed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Listed(…)")
    }
}

impl Listed {
    /// Those for which this holds.
    pub fn by(holds: impl Fn(IpAddr) -> bool + Send + Sync + 'static) -> Self {
        Listed(Arc::new(holds))
    }

    /// Whether an address is listed.
    pub fn has(&self, address: IpAddr) -> bool {
        (self.0)(address.to_canonical())
    }

    /// Refuses an address that must not be called: with TLS one that is neither listed nor a place on the internet; in
    /// the clear one that is not listed.
    ///
    /// # Errors
    /// With what it is.
    pub fn allow(&self, address: IpAddr, encrypted: bool) -> Result<(), Refused> {
        if self.has(address) {
            return Ok(());
        }
        match special(address) {
            Some(what) => Err(Refused { address, what }),
            None if encrypted => Ok(()),
            None => Err(Refused { address, what: "without TLS" }),
        }
    }
}

/// Looks names up, and leaves out of what it finds the addresses that must not be called.
#[derive(Debug)]
pub(super) struct Checked {
    pub(super) listed: Listed,
    pub(super) encrypted: bool,
}

impl Resolve for Checked {
    fn resolve(&self, name: Name) -> Resolving {
        let (listed, encrypted) = (self.listed.clone(), self.encrypted);
        Box::pin(async move {
            // The port is that of the address that is called, whatever stands here.
            let found: Vec<SocketAddr> = tokio::net::lookup_host((name.as_str(), 0)).await?.collect();
            let mut refused = None;
            let mut allowed = Vec::new();
            for one in found {
                match listed.allow(one.ip(), encrypted) {
                    Ok(()) => allowed.push(one),
                    Err(why) => refused = Some(why),
                }
            }
            match (allowed.is_empty(), refused) {
                (true, Some(refused)) => Err(refused.into()),
                (true, None) => Err(io::Error::from(io::ErrorKind::NotFound).into()),
                (false, _) => Ok(Box::new(allowed.into_iter()) as Addrs),
            }
        })
    }
}
