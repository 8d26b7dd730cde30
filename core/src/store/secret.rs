//! Settings that are secrets. A host that has a key store of its own gives the store a key (`lock_secrets`); they then
//! lie locked under it, and whoever reads the file finds none of them. Where there is no key they lie as they are, and
//! the file is its owner's alone.

use super::{Store, StoreError, Tx};
use crate::wire::lock::{LockKey, Purpose};

fn locked(name: &str) -> String {
    format!("locked {name}")
}

impl Store {
    /// Keeps secrets locked under this key from now on, and reads them with it.
    pub fn lock_secrets(&mut self, key: LockKey) {
        self.key = Some(key);
    }

    /// A secret, if it is there.
    ///
    /// # Errors
    /// [`StoreError::Locked`] when the key is missing or another.
    pub fn secret(&self, name: &str) -> Result<Option<Vec<u8>>, StoreError> {
        match self.setting(&locked(name))? {
            None => self.setting(name),
            Some(bytes) => {
                let opened = self.key.as_ref().and_then(|key| key.open(Purpose::Setting(name), &bytes));
                opened.map(Some).ok_or(StoreError::Locked)
            }
        }
    }

    /// Locks those secrets that still lie open in a file of an earlier version, and builds it anew without their traces.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is lost, and it is tried again at the next opening.
    pub fn lock_open_secrets(&mut self, names: &[&str]) -> Result<(), StoreError> {
        if self.key.is_none() {
            return Ok(());
        }
        let mut open = Vec::new();
        for name in names {
            open.extend(self.setting(name)?.map(|value| (*name, value)));
        }
        if open.is_empty() {
            return Ok(());
        }
        self.write::<_, StoreError>(|tx| {
            for (name, value) in &open {
                tx.set_secret(name, value)?;
            }
            tx.wipe_later()
        })
    }
}

impl Tx<'_> {
    /// Keeps a secret.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn set_secret(&self, name: &str, value: &[u8]) -> Result<(), StoreError> {
        match self.key {
            None => self.set(name, value),
            Some(key) => {
                self.set(&locked(name), &key.lock(Purpose::Setting(name), value))?;
                self.unset(name)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::path::Path;

    use super::*;
    use crate::store::Durability;

    const SEED: [u8; 32] = *b"thirty-two bytes that are a seed";

    fn open(path: &Path, key: Option<u8>) -> Store {
        let mut store = Store::open(path, Durability::Full).unwrap();
        if let Some(key) = key {
            store.lock_secrets(LockKey::from_bytes([key; 32]));
        }
        store
    }

    fn holds_seed(folder: &Path) -> bool {
        let mut files = std::fs::read_dir(folder).unwrap();
        files.any(|file| {
            let bytes = std::fs::read(file.unwrap().path()).unwrap();
            bytes.windows(SEED.len()).any(|window| window == SEED)
        })
    }

    #[test]
    fn a_locked_secret_opens_with_its_key_alone_and_is_in_no_file() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("station.db");
        open(&path, Some(1)).write::<_, StoreError>(|tx| tx.set_secret("seed", &SEED)).unwrap();
        assert!(!holds_seed(folder.path()));
        assert_eq!(open(&path, Some(1)).secret("seed").unwrap().as_deref(), Some(&SEED[..]));
        assert!(matches!(open(&path, Some(2)).secret("seed"), Err(StoreError::Locked)));
        assert!(matches!(open(&path, None).secret("seed"), Err(StoreError::Locked)));
        assert_eq!(open(&path, Some(2)).secret("other").unwrap(), None);
    }

    #[test]
    fn an_open_secret_of_an_earlier_version_is_locked_and_leaves_no_trace() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("station.db");
        open(&path, None).write::<_, StoreError>(|tx| tx.set_secret("seed", &SEED)).unwrap();
        assert!(holds_seed(folder.path()), "the check can see it");
        let mut store = open(&path, Some(1));
        assert_eq!(store.secret("seed").unwrap().as_deref(), Some(&SEED[..]));
        store.lock_open_secrets(&["seed", "none"]).unwrap();
        assert!(store.wipe_due().unwrap());
        store.wipe().unwrap();
        assert_eq!(store.secret("seed").unwrap().as_deref(), Some(&SEED[..]));
        drop(store);
        assert!(!holds_seed(folder.path()));
    }
}
