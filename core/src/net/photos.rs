//! Photographs go beside the lanes, one by one, so that none holds up a timer.

use std::time::Duration;

use super::http::post;
use super::{NetError, SharedStation};
use crate::ids::{DocId, EntryId};
use crate::sync::Happening;

/// How long a photograph that could not be sent waits.
const PHOTO_LATER: Duration = Duration::from_secs(20);

impl SharedStation {
    /// Photographs go one by one beside the lanes, so that none holds up a timer.
    pub(super) async fn run_photos(&self) {
        loop {
            match self.send_photo().await {
                Ok(true) => {}
                Ok(false) => self.shared.photos.notified().await,
                Err(error) => {
                    tracing::debug!(%error, "a photograph was not sent");
                    tokio::time::sleep(PHOTO_LATER).await;
                }
            }
        }
    }

    /// Sends the next photograph that the relay lacks; false when there is none.
    pub(super) async fn send_photo(&self) -> Result<bool, NetError> {
        let Some((out, hash)) = self.lock().next_photo()? else { return Ok(false) };
        let relay = self.lock().relay_url().to_owned();
        let answer = post(&self.shared.http, &relay, &out).await?;
        self.lock().photo_answered(&hash, &answer)?;
        // Nobody listening is no failure.
        drop(self.shared.happenings.send(Happening::Status));
        Ok(true)
    }

    /// The picture of a photograph, asked of the relay where it is not here.
    ///
    /// # Errors
    /// [`NetError`].
    pub async fn photo(&self, visit: &DocId, id: &EntryId) -> Result<Vec<u8>, NetError> {
        if let Some(picture) = self.lock().photo_here(visit, id)? {
            return Ok(picture);
        }
        let out = self.lock().fetch_photo(visit, id)?;
        let relay = self.lock().relay_url().to_owned();
        let answer = post(&self.shared.http, &relay, &out).await?;
        Ok(self.lock().photo_fetched(visit, id, &answer)?)
    }
}
