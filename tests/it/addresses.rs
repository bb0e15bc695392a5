//! Which addresses may be called, by the registries of those that are no place on the internet.

use std::net::IpAddr;

use rigbill::outbound::addresses::{Listed, special};

/// A network and whether it is globally reachable, with one address in it, by the IANA IPv4 and IPv6 Special-Purpose Address
/// Registries; multicast by RFC 5771 and RFC 4291, deprecated networks by the registries' notes.
const REGISTRY: [(&str, &str, bool); 48] = [
    ("0.0.0.0/8", "0.0.0.0", false),
    ("0.0.0.0/8", "0.1.2.3", false),
    ("10.0.0.0/8", "10.255.255.255", false),
    ("100.64.0.0/10", "100.127.255.255", false),
    ("behind 100.64.0.0/10", "100.128.0.0", true),
    ("127.0.0.0/8", "127.0.0.1", false),
    ("127.0.0.0/8", "127.255.0.1", false),
    ("169.254.0.0/16", "169.254.169.254", false),
    ("172.16.0.0/12", "172.16.0.0", false),
    ("172.16.0.0/12", "172.31.255.255", false),
    ("behind 172.16.0.0/12", "172.32.0.0", true),
    ("192.0.0.0/24", "192.0.0.8", false),
    ("192.0.2.0/24", "192.0.2.1", false),
    ("192.31.196.0/24, AS112-v4", "192.31.196.1", true),
    ("192.88.99.0/24, deprecated", "192.88.99.1", false),
    ("192.168.0.0/16", "192.168.1.1", false),
    ("192.175.48.0/24, direct delegation AS112", "192.175.48.1", true),
    ("198.18.0.0/15", "198.19.255.255", false),
    ("198.51.100.0/24", "198.51.100.7", false),
    ("203.0.113.0/24", "203.0.113.7", false),
    ("224.0.0.0/4", "224.0.0.251", false),
    ("224.0.0.0/4", "239.255.255.250", false),
    ("240.0.0.0/4", "240.0.0.1", false),
    ("255.255.255.255/32", "255.255.255.255", false),
    ("unicast", "8.8.4.4", true),
    ("unicast", "223.255.255.255", true),
    ("::1/128", "::1", false),
    ("::/128", "::", false),
    ("::ffff:0:0/96", "::ffff:10.0.0.1", false),
    ("::ffff:0:0/96", "::ffff:127.0.0.1", false),
    ("::ffff:0:0/96, of a place on the internet", "::ffff:8.8.4.4", true),
    ("IPv4-compatible, deprecated by RFC 4291, section 2.5.5.1", "::127.0.0.1", false),
    ("64:ff9b::/96, leads to an IPv4 address", "64:ff9b::a00:1", false),
    ("64:ff9b:1::/48", "64:ff9b:1::1", false),
    ("100::/64", "100::1", false),
    ("2001::/23", "2001:1ff::1", false),
    ("2001::/32, Teredo", "2001:0:a00:1::1", false),
    ("2001:db8::/32", "2001:db8::1", false),
    ("2002::/16, leads to an IPv4 address", "2002:a00:1::1", false),
    ("2620:4f:8000::/48, direct delegation AS112", "2620:4f:8000::1", true),
    ("3fff::/20", "3fff:fff::1", false),
    ("5f00::/16", "5f00::1", false),
    ("fc00::/7", "fc00::1", false),
    ("fc00::/7", "fdff::1", false),
    ("fe80::/10", "fe80::1", false),
    ("fec0::/10, deprecated by RFC 3879", "fec0::1", false),
    ("ff00::/8", "ff02::1", false),
    ("unicast", "2606:4700::1111", true),
];

#[test]
fn what_is_no_place_on_the_internet_is_called_only_when_it_is_listed() {
    let nothing = Listed::default();
    for (network, address, global) in REGISTRY {
        let address: IpAddr = address.parse().unwrap();
        assert_eq!(special(address).is_none(), global, "{network}: {address}");
        assert_eq!(nothing.allow(address, true).is_ok(), global, "{network}: {address}");
        assert!(nothing.allow(address, false).is_err(), "nothing goes in the clear unless it is listed: {address}");
        let this = Listed::by(move |met| met == address.to_canonical());
        assert!(this.allow(address, true).is_ok() && this.allow(address, false).is_ok(), "{address}");
    }
}

#[test]
fn a_listed_network_opens_no_other() {
    let listed = Listed::by(|met| met == "192.168.7.20".parse::<IpAddr>().unwrap());
    assert!(listed.allow("192.168.7.20".parse().unwrap(), false).is_ok());
    assert!(listed.allow("::ffff:192.168.7.20".parse().unwrap(), false).is_ok(), "the same address");
    assert!(listed.allow("192.168.7.21".parse().unwrap(), true).is_err());
}
