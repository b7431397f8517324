//! Nothing travels in plain to a Postgres on another machine, unless the address says so.
//!
//! `sslmode` in the address is as the database's own clients have it. Where it isn't given, a server on another machine has
//! to prove who it is (`verify-full`); on this machine a connection is encrypted where the server offers it.

use std::net::IpAddr;

use sqlx::postgres::{PgConnectOptions, PgSslMode};

use super::StoreError;

/// The names by which an address says how to connect.
const MODE: [&str; 2] = ["sslmode", "ssl-mode"];

/// Where the database's own clients look for the same.
const MODE_VARIABLE: &str = "PGSSLMODE";

/// How to connect to the one host that an address names.
///
/// # Errors
/// [`StoreError::MaybePlain`] when the address leaves it to the server whether the connection is encrypted.
pub(super) fn secured(url: &str, options: PgConnectOptions) -> Result<PgConnectOptions, StoreError> {
    if is_on_this_machine(&options) {
        return Ok(options);
    }
    let is_said = says_mode(url) || std::env::var_os(MODE_VARIABLE).is_some();
    match options.get_ssl_mode() {
        _ if !is_said => Ok(options.ssl_mode(PgSslMode::VerifyFull)),
        PgSslMode::Allow | PgSslMode::Prefer => {
            Err(StoreError::MaybePlain { host: options.get_host().to_owned() })
        }
        PgSslMode::Disable => {
            tracing::warn!(host = options.get_host(), "the connection to the database is not encrypted");
            Ok(options)
        }
        PgSslMode::Require | PgSslMode::VerifyCa | PgSslMode::VerifyFull => Ok(options),
    }
}

fn says_mode(url: &str) -> bool {
    url::Url::parse(url).is_ok_and(|url| url.query_pairs().any(|(key, _)| MODE.contains(&&*key)))
}

fn is_on_this_machine(options: &PgConnectOptions) -> bool {
    let host = options.get_host();
    let address = host.trim_start_matches('[').trim_end_matches(']').parse::<IpAddr>();
    options.get_socket().is_some()
        || host.starts_with('/')
        || host.eq_ignore_ascii_case("localhost")
        || address.is_ok_and(|address| address.is_loopback())
}

#[cfg(test)]
mod tests {
    use std::str::FromStr as _;

    use super::*;

    fn mode(url: &str) -> Result<String, StoreError> {
        let options = PgConnectOptions::from_str(url).expect("an address");
        secured(url, options).map(|options| format!("{:?}", options.get_ssl_mode()))
    }

    #[test]
    fn another_machine_has_to_prove_who_it_is_unless_the_address_says_otherwise() {
        for (url, expected) in [
            ("postgres://wear@db.example/wear", "VerifyFull"),
            ("postgres://wear@192.0.2.2:5433/wear", "VerifyFull"),
            ("postgres://wear@[2001:db8::1]/wear", "VerifyFull"),
            ("postgres://wear@ignored/wear?host=db.example", "VerifyFull"),
            ("postgres://wear@db.example/wear?sslmode=verify-ca", "VerifyCa"),
            ("postgres://wear@db.example/wear?ssl-mode=require", "Require"),
            ("postgres://wear@db.example/wear?sslmode=disable", "Disable"),
            ("postgres://wear@localhost/wear", "Prefer"),
            ("postgres://wear@127.0.0.1/wear", "Prefer"),
            ("postgres://wear@[::1]/wear", "Prefer"),
            ("postgres://wear@localhost/wear?host=/run/postgresql", "Prefer"),
            ("postgres:///wear?host=/run/postgresql", "Prefer"),
        ] {
            assert_eq!(mode(url).expect("allowed"), expected, "{url}");
        }
        for url in [
            "postgres://wear@db.example/wear?sslmode=prefer",
            "postgres://wear@db.example/wear?sslmode=allow",
            "postgres://wear@localhost.example/wear?sslmode=prefer",
        ] {
            assert!(matches!(mode(url), Err(StoreError::MaybePlain { .. })), "{url}");
        }
    }
}
