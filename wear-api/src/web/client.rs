//! From where a request came: the other end of the connection, or whom a proxy of ours names.

use std::net::IpAddr;

use actix_web::http::header::{HeaderMap, HeaderName};
use actix_web::{HttpRequest, web};
use ipnet::IpNet;

/// Where proxies write down from whom a request came, each after those before it.
const FORWARDED_FOR: HeaderName = HeaderName::from_static("x-forwarded-for");

/// The networks of proxies that are believed.
#[derive(Debug, Clone, Default)]
pub struct TrustedProxies(Vec<IpNet>);

impl TrustedProxies {
    /// Those of these networks.
    #[must_use]
    pub const fn of(networks: Vec<IpNet>) -> Self {
        Self(networks)
    }

    fn trust(&self, address: IpAddr) -> bool {
        let address = address.to_canonical();
        self.0.iter().any(|network| network.contains(&address))
    }

    /// The client of a connection: what proxies that aren't believed say counts for nothing.
    fn client(&self, peer: IpAddr, headers: &HeaderMap) -> IpAddr {
        let named =
            headers.get_all(FORWARDED_FOR).filter_map(|value| value.to_str().ok()).collect::<Vec<_>>();
        let mut client = peer;
        for name in named.iter().rev().flat_map(|value| value.rsplit(',')) {
            if !self.trust(client) {
                break;
            }
            // What is no address was written by nobody whom we believe.
            let Ok(before) = name.trim().parse::<IpAddr>() else { break };
            client = before;
        }
        client
    }
}

/// From where a request came; none where the connection has no address.
#[must_use]
pub fn address(request: &HttpRequest) -> Option<IpAddr> {
    let peer = request.peer_addr()?.ip();
    let trusted = request.app_data::<web::Data<TrustedProxies>>();
    Some(trusted.map_or(peer, |trusted| trusted.client(peer, request.headers())))
}

#[cfg(test)]
mod tests {
    use actix_web::http::header::HeaderValue;

    use super::*;

    fn client(peer: &str, named: &[&str]) -> String {
        let networks = ["10.0.0.0/8", "fd00::/8"].map(|network| network.parse().expect("a network"));
        let mut headers = HeaderMap::new();
        for value in named {
            headers.append(FORWARDED_FOR, HeaderValue::from_str(value).expect("a value"));
        }
        let peer = peer.parse().expect("an address");
        TrustedProxies::of(networks.to_vec()).client(peer, &headers).to_string()
    }

    #[test]
    fn a_proxy_is_believed_where_it_is_ours() {
        for (peer, named, expected) in [
            ("192.0.2.1", &[][..], "192.0.2.1"),
            // Anybody can write the header.
            ("192.0.2.1", &["198.51.100.7"], "192.0.2.1"),
            ("10.0.0.1", &["198.51.100.7"], "198.51.100.7"),
            ("::ffff:10.0.0.1", &["198.51.100.7"], "198.51.100.7"),
            ("fd00::1", &["2001:db8::7"], "2001:db8::7"),
            // The nearest proxy wrote last; what the client itself wrote stands before.
            ("10.0.0.1", &["203.0.113.9, 198.51.100.7"], "198.51.100.7"),
            ("10.0.0.1", &["203.0.113.9, 198.51.100.7, 10.0.0.2"], "198.51.100.7"),
            ("10.0.0.1", &["203.0.113.9", "198.51.100.7, 10.0.0.2"], "198.51.100.7"),
            ("10.0.0.1", &["nobody"], "10.0.0.1"),
            ("10.0.0.1", &["10.0.0.3"], "10.0.0.3"),
        ] {
            assert_eq!(client(peer, named), expected, "{peer} {named:?}");
        }
    }
}
