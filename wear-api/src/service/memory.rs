//! Memory for what large requests need while they are worked on: admitted by weight, so that many at once wait or are told
//! to come back in place of taking all there is.

use std::sync::Arc;
use std::time::Duration;

use tokio::sync::{OwnedSemaphorePermit, Semaphore};

use super::ServiceError;
use super::places::Places;
use crate::domain::WorkshopId;

/// For all that is worked on at once where nothing else is set, MiB (A).
pub const DEFAULT_MIB: u32 = 256;

/// How long anyone waits to be admitted (A).
const ADMITTED_WITHIN: Duration = Duration::from_secs(10);

/// What there is to be admitted to. Clones share it.
#[derive(Debug, Clone)]
pub struct Memory {
    kib: u32,
    within: Duration,
    all: Arc<Semaphore>,
    workshops: Places,
}

/// What was admitted, given back when it is dropped.
#[derive(Debug, Default)]
pub struct Admitted {
    _places: Vec<OwnedSemaphorePermit>,
}

impl Memory {
    /// So much for all; half of it for one workshop.
    #[must_use]
    pub fn of(mib: u32) -> Self {
        let kib = mib.clamp(1, 1 << 20) << 10;
        let all = Arc::new(Semaphore::new(kib as usize));
        Self { kib, within: ADMITTED_WITHIN, all, workshops: Places::each(half(kib) as usize) }
    }

    /// Waits until so many bytes are free. What weighs more than a workshop's half waits for all of the half.
    ///
    /// # Errors
    /// [`ServiceError::Crowded`] after ten seconds.
    pub async fn admit(&self, workshop: WorkshopId, bytes: usize) -> Result<Admitted, ServiceError> {
        let weight = u32::try_from(bytes >> 10).unwrap_or(u32::MAX).clamp(1, half(self.kib));
        let own = self.workshops.of(workshop);
        let both = async {
            // Its own first: who waits for that keeps nothing from others.
            let own = own.acquire_many_owned(weight).await?;
            let of_all = Arc::clone(&self.all).acquire_many_owned(weight).await?;
            Ok::<_, tokio::sync::AcquireError>(vec![own, of_all])
        };
        match tokio::time::timeout(self.within, both).await {
            Ok(Ok(places)) => Ok(Admitted { _places: places }),
            _ => Err(ServiceError::Crowded),
        }
    }
}

/// One workshop's.
const fn half(kib: u32) -> u32 {
    if kib < 2 { 1 } else { kib / 2 }
}

impl Default for Memory {
    fn default() -> Self {
        Self::of(DEFAULT_MIB)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const MIB: usize = 1 << 20;

    #[tokio::test]
    async fn a_workshop_fills_half_and_the_rest_is_told_to_come_back() {
        let memory = Memory { within: Duration::from_millis(5), ..Memory::of(8) };
        let [one, two, three] = [(); 3].map(|()| WorkshopId::generate());
        let first = memory.admit(one, 3 * MIB).await.expect("room");
        assert!(matches!(memory.admit(one, 2 * MIB).await, Err(ServiceError::Crowded)));
        let _small = memory.admit(one, MIB).await.expect("what is left of its half");
        // More than its half: all of it.
        let _whole = memory.admit(two, 100 * MIB).await.expect("the other half");
        assert!(matches!(memory.admit(three, MIB).await, Err(ServiceError::Crowded)));
        drop(first);
        let _room = memory.admit(three, 3 * MIB).await.expect("what was given back");
    }
}
