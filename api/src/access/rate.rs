//! How often somebody may ask.

use governor::clock::{Clock, DefaultClock};
use governor::{DefaultKeyedRateLimiter, Quota, RateLimiter};
use std::net::{IpAddr, Ipv6Addr};
use std::num::NonZeroU32;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::Duration;

/// In a burst somebody may ask for so many seconds' worth at once.
const BURST_S: u32 = 4;
/// After so many requests those who have been quiet are forgotten, or the memory would fill with addresses.
const BETWEEN_SWEEPS: usize = 10_000;

/// Whose requests are counted together.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Whose {
    /// Those of one holder of a token.
    Holder(String),
    /// Those from one address, or from one network where addresses are plenty.
    Address(IpAddr),
}

/// The limits of one service.
pub struct Rates {
    limiter: DefaultKeyedRateLimiter<Whose>,
    asked: AtomicUsize,
}

impl Rates {
    /// So many requests a second for each token, and for each address without one.
    #[must_use]
    pub fn per_second(most: NonZeroU32) -> Self {
        let quota = Quota::per_second(most)
            .allow_burst(most.saturating_mul(NonZeroU32::new(BURST_S).unwrap_or(NonZeroU32::MIN)));
        Self {
            limiter: RateLimiter::keyed(quota),
            asked: AtomicUsize::new(0),
        }
    }

    /// Counts a request.
    ///
    /// # Errors
    /// How long to wait before the next one, where there were too many.
    pub fn take(&self, holder: Option<&str>, address: Option<IpAddr>) -> Result<(), Duration> {
        if self.asked.fetch_add(1, Ordering::Relaxed) % BETWEEN_SWEEPS == BETWEEN_SWEEPS - 1 {
            self.limiter.retain_recent();
        }
        let whose = match (holder, address) {
            (Some(holder), _) => Whose::Holder(holder.to_owned()),
            (None, Some(address)) => Whose::Address(network(address)),
            (None, None) => return Ok(()),
        };
        self.limiter
            .check_key(&whose)
            .map_err(|until| until.wait_time_from(DefaultClock::default().now()))
    }
}

/// One subscriber has a whole network of 64 bits in IPv6.
fn network(address: IpAddr) -> IpAddr {
    match address.to_canonical() {
        IpAddr::V4(address) => address.into(),
        IpAddr::V6(address) => Ipv6Addr::from_bits(address.to_bits() >> 64 << 64).into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_many_are_refused_and_others_are_not_hindered() {
        let rates = Rates::per_second(NonZeroU32::MIN);
        let (one, other): (IpAddr, IpAddr) = ("192.0.2.1".parse().unwrap(), "192.0.2.2".parse().unwrap());
        for _ in 0..BURST_S {
            assert_eq!(rates.take(None, Some(one)), Ok(()));
        }
        assert!(rates.take(None, Some(one)).is_err());
        assert_eq!(rates.take(None, Some(other)), Ok(()));
        assert_eq!(
            rates.take(Some("party"), Some(one)),
            Ok(()),
            "a token counts by itself"
        );
    }

    #[test]
    fn a_network_is_one_subscriber() {
        let network = |text: &str| network(text.parse().unwrap()).to_string();
        assert_eq!(network("2001:db8:1:2:3:4:5:6"), "2001:db8:1:2::");
        assert_eq!(network("::ffff:192.0.2.1"), "192.0.2.1");
    }
}
