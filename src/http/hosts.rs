//! Which hosts a request may name. A server on loopback has no name of its own, so a browser that names another was led
//! here by a page whose name was made to mean this machine (DNS rebinding).

use actix_web::dev::ServiceRequest;
use actix_web::http::header;
use std::net::SocketAddr;

/// The hosts that a server on loopback answers for.
pub fn of_loopback(address: SocketAddr) -> Vec<String> {
    let port = address.port();
    let mut hosts: Vec<String> =
        ["localhost", "127.0.0.1", "[::1]"].iter().map(|name| format!("{name}:{port}")).collect();
    if !hosts.contains(&address.to_string()) {
        hosts.push(address.to_string());
    }
    if port == 80 {
        // Browsers leave the usual port out.
        hosts.extend(hosts.clone().iter().filter_map(|host| host.strip_suffix(":80").map(str::to_owned)));
    }
    hosts
}

/// Says whether a request names one of some hosts.
pub fn is_named(hosts: &[String], request: &ServiceRequest) -> bool {
    let is_one = |named: &str| hosts.iter().any(|host| host.eq_ignore_ascii_case(named));
    let host = request.headers().get(header::HOST).and_then(|host| host.to_str().ok());
    host.is_some_and(is_one) && request.uri().authority().is_none_or(|authority| is_one(authority.as_str()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_usual_port_may_be_left_out_and_another_loopback_address_is_its_own_host() {
        let hosts = |address: &str| of_loopback(address.parse().expect("an address"));
        assert_eq!(hosts("127.0.0.1:8787"), ["localhost:8787", "127.0.0.1:8787", "[::1]:8787"]);
        assert_eq!(hosts("127.0.0.2:8787").last().map(String::as_str), Some("127.0.0.2:8787"));
        let usual = hosts("[::1]:80");
        assert!(usual.contains(&"localhost".into()) && usual.contains(&"[::1]".into()), "{usual:?}");
    }
}
