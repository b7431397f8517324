//! What the tests of the whole stand on: real stores, thrown away after each test.

mod fixture;
mod postgres;
mod store;

pub use fixture::{Garage, at, ride};
pub use postgres::SUPERUSER;
pub use store::TestStore;

/// Makes two tests of each listed `async fn name(store: TestStore)`: `name::postgres` and `name::sqlite`.
#[macro_export]
macro_rules! on_both_stores {
    ($($name:ident),+ $(,)?) => {$(
        mod $name {
            #[tokio::test]
            async fn postgres() {
                super::$name($crate::TestStore::postgres().await).await;
            }

            #[tokio::test]
            async fn sqlite() {
                super::$name($crate::TestStore::sqlite().await).await;
            }
        }
    )+};
}
