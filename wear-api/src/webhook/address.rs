//! Which addresses hooks may reach: whoever enters a hook must not make this service speak to its own
//! neighbours.

use std::future::Future;
use std::io;
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::pin::Pin;

use ipnet::{IpNet, Ipv4Net, Ipv6Net};
use thiserror::Error;

use crate::domain::{Field, Form, HookUrl, Invalid};

const fn v4(a: u8, b: u8, c: u8, d: u8, prefix: u8) -> Ipv4Net {
    Ipv4Net::new_assert(Ipv4Addr::new(a, b, c, d), prefix)
}

const fn v6(first: u16, second: u16, prefix: u8) -> Ipv6Net {
    Ipv6Net::new_assert(Ipv6Addr::new(first, second, 0, 0, 0, 0, 0, 0), prefix)
}

/// IPv4 that isn't the public internet: the IANA special-purpose registry (RFC 6890 and its successors),
/// multicast, and an address by which one large cloud talks to its own machines (M).
const CLOSED_V4: [Ipv4Net; 17] = [
    v4(0, 0, 0, 0, 8),
    v4(10, 0, 0, 0, 8),
    v4(100, 64, 0, 0, 10),
    v4(127, 0, 0, 0, 8),
    // Metadata services of most clouds are in here.
    v4(169, 254, 0, 0, 16),
    v4(172, 16, 0, 0, 12),
    v4(192, 0, 0, 0, 24),
    v4(192, 0, 2, 0, 24),
    v4(192, 31, 196, 0, 24),
    v4(192, 88, 99, 0, 24),
    v4(192, 168, 0, 0, 16),
    v4(198, 18, 0, 0, 15),
    v4(198, 51, 100, 0, 24),
    v4(203, 0, 113, 0, 24),
    v4(224, 0, 0, 0, 4),
    v4(240, 0, 0, 0, 4),
    v4(168, 63, 129, 16, 32),
];

/// IPv6 in use on the public internet (RFC 4291, section 2.4, and the IANA list of global unicast space).
const OPEN_V6: Ipv6Net = v6(0x2000, 0, 3);

/// What isn't public inside [`OPEN_V6`]: protocol assignments with Teredo, documentation twice, 6to4.
const CLOSED_V6: [Ipv6Net; 4] =
    [v6(0x2001, 0, 23), v6(0x2001, 0xdb8, 32), v6(0x2002, 0, 16), v6(0x3fff, 0, 20)];

/// Whether an address is on the public internet. IPv6 addresses that hold an IPv4 one are judged by it when they
/// are mapped (`::ffff:0:0/96`); translated and tunnelled ones are never public.
#[must_use]
pub fn is_public(address: IpAddr) -> bool {
    match address.to_canonical() {
        IpAddr::V4(address) => !CLOSED_V4.iter().any(|net| net.contains(&address)),
        IpAddr::V6(address) => {
            OPEN_V6.contains(&address) && !CLOSED_V6.iter().any(|net| net.contains(&address))
        }
    }
}

/// What hooks may reach.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct AddressPolicy {
    /// Whether `http://` will do.
    pub plain_http: bool,
    /// Networks that may be reached although they aren't public.
    pub networks: Vec<IpNet>,
}

impl AddressPolicy {
    /// Whether a message may go to this address.
    #[must_use]
    pub fn allows(&self, address: IpAddr) -> bool {
        let address = address.to_canonical();
        is_public(address) || self.networks.iter().any(|net| net.contains(&address))
    }

    /// What can be said of a hook's address before its name is looked up.
    ///
    /// # Errors
    /// [`Invalid::Unparsed`].
    pub fn check(&self, url: &HookUrl) -> Result<(), Invalid> {
        if !url.is_https() && !self.plain_http {
            return Err(Invalid::unparsed(Field::Url, url.as_str(), Form::HttpsAddress));
        }
        match url.literal() {
            Some(address) if !self.allows(address) => {
                Err(Invalid::unparsed(Field::Url, url.as_str(), Form::PublicAddress))
            }
            _ => Ok(()),
        }
    }

    /// Passes the addresses of a host on when a message may go to every one of them: a name that leads to a public
    /// and a closed address is meant to deceive.
    ///
    /// # Errors
    /// [`RefusedAddress`] with the first that it may not go to.
    pub fn filter(&self, addresses: Vec<SocketAddr>) -> Result<Vec<SocketAddr>, RefusedAddress> {
        match addresses.iter().find(|address| !self.allows(address.ip())) {
            Some(refused) => Err(RefusedAddress(refused.ip())),
            None => Ok(addresses),
        }
    }
}

/// An address that hooks may not reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
#[error("{0} is not an address that hooks may reach")]
pub struct RefusedAddress(pub IpAddr);

