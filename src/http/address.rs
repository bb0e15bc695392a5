//! For whom a request is made: the address of its connection, or the one that a trusted proxy names.

use std::net::{IpAddr, Ipv6Addr, SocketAddr};

use actix_web::dev::ServiceRequest;
use actix_web::http::header::HeaderMap;

use crate::config::{ForwardedHeader, Proxies};

/// The address for which a request is made. Headers count only when a trusted proxy sent them, and of what they name
/// only as much as trusted proxies wrote.
pub fn of(request: &ServiceRequest, proxies: &Proxies) -> IpAddr {
    let peer = request.peer_addr().map_or(IpAddr::V6(Ipv6Addr::UNSPECIFIED), |peer| peer.ip().to_canonical());
    behind(peer, request.headers(), proxies)
}

/// One client as far as limits go: whoever has one IPv6 address has a network of 64 bits.
pub fn bucket(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V4(v4) => IpAddr::V4(v4),
        IpAddr::V6(v6) => IpAddr::V6(Ipv6Addr::from_bits(v6.to_bits() & !u128::from(u64::MAX))),
    }
}

fn behind(peer: IpAddr, headers: &HeaderMap, proxies: &Proxies) -> IpAddr {
    let mut nearest = peer;
    if !proxies.trusts(peer) {
        return nearest;
    }
    let lines: Vec<&str> = headers.get_all(proxies.header.as_str()).filter_map(|value| value.to_str().ok()).collect();
    let hops: Vec<&str> = lines.iter().flat_map(|line| line.split(',')).collect();
    // The last hop was written by the proxy that asks us, the one before it by whoever asked that proxy.
    for hop in hops.into_iter().rev() {
        let named = match proxies.header {
            ForwardedHeader::XForwardedFor => Some(hop.trim()),
            ForwardedHeader::Forwarded => for_parameter(hop),
        };
        // What cannot be read ("unknown", a name) hides the client: the proxy stands for it.
        let Some(address) = named.and_then(read) else { return nearest };
        nearest = address;
        if !proxies.trusts(address) {
            return nearest;
        }
    }
    nearest
}

/// The value of `for` in an element of `Forwarded` (RFC 7239, section 4).
fn for_parameter(element: &str) -> Option<&str> {
    element.split(';').find_map(|pair| {
        let (name, value) = pair.trim().split_once('=')?;
        name.eq_ignore_ascii_case("for").then(|| value.trim_matches('"'))
    })
}

/// An address, with or without a port, an IPv6 address perhaps in brackets.
fn read(text: &str) -> Option<IpAddr> {
    let bare = text.strip_prefix('[').and_then(|rest| rest.strip_suffix(']')).unwrap_or(text);
    let address = bare.parse().ok().or_else(|| text.parse::<SocketAddr>().ok().map(|socket| socket.ip()));
    address.map(|address| address.to_canonical())
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::{HeaderName, HeaderValue};

    use super::*;

    fn met(peer: &str, trusted: &[&str], header: ForwardedHeader, lines: &[&str]) -> String {
        let mut headers = HeaderMap::new();
        for line in lines {
            headers.append(HeaderName::from_static(header.as_str()), HeaderValue::from_str(line).unwrap());
        }
        let networks = trusted.iter().map(|network| network.parse().unwrap()).collect();
        behind(peer.parse().unwrap(), &headers, &Proxies { networks, header }).to_string()
    }

    #[test]
    fn a_header_counts_only_from_a_trusted_proxy_and_only_as_far_as_it_wrote_it() {
        let x =
            |peer: &str, trusted: &[&str], lines: &[&str]| met(peer, trusted, ForwardedHeader::XForwardedFor, lines);
        let proxies = ["10.0.0.0/8"];
        assert_eq!(x("203.0.113.9", &[], &["198.51.100.7"]), "203.0.113.9");
        assert_eq!(x("203.0.113.9", &proxies, &["198.51.100.7"]), "203.0.113.9");
        assert_eq!(x("10.0.0.1", &proxies, &[]), "10.0.0.1");
        assert_eq!(x("10.0.0.1", &proxies, &["198.51.100.7"]), "198.51.100.7");
        assert_eq!(x("10.0.0.1", &proxies, &["192.0.2.1, 198.51.100.7, 10.0.0.2"]), "198.51.100.7");
        assert_eq!(x("10.0.0.1", &proxies, &["192.0.2.1", "198.51.100.7"]), "198.51.100.7", "two lines are one list");
        assert_eq!(x("10.0.0.1", &proxies, &["192.0.2.1, made up, 10.0.0.2"]), "10.0.0.2");
        assert_eq!(x("10.0.0.1", &proxies, &["198.51.100.7:4711"]), "198.51.100.7");
        assert_eq!(x("10.0.0.1", &proxies, &["2001:db8::1"]), "2001:db8::1");
    }

    #[test]
    fn the_standard_header_is_read_as_rfc_7239_has_it() {
        // Values from the examples of RFC 7239, sections 4 and 6.
        let forwarded = |line: &str| met("10.0.0.1", &["10.0.0.0/8"], ForwardedHeader::Forwarded, &[line]);
        assert_eq!(forwarded("for=192.0.2.60;proto=http;by=203.0.113.43"), "192.0.2.60");
        assert_eq!(forwarded("For=\"[2001:db8:cafe::17]:4711\""), "2001:db8:cafe::17");
        assert_eq!(forwarded("for=192.0.2.43, for=198.51.100.17"), "198.51.100.17");
        assert_eq!(forwarded("for=\"_gazonk\""), "10.0.0.1");
        assert_eq!(forwarded("for=unknown"), "10.0.0.1");
    }

    #[test]
    fn an_ipv6_network_of_64_bits_is_one_client() {
        let bucket = |text: &str| super::bucket(text.parse().unwrap()).to_string();
        assert_eq!(bucket("2001:db8:1:2:3:4:5:6"), "2001:db8:1:2::");
        assert_eq!(bucket("::ffff:192.0.2.1"), "192.0.2.1");
    }
}
