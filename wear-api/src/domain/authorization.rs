//! What OAuth 2.0 hands from a browser to an app: redirect URIs, authorization codes and proofs of possession (RFC 6749,
//! 7636, 8252).

use std::fmt;
use std::net::Ipv6Addr;
use std::str::FromStr;

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use chrono::Duration;
use rand::TryRng;
use rand::rngs::SysRng;
use sha2::{Digest, Sha256};
use url::{Host, Url};

use super::{AppId, Field, Form, Invalid, Label, LinkedReach, NoRandomness, Timestamp, TokenHash};

/// How long an authorization code can be exchanged.
pub const CODE_IN_FORCE: Duration = Duration::seconds(60);

/// How long a code that was exchanged is remembered, so that one that comes twice is noticed (A).
pub const CODE_REMEMBERED: Duration = Duration::days(1);

/// Most redirect URIs of an app.
pub const MOST_REDIRECT_URIS: usize = 10;

/// Where an app gets its code: an `https://` address, or an `http://` one of the device itself (RFC 8252, 7.3). Without
/// fragment, user name and password.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RedirectUri(String);

impl RedirectUri {
    /// The address as the app gave it.
    ///
    /// # Errors
    /// [`Invalid::Unparsed`].
    pub fn new(given: &str) -> Result<Self, Invalid> {
        let wrong = || Invalid::unparsed(Field::RedirectUri, given, Form::RedirectUri);
        let url = Url::parse(given).map_err(|_| wrong())?;
        let bare = url.fragment().is_none() && url.username().is_empty() && url.password().is_none();
        let safe = match url.scheme() {
            "https" => url.has_host(),
            "http" => is_loopback(&url),
            _ => false,
        };
        // A registered address is compared character by character, so it holds none that are read in two ways.
        let plain =
            given.len() <= 2_000 && given.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'\\');
        if bare && safe && plain { Ok(Self(given.to_owned())) } else { Err(wrong()) }
    }

    /// The address.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// Whether an address that is asked for is this one: to the letter, but for the port on the device itself, which an app
    /// finds out when it listens (RFC 8252, 7.3).
    #[must_use]
    pub fn allows(&self, asked: &Self) -> bool {
        self == asked
            || self.without_loopback_port().is_some_and(|own| Some(own) == asked.without_loopback_port())
    }

    fn without_loopback_port(&self) -> Option<Url> {
        let mut url = Url::parse(&self.0).ok().filter(|url| url.scheme() == "http" && is_loopback(url))?;
        url.set_port(None).ok()?;
        Some(url)
    }

    /// Where a browser has to be allowed to go with it: scheme, host and port.
    #[must_use]
    pub fn origin(&self) -> String {
        Url::parse(&self.0).map(|url| url.origin().ascii_serialization()).unwrap_or_default()
    }

    /// The address with more parameters in its query.
    #[must_use]
    pub fn with(&self, parameters: &[(&str, &str)]) -> String {
        match Url::parse(&self.0) {
            Ok(mut url) => {
                url.query_pairs_mut().extend_pairs(parameters);
                url.into()
            }
            // It was read when it was made.
            Err(_) => self.0.clone(),
        }
    }
}

fn is_loopback(url: &Url) -> bool {
    match url.host() {
        Some(Host::Ipv4(address)) => address.is_loopback(),
        Some(Host::Ipv6(address)) => address == Ipv6Addr::LOCALHOST,
        _ => false,
    }
}

/// An authorization code: 256 random bits in base64url. `Debug` doesn't show it.
#[derive(Clone, PartialEq, Eq)]
pub struct AuthorizationCode([u8; 32]);

impl AuthorizationCode {
    /// A new code from the operating system's randomness.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub fn generate() -> Result<Self, NoRandomness> {
        let mut bytes = [0; 32];
        SysRng.try_fill_bytes(&mut bytes).map_err(|_| NoRandomness)?;
        Ok(Self(bytes))
    }

    /// The code as the app gets it.
    #[must_use]
    pub fn reveal(&self) -> String {
        URL_SAFE_NO_PAD.encode(self.0)
    }

    /// What is kept of it.
    #[must_use]
    pub fn hash(&self) -> TokenHash {
        TokenHash::from_bytes(Sha256::digest(self.0).into())
    }
}

impl fmt::Debug for AuthorizationCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("AuthorizationCode(..)")
    }
}

/// A text that isn't 32 bytes in base64url.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("not 32 bytes in base64url")]
pub struct NotThirtyTwoBytes;

fn thirty_two_bytes(given: &str) -> Result<[u8; 32], NotThirtyTwoBytes> {
    let bytes = URL_SAFE_NO_PAD.decode(given).map_err(|_| NotThirtyTwoBytes)?;
    bytes.try_into().map_err(|_| NotThirtyTwoBytes)
}

impl FromStr for AuthorizationCode {
    type Err = NotThirtyTwoBytes;

