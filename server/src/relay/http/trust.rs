//! What a relay with an authority of its own hands out without TLS: the page that walks a device through trusting it, and
//! the certificate itself. Everything else is sent on to the secure side.

mod words;

use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::http::header::{
    CACHE_CONTROL, CONTENT_DISPOSITION, CONTENT_SECURITY_POLICY, CONTENT_TYPE, HOST, HeaderMap, HeaderValue,
    LOCATION, VARY,
};
use axum::http::{Response, StatusCode, Uri};
use axum::routing::get;

use super::pages::text;
use crate::relay::tls::{Authority, Tls};

/// The paths of the page and the certificate, on both sides.
pub(crate) fn trust(tls: &Arc<Tls>) -> Router {
    if tls.authority().is_none() {
        return Router::new();
    }
    let with = |answer: fn(&Authority, &Uri, &HeaderMap) -> Response<Body>| {
        let tls = Arc::clone(tls);
        get(move |uri: Uri, headers: HeaderMap| {
            let answered = tls.authority().map(|authority| answer(authority, &uri, &headers));
            async move { answered.unwrap_or_else(|| text(StatusCode::NOT_FOUND, "There is nothing here.\n")) }
        })
    };
    Router::new()
        .route("/trust", with(page))
        .route("/trust/authority.crt", with(|authority, _, _| certificate(authority.der().to_vec())))
        .route("/trust/authority.pem", with(|authority, _, _| certificate(authority.pem().into())))
}

/// All that is answered without TLS where there is TLS.
pub(crate) fn insecure(tls: &Arc<Tls>) -> Router {
    trust(tls).fallback(|uri: Uri, headers: HeaderMap| async move { secure(&uri, &headers) })
}

/// The same address with TLS; 308, so that a station's request stays one.
fn secure(uri: &Uri, headers: &HeaderMap) -> Response<Body> {
    let host = headers.get(HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    let path = uri.path_and_query().map_or("/", |path| path.as_str());
    let Ok(to) = HeaderValue::from_str(&format!("https://{host}{path}")) else {
        return text(StatusCode::BAD_REQUEST, "This relay speaks TLS: begin its address with https://\n");
    };
    let mut response =
        text(StatusCode::PERMANENT_REDIRECT, "This relay speaks TLS: begin its address with https://\n");
    response.headers_mut().insert(LOCATION, to);
    // A relay that serves TLS today may not tomorrow.
    response.headers_mut().insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    response
}

fn certificate(bytes: Vec<u8>) -> Response<Body> {
    let mut response = Response::new(Body::from(bytes));
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("application/x-x509-ca-cert"));
    headers
        .insert(CONTENT_DISPOSITION, HeaderValue::from_static("attachment; filename=\"tailcomb-salon.crt\""));
    response
}

fn page(authority: &Authority, uri: &Uri, headers: &HeaderMap) -> Response<Body> {
    let host = headers.get(HOST).and_then(|host| host.to_str().ok()).unwrap_or_default();
    // Whatever stands there comes from outside.
    let plain = host.bytes().all(|b| b.is_ascii_alphanumeric() || b".-:[]".contains(&b));
    let host = if plain { host } else { "" };
    let shown: Vec<String> =
        authority.fingerprint().split(':').map(|pair| format!("<span>{pair}</span>")).collect();
    let (code, file) = words::wanted(uri.query(), headers);
    let others = words::LANGUAGES.into_iter().filter(|(other, _)| *other != code);
    let links: Vec<String> = others
        .map(|(other, file)| {
            let name = words::of(file).remove("language").unwrap_or_default();
            format!(
                "<a href=\"/trust?lang={other}\" lang=\"{other}\" hreflang=\"{other}\">{}</a>",
                escaped(&name)
            )
        })
        .collect();
    let mut html = PAGE.replace("{lang}", code).replace("{languages}", &links.join(" "));
    for (key, word) in words::of(file) {
        html = html.replace(&format!("{{{key}}}"), &escaped(&word));
    }
    let html = html.replace("{host}", host).replace("{fingerprint}", &shown.join(" "));
    let mut response = Response::new(Body::from(html));
    let headers = response.headers_mut();
    headers.insert(CONTENT_TYPE, HeaderValue::from_static("text/html; charset=utf-8"));
    headers.insert(CACHE_CONTROL, HeaderValue::from_static("no-store"));
    headers.insert(VARY, HeaderValue::from_static("accept-language"));
    let policy = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; frame-ancestors 'none'";
    headers.insert(CONTENT_SECURITY_POLICY, HeaderValue::from_static(policy));
    response
}

const PAGE: &str = include_str!("trust/page.html");

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn authority() -> (tempfile::TempDir, Authority) {
        let folder = tempfile::tempdir().unwrap();
        let authority = Authority::in_folder(folder.path()).unwrap();
        (folder, authority)
    }

    async fn body(response: Response<Body>) -> String {
        let bytes = axum::body::to_bytes(response.into_body(), 1 << 20).await.unwrap();
        String::from_utf8(bytes.to_vec()).unwrap()
    }

    fn from(host: &'static str) -> HeaderMap {
        HeaderMap::from_iter([(HOST, HeaderValue::from_static(host))])
    }

    #[tokio::test]
    async fn the_page_shows_the_fingerprint_and_where_to_go_afterwards() {
        let (_folder, authority) = authority();
        let html = body(page(&authority, &Uri::from_static("/trust"), &from("192.168.4.20:7420"))).await;
        for pair in authority.fingerprint().split(':') {
            assert!(html.contains(&format!("<span>{pair}</span>")), "{pair}");
        }
        assert!(
            html.contains("href=\"https://192.168.4.20:7420/\"") && html.contains("/trust/authority.crt")
        );
    }

    #[tokio::test]
    async fn it_is_whole_in_every_language_and_leads_to_the_others() {
        let (_folder, authority) = authority();
        for (code, file) in words::LANGUAGES {
            let uri: Uri = format!("/trust?lang={code}").parse().unwrap();
            let html = body(page(&authority, &uri, &from("192.168.4.20:7420"))).await;
            let shown = html.split_once("</style>").unwrap().1;
            assert!(!shown.contains('{'), "nothing is left to fill in: {shown}");
            assert!(html.contains(&format!("<html lang=\"{code}\">")));
            for word in
                words::of(file).iter().filter(|(key, _)| *key != "language").map(|(_, word)| escaped(word))
            {
                assert!(shown.contains(&word) || html.contains(&format!("<title>{word}</title>")), "{word}");
            }
            let others = words::LANGUAGES.into_iter().filter(|(other, _)| *other != code);
            assert!(others.into_iter().all(|(other, _)| shown.contains(&format!("/trust?lang={other}"))));
        }
    }

    #[tokio::test]
    async fn a_made_up_host_does_not_reach_the_page() {
        let (_folder, authority) = authority();
        let html = body(page(&authority, &Uri::from_static("/trust"), &from("\"><script>1</script>"))).await;
        assert!(!html.contains("<script"), "{html}");
    }

    #[test]
    fn everything_else_goes_to_the_secure_side() {
        let to = secure(&Uri::from_static("/join?a=1"), &from("desk.local:7420"));
        assert_eq!(to.status(), StatusCode::PERMANENT_REDIRECT);
        assert_eq!(to.headers()[LOCATION], "https://desk.local:7420/join?a=1");
    }
}
