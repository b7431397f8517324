//! The second wall: on Postgres a connection that forgets its filter sees no other workshop's rows.

use std::collections::BTreeSet;

use sqlx::{AssertSqlSafe, Connection, Executor, PgConnection};
use wear_tests::{Garage, SUPERUSER, TestStore, ride};

const TABLES: &str = "
    select r.relname::text from pg_class r
    where r.relnamespace = 'public'::regnamespace and r.relkind in ('r', 'p') and r.relname <> '_sqlx_migrations'";

async fn count(connection: &mut PgConnection, table: &str) -> i64 {
    let sql = AssertSqlSafe(format!("select count(*) from {table}"));
    sqlx::query_scalar(sql).fetch_one(connection).await.unwrap()
}

async fn two_garages(store: &TestStore) -> [Garage; 2] {
    let garages = [Garage::open(&store.store, "Harbour").await, Garage::open(&store.store, "Hill").await];
    for garage in &garages {
        let bike = garage.bike("041", "town-8s").await;
        garage.chain(bike, "2026-01-01T00:00:00Z").await.unwrap();
        let mut tx = garage.store.begin_write(garage.workshop).await.unwrap();
        tx.record_rides(&[ride(bike, "r1", "2026-03-01T08:00:00Z", 1.0)], garage.since).await.unwrap();
        tx.commit().await.unwrap();
    }
    garages
}

#[tokio::test]
async fn every_table_has_it_and_the_owner_is_bound_too() {
    let store = TestStore::postgres().await;
    let mut connection = PgConnection::connect(&store.url).await.unwrap();
    let role: (bool, bool) =
        sqlx::query_as("select rolsuper, rolbypassrls from pg_roles where rolname = current_user")
            .fetch_one(&mut connection)
            .await
            .unwrap();
    assert_eq!(role, (false, false), "the tests' role would walk through the wall");
    let open: Vec<String> = sqlx::query_scalar(
        "select relname::text from pg_class where relnamespace = 'public'::regnamespace
            and relkind in ('r', 'p') and relname <> '_sqlx_migrations'
            and not (relrowsecurity and relforcerowsecurity)",
    )
    .fetch_all(&mut connection)
    .await
    .unwrap();
    assert_eq!(open, Vec::<String>::new());
}

#[tokio::test]
async fn a_role_that_walks_through_the_wall_is_noticed() {
    let store = TestStore::postgres().await;
    assert!(store.store.is_walled().await.unwrap());
    let superusers = store.url.replace("postgres://wear@", &format!("postgres://{SUPERUSER}@"));
    let open = wear_api::store::Store::connect(&superusers, 1).await.unwrap();
    assert!(!open.is_walled().await.unwrap());
}

#[tokio::test]
async fn a_connection_that_names_no_workshop_sees_nothing() {
    let store = TestStore::postgres().await;
    two_garages(&store).await;
    let mut connection = PgConnection::connect(&store.url).await.unwrap();
    let tables: BTreeSet<String> =
        sqlx::query_scalar(TABLES).fetch_all(&mut connection).await.unwrap().into_iter().collect();
    assert!(tables.contains("rides") && tables.contains("rides_0"));
    for table in &tables {
        assert_eq!(count(&mut connection, table).await, 0, "{table}");
    }
    let mut superuser =
        PgConnection::connect(&store.url.replace("postgres://wear@", &format!("postgres://{SUPERUSER}@")))
            .await
            .unwrap();
    for table in ["workshops", "tokens", "bikes", "parts", "fittings", "rides", "bike_days", "outlook_marks"]
    {
        assert_eq!(count(&mut superuser, table).await, 2, "{table}: there was something to see");
    }
}

#[tokio::test]
async fn a_connection_that_names_one_sees_and_changes_that_one_only() {
    let store = TestStore::postgres().await;
    let [own, other] = two_garages(&store).await;
    let mut connection = PgConnection::connect(&store.url).await.unwrap();
    let mut transaction = connection.begin().await.unwrap();
    sqlx::query("select set_config('wear.workshop', $1, true)")
        .bind(own.workshop.to_string())
        .execute(&mut *transaction)
        .await
        .unwrap();
    for table in ["workshops", "tokens", "bikes", "parts", "fittings", "rides", "bike_days", "outlook_marks"]
    {
        assert_eq!(count(&mut transaction, table).await, 1, "{table}");
    }
    let renamed = transaction.execute("update bikes set label = 'x'").await.unwrap().rows_affected();
    assert_eq!(renamed, 1);
    let foreign = sqlx::query("update bikes set label = 'x' where workshop_id = $1")
        .bind(other.workshop.uuid())
        .execute(&mut *transaction)
        .await
        .unwrap();
    assert_eq!(foreign.rows_affected(), 0);
    let smuggled = sqlx::query("update bikes set workshop_id = $1").bind(other.workshop.uuid());
    let refused = smuggled.execute(&mut *transaction).await.unwrap_err().to_string();
    assert!(refused.contains("row-level security"), "{refused}");
}

#[tokio::test]
async fn what_a_transaction_named_ends_with_it() {
    let store = TestStore::postgres().await;
    let [own, _] = two_garages(&store).await;
    let mut connection = PgConnection::connect(&store.url).await.unwrap();
    for (scope, seen) in [("wear.workshop", 1), ("wear.scope", 2)] {
        let value = if scope == "wear.scope" { "all".to_owned() } else { own.workshop.to_string() };
        let mut transaction = connection.begin().await.unwrap();
        sqlx::query("select set_config($1, $2, true)")
            .bind(scope)
            .bind(value)
            .execute(&mut *transaction)
            .await
            .unwrap();
        assert_eq!(count(&mut transaction, "bikes").await, seen);
        transaction.commit().await.unwrap();
        assert_eq!(count(&mut connection, "bikes").await, 0);
    }
}
