//! `wear-api ready`: for health checks where there is neither shell nor curl.

use std::io::{Read, Write};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr, TcpStream};
use std::process::ExitCode;
use std::time::Duration;

use clap::Args;

use super::Ended;

/// How long the service may take to say that it is ready.
const PATIENCE: Duration = Duration::from_secs(4);

/// More than the longest answer.
const MOST_READ: u64 = 65_536;

#[derive(Debug, Args)]
pub(super) struct Ready {
    /// Where the service listens; every address of the machine is asked as its own
    #[arg(long, value_name = "ADDRESS:PORT", env = "WEAR_LISTEN", default_value = "127.0.0.1:8080")]
    listen: SocketAddr,
}

impl Ready {
    pub(super) fn run(self) -> Ended {
        let mut address = self.listen;
        if address.ip().is_unspecified() {
            address.set_ip(match address.ip() {
                IpAddr::V4(_) => Ipv4Addr::LOCALHOST.into(),
                IpAddr::V6(_) => Ipv6Addr::LOCALHOST.into(),
            });
        }
        let mut connection = TcpStream::connect_timeout(&address, PATIENCE)?;
        connection.set_read_timeout(Some(PATIENCE))?;
        write!(connection, "GET /health/ready HTTP/1.1\r\nHost: {address}\r\nConnection: close\r\n\r\n")?;
        let mut answer = Vec::new();
        let _length = connection.take(MOST_READ).read_to_end(&mut answer)?;
        let answer = String::from_utf8_lossy(&answer);
        let status = answer.split_whitespace().nth(1).unwrap_or_default();
        println!("{}", answer.split_once("\r\n\r\n").map_or("", |(_, body)| body.trim()));
        Ok(if status == "200" { ExitCode::SUCCESS } else { ExitCode::FAILURE })
    }
}
