//! A network that loses requests and answers (F6).

use super::checker::passes;
use super::phones::{Crowd, World};
use super::program::{Program, sqlite_in};
use super::proxy::BadNetwork;
use super::{alone, amount, bound};
use std::time::Instant;
use tempfile::TempDir;

#[test]
fn a_round_counts_once_however_bad_the_network() {
    alone(|seed| async move {
        let (phones, events) = (amount(32, 64), amount(6, 250));
        let folder = TempDir::new().unwrap();
        let database = sqlite_in(folder.path());
        let server = Program::start(&database, folder.path()).await;
        let world = World::found(&server.origin(), phones, 2, events).await;
        let network = BadNetwork::before(server.address(), seed).await;
        let began = Instant::now();
        Crowd::start(&world, std::slice::from_ref(&network.origin), folder.path(), seed).finish().await;
        let acks = passes(&world, &database, &server.origin(), folder.path()).await;
        assert_eq!(acks, phones * 2 * events, "every phone hands all its rounds in");
        let (mishaps, took) = (&network.mishaps, began.elapsed());
        println!("F6: {acks} rounds of {phones} phones in {took:.0?}, {mishaps:?}; lost or doubled {}", bound(acks));
    });
}
