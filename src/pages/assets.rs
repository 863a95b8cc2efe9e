//! What pages are dressed with, built into the program, and what lets them be opened without a network.
//!
//! The address of a file holds the hash of its content, so that a browser keeps it for ever: what changes has another
//! address.

use crate::http::app::App;
use actix_web::HttpResponse;
use actix_web::http::header;
use actix_web::web::{self, Data, ServiceConfig};
use data_encoding::HEXLOWER;
use serde_json::json;
use sha2::{Digest, Sha256};
use std::sync::LazyLock;

const CSS: &str = "text/css; charset=utf-8";
const SVG: &str = "image/svg+xml";
const SCRIPT: &str = "text/javascript; charset=utf-8";
const PNG: &str = "image/png";

/// Each file with its kind, and whether a device keeps it for pages that are opened without a network.
const FILES: &[(&str, &str, bool, &[u8])] = &[
    ("style.css", CSS, true, include_bytes!("assets/style.css")),
    ("mark.svg", SVG, true, include_bytes!("assets/mark.svg")),
    ("mark-dark.svg", SVG, true, include_bytes!("assets/mark-dark.svg")),
    ("cards.js", SCRIPT, true, include_bytes!("assets/cards.js")),
    ("offline.js", SCRIPT, true, include_bytes!("assets/offline.js")),
    ("pad.js", SCRIPT, true, include_bytes!("assets/pad.js")),
    ("hand-in.js", SCRIPT, true, include_bytes!("assets/hand-in.js")),
    ("join.js", SCRIPT, false, include_bytes!("assets/join.js")),
    ("copy.js", SCRIPT, false, include_bytes!("assets/copy.js")),
    ("board.js", SCRIPT, false, include_bytes!("assets/board.js")),
    ("screen.js", SCRIPT, false, include_bytes!("assets/screen.js")),
    ("icon-192.png", PNG, false, include_bytes!("assets/icon-192.png")),
    ("icon-512.png", PNG, false, include_bytes!("assets/icon-512.png")),
    ("icon-mask-512.png", PNG, false, include_bytes!("assets/icon-mask-512.png")),
];

const WORKER: &str = include_str!("assets/service-worker.js");
/// What takes a worker away from the devices that have it, with all that it keeps.
const NO_WORKER: &str = include_str!("assets/no-worker.js");

static ADDRESSES: LazyLock<Vec<String>> = LazyLock::new(|| {
    let address = |(name, _, _, bytes): &(&str, _, _, &[u8])| {
        format!("/assets/{}/{name}", HEXLOWER.encode(&Sha256::digest(bytes)[..8]))
    };
    FILES.iter().map(address).collect()
});

/// The worker knows the files that it keeps, and their set by a name that changes with any of them.
static WORKER_SCRIPT: LazyLock<String> = LazyLock::new(|| {
    let kept: Vec<&str> = FILES.iter().filter(|(_, _, is_kept, _)| *is_kept).map(|(name, ..)| address(name)).collect();
    let set = HEXLOWER.encode(&Sha256::digest(kept.concat())[..8]);
    format!("const SET = \"assets {set}\";\nconst ASSETS = {};\n{WORKER}", json!(kept))
});

static MANIFEST: LazyLock<String> = LazyLock::new(|| {
    let icon = |name: &str, size: u32, purpose: &str| json!({ "src": address(name), "type": PNG, "sizes": format!("{size}x{size}"), "purpose": purpose });
    let manifest = json!({
        "name": "evenfield",
        "short_name": "evenfield",
        "start_url": "/",
        "scope": "/",
        "display": "standalone",
        "background_color": "#f0efe9",
        "theme_color": "#f0efe9",
        "icons": [
            icon("icon-192.png", 192, "any"),
            icon("icon-512.png", 512, "any"),
            icon("icon-mask-512.png", 512, "maskable"),
        ],
    });
    manifest.to_string()
});

/// Returns the address of a file; nothing for one that is not there.
pub fn address(name: &str) -> &'static str {
    FILES.iter().zip(ADDRESSES.iter()).find(|((known, ..), _)| *known == name).map_or("", |(_, address)| address)
}

async fn worker(app: Data<App>) -> HttpResponse {
    let script = if app.config.keeps_pages { WORKER_SCRIPT.as_str() } else { NO_WORKER };
    HttpResponse::Ok().content_type(SCRIPT).insert_header((header::CACHE_CONTROL, "no-cache")).body(script)
}

async fn manifest() -> HttpResponse {
    HttpResponse::Ok()
        .content_type("application/manifest+json")
        .insert_header((header::CACHE_CONTROL, "public, max-age=86400"))
        .body(MANIFEST.as_str())
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    for ((_, kind, _, bytes), address) in FILES.iter().zip(ADDRESSES.iter()) {
        let show = move || async move {
            HttpResponse::Ok()
                .content_type(*kind)
                .insert_header((header::CACHE_CONTROL, "public, max-age=31536000, immutable"))
                .body(*bytes)
        };
        config.service(web::resource(address.as_str()).route(super::reads().to(show)));
    }
    config
        .service(web::resource("/service-worker.js").route(super::reads().to(worker)))
        .service(web::resource("/manifest.webmanifest").route(super::reads().to(manifest)));
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn pages_name_files_that_are_there() {
        let mut named = 0;
        for entry in fs::read_dir("src/pages/templates").unwrap() {
            let text = fs::read_to_string(entry.unwrap().path()).unwrap();
            assert!(!text.contains("\"/assets/"), "an address without a hash: {text}");
            for part in text.split("assets::address(\"").skip(1) {
                let name = part.split('"').next().unwrap();
                assert_ne!(address(name), "", "{name}");
                named += 1;
            }
        }
        assert!(named > 8);
    }

    #[test]
    fn the_worker_keeps_what_a_card_needs() {
        for name in ["style.css", "cards.js", "pad.js", "hand-in.js"] {
            assert!(WORKER_SCRIPT.contains(address(name)), "{name}");
        }
        assert!(!WORKER_SCRIPT.contains("icon-512"));
    }
}
