//! Threads for what nobody waits for: they give way to requests and to the store when processors are short.

use std::fmt;
use std::sync::Arc;

use tokio::runtime::{Builder, Runtime};

use super::ServiceError;

/// Added to the threads' niceness (A): beside a busy thread of the usual niceness, one of these gets a third of its time.
const NICENESS: i32 = 5;

/// Threads that give way. Clones share them.
#[derive(Clone)]
pub struct Background(Arc<Threads>);

/// Holds them until the last clone is gone.
struct Threads(Option<Runtime>);

impl Background {
    /// As many threads as there are processors, begun when they are needed.
    #[must_use]
    pub fn new() -> Self {
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        let runtime = Builder::new_current_thread()
            .thread_name("background")
            .max_blocking_threads(threads)
            // Where a system has no such thing they are threads like others.
            .on_thread_start(|| {
                let _niceness = rustix::process::nice(NICENESS);
            })
            .build();
        if let Err(error) = &runtime {
            tracing::warn!(%error, "work in the background shares the threads of requests");
        }
        Self(Arc::new(Threads(runtime.ok())))
    }

    /// Computes something.
    ///
    /// # Errors
    /// [`ServiceError::BrokenOff`] after a defect of the work.
    pub async fn compute<T: Send + 'static>(
        &self,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, ServiceError> {
        let computing = match &self.0.0 {
            Some(threads) => threads.spawn_blocking(work),
            None => tokio::task::spawn_blocking(work),
        };
        computing.await.map_err(|_| ServiceError::BrokenOff)
    }
}

impl Default for Background {
    fn default() -> Self {
        Self::new()
    }
}

impl Drop for Threads {
    fn drop(&mut self) {
        // An asynchronous task may be the last to let go, and may not wait for threads to end.
        if let Some(runtime) = self.0.take() {
            runtime.shutdown_background();
        }
    }
}

impl fmt::Debug for Background {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Background").finish_non_exhaustive()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn work_is_done_on_threads_that_give_way() {
        let background = Background::new();
        let niceness = || rustix::process::getpriority_process(None);
        let (here, there) = (niceness().expect("known"), background.compute(niceness).await);
        assert_eq!(there.expect("computed").expect("known"), here + NICENESS);
        assert_eq!(niceness().expect("known"), here);
    }

    #[tokio::test]
    async fn a_defect_of_the_work_is_told() {
        let background = Background::new();
        let ended = background.compute(|| assert_eq!(1, 2, "a defect")).await;
        assert!(matches!(ended, Err(ServiceError::BrokenOff)));
    }
}