    fn from_str(given: &str) -> Result<Self, NotThirtyTwoBytes> {
        thirty_two_bytes(given).map(Self)
    }
}

/// What an app commits itself to when it asks: the SHA-256 of a secret of its own, `S256` of RFC 7636.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CodeChallenge([u8; 32]);

impl CodeChallenge {
    /// Wraps a challenge that was kept.
    #[must_use]
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The digest.
    #[must_use]
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// Whether `verifier` is the secret: 43 to 128 unreserved characters (RFC 7636, 4.1) with this digest.
    #[must_use]
    pub fn is_met_by(&self, verifier: &str) -> bool {
        let unreserved = |byte: u8| byte.is_ascii_alphanumeric() || matches!(byte, b'-' | b'.' | b'_' | b'~');
        (43..=128).contains(&verifier.len())
            && verifier.bytes().all(unreserved)
            && <[u8; 32]>::from(Sha256::digest(verifier)) == self.0
    }
}

impl FromStr for CodeChallenge {
    type Err = NotThirtyTwoBytes;

    fn from_str(given: &str) -> Result<Self, NotThirtyTwoBytes> {
        thirty_two_bytes(given).map(Self)
    }
}

/// What somebody allowed an app, until the app takes it up with its code.
#[derive(Debug, Clone, PartialEq)]
pub struct Authorization {
    /// The app.
    pub app_id: AppId,
    /// The reach of the token that it leads to.
    pub reach: LinkedReach,
    /// What the token will be called.
    pub label: Label,
    /// Where the code was sent, as the app asked.
    pub redirect_uri: RedirectUri,
    /// What the app has to prove.
    pub challenge: CodeChallenge,
    /// When it was allowed.
    pub created_at: Timestamp,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn apps_are_sent_codes_over_tls_or_on_their_own_device() {
        for good in [
            "https://app.example/callback",
            "https://app.example/cb?from=wear",
            "http://127.0.0.1/cb",
            "http://127.0.0.1:51234/cb",
            "http://[::1]/cb",
        ] {
            assert!(RedirectUri::new(good).is_ok(), "{good}");
        }
        for bad in [
            "",
            "/cb",
            "http://app.example/cb",
            "http://localhost/cb",
            "http://127.0.0.1.evil.example/cb",
            "https://app.example/cb#part",
            "https://user@app.example/cb",
            "https:///cb\\x",
            "https://app.example/a b",
            "javascript:alert(1)",
            "com.example.app:/cb",
        ] {
            assert!(RedirectUri::new(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn a_redirect_uri_is_compared_to_the_letter_but_for_a_port_of_the_device() {
        let uri = |text: &str| RedirectUri::new(text).unwrap();
        let https = uri("https://app.example/cb");
        assert!(https.allows(&uri("https://app.example/cb")));
        for other in [
            "https://app.example/cb/",
            "https://app.example/cb?x=1",
            "https://app.example:444/cb",
            "https://app.EXAMPLE/cb",
        ] {
            assert!(!https.allows(&uri(other)), "{other}");
        }
        let own = uri("http://127.0.0.1/cb");
        assert!(own.allows(&uri("http://127.0.0.1:51234/cb")));
        assert!(!own.allows(&uri("http://127.0.0.1:51234/other")));
        assert!(!own.allows(&uri("http://[::1]:51234/cb")));
        assert_eq!(
            https.with(&[("code", "a b"), ("state", "&")]),
            "https://app.example/cb?code=a+b&state=%26"
        );
        assert_eq!(
            uri("https://app.example/cb?x=1").with(&[("code", "c")]),
            "https://app.example/cb?x=1&code=c"
        );
        assert_eq!(uri("http://127.0.0.1:51234/cb").origin(), "http://127.0.0.1:51234");
    }

    /// RFC 7636, appendix B.
    #[test]
    fn the_challenge_of_the_standard_is_met_by_its_verifier() {
        let challenge: CodeChallenge = "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM".parse().unwrap();
        let verifier = "dBjftJeZ4CVP-mB92K27uhbUJU1p1r_wW1gFWFOEjXk";
        assert!(challenge.is_met_by(verifier));
        assert!(!challenge.is_met_by(&verifier.replace('d', "e")));
        assert!(!challenge.is_met_by("E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-cM"));
        for malformed in
            ["", "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw-c", "E9Melhoa2OwvFrEMTJguCHaoeK1t8URWbuGJSstw+cM"]
        {
            assert!(malformed.parse::<CodeChallenge>().is_err(), "{malformed}");
        }
    }

    #[test]
    fn a_code_reads_back() {
        let code = AuthorizationCode::generate().unwrap();
        assert_eq!(code.reveal().parse::<AuthorizationCode>().map(|read| read.hash()), Ok(code.hash()));
        assert!(!format!("{code:?}").contains(&code.reveal()));
    }
}
