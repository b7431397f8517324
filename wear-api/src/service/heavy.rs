//! Threads for requests that take as long as thousands of others: large bodies and files. They give way to other requests, and
//! one workshop never has all of them.

use super::places::Places;
use super::{Background, ServiceError};
use crate::domain::WorkshopId;

/// Such threads, apart from those of the background, which learning may keep for minutes. Clones share them.
#[derive(Debug, Clone)]
pub struct Heavy {
    threads: Background,
    places: Places,
}

impl Heavy {
    /// As many threads as there are processors; half of them for one workshop.
    #[must_use]
    pub fn new() -> Self {
        let threads = std::thread::available_parallelism().map_or(1, usize::from);
        Self { threads: Background::new(), places: Places::each((threads / 2).max(1)) }
    }

    /// Computes something for a workshop, once it is its turn.
    ///
    /// # Errors
    /// [`ServiceError::BrokenOff`] after a defect of the work.
    pub async fn compute<T: Send + 'static>(
        &self,
        workshop: WorkshopId,
        work: impl FnOnce() -> T + Send + 'static,
    ) -> Result<T, ServiceError> {
        let place = self.places.of(workshop).acquire_owned().await.map_err(|_| ServiceError::BrokenOff)?;
        self.threads
            .compute(move || {
                // Until it is done, whether or not anyone still waits for it.
                let _place = place;
                work()
            })
            .await
    }
}

impl Default for Heavy {
    fn default() -> Self {
        Self::new()
    }
}
