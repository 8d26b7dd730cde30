//! How Python reads what the library gives. UniFFI's modules read one value at a time, with two calls and a slice for each,
//! and make a record by naming every field; that takes longer than most questions do. Here the reading of each record and
//! each case is written anew, from what the library says of its types (`fields.rs`). What is written by Python stays as it
//! was, so that a test can write values and read them.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use uniffi_meta::{FieldMetadata, Metadata, Type};

use crate::fields::{Reader, only};
use crate::text::{change, find, part, replaced};

/// What each module brings for itself, and what is put in its place: one copy of all bytes instead of a slice for each
/// value, and nothing made anew for a call that goes well.
const HELPERS: [(&str, &str); 4] = [
    (
        "        return cls(buf.data, buf.len)",
        "        size = buf.len\n        return cls(buf.data[:size] if size else b\"\", size)",
    ),
    (
        "        with rbuf.consume_with_stream() as stream:\n            return cls.read(stream)\n",
        "        try:\n            stream = _UniffiRustBufferStream.from_rust_buffer(rbuf)\n        finally:\n            \
         rbuf.free()\n        value = cls.read(stream)\n        if stream.offset != stream.len:\n            \
         raise InternalError(\"junk data left in buffer\")\n        return value\n",
    ),
    ("    return _uniffi_rust_call_with_error(None, fn, *args)\n", CALL),
    (
        "    call_status = _UniffiRustCallStatus.default()

    args_with_error = args + (ctypes.byref(call_status),)
    result = fn(*args_with_error)
    _uniffi_check_call_status(error_ffi_converter, call_status)
    return result
",
        CALL,
    ),
];

/// How a call went is told in something that is kept for the next call; for as long as a call lasts it is its own. One
/// that did not go well keeps it.
const TOLD: &str = "    try:
        told = _uniffi_told.pop()
    except IndexError:
        call_status = _UniffiRustCallStatus()
        told = call_status, ctypes.byref(call_status)
    call_status, where = told
";

/// A function of Python, with how its call is told where it says so.
pub(crate) fn how_told(function: &str) -> String {
    function.replace("    TOLD\n", TOLD)
}

const CALL: &str = "    TOLD
    result = fn(*args, where)
    if call_status.code:
        _uniffi_check_call_status(ERRORS, call_status)
    _uniffi_told.append(told)
    return result
";

/// What the functions above and those that read call by name.
const NAMES: &str = "_uniffi_told = []\n_uniffi_new = object.__new__\n";

