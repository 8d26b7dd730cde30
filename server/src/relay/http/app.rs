//! The phone app, handed out to whoever opens the relay's address: from the binary itself, or from a folder.

use std::borrow::Cow;
use std::collections::HashMap;
use std::path::Path;
use std::{fs, io};

use axum::body::{Body, Bytes};
use axum::http::header::{
    ACCEPT_ENCODING, CACHE_CONTROL, CONTENT_ENCODING, CONTENT_TYPE, ETAG, HeaderMap, HeaderName, HeaderValue,
    IF_NONE_MATCH, VARY,
};
use axum::http::{Response, StatusCode};
use data_encoding::HEXLOWER;
use sha2::{Digest, Sha256};

include!(concat!(env!("OUT_DIR"), "/app.rs"));

/// Names under this folder carry a hash of what is in them, and never mean anything else.
const LASTING: &str = "assets/";

/// What the app may do in a browser: run its own code (wasm included), show its own pictures and those just taken, and
/// talk to this relay. Nothing else, and in nobody's frame.
const POLICY: &str = "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; worker-src 'self'; style-src 'self'; \
    img-src 'self' data: blob:; media-src 'self' blob:; font-src 'self'; connect-src 'self'; manifest-src 'self'; \
    base-uri 'none'; form-action 'none'; frame-ancestors 'none'";

const HEADERS: [(&str, &str); 6] = [
    ("content-security-policy", POLICY),
    ("x-content-type-options", "nosniff"),
    ("referrer-policy", "no-referrer"),
    ("cross-origin-opener-policy", "same-origin"),
    ("cross-origin-resource-policy", "same-origin"),
    (
        "permissions-policy",
        "camera=(self), screen-wake-lock=(self), microphone=(), geolocation=(), payment=(), usb=()",
    ),
];

/// The files of an app, by path, with the compressed forms that lie beside them (`x.js.br`, `x.js.gz`).
#[derive(Debug, Default)]
pub struct PhoneApp(HashMap<String, File>);

#[derive(Debug)]
struct File {
    kind: &'static str,
    lasting: bool,
    tag: HeaderValue,
    plain: Bytes,
    brotli: Option<Bytes>,
    gzip: Option<Bytes>,
}

impl PhoneApp {
    /// The one that this binary was built with; empty when it was built without.
    #[must_use]
    pub fn built_in() -> Self {
        Self::of(FILES.iter().map(|(name, bytes)| ((*name).to_owned(), Bytes::from_static(bytes))).collect())
    }

    /// The one in this folder, as it is now.
    ///
    /// # Errors
    /// Whatever reading the folder fails with.
    pub fn in_folder(folder: &Path) -> io::Result<Self> {
        let mut files = HashMap::new();
        gather(folder, "", &mut files)?;
        Ok(Self::of(files))
    }

    fn of(mut files: HashMap<String, Bytes>) -> Self {
        let names: Vec<String> =
            files.keys().filter(|name| !name.ends_with(".br") && !name.ends_with(".gz")).cloned().collect();
        let mut table = HashMap::new();
        for name in names {
            let Some(plain) = files.remove(&name) else { continue };
            let hash = HEXLOWER.encode(&Sha256::digest(&plain));
            let Ok(tag) = HeaderValue::from_str(&format!("\"{}\"", hash.get(..32).unwrap_or(&hash))) else {
                continue;
            };
            let file = File {
                kind: kind(&name),
                lasting: name.starts_with(LASTING),
                tag,
                plain,
                brotli: files.remove(&format!("{name}.br")),
                gzip: files.remove(&format!("{name}.gz")),
            };
            table.insert(name, file);
        }
        Self(table)
    }

    /// Whether there is any.
    #[must_use]
    pub fn is_there(&self) -> bool {
        self.0.contains_key("index.html")
    }

    /// What a browser gets for a path. An invitation link opens the app, which finds the secret behind its `#`.
    pub(super) fn answer(&self, path: &str, asked: &HeaderMap) -> Option<Response<Body>> {
        let name = match path {
            "/" | "/join" => "index.html",
            path => path.trim_start_matches('/'),
        };
        let file = self.0.get(name)?;
        let mut response = Response::new(Body::empty());
        let headers = response.headers_mut();
        for (name, value) in HEADERS {
            headers.insert(HeaderName::from_static(name), HeaderValue::from_static(value));
        }
        let cache = if file.lasting { "public, max-age=31536000, immutable" } else { "no-cache" };
        headers.insert(CACHE_CONTROL, HeaderValue::from_static(cache));
        headers.insert(ETAG, file.tag.clone());
        headers.insert(VARY, HeaderValue::from_static("accept-encoding"));
        if asked.get(IF_NONE_MATCH).is_some_and(|known| known == file.tag) {
            *response.status_mut() = StatusCode::NOT_MODIFIED;
            return Some(response);
        }
        headers.insert(CONTENT_TYPE, HeaderValue::from_static(file.kind));
        let (bytes, coding) = file.as_asked(asked);
        if let Some(coding) = coding {
            headers.insert(CONTENT_ENCODING, HeaderValue::from_static(coding));
        }
        *response.body_mut() = Body::from(bytes);
        Some(response)
    }
}

