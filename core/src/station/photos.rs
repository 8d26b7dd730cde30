//! Photographs: locked under a key of their own that stands in the visit, kept here until the relay has them, and asked
//! for by the other stations when somebody wants to see them. They travel beside the frames, so that a picture never
//! holds up a timer.

use sha2::{Digest, Sha256};

use super::{Station, StationError};
use crate::ids::{DocId, EntryId};
use crate::record::visit::{Kept, Photo, PhotoOf};
use crate::store::PictureHash;
use crate::sync::{Outgoing, relays};
use crate::trade::{term, told};
use crate::wire::api::{Answer, Fetch, Keep, MAX_PICTURE_BYTES, Request};
use crate::wire::envelope;
use crate::wire::ids::FrameHash;
use crate::wire::lock::{LockKey, Purpose};

/// No photograph may be larger, in bytes: with its lock it fits in one request.
pub const MAX_PHOTO_BYTES: usize = MAX_PICTURE_BYTES - 64;

#[cfg_attr(
    any(feature = "web", feature = "ffi"),
    tailcomb_facade::exported(except(
        keep_photo,
        photo_here,
        fetch_photo,
        photo_fetched,
        next_photo,
        photo_answered
    ))
)]
impl Station {
    /// Notes a photograph with the picture itself, a JPEG, PNG or WebP file. Whoever hands it in takes out what a
    /// camera writes into it (place, owner); it is kept as it comes. It goes to the relay when that can be reached.
    ///
    /// # Errors
    /// [`StationError`] for what is no picture, or too large.
    pub fn keep_photo(
        &mut self,
        visit: &DocId,
        of: PhotoOf,
        note: &str,
        picture: &[u8],
    ) -> Result<EntryId, StationError> {
        if picture.len() > MAX_PHOTO_BYTES {
            let most = MAX_PHOTO_BYTES >> 10;
            let say = told!(
                "the picture has {picture} KiB, and {most} are the most: make it smaller",
                picture = picture.len() >> 10,
                most
            );
            return Err(StationError::Input(say));
        }
        let kind = kind(picture).ok_or_else(|| {
            StationError::Input(told!("this is no picture: a photograph is a JPEG, PNG or WebP file"))
        })?;
        let key = LockKey::generate(self.replica.random());
        let locked = key.lock(Purpose::Picture, picture);
        let hash = PictureHash::from(Sha256::digest(&locked));
        let photo = Photo {
            sha256: hex::encode(Sha256::digest(picture)),
            of,
            note: note.to_owned(),
            kept: Some(Kept {
                hash: hex::encode(hash),
                key: hex::encode(key.bytes()),
                kind: kind.to_owned(),
                bytes: u32::try_from(picture.len()).unwrap_or(u32::MAX),
            }),
        };
        // First the picture: the record never names one that was not kept.
        self.replica.keep_picture(&hash, visit, true, &locked)?;
        let noted = self.add_photo(visit, &photo);
        if noted.is_err() {
            self.replica.drop_picture(&hash)?;
        }
        noted
    }

    /// The picture of a photograph, if it is at this station.
    ///
    /// # Errors
    /// [`StationError`] for a photograph that is none, or whose picture is kept elsewhere.
    pub fn photo_here(&mut self, visit: &DocId, id: &EntryId) -> Result<Option<Vec<u8>>, StationError> {
        let (hash, kept) = self.kept_photo(visit, id)?;
        self.replica.store().picture(&hash)?.map(|locked| opened(&kept, &locked)).transpose()
    }

    /// The request that asks the relay for a picture; its answer goes to [`Station::photo_fetched`].
    ///
    /// # Errors
    /// As [`Station::photo_here`].
    pub fn fetch_photo(&mut self, visit: &DocId, id: &EntryId) -> Result<Outgoing, StationError> {
        let (hash, _) = self.kept_photo(visit, id)?;
        let space = self.replica.identity().space;
        Ok(self.errand(&Request::Fetch(Fetch { space, hash: FrameHash(hash) })))
    }

