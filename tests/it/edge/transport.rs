//! What is refused before any route is looked for: requests that are too long, name another host, or can be read in two
//! ways (S25, S26, S27).

use crate::support::harness::{Api, PASSWORD, Server, Settings, own, secure, shared};
use evenfield::http::quota::Allowance;
use reqwest::header::{HeaderMap, HeaderName, HeaderValue};
use serde_json::{Value, json};
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;

/// What came back on a connection until the server closed it.
struct Told(Vec<u8>);

impl Told {
    fn head(&self) -> String {
        let end = self.0.windows(4).position(|four| four == b"\r\n\r\n").expect("a head");
        String::from_utf8(self.0[..end].to_vec()).expect("a head is ASCII")
    }

    fn status(&self) -> u16 {
        self.head().split(' ').nth(1).expect("a status").parse().expect("a number")
    }

    fn headers(&self) -> HeaderMap {
        let head = self.head();
        let lines = head.lines().skip(1).filter_map(|line| line.split_once(": "));
        let value = |value: &str| HeaderValue::from_str(value).expect("a value");
        lines.map(|(name, text)| (name.parse::<HeaderName>().expect("a name"), value(text))).collect()
    }

    fn problem(&self) -> Value {
        let body = &self.0[self.head().len() + 4..];
        serde_json::from_slice(body).unwrap_or_else(|error| panic!("{error}: {}", String::from_utf8_lossy(&self.0)))
    }

    /// How many answers there are.
    fn answers(&self) -> usize {
        String::from_utf8_lossy(&self.0).matches("HTTP/1.1 ").count()
    }
}

/// Sends bytes as they are.
async fn says(api: &Api, request: impl AsRef<[u8]>) -> Told {
    let mut socket = TcpStream::connect(api.server.address).await.expect("a connection");
    socket.write_all(request.as_ref()).await.expect("sent");
    let mut answer = Vec::new();
    let read = socket.read_to_end(&mut answer);
    tokio::time::timeout(crate::support::harness::PATIENCE, read)
        .await
        .expect("the server closes")
        .expect("it is read");
    Told(answer)
}

/// A request whose header fields have so many bytes, counted as the server counts them.
fn of_header_bytes(api: &Api, bytes: usize) -> String {
    let host = api.server.address.to_string();
    let fixed = [("Host", host.as_str()), ("Connection", "close"), ("X-Long", "")];
    let used: usize = fixed.iter().map(|(name, value)| name.len() + value.len() + 4).sum();
    let long = "x".repeat(bytes - used);
    format!("GET /livez HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\nX-Long: {long}\r\n\r\n")
}

fn of_target(api: &Api, target: &str) -> String {
    format!("GET {target} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", api.server.address)
}

/// S25: header fields of 16 KiB and targets of 8 KiB pass; a byte more is refused as everything else is.
#[tokio::test]
async fn long_headers_and_long_addresses_are_refused() {
    let (api, _) = shared().await;
    assert_eq!(says(&api, of_header_bytes(&api, 16_384)).await.status(), 200);
    let told = says(&api, of_header_bytes(&api, 16_385)).await;
    assert_eq!(
        (told.status(), told.problem()["type"].as_str()),
        (431, Some("/problems/request-header-fields-too-large"))
    );
    secure("431", &told.headers());

    let target = |bytes: usize| format!("/livez?{}", "x".repeat(bytes - "/livez?".len()));
    assert_eq!(says(&api, of_target(&api, &target(8_192))).await.status(), 200);
    let told = says(&api, of_target(&api, &target(8_193))).await;
    assert_eq!((told.status(), told.problem()["type"].as_str()), (414, Some("/problems/uri-too-long")));
    secure("414", &told.headers());
}

