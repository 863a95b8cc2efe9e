//! Which address a request comes from where proxies stand in front.

use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::str::FromStr;

/// An address, or a block of addresses in CIDR notation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Block {
    first: IpAddr,
    bits: u32,
}

/// The proxies on this machine.
pub const LOOPBACK: [Block; 2] = [
    Block { first: IpAddr::V4(Ipv4Addr::new(127, 0, 0, 0)), bits: 8 },
    Block { first: IpAddr::V6(Ipv6Addr::LOCALHOST), bits: 128 },
];

impl Block {
    fn holds(&self, address: IpAddr) -> bool {
        match (self.first, address) {
            (IpAddr::V4(first), IpAddr::V4(address)) => {
                (u32::from(first) ^ u32::from(address)).leading_zeros() >= self.bits
            }
            (IpAddr::V6(first), IpAddr::V6(address)) => {
                (u128::from(first) ^ u128::from(address)).leading_zeros() >= self.bits
            }
            _ => false,
        }
    }
}

impl FromStr for Block {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let bad = || format!("{text:?} is neither an address nor a block of addresses, such as 10.0.0.5 or 10.0.0.0/8");
        let (address, bits) = text.split_once('/').map_or((text, None), |(address, bits)| (address, Some(bits)));
        let first: IpAddr = address.trim().parse().map_err(|_| bad())?;
        let most = if first.is_ipv4() { 32 } else { 128 };
        let bits = bits.map_or(Ok(most), |bits| bits.trim().parse().map_err(|_| bad()))?;
        if bits > most {
            return Err(bad());
        }
        Ok(Self { first, bits })
    }
}

/// Returns the address that a request comes from: the peer, or where the peer is a trusted proxy, the last hop of
/// `X-Forwarded-For` that is none. What stands before that hop may be made up.
pub fn client(trusted: &[Block], peer: IpAddr, forwarded: &[&str]) -> IpAddr {
    let is_trusted = |address: IpAddr| trusted.iter().any(|block| block.holds(address));
    let mut client = peer.to_canonical();
    let hops = forwarded.iter().rev().flat_map(|line| line.rsplit(','));
    for hop in hops {
        let address = || hop.trim().parse().or_else(|_| hop.trim().parse::<SocketAddr>().map(|hop| hop.ip()));
        match (is_trusted(client), address()) {
            (true, Ok(address)) => client = address.to_canonical(),
            _ => break,
        }
    }
    client
}

#[cfg(test)]
mod tests {
    use super::*;

    fn blocks(texts: &[&str]) -> Vec<Block> {
        texts.iter().map(|text| text.parse().expect("a block")).collect()
    }

    fn ip(text: &str) -> IpAddr {
        text.parse().expect("an address")
    }

    #[test]
    fn a_block_holds_its_addresses_and_no_others() {
        let holds = |block: &str, address: &str| blocks(&[block])[0].holds(ip(address));
        assert!(holds("10.1.0.0/16", "10.1.255.255") && !holds("10.1.0.0/16", "10.2.0.0"));
        assert!(holds("192.0.2.7", "192.0.2.7") && !holds("192.0.2.7", "192.0.2.6"));
        assert!(holds("0.0.0.0/0", "198.51.100.1") && !holds("0.0.0.0/0", "2001:db8::1"));
        assert!(holds("2001:db8::/32", "2001:db8:ffff::1") && !holds("2001:db8::/32", "2001:db9::1"));
        for bad in ["", "proxy.example", "10.0.0.0/33", "10.0.0.0/-1", "10.0.0.0/", "::/129", "10.0.0"] {
            assert!(bad.parse::<Block>().is_err(), "{bad}");
        }
    }

    #[test]
    fn only_trusted_proxies_are_believed_and_only_about_the_hop_before_them() {
        let at = |trusted: &[&str], peer: &str, forwarded: &[&str]| {
            client(&blocks(trusted), ip(peer), forwarded).to_string()
        };
        let near = &["127.0.0.0/8", "10.0.0.0/8"][..];
        assert_eq!(at(near, "127.0.0.1", &[]), "127.0.0.1");
        assert_eq!(at(near, "127.0.0.1", &["198.51.100.1"]), "198.51.100.1");
        assert_eq!(at(near, "192.0.2.1", &["198.51.100.1"]), "192.0.2.1", "whoever connects is not believed");
        assert_eq!(at(&[], "127.0.0.1", &["198.51.100.1"]), "127.0.0.1");
        assert_eq!(at(near, "10.0.0.9", &["203.0.113.5, 198.51.100.1"]), "198.51.100.1", "the first may be made up");
        assert_eq!(at(near, "127.0.0.1", &["203.0.113.5, 198.51.100.1, 10.0.0.3,10.0.0.4"]), "198.51.100.1");
        assert_eq!(
            at(near, "127.0.0.1", &["203.0.113.5", "198.51.100.1", "10.0.0.3"]),
            "198.51.100.1",
            "several lines"
        );
        assert_eq!(at(near, "127.0.0.1", &["10.0.0.3"]), "10.0.0.3", "all of them are proxies");
        assert_eq!(
            at(near, "127.0.0.1", &["198.51.100.1, unknown, 10.0.0.3"]),
            "10.0.0.3",
            "no further than is readable"
        );
        assert_eq!(at(near, "127.0.0.1", &["198.51.100.1:4711"]), "198.51.100.1");
        assert_eq!(at(near, "::ffff:127.0.0.1", &["[2001:db8::1]:4711"]), "2001:db8::1");
    }
}
