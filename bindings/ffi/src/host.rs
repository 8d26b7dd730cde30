//! What the host lends: a vault for the key of the store, a scheduler of exact alarms, word of the network, a clock that
//! runs on while the device sleeps. Each is optional; on a desktop nothing needs to be lent.

use std::fs::{self, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use tailcomb_core::record::timer::Alarm;
use tailcomb_core::time::{Clock, ClockReading};

/// What the host lends.
#[derive(Default, uniffi::Record)]
pub struct HostServices {
    /// Where the key of the store is kept; none: in a file beside the store, for its owner only.
    #[uniffi(default)]
    pub key_vault: Option<Arc<dyn KeyVault>>,
    /// Who rings when the app sleeps.
    #[uniffi(default)]
    pub alarms: Option<Arc<dyn AlarmScheduler>>,
    /// Who knows of the network.
    #[uniffi(default)]
    pub connectivity: Option<Arc<dyn Connectivity>>,
    /// A clock that runs on while the device sleeps; none: the system's own, which Linux, Android and Apple systems have.
    #[uniffi(default)]
    pub clock: Option<Arc<dyn HostClock>>,
    /// The certificate (PEM) of the one authority that vouches for the relay; none: those that the system trusts.
    #[uniffi(default)]
    pub authority: Option<Vec<u8>>,
}

/// Why a vault gives no key.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, uniffi::Error)]
pub enum KeyVaultError {
    /// It has none that can be used: lost, or locked until the device is unlocked.
    #[error("{reason}")]
    Unavailable {
        /// In words.
        reason: String,
    },
}

impl From<uniffi::UnexpectedUniFFICallbackError> for KeyVaultError {
    fn from(error: uniffi::UnexpectedUniFFICallbackError) -> Self {
        Self::Unavailable { reason: error.reason }
    }
}

/// Keeps one key of 32 bytes where nobody but this app reads it: Android Keystore, iOS Keychain.
#[uniffi::export(rust, foreign)]
pub trait KeyVault: Send + Sync {
    /// The key that was kept; none where none was.
    ///
    /// # Errors
    /// [`KeyVaultError`].
    fn key(&self) -> Result<Option<Vec<u8>>, KeyVaultError>;

    /// Keeps a key, in place of any other.
    ///
    /// # Errors
    /// [`KeyVaultError`].
    fn keep(&self, key: Vec<u8>) -> Result<(), KeyVaultError>;
}

/// Rings although the app sleeps: Android's exact alarms, iOS's local notifications.
#[uniffi::export(foreign)]
pub trait AlarmScheduler: Send + Sync {
    /// From now on these are to ring and no others, soonest first, at most 64 (iOS keeps no more). One whose instant has
    /// passed rings until somebody silences it.
    fn schedule(&self, alarms: Vec<Alarm>);
}

/// Knows whether there is a network.
#[uniffi::export(foreign)]
pub trait Connectivity: Send + Sync {
    /// Tell it whenever a network comes or goes. Called once; keep it as long as the app lives.
    fn tell(&self, network: Arc<NetworkTold>);
}

/// Two clocks. See `SystemClock.elapsedRealtime` on Android, `mach_continuous_time` on Apple systems.
#[uniffi::export(foreign)]
pub trait HostClock: Send + Sync {
    /// Milliseconds since 1970 UTC by the clock on the wall.
    fn wall_ms(&self) -> i64;

    /// Milliseconds since some moment of this boot, time asleep included. Never goes back.
    fn boot_ms(&self) -> i64;
}

/// Takes word of the network.
#[derive(uniffi::Object)]
pub struct NetworkTold(pub(crate) Box<dyn Fn() + Send + Sync>);

impl std::fmt::Debug for NetworkTold {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("NetworkTold").finish_non_exhaustive()
    }
}

#[uniffi::export]
impl NetworkTold {
    /// There is a network (again), or there is none. What waits goes out at once when one comes.
    pub fn reachable(&self, is: bool) {
        if is {
            (self.0)();
        }
    }
}

/// The host's clock as the station reads it.
pub(crate) struct Lent(pub(crate) Arc<dyn HostClock>);

impl Clock for Lent {
    fn read(&self) -> ClockReading {
        ClockReading { wall_ms: self.0.wall_ms(), boot_ms: self.0.boot_ms() }
    }
}

/// A vault that is a file for its owner only: for desktops without a better one.
#[uniffi::export]
pub fn file_key_vault(path: String) -> Arc<dyn KeyVault> {
    Arc::new(FileVault(PathBuf::from(path)))
}

pub(crate) struct FileVault(pub(crate) PathBuf);

impl KeyVault for FileVault {
    fn key(&self) -> Result<Option<Vec<u8>>, KeyVaultError> {
        match fs::read(&self.0) {
            Ok(key) => Ok(Some(key)),
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => Ok(None),
            Err(error) => Err(unavailable(&error)),
        }
    }

    fn keep(&self, key: Vec<u8>) -> Result<(), KeyVaultError> {
        write_private(&self.0, &key).map_err(|error| unavailable(&error))
    }
}

fn unavailable(error: &std::io::Error) -> KeyVaultError {
    KeyVaultError::Unavailable { reason: format!("the file of the key: {error}") }
}

/// Written beside and moved into place, so that a key is never half there.
fn write_private(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let beside = path.with_extension("new");
    let mut options = OpenOptions::new();
    options.write(true).create(true).truncate(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(&beside)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&beside, path)
}