/// The future of a [`Lookup`].
pub type Looked<'a> = Pin<Box<dyn Future<Output = io::Result<Vec<SocketAddr>>> + Send + 'a>>;

/// Turns a host's name into addresses.
pub trait Lookup: Send + Sync + 'static {
    /// The addresses of `host`.
    ///
    /// # Errors
    /// When there are none, or nobody can tell.
    fn lookup<'a>(&'a self, host: &'a str) -> Looked<'a>;
}

/// The operating system's way of looking names up.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemLookup;

impl Lookup for SystemLookup {
    fn lookup<'a>(&'a self, host: &'a str) -> Looked<'a> {
        Box::pin(async move { Ok(tokio::net::lookup_host((host, 0)).await?.collect()) })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn address(text: &str) -> IpAddr {
        text.parse().expect(text)
    }

    /// One address for each entry of the registries, its edges, and every way of hiding one in another.
    #[test]
    fn what_is_not_public_is_refused() {
        for closed in [
            "0.0.0.0",
            "0.1.2.3",
            "10.0.0.1",
            "10.255.255.255",
            "100.64.0.1",
            "100.100.100.200",
            "100.127.255.255",
            "127.0.0.1",
            "127.255.255.254",
            "169.254.0.1",
            "169.254.169.254",
            "172.16.0.1",
            "172.31.255.255",
            "192.0.0.8",
            "192.0.2.1",
            "192.88.99.1",
            "192.168.0.1",
            "198.18.0.1",
            "198.19.255.255",
            "198.51.100.7",
            "203.0.113.7",
            "224.0.0.1",
            "239.255.255.250",
            "240.0.0.1",
            "255.255.255.255",
            "168.63.129.16",
            "::",
            "::1",
            "::7f00:1",
            "::ffff:127.0.0.1",
            "::ffff:10.0.0.1",
            "::ffff:169.254.169.254",
            "::ffff:0:127.0.0.1",
            "64:ff9b::7f00:1",
            "64:ff9b:1::a00:1",
            "100::1",
            "2001::1",
            "2001:0:7f00:1::1",
            "2001:10::1",
            "2001:db8::1",
            "2002:7f00:1::1",
            "2002:a00:1::1",
            "3fff::1",
            "4000::1",
            "5f00::1",
            "fc00::1",
            "fd00:ec2::254",
            "fe80::1",
            "febf::1",
            "fec0::1",
            "ff02::1",
        ] {
            assert!(!is_public(address(closed)), "{closed}");
        }
    }

    #[test]
    fn what_is_public_is_not() {
        for open in [
            "1.1.1.1",
            "9.255.255.255",
            "11.0.0.0",
            "100.63.255.255",
            "100.128.0.0",
            "126.255.255.255",
            "128.0.0.0",
            "169.253.255.255",
            "172.15.255.255",
            "172.32.0.0",
            "192.167.255.255",
            "192.169.0.0",
            "198.17.255.255",
            "198.20.0.0",
            "223.255.255.255",
            "::ffff:1.1.1.1",
            "2001:200::1",
            "2606:4700::1111",
            "2a00:1450:4001::200e",
            "3ffe::1",
        ] {
            assert!(is_public(address(open)), "{open}");
        }
    }

    #[test]
    fn a_network_that_is_allowed_is_allowed_in_every_spelling() {
        let policy =
            AddressPolicy { plain_http: false, networks: vec!["10.1.0.0/16".parse().expect("a network")] };
        assert!(policy.allows(address("10.1.2.3")) && policy.allows(address("::ffff:10.1.2.3")));
        assert!(!policy.allows(address("10.2.0.1")) && !policy.allows(address("127.0.0.1")));
        let mixed = vec!["1.1.1.1:443".parse().expect("one"), "10.2.0.1:443".parse().expect("another")];
        assert_eq!(policy.filter(mixed), Err(RefusedAddress(address("10.2.0.1"))));
    }

    #[test]
    fn scheme_and_literal_address_are_judged_without_a_lookup() {
        let strict = AddressPolicy::default();
        let check = |policy: &AddressPolicy, url: &str| policy.check(&HookUrl::new(url).expect(url)).is_ok();
        assert!(check(&strict, "https://app.example/"));
        for wrong in [
            "http://app.example/",
            "https://127.0.0.1/",
            "https://2130706433/",
            "https://[::1]/",
            "https://[::ffff:10.0.0.1]/",
            "https://169.254.169.254/latest/meta-data/",
        ] {
            assert!(!check(&strict, wrong), "{wrong}");
        }
        assert!(check(&AddressPolicy { plain_http: true, ..strict }, "http://app.example/"));
    }
}