impl File {
    fn as_asked(&self, asked: &HeaderMap) -> (Bytes, Option<&'static str>) {
        let codings = asked.get(ACCEPT_ENCODING).and_then(|value| value.to_str().ok()).unwrap_or_default();
        let takes = |coding| {
            codings.split(',').any(|one| {
                let (name, quality) = one.split_once(';').unwrap_or((one, ""));
                name.trim() == coding && !matches!(quality.replace(' ', "").as_str(), "q=0" | "q=0.0")
            })
        };
        match (&self.brotli, &self.gzip) {
            (Some(bytes), _) if takes("br") => (bytes.clone(), Some("br")),
            (_, Some(bytes)) if takes("gzip") => (bytes.clone(), Some("gzip")),
            _ => (self.plain.clone(), None),
        }
    }
}

fn gather(folder: &Path, under: &str, files: &mut HashMap<String, Bytes>) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let entry = entry?;
        let name: Cow<'_, str> = entry.file_name().to_string_lossy().into_owned().into();
        if name.starts_with('.') {
            continue;
        }
        if entry.file_type()?.is_dir() {
            gather(&entry.path(), &format!("{under}{name}/"), files)?;
        } else {
            files.insert(format!("{under}{name}"), fs::read(entry.path())?.into());
        }
    }
    Ok(())
}

/// What browsers call a file of this name. A wasm module of another kind would not be compiled while it loads.
fn kind(name: &str) -> &'static str {
    match name.rsplit_once('.').map_or("", |(_, ending)| ending) {
        "html" => "text/html; charset=utf-8",
        "js" | "mjs" => "text/javascript; charset=utf-8",
        "css" => "text/css; charset=utf-8",
        "json" | "map" => "application/json",
        "webmanifest" => "application/manifest+json",
        "wasm" => "application/wasm",
        "svg" => "image/svg+xml",
        "png" => "image/png",
        "ico" => "image/x-icon",
        "woff2" => "font/woff2",
        "txt" => "text/plain; charset=utf-8",
        _ => "application/octet-stream",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn app() -> PhoneApp {
        let file = |name: &str, bytes: &'static [u8]| (name.to_owned(), Bytes::from_static(bytes));
        PhoneApp::of(HashMap::from([
            file("index.html", b"<!doctype html>"),
            file("sw.js", b"self"),
            file("assets/core-1a2b.wasm", b"\0asm"),
            file("assets/core-1a2b.wasm.br", b"small"),
        ]))
    }

    fn header<'a>(response: &'a Response<Body>, name: &str) -> &'a str {
        response.headers().get(name).map_or("", |value| value.to_str().unwrap())
    }

    fn asking(name: HeaderName, value: &'static str) -> HeaderMap {
        HeaderMap::from_iter([(name, HeaderValue::from_static(value))])
    }

    #[test]
    fn what_carries_its_hash_is_kept_for_good_and_the_rest_is_asked_for_anew() {
        let app = app();
        let page = app.answer("/", &HeaderMap::new()).unwrap();
        assert_eq!(header(&page, "cache-control"), "no-cache");
        assert_eq!(header(&page, "content-type"), "text/html; charset=utf-8");
        assert_eq!(header(&app.answer("/sw.js", &HeaderMap::new()).unwrap(), "cache-control"), "no-cache");
        let core = app.answer("/assets/core-1a2b.wasm", &HeaderMap::new()).unwrap();
        assert!(header(&core, "cache-control").contains("immutable"));
        assert_eq!(header(&core, "content-type"), "application/wasm");
    }

    #[test]
    fn a_browser_that_has_a_file_already_is_told_so() {
        let app = app();
        let tag = header(&app.answer("/", &HeaderMap::new()).unwrap(), "etag").to_owned();
        let asked = HeaderMap::from_iter([(IF_NONE_MATCH, HeaderValue::from_str(&tag).unwrap())]);
        assert_eq!(app.answer("/", &asked).unwrap().status(), StatusCode::NOT_MODIFIED);
        assert_eq!(app.answer("/sw.js", &asked).unwrap().status(), StatusCode::OK);
    }

    #[test]
    fn the_small_form_goes_to_who_can_read_it() {
        let coding = |accepts: &'static str| {
            let asked = asking(ACCEPT_ENCODING, accepts);
            header(&app().answer("/assets/core-1a2b.wasm", &asked).unwrap(), "content-encoding").to_owned()
        };
        assert_eq!(coding("gzip, deflate, br"), "br");
        assert_eq!(coding("gzip"), "");
        assert_eq!(coding("br;q=0, gzip"), "");
        assert!(
            app().answer("/assets/core-1a2b.wasm.br", &HeaderMap::new()).is_none(),
            "it is no file of its own"
        );
    }

    #[test]
    fn pages_run_nothing_but_the_app_itself_and_stand_in_nobodys_frame() {
        let page = app().answer("/join", &HeaderMap::new()).unwrap();
        let policy = header(&page, "content-security-policy");
        for part in ["default-src 'none'", "script-src 'self' 'wasm-unsafe-eval';", "frame-ancestors 'none'"]
        {
            assert!(policy.contains(part), "{policy}");
        }
        assert!(!policy.contains("unsafe-inline") && !policy.contains("'unsafe-eval'"), "{policy}");
        assert_eq!(header(&page, "x-content-type-options"), "nosniff");
        assert_eq!(header(&page, "referrer-policy"), "no-referrer");
    }

    #[test]
    fn nothing_outside_the_app_is_handed_out() {
        assert!(app().answer("/../Cargo.toml", &HeaderMap::new()).is_none());
        assert!(app().answer("/v1/other", &HeaderMap::new()).is_none());
        assert!(!PhoneApp::default().is_there());
    }
}
