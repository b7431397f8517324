//! A unit of work lasts when whoever made it commits it, and as a whole.

use wear_api::clock::Clock;
use wear_api::domain::{
    IdempotencyKey, IdempotentRequest, Label, PageRequest, Reservation, Role, StoredAnswer,
};
use wear_api::service::{Actor, Kept, ServiceError, Services, UnitOfWork, tokens};
use wear_tests::{Garage, TestStore, at, on_both_stores};

on_both_stores!(
    one_that_is_not_committed_leaves_nothing,
    use_cases_of_one_last_together,
    one_with_a_key_lasts_with_its_answer_alone,
    another_with_the_same_key_changes_nothing,
    what_waits_for_the_commit_is_dropped_with_the_changes,
);

const NOW: &str = "2026-03-01T12:00:00Z";

struct Yard {
    services: Services,
    actor: Actor,
}

impl Yard {
    async fn of(store: &TestStore) -> Self {
        let garage = Garage::open(&store.store, "Harbour").await;
        let services = Services::new(store.store.clone(), Clock::stopped(at(NOW)));
        let actor = Actor { token_id: Some(garage.token), ..Actor::program(garage.workshop) };
        Self { services, actor }
    }

    fn work(&self) -> UnitOfWork {
        UnitOfWork::new(&self.services, self.actor)
    }

    fn keyed(&self) -> UnitOfWork {
        let request = IdempotentRequest {
            token_id: self.actor.token_id.expect("a token"),
            operation: "POST /v1/tokens".to_owned(),
            key: IdempotencyKey::new("k1").expect("a key"),
            at: at(NOW),
        };
        UnitOfWork::with_key(&self.services, self.actor, request)
    }

    async fn make_token(&self, work: &mut UnitOfWork) {
        let label = Label::new("phone").expect("a label");
        tokens::create(&self.services, work, Role::App, label).await.expect("a token");
    }

    /// Tokens besides the one that acts.
    async fn tokens(&self) -> usize {
        let page = tokens::list(&self.services, &self.actor, &PageRequest::default()).await.expect("tokens");
        page.items.len() - 1
    }
}

fn answer() -> StoredAnswer {
    StoredAnswer { fingerprint: [7; 32], status: 201, headers: Vec::new(), body: b"sealed".to_vec() }
}

async fn one_that_is_not_committed_leaves_nothing(store: TestStore) {
    let yard = Yard::of(&store).await;
    let mut work = yard.work();
    yard.make_token(&mut work).await;
    drop(work);
    assert_eq!(yard.tokens().await, 0);
    let mut work = yard.work();
    yard.make_token(&mut work).await;
    work.undo().await;
    assert_eq!(yard.tokens().await, 0);
    yard.make_token(&mut work).await;
    work.commit().await.expect("commits");
    assert_eq!(yard.tokens().await, 1, "after it was undone it is as new");
}

async fn use_cases_of_one_last_together(store: TestStore) {
    let yard = Yard::of(&store).await;
    let mut work = yard.work();
    yard.make_token(&mut work).await;
    yard.make_token(&mut work).await;
    assert_eq!(yard.tokens().await, 0);
    work.commit().await.expect("commits");
    assert_eq!(yard.tokens().await, 2);
    let failed: Result<(), _> = yard
        .services
        .change(&yard.actor, async |work| {
            yard.make_token(work).await;
            Err(ServiceError::Stale)
        })
        .await;
    assert!(matches!(failed, Err(ServiceError::Stale)));
    assert_eq!(yard.tokens().await, 2);
}

async fn one_with_a_key_lasts_with_its_answer_alone(store: TestStore) {
    let yard = Yard::of(&store).await;
    let mut work = yard.keyed();
    yard.make_token(&mut work).await;
    assert!(matches!(work.commit().await, Err(ServiceError::Unanswered)));
    assert_eq!(yard.tokens().await, 0);
    // Postgres undoes what was dropped a moment later; until then the key is taken.
    let mut work = yard.keyed();
    while matches!(work.begin().await, Err(ServiceError::Repeated)) {
        work = yard.keyed();
        tokio::time::sleep(std::time::Duration::from_millis(10)).await;
    }
    yard.make_token(&mut work).await;
    assert_eq!(work.commit_with(&answer()).await.expect("commits"), Kept::Stored);
    assert_eq!(yard.tokens().await, 1);
}

async fn another_with_the_same_key_changes_nothing(store: TestStore) {
    let yard = Yard::of(&store).await;
    let first = yard.keyed();
    assert_eq!(first.commit_with(&answer()).await.expect("commits"), Kept::Stored);
    let taken = Reservation::Answered(answer());
    let mut second = yard.keyed();
    assert!(matches!(second.begin().await, Err(ServiceError::Repeated)));
    assert_eq!(second.repeated(), Some(&taken));
    assert_eq!(second.commit_with(&answer()).await.expect("an end"), Kept::Repeated(taken));
    assert_eq!(yard.tokens().await, 0);
}

async fn what_waits_for_the_commit_is_dropped_with_the_changes(store: TestStore) {
    let yard = Yard::of(&store).await;
    let (told, heard) = std::sync::mpsc::channel();
    let tell = |word: &'static str| {
        let told = told.clone();
        move || told.send(word).expect("somebody listens")
    };
    let mut work = yard.work();
    work.after_commit(tell("undone"));
    work.undo().await;
    work.after_commit(tell("committed"));
    assert!(heard.try_recv().is_err());
    work.commit().await.expect("commits");
    assert_eq!(heard.try_recv(), Ok("committed"));
    assert!(heard.try_recv().is_err());
}
