//! One store for one test.

use tempfile::TempDir;
use wear_api::store::Store;

use crate::postgres;

/// Connections of one test to Postgres.
const CONNECTIONS: u32 = 16;

/// An empty store with its tables, thrown away when it is dropped.
pub struct TestStore {
    /// The store.
    pub store: Store,
    /// Its address.
    pub url: String,
    _place: Place,
}

enum Place {
    Folder { _folder: TempDir },
    Database { _database: postgres::Database },
}

impl TestStore {
    /// A database of its own on the tests' Postgres server, as a role that row-level security binds.
    pub async fn postgres() -> Self {
        let database = tokio::task::spawn_blocking(postgres::Database::create).await.expect("database made");
        let url = database.url();
        let store = Store::connect(&url, CONNECTIONS).await.expect("connects to its own database");
        Self { store, url, _place: Place::Database { _database: database } }
    }

    /// A file of its own, in the shape that the program uses.
    pub async fn sqlite() -> Self {
        let folder = tempfile::tempdir().expect("a folder for the file");
        let url = format!("sqlite:{}", folder.path().join("wear.db").display());
        let store = Store::connect(&url, CONNECTIONS).await.expect("opens its own file");
        store.migrate().await.expect("makes the tables");
        Self { store, url, _place: Place::Folder { _folder: folder } }
    }
}
