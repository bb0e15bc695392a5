//! Proxies that are trusted to say for whom they ask.

use std::fmt;
use std::net::IpAddr;
use std::str::FromStr;

/// An address, or all addresses that begin with the same bits.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Network {
    address: IpAddr,
    bits: u8,
}

impl Network {
    /// Whether an address belongs to it.
    pub fn holds(&self, address: IpAddr) -> bool {
        match (self.address, address.to_canonical()) {
            (IpAddr::V4(own), IpAddr::V4(other)) => same(own.to_bits().into(), other.to_bits().into(), 32, self.bits),
            (IpAddr::V6(own), IpAddr::V6(other)) => same(own.to_bits(), other.to_bits(), 128, self.bits),
            _ => false,
        }
    }
}

/// Whether two addresses of `width` bits begin with the same `bits`.
fn same(one: u128, other: u128, width: u8, bits: u8) -> bool {
    (one ^ other).checked_shr(u32::from(width - bits)).unwrap_or(0) == 0
}

/// A text that names no network.
#[derive(Debug, thiserror::Error)]
#[error("'{0}' is no network: expected an address such as 10.0.0.1, or with the bits that count, such as 10.0.0.0/8")]
pub struct NotANetwork(String);

impl FromStr for Network {
    type Err = NotANetwork;

    fn from_str(text: &str) -> Result<Self, NotANetwork> {
        let faulty = || NotANetwork(text.to_owned());
        let (address, bits) = text.split_once('/').map_or((text, None), |(address, bits)| (address, Some(bits)));
        let address: IpAddr = address.parse().map_err(|_| faulty())?;
        let address = address.to_canonical();
        let width = if address.is_ipv4() { 32 } else { 128 };
        let bits = bits.map_or(Ok(width), str::parse).map_err(|_| faulty())?;
        if bits <= width { Ok(Network { address, bits }) } else { Err(faulty()) }
    }
}

/// The header in which a proxy says for whom it asks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ForwardedHeader {
    /// `X-Forwarded-For`: addresses, the nearest last.
    XForwardedFor,
    /// `Forwarded` (RFC 7239).
    Forwarded,
}

impl ForwardedHeader {
    /// Its name.
    pub const fn as_str(self) -> &'static str {
        match self {
            ForwardedHeader::XForwardedFor => "x-forwarded-for",
            ForwardedHeader::Forwarded => "forwarded",
        }
    }
}

impl fmt::Display for ForwardedHeader {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.as_str())
    }
}

/// Proxies that are trusted, and the header that they set.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proxies {
    /// Where they ask from; nobody is trusted while this is empty.
    pub networks: Vec<Network>,
    /// The header that they set. The other one is never looked at: it is passed on as the client made it up.
    pub header: ForwardedHeader,
}

impl Proxies {
    /// Whether a proxy at this address is trusted.
    pub fn trusts(&self, address: IpAddr) -> bool {
        self.networks.iter().any(|network| network.holds(address))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_network_holds_what_begins_with_its_bits() {
        let holds = |network: &str, address: &str| -> bool {
            network.parse::<Network>().unwrap().holds(address.parse().unwrap())
        };
        assert!(holds("10.1.2.3", "10.1.2.3") && !holds("10.1.2.3", "10.1.2.4"));
        assert!(holds("10.0.0.0/8", "10.255.0.1") && !holds("10.0.0.0/8", "11.0.0.1"));
        assert!(holds("0.0.0.0/0", "203.0.113.9") && !holds("0.0.0.0/0", "2001:db8::1"));
        assert!(holds("2001:db8::/32", "2001:db8:9::1") && !holds("2001:db8::/32", "2001:db9::1"));
        assert!(holds("::/0", "2001:db8::1") && holds("127.0.0.1", "::ffff:127.0.0.1"));
        for text in ["", "10.0.0.0/33", "10.0.0/8", "::/129", "10.0.0.0/-1", "proxy"] {
            assert!(text.parse::<Network>().is_err(), "{text}");
        }
    }
}
