//! What programs in other languages stand on does not change unawares: the exported interface, read from the built
//! library, is kept as text in `tests/bindings/interface.txt`, and the changelog names the one that stands there.
#![allow(clippy::expect_used, clippy::panic, reason = "a test may stop where a station may not")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};
use uniffi_bindgen::macro_metadata::extract_from_library;
use uniffi_meta::{DefaultValueMetadata, FieldMetadata, FnParamMetadata, Metadata, ObjectImpl, Type};

const KEPT: &str = "tests/bindings/interface.txt";

#[test]
fn the_exported_interface_changes_only_with_a_line_in_the_changelog() {
    let text = interface();
    let name = name_of(&text);
    let now = format!("interface {name}\n\n{text}");
    let kept = root().join(KEPT);
    if std::env::var_os("TAILCOMB_FREEZE").is_some() {
        fs::write(&kept, &now).expect("the interface can be kept");
    }
    let then = fs::read_to_string(&kept).unwrap_or_default();
    assert!(
        then == now,
        "The interface that other languages stand on has changed:\n\n{}\nIf that is meant: keep the new one by\n\n    \
         TAILCOMB_FREEZE=1 cargo test -p tailcomb-ffi --features bindgen --test interface\n\nand say in CHANGELOG.md, \
         under \"## Unreleased\", \"### Bindings\", what changes for programs in other languages, in a line that \
         names `{name}`.",
        difference(&then, &now)
    );
    let changelog = fs::read_to_string(root().join("CHANGELOG.md")).expect("there is a changelog");
    assert!(
        said_under_bindings(&changelog).contains(&format!("`{name}`")),
        "{KEPT} was kept anew, and CHANGELOG.md does not say so: under \"## Unreleased\", \"### Bindings\", say what \
         changes for programs in other languages, and name the interface `{name}` in place of the one before."
    );
}

#[test]
fn only_what_is_not_released_counts_and_only_under_bindings() {
    let changelog = "# C\n\n## Unreleased\n\n### Added\n\n- `a`\n\n### Bindings\n\n- `b`\n\n### Fixed\n\n- `c`\n\n\
                     ## 1.0\n\n### Bindings\n\n- `d`\n";
    assert_eq!(said_under_bindings(changelog).trim(), "- `b`");
    assert_eq!(said_under_bindings("## 1.0\n### Bindings\n- `d`\n"), "");
}

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// What the changelog says of the bindings since the last release.
fn said_under_bindings(changelog: &str) -> String {
    let unreleased = changelog.lines().skip_while(|line| *line != "## Unreleased").skip(1);
    let unreleased = unreleased.take_while(|line| !line.starts_with("## "));
    let bindings = unreleased.skip_while(|line| *line != "### Bindings").skip(1);
    bindings.take_while(|line| !line.starts_with("### ")).map(|line| format!("{line}\n")).collect()
}

/// A short name for an interface, made from all of it.
fn name_of(text: &str) -> String {
    Sha256::digest(text.as_bytes()).iter().take(4).map(|byte| format!("{byte:02x}")).collect()
}

/// Lines that stand in one of two texts alone.
fn difference(then: &str, now: &str) -> String {
    let (before, after): (BTreeSet<_>, BTreeSet<_>) = (then.lines().collect(), now.lines().collect());
    let gone = then.lines().filter(|line| !after.contains(line)).map(|line| format!("- {line}\n"));
    let new = now.lines().filter(|line| !before.contains(line)).map(|line| format!("+ {line}\n"));
    gone.chain(new).take(60).collect()
}

/// Everything that the built library exports, each thing under its kind and name, with what it has.
fn interface() -> String {
    // The library lies beside this test: cargo builds both of one package.
    let test = std::env::current_exe().expect("a test knows where it lies");
    let name = format!("{}tailcomb_ffi{}", std::env::consts::DLL_PREFIX, std::env::consts::DLL_SUFFIX);
    let library = test.with_file_name(name);
    let library = library.to_str().expect("a path in UTF-8");
    let all = extract_from_library(library.into()).expect("the library says what it exports");
    let owners: BTreeMap<String, String> = all.iter().filter_map(owner).collect();
    let of = |owner: &str| owners.get(owner).cloned().unwrap_or_else(|| format!("object {owner}"));
    let mut things: BTreeMap<String, Vec<String>> =
        owners.values().map(|owner| (owner.clone(), Vec::new())).collect();
    for one in &all {
        if let Some((thing, has)) = thing(one, of) {
            things.entry(thing).or_default().extend(has);
        }
    }
    assert!(things.len() > 100, "hardly anything was found in the library");
    things.iter_mut().filter(|(thing, _)| is_unordered(thing)).for_each(|(_, has)| has.sort());
    let lines = |has: Vec<String>| has.into_iter().map(|line| format!("    {line}\n")).collect::<String>();
    things.into_iter().map(|(thing, has)| format!("{thing}\n{}", lines(has))).collect()
}

