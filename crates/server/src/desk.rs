//! Where calculations are made: away from the threads that answer, so many at once, the others in a short queue.

use std::sync::Arc;
use std::time::Duration;

use calc::crew::Crew;
use tokio::sync::Semaphore;

use crate::refusal::Refusal;

/// How long somebody waits for a place.
const QUEUE: Duration = Duration::from_secs(10);
/// Places in the queue beside the desk for each one at it.
const WAITING: usize = 16;

/// Places to calculate at.
pub(crate) struct Desk {
    crew: Arc<dyn Crew + Send + Sync>,
    places: Arc<Semaphore>,
    queue: Semaphore,
}

impl Desk {
    /// As many places as the machine has cores.
    pub(crate) fn new(crew: Arc<dyn Crew + Send + Sync>) -> Self {
        let places = std::thread::available_parallelism().map_or(2, std::num::NonZero::get);
        Self { crew, places: Arc::new(Semaphore::new(places)), queue: Semaphore::new(places * WAITING) }
    }

    /// Does `work` at a free place. A calculation can't be broken off: it keeps its place until it is done, even when who asked has
    /// gone, so that the machine is never asked for more than it has.
    pub(crate) async fn at<T: Send + 'static>(
        &self,
        work: impl FnOnce(&(dyn Crew + Send + Sync)) -> T + Send + 'static,
    ) -> Result<T, Refusal> {
        let _in_queue = self.queue.try_acquire().map_err(|_| Refusal::busy())?;
        let place = tokio::time::timeout(QUEUE, self.places.clone().acquire_owned()).await.map_err(|_| Refusal::busy())?;
        let place = place.map_err(|_| Refusal::busy())?;
        metrics::gauge!("bushwright_desk_places_taken").increment(1.0);
        let crew = self.crew.clone();
        let done = tokio::task::spawn_blocking(move || {
            // The place is given back when the work ends, however it ends.
            let _place = place;
            work(&*crew)
        })
        .await;
        metrics::gauge!("bushwright_desk_places_taken").decrement(1.0);
        done.map_err(|_| Refusal::fault("a calculation stopped half way"))
    }
}
