//! A browser as the server sees it: pages it opens, forms it sends, and what stands in them.

use super::harness::{Api, Call, PASSWORD, Seen};

/// A browser that sends a form from a page of the server.
pub fn form(api: &Api, path: &str, fields: &[(&str, &str)]) -> Call {
    let encode = |text: &str| {
        let plain = |byte: u8| byte.is_ascii_alphanumeric();
        let of = |byte: u8| if plain(byte) { char::from(byte).to_string() } else { format!("%{byte:02X}") };
        text.bytes().map(of).collect::<String>()
    };
    let body: Vec<String> = fields.iter().map(|(name, value)| format!("{name}={}", encode(value))).collect();
    api.outside("POST", path)
        .with("accept", "text/html")
        .raw("application/x-www-form-urlencoded", body.join("&").into_bytes())
}

/// A browser that opens a page.
pub fn page(api: &Api, path: &str, cookie: &str) -> Call {
    api.outside("GET", path).with("accept", "text/html").with("cookie", cookie)
}

/// A browser with a cookie that sends a form from a page of the server.
pub fn send(api: &Api, path: &str, cookie: &str, fields: &[(&str, &str)]) -> Call {
    form(api, path, fields).with("cookie", cookie).with("sec-fetch-site", "same-origin")
}

/// The fields of a form as they are sent.
pub fn pairs(fields: &[(String, String)]) -> Vec<(&str, &str)> {
    fields.iter().map(|(name, value)| (name.as_str(), value.as_str())).collect()
}

/// Reads an attribute of a tag, as a browser does.
pub fn attribute(tag: &str, name: &str) -> Option<String> {
    let value = tag.split(&format!(" {name}=\"")).nth(1)?.split('"').next()?;
    let plain = value.replace("&#39;", "'").replace("&#34;", "\"").replace("&#60;", "<").replace("&#62;", ">");
    Some(plain.replace("&#38;", "&"))
}

/// Reads what stands in a field of a page; an empty text in one that has nothing.
pub fn value(page: &str, name: &str) -> String {
    let Some((_, rest)) = page.split_once(&format!(" name=\"{name}\"")) else { panic!("no field {name} in {page}") };
    attribute(rest.split('>').next().unwrap_or_default(), "value").unwrap_or_default()
}

/// The cookie that an answer sets.
pub fn cookie(seen: &Seen) -> String {
    seen.header("set-cookie").split(';').next().unwrap_or_default().to_owned()
}

/// Signs a browser in; returns its cookie.
pub async fn signed_in(api: &Api, email: &str) -> String {
    let fields = [("email", email), ("password", PASSWORD), ("then", "/")];
    let seen = form(api, "/sign-in", &fields).with("sec-fetch-site", "same-origin").expect(303).await;
    cookie(&seen)
}