/// Fields and cases go over in their order; calls by name.
fn is_unordered(thing: &str) -> bool {
    ["functions", "object ", "host interface "].iter().any(|kind| thing.starts_with(kind))
}

/// What has methods: its name, and how it is headed.
fn owner(one: &Metadata) -> Option<(String, String)> {
    let Metadata::Object(object) = one else { return None };
    let kind = match object.imp {
        ObjectImpl::Struct => "object",
        ObjectImpl::Trait(_) => "host interface",
    };
    Some((object.name.clone(), format!("{kind} {}", object.name)))
}

/// Under which head something stands, and what it adds there.
fn thing(one: &Metadata, of: impl Fn(&str) -> String) -> Option<(String, Vec<String>)> {
    Some(match one {
        Metadata::Func(f) => {
            let line = call(&f.name, f.is_async, &f.inputs, f.return_type.as_ref(), f.throws.as_ref());
            ("functions".to_owned(), vec![line])
        }
        Metadata::Constructor(c) => {
            let line = call(&c.name, c.is_async, &c.inputs, None, c.throws.as_ref());
            (of(&c.self_name), vec![format!("constructor {line}")])
        }
        Metadata::Method(m) => {
            let line = call(&m.name, m.is_async, &m.inputs, m.return_type.as_ref(), m.throws.as_ref());
            (of(&m.self_name), vec![line])
        }
        Metadata::TraitMethod(m) => {
            let line = call(&m.name, m.is_async, &m.inputs, m.return_type.as_ref(), m.throws.as_ref());
            (of(&m.trait_name), vec![line])
        }
        Metadata::UniffiTrait(t) => (of(t.self_name()), vec![format!("trait {}", t.name())]),
        Metadata::Record(r) => (format!("record {}", r.name), r.fields.iter().map(field).collect()),
        Metadata::Enum(e) => {
            let kind = if e.shape.is_error() { "error" } else { "enum" };
            let cases = e.variants.iter().map(|case| {
                let fields: Vec<String> = case.fields.iter().map(field).collect();
                if fields.is_empty() {
                    case.name.clone()
                } else {
                    format!("{}({})", case.name, fields.join(", "))
                }
            });
            (format!("{kind} {}", e.name), cases.collect())
        }
        Metadata::CustomType(c) => (format!("type {} = {}", c.name, shown(&c.builtin)), Vec::new()),
        Metadata::CallbackInterface(c) => (format!("host interface {}", c.name), Vec::new()),
        Metadata::Object(_)
        | Metadata::ObjectTraitImpl(_)
        | Metadata::Namespace(_)
        | Metadata::UdlFile(_) => return None,
    })
}

fn call(
    name: &str,
    is_async: bool,
    inputs: &[FnParamMetadata],
    gives: Option<&Type>,
    throws: Option<&Type>,
) -> String {
    let inputs: Vec<String> =
        inputs.iter().map(|one| named(&one.name, &one.ty, one.default.as_ref())).collect();
    let gives = gives.map(|gives| format!(" -> {}", shown(gives))).unwrap_or_default();
    let throws = throws.map(|throws| format!(" throws {}", shown(throws))).unwrap_or_default();
    format!("{}{name}({}){gives}{throws}", if is_async { "async " } else { "" }, inputs.join(", "))
}

fn field(field: &FieldMetadata) -> String {
    match field.name.as_str() {
        // A case's value without a name.
        "" => shown(&field.ty),
        name => named(name, &field.ty, field.default.as_ref()),
    }
}

fn named(name: &str, ty: &Type, default: Option<&DefaultValueMetadata>) -> String {
    let default = match default {
        None => String::new(),
        Some(DefaultValueMetadata::Default) => " = default".to_owned(),
        Some(DefaultValueMetadata::Literal(literal)) => format!(" = {literal:?}"),
    };
    format!("{name}: {}{default}", shown(ty))
}

fn shown(ty: &Type) -> String {
    match ty {
        Type::Object { name, .. }
        | Type::Record { name, .. }
        | Type::Enum { name, .. }
        | Type::CallbackInterface { name, .. }
        | Type::Custom { name, .. } => name.clone(),
        Type::Box { inner_type } => shown(inner_type),
        Type::Optional { inner_type } => format!("{}?", shown(inner_type)),
        Type::Sequence { inner_type } => format!("[{}]", shown(inner_type)),
        Type::Set { inner_type } => format!("set of {}", shown(inner_type)),
        Type::Map { key_type, value_type } => format!("{{{}: {}}}", shown(key_type), shown(value_type)),
        plain => format!("{plain:?}").to_lowercase(),
    }
}