/// How a type is made in Python, and of what.
pub(crate) enum Shape<'a> {
    /// An enum that is only names.
    Names,
    /// A record: its class, and its fields as they are called there.
    Record(String, Vec<(String, &'a Type)>),
    /// Cases that hold something: the class of each, and what it holds.
    Cases(Vec<(String, Vec<&'a Type>)>),
}

/// The records and enums of all crates, by crate and name.
pub(crate) struct Shapes<'a>(BTreeMap<(String, String), Shape<'a>>);

impl<'a> Shapes<'a> {
    /// From what the library says of its types, and the modules as UniFFI wrote them, by crate: they say what Python calls
    /// what.
    pub(crate) fn of(all: &'a [Metadata], modules: &BTreeMap<&str, String>) -> Result<Self, String> {
        let mut shapes = BTreeMap::new();
        for one in all {
            let (path, name) = match one {
                Metadata::Record(record) if !record.fields.is_empty() => (&record.module_path, &record.name),
                Metadata::Enum(one) if !one.shape.is_error() => (&one.module_path, &one.name),
                _ => continue,
            };
            let of = crate_of(path);
            let theirs = || {
                let text = modules.get(of).ok_or_else(|| format!("there is no module of {of}"))?;
                Ok::<_, String>(text.get(reading(text, name)?).unwrap_or_default())
            };
            let shape = match one {
                Metadata::Record(record) => record_of(theirs()?, &record.fields)?,
                Metadata::Enum(one) if one.variants.iter().any(|case| !case.fields.is_empty()) => {
                    cases_of(theirs()?, &one.variants.iter().map(|case| &*case.fields).collect::<Vec<_>>())?
                }
                _ => Shape::Names,
            };
            shapes.insert((of.to_owned(), name.clone()), shape);
        }
        Ok(Self(shapes))
    }

    pub(crate) fn get(&self, path: &str, name: &str) -> Option<&Shape<'a>> {
        self.0.get(&(crate_of(path).to_owned(), name.to_owned()))
    }

    /// The module of a crate with other reading.
    pub(crate) fn python(&self, mut text: String, of_crate: &str) -> Result<String, String> {
        for (theirs, ours) in HELPERS {
            let errors = if theirs.contains("(None,") { "None" } else { "error_ffi_converter" };
            text = replaced(&text, theirs, &how_told(ours).replace("ERRORS", errors))?;
        }
        // Records of other types are other, and nothing to fail at.
        let compares = "    def __eq__(self, other):\n        if self.";
        if !text.contains(compares) {
            return Err("no record is compared".to_owned());
        }
        let ours = "    def __eq__(self, other):\n        if other.__class__ is not self.__class__:\n            \
                    return NotImplemented\n        if self.";
        text = text.replace(compares, ours);
        let mut end = NAMES.to_owned();
        let mut reader = Reader::new(of_crate, self);
        for ((_, name), shape) in self.0.iter().filter(|((of, _), _)| of == of_crate) {
            let body = match shape {
                Shape::Names => {
                    _ = writeln!(end, "_uniffi_cases_{name} = dict(enumerate({name}, 1))");
                    continue;
                }
                Shape::Record(made, fields) => reader.record(made, fields)?,
                Shape::Cases(cases) => {
                    for (case, _) in cases.iter().filter(|(_, holds)| holds.is_empty()) {
                        _ = writeln!(end, "{} = _uniffi_new({case})", only(case));
                    }
                    reader.cases(cases)?
                }
            };
            let theirs = reading(&text, name)?;
            change(&mut text, theirs, |_| Ok(format!("    def read(buf):\n{body}\n    @staticmethod\n")))?;
        }
        end.push_str(&reader.layouts());
        Ok(format!("{text}\n{end}"))
    }
}

pub(crate) fn crate_of(path: &str) -> &str {
    path.split("::").next().unwrap_or_default()
}

/// Where a type's converter reads.
fn reading(text: &str, name: &str) -> Result<crate::text::Range, String> {
    let class = format!("\nclass _UniffiFfiConverterType{name}(_UniffiConverterRustBuffer):\n");
    let begins = find(text, &(0..text.len()), &class)?;
    part(text, &(begins..text.len()), "    def read(buf):\n", "\n    @staticmethod\n")
}

fn record_of<'a>(theirs: &str, fields: &'a [FieldMetadata]) -> Result<Shape<'a>, String> {
    let made = theirs.split_once("return ").and_then(|(_, rest)| rest.split_once('('));
    let (made, _) = made.ok_or_else(|| format!("no record is made in:\n{theirs}"))?;
    // As they are called in Python.
    let called = theirs.lines().filter(|line| line.ends_with(".read(buf),"));
    let names: Vec<&str> = called.filter_map(|line| Some(line.trim().split_once('=')?.0)).collect();
    if names.len() != fields.len() {
        return Err(format!("{made} has {} fields, and other ones are read in:\n{theirs}", fields.len()));
    }
    let fields = names.into_iter().map(str::to_owned).zip(fields.iter().map(|field| &field.ty));
    Ok(Shape::Record(made.to_owned(), fields.collect()))
}

fn cases_of<'a>(theirs: &str, cases: &[&'a [FieldMetadata]]) -> Result<Shape<'a>, String> {
    let made = theirs.lines().filter_map(|line| line.trim().strip_prefix("return "));
    let made: Vec<&str> = made.map(|made| made.split('(').next().unwrap_or_default()).collect();
    if made.len() != cases.len() {
        return Err(format!("{} cases were expected in:\n{theirs}", cases.len()));
    }
    let types = cases.iter().map(|fields| fields.iter().map(|field| &field.ty).collect());
    Ok(Shape::Cases(made.into_iter().map(str::to_owned).zip(types).collect()))
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn field(name: &str, ty: Type) -> FieldMetadata {
        FieldMetadata { name: name.to_owned(), ty, default: None, docstring: None, orig_name: None }
    }

    impl<'a> Shapes<'a> {
        pub(crate) fn with(shapes: impl IntoIterator<Item = ((&'a str, &'a str), Shape<'a>)>) -> Self {
            let owned = |((of, name), shape): ((&str, &str), _)| ((of.to_owned(), name.to_owned()), shape);
            Self(shapes.into_iter().map(owned).collect())
        }
    }

    #[test]
    fn names_are_as_python_has_them() {
        let theirs = "        return Timer(\n            kind=K.read(buf),\n            _from=I.read(buf),\n        )\n";
        let fields = [field("kind", Type::String), field("from", Type::Int64)];
        let shape = record_of(theirs, &fields);
        let Ok(Shape::Record(made, fields)) = shape else { panic!("{:?}", shape.err()) };
        assert_eq!(made, "Timer");
        assert_eq!(fields, [("kind".to_owned(), &Type::String), ("_from".to_owned(), &Type::Int64)]);
    }

    #[test]
    fn what_is_not_as_it_is_known_is_told() {
        let one = [field("n", Type::Int64)];
        for other in [
            "",
            "        return Timer(\n        )\n",
            "        return Timer(\n            n=I.read(buf, 2),\n",
        ] {
            assert!(record_of(other, &one).is_err(), "{other}");
        }
        assert!(record_of("        return Timer(\n            n=I.read(buf),\n        )\n", &one).is_ok());
        assert!(cases_of("            return Share.GRAMS(\n", &[&one, &one]).is_err());
        assert!(Shapes::with([]).python("import struct\n".to_owned(), "tailcomb_core").is_err());
    }
}
