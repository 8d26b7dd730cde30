//! How many pulls of one device wait for news at once.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use tailcomb_wire::ids::DeviceId;

/// Counts waiting pulls by device.
#[derive(Clone)]
pub(crate) struct Waits {
    most: usize,
    waiting: Arc<Mutex<HashMap<DeviceId, usize>>>,
}

/// One waiting pull; dropped when it answers or its connection ends.
pub(crate) struct Waiting {
    waits: Waits,
    device: DeviceId,
}

impl Waits {
    pub(crate) fn new(most: usize) -> Self {
        Self { most, waiting: Arc::default() }
    }

    /// A place to wait, if the device may have one more.
    pub(crate) fn enter(&self, device: DeviceId) -> Option<Waiting> {
        let mut waiting = self.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        let count = waiting.entry(device).or_default();
        if *count >= self.most {
            return None;
        }
        *count += 1;
        Some(Waiting { waits: self.clone(), device })
    }
}

impl Drop for Waiting {
    fn drop(&mut self) {
        let mut waiting = self.waits.waiting.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = waiting.get_mut(&self.device) {
            *count -= 1;
            if *count == 0 {
                waiting.remove(&self.device);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_device_waits_only_so_often_at_once() {
        let waits = Waits::new(2);
        let (one, other) = (DeviceId([1; 32]), DeviceId([2; 32]));
        let first = waits.enter(one);
        let _second = waits.enter(one).unwrap();
        assert!(waits.enter(one).is_none());
        assert!(waits.enter(other).is_some());
        drop(first);
        assert!(waits.enter(one).is_some(), "an ended wait frees its place");
    }
}