/// S26: what two servers could read in two ways is refused, and what follows it on the connection is not looked at.
#[tokio::test]
async fn requests_that_can_be_read_in_two_ways_are_refused() {
    let (api, _) = shared().await;
    let host = format!("Host: {}\r\n", api.server.address);
    let hidden = format!("GET /livez HTTP/1.1\r\n{host}\r\n");
    let post = |fields: &str| format!("POST /api/v1/sessions HTTP/1.1\r\n{host}{fields}\r\n0\r\n\r\n{hidden}");
    let length = hidden.len() + 5;
    let cases = [
        post(&format!("Content-Length: {length}\r\nTransfer-Encoding: chunked\r\n")),
        post(&format!("Transfer-Encoding: chunked\r\nContent-Length: {length}\r\n")),
        post("Content-Length: 5\r\nContent-Length: 6\r\n"),
        post("Content-Length: 5\r\nContent-Length: 5\r\n"),
        post("Content-Length: 5, 6\r\n"),
        post("Content-Length: +5\r\n"),
        post("Content-Length: -5\r\n"),
        post("Content-Length: 0x5\r\n"),
        post("Transfer-Encoding: xchunked\r\n"),
        post("Transfer-Encoding: chunked, identity\r\n"),
        post("Transfer-Encoding: identity\r\nTransfer-Encoding: chunked\r\n"),
        post("Transfer-Encoding : chunked\r\n"),
        post("Transfer-Encoding:\r\n chunked\r\n"),
        post("Transfer-Encoding: \u{b}chunked\r\n"),
        format!("POST /api/v1/sessions HTTP/1.0\r\n{host}Transfer-Encoding: chunked\r\n\r\n0\r\n\r\n{hidden}"),
        format!("GET /livez HTTP/1.1\r\n{host}{host}\r\n{hidden}"),
        format!("GET /livez HTTP/1.1\r\n\r\n{hidden}"),
        format!("GET /livez HTTP/1.1\r\n{host}X: a\rTransfer-Encoding: chunked\r\n\r\n{hidden}"),
        format!("GET /livez HTTP/1.1\r\n{host}X\0: a\r\n\r\n{hidden}"),
    ];
    for case in cases {
        let told = says(&api, &case).await;
        assert_eq!((told.status(), told.answers()), (400, 1), "{case}{}", String::from_utf8_lossy(&told.0));
        assert_eq!(told.problem()["type"], "/problems/malformed", "{case}");
        secure(&case, &told.headers());
    }
}

/// What is refused before it is a request is told as everything else is, and the connection is closed.
#[tokio::test]
async fn what_never_becomes_a_request_is_told_as_everything_else_is() {
    let (api, _) = shared().await;
    let asks = format!("GET /livez HTTP/1.1\r\nHost: {}\r\n", api.server.address);
    let cases = [
        ("GET\r\n\r\n".to_owned(), 400, "malformed"),
        ("\u{16}\u{3}\u{1}".to_owned(), 400, "malformed"),
        (format!("{asks}{}\r\n", "X: a\r\n".repeat(96)), 431, "request-header-fields-too-large"),
        // What the server leaves unread would take its answer away, so this is as much as it reads.
        (format!("{asks}X: {}", "x".repeat(131_072 - asks.len() - 3)), 431, "request-header-fields-too-large"),
        (format!("{asks}X-Slow: "), 408, "request-timeout"),
    ];
    for (sent, status, problem) in cases {
        let told = says(&api, &sent).await;
        let case = String::from_utf8_lossy(&told.0);
        assert_eq!((told.status(), told.answers()), (status, 1), "{case}");
        assert_eq!(told.problem()["type"], format!("/problems/{problem}"), "{case}");
        let headers = told.headers();
        secure(&case, &headers);
        assert_eq!(headers["content-type"], "application/problem+json", "{case}");
        assert_eq!(headers["connection"], "close", "{case}");
        assert_eq!(headers["content-length"], (told.0.len() - told.head().len() - 4).to_string(), "{case}");
        assert!(headers.contains_key("date"), "{case}");
    }
}

/// What follows an answer on its connection is refused in the same way, and changes nothing of that answer.
#[tokio::test]
async fn an_answer_stays_whole_whatever_follows_its_request() {
    let (api, _) = shared().await;
    let asks = format!("GET /livez HTTP/1.1\r\nHost: {}\r\n\r\n", api.server.address);
    let alive = says(&api, asks.replace("\r\n\r\n", "\r\nConnection: close\r\n\r\n")).await;
    let body = &alive.0[alive.head().len() + 4..];

    let mut socket = TcpStream::connect(api.server.address).await.expect("a connection");
    socket.write_all(asks.as_bytes()).await.expect("sent");
    let mut first = Vec::new();
    while !first.ends_with(body) {
        assert_ne!(socket.read_buf(&mut first).await.expect("it is read"), 0, "closed after half an answer");
    }
    socket.write_all(b"GET\r\n\r\n").await.expect("sent");
    let mut told = Vec::new();
    socket.read_to_end(&mut told).await.expect("it is read");
    let told = Told(told);
    assert_eq!((told.status(), &told.problem()["type"]), (400, &json!("/problems/malformed")));
    secure("after an answer", &told.headers());

    // Sent at once, both are answered, in order.
    let told = says(&api, format!("{asks}GET\r\n\r\n")).await;
    assert_eq!((told.status(), told.answers()), (200, 2));
    let rest = &told.0[told.head().len() + 4..];
    assert!(rest.starts_with(body), "{}", String::from_utf8_lossy(&told.0));
    assert!(rest[body.len()..].starts_with(b"HTTP/1.1 400 Bad Request\r\n"), "{}", String::from_utf8_lossy(&told.0));
}

