//! The salon's keys: whom they are sent to, and kept only together with the frame that sends them.

use super::chain::{numbered, too_much};
use super::replica::{Replica, SyncError, setting};
use crate::ids::DocId;
use crate::record::salon::SalonView;
use crate::store::{OwnFrame, StoreError, Tx};
use crate::wire::frame::Place;
use crate::wire::ids::BoxPublic;
use crate::wire::keyring::Keyring;

impl Replica {
    /// Seals keys in a box for each of the stations, the recovery words and this station itself, without keeping the
    /// frame; with what [`Replica::keep_keys`] keeps with it.
    pub(super) fn seal_keys(
        &mut self,
        place: &Place,
        keyring: &Keyring,
        stations: &[BoxPublic],
    ) -> Result<(OwnFrame, Vec<u8>), SyncError> {
        let mut recipients = vec![self.identity.recovery_box, self.identity.secret.box_public()];
        recipients.extend(stations.iter().filter(|s| **s != self.identity.secret.box_public()));
        let bytes = crate::wire::keyring_frame::seal_keyring(place, keyring, &recipients, &mut *self.random)
            .map_err(too_much)?;
        let sent_to = recipients.iter().flat_map(|to| to.0).collect();
        Ok((numbered(place, bytes), sent_to))
    }

    /// Keeps a frame from [`Replica::seal_keys`] and whom it is for.
    pub(super) fn keep_keys(tx: &Tx<'_>, (frame, sent_to): &(OwnFrame, Vec<u8>)) -> Result<(), StoreError> {
        tx.set(setting::KEYS_FOR, sent_to)?;
        tx.add_own_frame(frame)
    }

    pub(super) fn keep_keyring(tx: &Tx<'_>, keyring: &Keyring) -> Result<(), StoreError> {
        tx.set_secret(setting::KEYRING, &keyring.encode())
    }

    /// The roster has changed. A station that made a key knew only the stations that it had heard of; whoever it hears
    /// of later is sent the keys then, or would never read what is sealed under them.
    pub(super) fn send_keys_to_newcomers(&mut self, roster_changed: bool) -> Result<(), SyncError> {
        self.keys_due |= roster_changed;
        if !self.keys_due {
            return Ok(());
        }
        // The founding key comes with every invitation.
        if self.identity.keyring.key_count() > 1
            && let Some(sent_to) = self.store.setting(setting::KEYS_FOR)?
        {
            let stations = self.roster()?;
            if stations.iter().any(|s| !sent_to.chunks(s.0.len()).any(|sent| sent == s.0)) {
                self.publish(self.identity.keyring.clone(), &stations)?;
            }
        }
        self.keys_due = false;
        Ok(())
    }

    /// The stations that belong to the salon by this station's own roster.
    pub(super) fn roster(&mut self) -> Result<Vec<BoxPublic>, SyncError> {
        let salon = self.document(&DocId::salon())?.view::<SalonView>();
        let belonging = salon.stations.iter().filter(|s| s.belongs());
        Ok(belonging.filter_map(|s| BoxPublic::parse(s.box_key.as_deref()?)).collect())
    }

    /// Sends the salon's keys to the recovery words and the given stations, each in a box of its own.
    ///
    /// # Errors
    /// [`SyncError`].
    pub fn publish_keyring(&mut self, stations: &[BoxPublic]) -> Result<(), SyncError> {
        self.publish(self.identity.keyring.clone(), stations)
    }

    /// Takes a keyring as this station's own and sends it: both, or neither.
    fn publish(&mut self, keyring: Keyring, stations: &[BoxPublic]) -> Result<(), SyncError> {
        let place = self.next_place();
        let keys = self.seal_keys(&place, &keyring, stations)?;
        self.store.write::<_, SyncError>(|tx| {
            tx.set_secret(setting::KEYRING, &keyring.encode())?;
            Ok(Self::keep_keys(tx, &keys)?)
        })?;
        self.identity.keyring = keyring;
        self.chain = (keys.0.dseq, keys.0.hash);
        self.unsent += 1;
        Ok(())
    }

    /// Makes a new key generation and sends it to the stations that remain.
    ///
    /// # Errors
    /// [`SyncError`].
    pub fn rotate_keys(&mut self, remaining: &[BoxPublic]) -> Result<(), SyncError> {
        // Not before it is on the disk: what is sealed under a key that nobody keeps is lost.
        let mut keyring = self.identity.keyring.clone();
        keyring.rotate(&mut *self.random);
        self.publish(keyring, remaining)
    }
}
