//! Every sentence that the core says stands in every language's catalogue, with the same places.
//!
//! `TAILCOMB_FREEZE=1 cargo test -p tailcomb-trade --test catalogues` lists the sentences anew after one was added or changed;
//! then the catalogues are to be filled in.

#![allow(missing_docs, clippy::unwrap_used)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use proc_macro2::{TokenStream, TokenTree};
use serde_json::Value;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// The crates whose sentences reach an app.
const SPEAKERS: [&str; 5] =
    ["core/src", "core/trade/src", "core/wire/src", "bindings/web/src", "bindings/ffi/src"];

fn sources(dir: &Path, into: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(dir).unwrap() {
        let path = entry.unwrap().path();
        let is_test = path.file_name().is_some_and(|name| name == "tests" || name == "tests.rs");
        if path.is_dir() && !is_test {
            sources(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") && !is_test {
            into.push(path);
        }
    }
}

/// The first words of every `told!` and `term!`, outside of tests and of the macros' own making.
fn said(tokens: TokenStream, into: &mut BTreeSet<String>) {
    let tokens: Vec<TokenTree> = tokens.into_iter().collect();
    let ident =
        |place: usize, name: &str| matches!(tokens.get(place), Some(TokenTree::Ident(i)) if i == name);
    let mark =
        |place: usize, c: char| matches!(tokens.get(place), Some(TokenTree::Punct(p)) if p.as_char() == c);
    let mut place = 0;
    while let Some(token) = tokens.get(place) {
        if ident(place, "mod") && ident(place + 1, "tests") || ident(place, "macro_rules") {
            place += 2;
            while !matches!(tokens.get(place), Some(TokenTree::Group(_)) | None) {
                place += 1;
            }
        } else if (ident(place, "told") || ident(place, "term"))
            && mark(place + 1, '!')
            && let Some(TokenTree::Group(group)) = tokens.get(place + 2)
            && let Some(first @ TokenTree::Literal(_)) = group.stream().into_iter().next()
        {
            into.insert(syn::parse2::<syn::LitStr>(first.into()).unwrap().value());
        }
        if let TokenTree::Group(group) = token {
            said(group.stream(), into);
        }
        place += 1;
    }
}

/// The places of a sentence.
fn places(sentence: &str) -> BTreeSet<&str> {
    sentence.split('{').skip(1).filter_map(|rest| Some(rest.split_once('}')?.0)).collect()
}

/// What is left of it in between.
fn has_words(sentence: &str) -> bool {
    let between = sentence.split('{').map(|part| part.split_once('}').map_or(part, |(_, after)| after));
    between.flat_map(str::chars).any(char::is_alphabetic)
}

fn all() -> BTreeSet<String> {
    let mut files = Vec::new();
    SPEAKERS.iter().for_each(|dir| sources(&root().join(dir), &mut files));
    assert!(files.len() > 100, "the sources were not found");
    let mut all = BTreeSet::new();
    for file in files {
        said(fs::read_to_string(&file).unwrap().parse().unwrap(), &mut all);
    }
    all.retain(|sentence| has_words(sentence));
    all
}

fn catalogues() -> BTreeMap<String, BTreeMap<String, Value>> {
    let words = root().join("bindings/phone/src/words");
    let languages = fs::read_dir(words).unwrap().filter_map(|entry| {
        let path = entry.unwrap().path();
        let text = fs::read_to_string(path.join("core.json")).ok()?;
        Some((path.file_name()?.to_string_lossy().into_owned(), serde_json::from_str(&text).unwrap()))
    });
    languages.collect()
}

#[test]
fn the_list_of_what_the_core_says_is_whole() {
    let list = root().join("bindings/phone/src/words/core.json");
    let found = serde_json::to_string_pretty(&all()).unwrap() + "\n";
    if std::env::var_os("TAILCOMB_FREEZE").is_some() {
        fs::write(&list, &found).unwrap();
    }
    let known = fs::read_to_string(&list).unwrap_or_default();
    assert!(found == known, "the core says something else now: list it anew, as the head of this file says");
}

#[test]
fn every_language_has_every_sentence_with_its_places_and_no_other() {
    let (all, catalogues) = (all(), catalogues());
    assert!(catalogues.contains_key("es"), "no catalogue was found");
    for (language, catalogue) in catalogues {
        let mut wrong = Vec::new();
        for sentence in &all {
            let Some(translated) = catalogue.get(sentence) else {
                wrong.push(format!("missing: {sentence}"));
                continue;
            };
            let forms: Vec<&str> = match translated {
                Value::Object(forms) => {
                    let keys: Vec<&str> = forms.keys().map(String::as_str).collect();
                    if keys != ["one", "other"] || !places(sentence).contains("n") {
                        wrong.push(format!("not by number: {sentence}"));
                    }
                    forms.values().filter_map(Value::as_str).collect()
                }
                one => one.as_str().into_iter().collect(),
            };
            if forms.is_empty() || forms.iter().any(|form| places(form) != places(sentence)) {
                wrong.push(format!("other places: {sentence}"));
            }
        }
        wrong.extend(
            catalogue.keys().filter(|key| !all.contains(*key)).map(|key| format!("never said: {key}")),
        );
        assert!(wrong.is_empty(), "{language}/core.json:\n{}", wrong.join("\n"));
    }
}

#[test]
fn no_translation_vouches_for_anything() {
    for (language, catalogue) in catalogues() {
        for (sentence, translated) in catalogue {
            let text = translated.to_string().to_lowercase();
            let mut words = text.split(|c: char| !c.is_alphabetic());
            let vouches = words.find(|w| {
                ["segur", "inofensiv", "inocu", "inócu", "safe", "harmless"]
                    .iter()
                    .any(|bad| w.starts_with(bad))
            });
            assert_eq!(vouches, None, "{language}: {sentence}");
        }
    }
}
