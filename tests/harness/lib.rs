//! What the tests of the whole stand on: real stores, thrown away after each test.

mod broken_server;
mod fixture;
mod mailbox;
mod postgres;
mod program;
mod receiver;
mod server;
mod store;
mod worn;

pub use broken_server::{BrokenServer, Fault};
pub use fixture::{Garage, at, ride};
pub use mailbox::{Mail, Mailbox};
pub use postgres::{SUPERUSER, TlsServer};
pub use program::{Served, program};
pub use receiver::{Receiver, header};
pub use server::{Answer, TestServer, bike};
pub use store::TestStore;
pub use worn::WornRings;

/// Makes two tests of each listed `async fn name(store: TestStore)`: `name::postgres` and `name::sqlite`.
/// After `ignored:` they run only when asked for.
#[macro_export]
macro_rules! on_both_stores {
    ($($name:ident),+ $(,)?) => {
        $crate::on_both_stores!(@ doc = ""; $($name),+);
    };
    (ignored: $($name:ident),+ $(,)?) => {
        $crate::on_both_stores!(@ ignore = "run by hand"; $($name),+);
    };
    (@ $mark:meta; $($name:ident),+) => {$(
        mod $name {
            #[$mark]
            #[tokio::test]
            async fn postgres() {
                super::$name($crate::TestStore::postgres().await).await;
            }

            #[$mark]
            #[tokio::test]
            async fn sqlite() {
                super::$name($crate::TestStore::sqlite().await).await;
            }
        }
    )+};
}
