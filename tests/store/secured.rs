//! The connection to Postgres is encrypted, and the server proves who it is.

use sqlx::Connection as _;
use sqlx::PgConnection;
use wear_api::store::{Store, StoreError};
use wear_tests::TlsServer;

/// Why it doesn't connect.
async fn refused(url: &str) -> String {
    match Store::connect(url, 1).await.expect_err("refused") {
        StoreError::Unavailable(cause) => cause.to_string(),
        other => other.to_string(),
    }
}

#[tokio::test]
async fn a_server_has_to_prove_who_it_is() {
    let server = tokio::task::spawn_blocking(TlsServer::start).await.expect("a server");
    let root = format!("sslrootcert={}", server.root().display());
    let proven = server.url(&format!("sslmode=verify-full&{root}"));
    let store = Store::connect(&proven, 2).await.expect("a server that we know");
    store.migrate().await.expect("makes the tables");
    assert!(store.is_ready().await.expect("answers"));
    let mut beside = PgConnection::connect(&proven).await.expect("connects");
    let encrypted: i64 = sqlx::query_scalar(
        "select count(*) from pg_stat_ssl s join pg_stat_activity a using (pid)
         where a.application_name = 'wear-api' and s.ssl",
    )
    .fetch_one(&mut beside)
    .await
    .expect("a count");
    assert!(encrypted >= 1);
    // Nobody whom the system trusts signed it.
    let why = refused(&server.url("sslmode=verify-full")).await;
    assert!(why.contains("certificate"), "{why}");
    // By an address that the certificate doesn't name.
    let other_name = proven.replace("localhost", "127.0.0.1");
    let why = refused(&other_name).await;
    assert!(why.contains("certificate"), "{why}");
    let name_aside = other_name.replace("verify-full", "verify-ca");
    let _store = Store::connect(&name_aside, 1).await.expect("the name isn't looked at");
    // One that would be satisfied with anybody is told so, before anything is sent.
    let why = refused("postgres://wear@192.0.2.1/wear?sslmode=prefer").await;
    assert!(why.contains("may travel in plain"), "{why}");
}
