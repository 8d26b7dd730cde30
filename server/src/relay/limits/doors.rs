//! How many connections one address may hold.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, PoisonError};

/// Counts connections by address.
#[derive(Clone)]
pub(crate) struct Doors {
    most: usize,
    open: Arc<Mutex<HashMap<IpAddr, usize>>>,
}

/// One connection's place; dropped with the connection.
pub(crate) struct DoorPass {
    held: Option<(Doors, IpAddr)>,
}

impl Doors {
    pub(crate) fn new(most: usize) -> Self {
        Self { most, open: Arc::default() }
    }

    /// A place for one more connection of this address, if it may have one.
    pub(crate) fn enter(&self, address: IpAddr) -> Option<DoorPass> {
        let address = neighbourhood(address);
        if address.is_loopback() {
            return Some(DoorPass { held: None });
        }
        let mut open = self.open.lock().unwrap_or_else(PoisonError::into_inner);
        let count = open.entry(address).or_default();
        if *count >= self.most {
            return None;
        }
        *count += 1;
        Some(DoorPass { held: Some((self.clone(), address)) })
    }
}

impl Drop for DoorPass {
    fn drop(&mut self) {
        let Some((doors, address)) = &self.held else { return };
        let mut open = doors.open.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(count) = open.get_mut(address) {
            *count -= 1;
            if *count == 0 {
                open.remove(address);
            }
        }
    }
}

/// What counts as one address: of IPv6 the /64 that one household gets, of IPv4-in-IPv6 the IPv4 address.
pub(crate) fn neighbourhood(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V6(v6) if !v6.is_loopback() => {
            let [a, b, c, d, ..] = v6.segments();
            IpAddr::from([a, b, c, d, 0, 0, 0, 0])
        }
        other => other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_cannot_take_every_connection() {
        let doors = Doors::new(2);
        let (one, other) = ("192.0.2.7".parse().unwrap(), "192.0.2.8".parse().unwrap());
        let _first = doors.enter(one).unwrap();
        let second = doors.enter(one).unwrap();
        assert!(doors.enter(one).is_none());
        assert!(doors.enter(other).is_some());
        drop(second);
        assert!(doors.enter(one).is_some(), "a closed connection frees its place");
    }

    #[test]
    fn a_household_with_many_ipv6_addresses_counts_once() {
        let doors = Doors::new(1);
        let _first = doors.enter("2001:db8:1:2::1".parse().unwrap()).unwrap();
        assert!(doors.enter("2001:db8:1:2:ffff::9".parse().unwrap()).is_none());
        assert!(doors.enter("2001:db8:1:3::1".parse().unwrap()).is_some());
    }

    #[test]
    fn an_ipv4_address_in_ipv6_clothes_is_the_same_address() {
        let doors = Doors::new(1);
        let _first = doors.enter("192.0.2.7".parse().unwrap()).unwrap();
        assert!(doors.enter("::ffff:192.0.2.7".parse().unwrap()).is_none());
    }

    #[test]
    fn this_machine_is_not_counted() {
        let doors = Doors::new(1);
        let passes: Vec<_> = (0..5).map(|_| doors.enter("127.0.0.1".parse().unwrap())).collect();
        assert!(passes.iter().all(Option::is_some));
    }

    #[test]
    fn addresses_without_connections_take_no_memory() {
        let doors = Doors::new(1);
        drop(doors.enter("192.0.2.7".parse().unwrap()));
        assert!(doors.open.lock().unwrap().is_empty());
    }
}
