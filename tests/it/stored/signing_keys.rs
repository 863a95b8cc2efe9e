//! The keys that sign tokens are exchanged while the servers run (S10).

use super::backup::{ends, run, to_the_present};
use crate::support::harness::{Api, Person, Server, Settings, own};
use evenfield::storage::Store;
use std::time::Duration;

/// Says which key signed.
fn header(person: &Person) -> &str {
    person.token.split('.').next().unwrap_or_default()
}

/// A new key signs after a minute on every server, and no request fails meanwhile.
#[tokio::test]
async fn keys_are_exchanged_without_a_failed_request() {
    let api = own();
    let mut servers = vec![api.clone()];
    if api.server.app.leagues.database.is_shared() {
        servers.push(Api::new(api.server.beside()));
    }
    to_the_present(&api);
    let early = api.person("Ann").await;
    ends(&run(api.server.store(), &["rotate-key"]).await, 0, "signs from");
    let is_read = |server: &Api| server.server.app.door.keys.now().ring.last_from() > server.server.app.leagues.now();
    for _ in 0..3_000 {
        for server in &servers {
            server.get("/me").by(&early).expect(200).await;
            let late = server.sign_in(&early.email).await;
            assert_eq!(header(&late), header(&early), "the new key signs before every server may know it");
        }
        if servers.iter().all(is_read) {
            break;
        }
        tokio::time::sleep(Duration::from_millis(100)).await;
    }
    assert!(servers.iter().all(is_read), "a server did not read the new key");

    api.server.pass(61);
    for server in &servers {
        let late = server.sign_in(&early.email).await;
        assert_ne!(header(&late), header(&early), "the old key still signs");
        for asked in &servers {
            asked.get("/me").by(&late).expect(200).await;
            asked.get("/me").by(&early).expect(200).await;
        }
    }
    api.server.pass(600);
    let late = api.sign_in(&early.email).await;
    api.get("/me").by(&early).refused(401, "unauthenticated").await;
    api.get("/me").by(&late).expect(200).await;

    // A server that starts later reads the same keys.
    let again = Api::new(api.server.beside());
    again.get("/me").by(&late).expect(200).await;
    #[cfg(unix)]
    if let Store::File(path) = &api.server.store().store {
        use std::os::unix::fs::PermissionsExt;
        let key = path.with_added_extension("key");
        let mode = std::fs::metadata(key).expect("the key file").permissions().mode();
        assert_eq!(mode & 0o777, 0o600, "others may read the key");
    }
}

/// Where the keys cannot be read any more, those that are known go on.
#[tokio::test]
async fn a_key_file_that_is_gone_stops_nobody() {
    let api = Api::new(Server::start(Settings::default()));
    let Store::File(path) = &api.server.store().store else { return };
    let ann = api.person("Ann").await;
    std::fs::remove_file(path.with_added_extension("key")).expect("the key file");
    tokio::time::sleep(Duration::from_secs(6)).await;
    api.get("/me").by(&ann).expect(200).await;
    assert_eq!(header(&api.sign_in(&ann.email).await), header(&ann));
    ends(&run(api.server.store(), &["rotate-key"]).await, 2, "cannot be read");
}