/// S27: a page whose name was made to mean this machine reads nothing from a server on loopback.
#[tokio::test]
async fn a_server_on_loopback_answers_for_itself_alone() {
    let (api, _) = shared().await;
    let port = api.server.address.port();
    let asks = |host: String| {
        let api = api.clone();
        async move { says(&api, format!("GET /livez HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n")).await }
    };
    for ours in
        [format!("127.0.0.1:{port}"), format!("localhost:{port}"), format!("[::1]:{port}"), format!("LocalHost:{port}")]
    {
        assert_eq!(asks(ours.clone()).await.status(), 200, "{ours}");
    }
    let foreign = [
        format!("attacker.example:{port}"),
        format!("localhost.attacker.example:{port}"),
        format!("127.0.0.1.attacker.example:{port}"),
        format!("localhost:{}", port ^ 1),
        "localhost".to_owned(),
        String::new(),
    ];
    for foreign in foreign {
        let told = asks(foreign.clone()).await;
        assert_eq!(
            (told.status(), told.problem()["type"].as_str()),
            (421, Some("/problems/misdirected-request")),
            "{foreign}"
        );
        secure(&foreign, &told.headers());
    }
    let absolute =
        format!("GET http://attacker.example/livez HTTP/1.1\r\nHost: localhost:{port}\r\nConnection: close\r\n\r\n");
    assert_eq!(says(&api, absolute).await.status(), 421);
    // Behind a proxy the proxy knows.
    let api = Api::new(Server::start(Settings { behind_proxy: true, ..Settings::default() }));
    let named = "GET /livez HTTP/1.1\r\nHost: league.example\r\nConnection: close\r\n\r\n";
    assert_eq!(says(&api, named).await.status(), 200);
}

/// S6: where a request comes from is said by trusted proxies alone; what stands before their own word may be made up.
#[tokio::test]
async fn only_trusted_proxies_say_where_a_request_comes_from() {
    let wrong = |api: &Api, from: &str| {
        let body = json!({ "email": "ann@example.org", "password": "not the one of Ann's" });
        api.post("/sessions", &body).with("x-forwarded-for", from)
    };
    let api = Api::new(Server::start(Settings { behind_proxy: true, ..Settings::default() }));
    for n in 0..5 {
        wrong(&api, &format!("203.0.113.{n}, 198.51.100.1")).expect(401).await;
    }
    wrong(&api, "203.0.113.9, 198.51.100.1").expect(429).await;
    wrong(&api, "198.51.100.2").expect(401).await;

    // This machine is no proxy of such a server, so its word counts for nothing.
    let settings = Settings { behind_proxy: true, trusted_proxy: Some("10.0.0.0/8"), ..Settings::default() };
    let api = Api::new(Server::start(settings));
    for n in 0..5 {
        wrong(&api, &format!("198.51.100.{n}")).expect(401).await;
    }
    wrong(&api, "198.51.100.9").expect(429).await;
}

/// R8: an account has so many streams open at once; one that is closed makes room.
#[tokio::test]
async fn an_account_has_so_many_streams_open_at_once() {
    let allowance = Allowance { streams: 2, ..Settings::default().allowance };
    let api = Api::new(Server::start(Settings { allowance, ..Settings::default() }));
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let path = format!("/events/{}/board/stream", night.event);
    let mut first = api.stream(&night.event, &cast.ann).await;
    let second = api.stream(&night.event, &cast.ann).await;
    first.next().await.expect("a board");
    let refused = api.get(&path).by(&cast.ann).refused(429, "quota-exceeded").await;
    assert_eq!(refused.header("retry-after"), "10");
    // Others are not counted with her.
    drop(api.stream(&night.event, &cast.ben).await);
    drop(second);
    // The server notices that a reader is gone when it writes to it, or when the connection closes.
    let mut status = 429;
    for _ in 0..600 {
        status = api.get(&path).by(&cast.ann).open().await.status().as_u16();
        if status == 200 {
            break;
        }
        tokio::time::sleep(std::time::Duration::from_millis(100)).await;
    }
    assert_eq!(status, 200, "a stream that is closed makes room");
}

/// No page is led to from sign-in that is not of this server, and none makes it fail.
#[tokio::test]
async fn nobody_is_led_from_sign_in_to_another_site() {
    let api = own();
    let ann = api.person("Ann").await;
    let odd = [
        "/\t/elsewhere.example",
        "/\n/elsewhere.example",
        "/\r/elsewhere.example",
        "/\u{b}",
        "/a\u{7f}",
        "\u{b}/a",
        "/\u{2028}",
    ];
    for then in odd {
        let fields = [("email", ann.email.as_str()), ("password", PASSWORD), ("then", then)];
        let form = crate::support::browsing::form(&api, "/sign-in", &fields).with("sec-fetch-site", "same-origin");
        assert_eq!(form.expect(303).await.header("location"), "/", "{then:?}");
    }
    for then in ["/%0b", "/%09/elsewhere.example", "/%0d%0aset-cookie:x=y", "/%e2%80%a8"] {
        let seen = api.outside("GET", &format!("/sign-in?then={then}")).with("accept", "text/html").expect(200).await;
        assert_eq!(crate::support::browsing::value(&seen.text(), "then"), "/", "{then}");
    }
}