    /// Takes the relay's answer in, keeps the picture here, and gives it.
    ///
    /// # Errors
    /// [`StationError::Picture`] when the relay has none, or sends another.
    pub fn photo_fetched(
        &mut self,
        visit: &DocId,
        id: &EntryId,
        answer: &[u8],
    ) -> Result<Vec<u8>, StationError> {
        let (hash, kept) = self.kept_photo(visit, id)?;
        let locked = match envelope::decode_answer(answer) {
            Ok(Answer::Fetched { bytes, .. }) => bytes,
            other => return Err(refused(other.ok())),
        };
        if PictureHash::from(Sha256::digest(&locked)) != hash {
            return Err(StationError::Picture(told!("the relay sent another picture than was asked for")));
        }
        let picture = opened(&kept, &locked)?;
        self.replica.keep_picture(&hash, visit, false, &locked)?;
        Ok(picture)
    }

    /// The next picture that the relay does not have yet, as a request; the answer goes to [`Station::photo_answered`]
    /// with its name.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn next_photo(&self) -> Result<Option<(Outgoing, PictureHash)>, StationError> {
        if self.status()?.paused {
            return Ok(None);
        }
        let Some((hash, bytes)) = self.replica.store().unsent_picture()? else { return Ok(None) };
        let space = self.replica.identity().space;
        Ok(Some((self.errand(&Request::Keep(Keep { space, bytes: bytes.into() })), hash)))
    }

    /// Takes the relay's answer in: the picture is there, or stays here to be sent later.
    ///
    /// # Errors
    /// [`StationError::Picture`] with the relay's own words when it refuses.
    pub fn photo_answered(&mut self, hash: &PictureHash, answer: &[u8]) -> Result<(), StationError> {
        match envelope::decode_answer(answer) {
            Ok(Answer::Kept { .. }) => {
                self.photo_refused = None;
                Ok(self.replica.picture_sent(hash)?)
            }
            other => {
                let refused = refused(other.ok());
                self.photo_refused = Some(refused.told());
                Err(refused)
            }
        }
    }

    /// How many photographs taken here the relay does not have yet.
    ///
    /// # Errors
    /// [`StationError`].
    pub fn photos_unsent(&self) -> Result<u64, StationError> {
        Ok(self.replica.store().unsent_pictures()?)
    }

    fn kept_photo(&mut self, visit: &DocId, id: &EntryId) -> Result<(PictureHash, Kept), StationError> {
        let view = self.visit_view(visit)?;
        let photo = view.photos.iter().find(|photo| photo.id == *id).and_then(|photo| photo.value().cloned());
        let photo = photo.ok_or_else(|| StationError::NotFound {
            what: term!("photograph"),
            name: id.to_string(),
            hint: term!("look at the visit for those that there are"),
        })?;
        let elsewhere =
            || StationError::Picture(told!("this picture is kept elsewhere: the salon has its hash only"));
        let kept = photo.kept.ok_or_else(elsewhere)?;
        let hash = read_hex(&kept.hash).ok_or_else(elsewhere)?;
        Ok((hash, kept))
    }
}

fn refused(answer: Option<Answer>) -> StationError {
    StationError::Picture(match answer {
        Some(Answer::Refused(refusal)) => relays(&refusal.say),
        _ => told!("the relay's answer cannot be read"),
    })
}

fn opened(kept: &Kept, locked: &[u8]) -> Result<Vec<u8>, StationError> {
    let key = read_hex(&kept.key).map(LockKey::from_bytes);
    let picture = key.and_then(|key| key.open(Purpose::Picture, locked));
    picture.ok_or_else(|| {
        StationError::Picture(told!("this picture cannot be opened with the key on its visit"))
    })
}

fn read_hex(text: &str) -> Option<[u8; 32]> {
    hex::decode(text).ok()?.try_into().ok()
}

/// What kind of picture begins so.
fn kind(bytes: &[u8]) -> Option<&'static str> {
    match bytes {
        [0xff, 0xd8, 0xff, ..] => Some("image/jpeg"),
        [0x89, b'P', b'N', b'G', b'\r', b'\n', 0x1a, b'\n', ..] => Some("image/png"),
        [b'R', b'I', b'F', b'F', _, _, _, _, b'W', b'E', b'B', b'P', ..] => Some("image/webp"),
        _ => None,
    }
}
