//! The words of the page, one file a language: a translator copies `en.json`, and its name goes into [`LANGUAGES`].

use std::collections::BTreeMap;

use axum::http::HeaderMap;
use axum::http::header::ACCEPT_LANGUAGE;

/// By its code; the first is for whoever asks for none of them.
pub(super) const LANGUAGES: [(&str, &str); 2] =
    [("en", include_str!("en.json")), ("es", include_str!("es.json"))];

/// Every word of a language by its key.
pub(super) fn of(file: &str) -> BTreeMap<String, String> {
    serde_json::from_str(file).unwrap_or_default()
}

/// The language for a request: the one of its link, else the first in the browser's list that there is.
pub(super) fn wanted(query: Option<&str>, headers: &HeaderMap) -> (&'static str, &'static str) {
    let known = |code: &str| LANGUAGES.into_iter().find(|(language, _)| *language == code);
    let asked = query.and_then(|query| known(query.strip_prefix("lang=")?));
    let list = headers.get(ACCEPT_LANGUAGE).and_then(|list| list.to_str().ok()).unwrap_or_default();
    let mut liked: Vec<(u32, &str)> = list
        .split(',')
        .filter_map(|one| {
            let (tag, weight) = one.split_once(";q=").unwrap_or((one, "1"));
            let weight = thousandths(weight.trim())?;
            // A weight of 0 refuses it.
            (weight > 0).then_some((weight, tag.trim().split('-').next().unwrap_or_default()))
        })
        .collect();
    // Of one weight the first in the list comes first.
    liked.sort_by_key(|(weight, _)| std::cmp::Reverse(*weight));
    let [first, ..] = LANGUAGES;
    asked.or_else(|| liked.into_iter().find_map(|(_, tag)| known(&tag.to_lowercase()))).unwrap_or(first)
}

/// "0.9" as 900: a weight has three decimals at most (RFC 9110, 12.4.2).
fn thousandths(weight: &str) -> Option<u32> {
    let (whole, part) = weight.split_once('.').unwrap_or((weight, ""));
    format!("{whole}{}", format!("{part:0<3}").get(..3)?).parse().ok()
}

#[cfg(test)]
mod tests {
    use axum::http::HeaderValue;

    use super::*;

    fn speaks(list: &'static str) -> HeaderMap {
        HeaderMap::from_iter([(ACCEPT_LANGUAGE, HeaderValue::from_static(list))])
    }

    #[test]
    fn every_language_has_every_word_and_vouches_for_nothing() {
        let [(_, english), ..] = LANGUAGES;
        let english = of(english);
        assert!(english.len() > 20);
        for (code, file) in LANGUAGES {
            let words = of(file);
            assert!(words.keys().eq(english.keys()), "{code}");
            for (key, text) in words {
                let text = text.to_lowercase();
                assert!(!text.is_empty() && !text.contains('{'), "{code}: {key}");
                assert!(
                    !text
                        .split(|c: char| !c.is_alphabetic())
                        .any(|w| ["safe", "seguro", "segura"].contains(&w))
                );
            }
        }
    }

    #[test]
    fn a_link_comes_before_the_browser_and_the_browser_before_english() {
        let code = |query, headers: &HeaderMap| wanted(query, headers).0;
        assert_eq!(code(None, &HeaderMap::new()), "en");
        assert_eq!(code(None, &speaks("es-ES,es;q=0.9,en;q=0.8")), "es");
        assert_eq!(code(None, &speaks("pt-PT,en;q=0.5,es;q=0.7")), "es");
        assert_eq!(code(None, &speaks("es;q=0,fr")), "en");
        assert_eq!(code(Some("lang=en"), &speaks("es")), "en");
        assert_eq!(code(Some("lang=es"), &speaks("en")), "es");
        assert_eq!(code(Some("lang=<script>"), &speaks("ES-mx")), "es");
    }
}
