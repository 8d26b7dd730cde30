//! How Python reads what the library gives. UniFFI's modules read one value at a time, with two calls and a slice for each,
//! and make a record by naming every field; that takes longer than most questions do. Here the reading of each record and
//! each case is written anew, from what the library says of its types: fixed values that follow one another at once, text
//! and lists where they stand. What is written by Python stays as it was, so that a test can write values and read them.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use uniffi_meta::{FieldMetadata, Metadata, Type};

use crate::text::{change, find, part, replaced};

/// What each module brings for itself, and what is put in its place: one copy of all bytes instead of a slice for each
/// value, and nothing made anew for a call that goes well.
const HELPERS: [(&str, &str); 3] = [
    ("return cls(buf.data, buf.len)", "return cls(ctypes.string_at(buf.data, buf.len), buf.len)"),
    (
        "        with rbuf.consume_with_stream() as stream:\n            return cls.read(stream)\n",
        "        try:\n            stream = _UniffiRustBufferStream.from_rust_buffer(rbuf)\n            \
         value = cls.read(stream)\n            if stream.offset != stream.len:\n                \
         raise InternalError(\"junk data left in buffer\")\n            return value\n        finally:\n            \
         rbuf.free()\n",
    ),
    (
        "return _UniffiRustCallStatus(code=_UniffiRustCallStatus.CALL_SUCCESS, error_buf=_UniffiRustBuffer.default())",
        "return _UniffiRustCallStatus()",
    ),
];

/// What Python's `struct` calls what is always of one size.
const PLAIN: [(Type, char); 11] = [
    (Type::Int8, 'b'),
    (Type::UInt8, 'B'),
    (Type::Int16, 'h'),
    (Type::UInt16, 'H'),
    (Type::Int32, 'i'),
    (Type::UInt32, 'I'),
    (Type::Int64, 'q'),
    (Type::UInt64, 'Q'),
    (Type::Float32, 'f'),
    (Type::Float64, 'd'),
    (Type::Boolean, '?'),
];

/// A module that UniFFI wrote for a crate, with other reading.
pub(crate) fn python(mut text: String, of_crate: &str, all: &[Metadata]) -> Result<String, String> {
    for (theirs, ours) in HELPERS {
        text = replaced(&text, theirs, ours)?;
    }
    // Records of other types are other, and nothing to fail at.
    let compares = "    def __eq__(self, other):\n        if self.";
    if !text.contains(compares) {
        return Err("no record is compared".to_owned());
    }
    let ours = "    def __eq__(self, other):\n        if other.__class__ is not self.__class__:\n            \
                return NotImplemented\n        if self.";
    text = text.replace(compares, ours);
    let mut end = String::new();
    let mut reader =
        Reader { of_crate, flat: flat(all), layouts: BTreeSet::new(), fresh: 0, lines: Vec::new() };
    for one in all {
        match one {
            Metadata::Record(record)
                if crate_of(&record.module_path) == of_crate && !record.fields.is_empty() =>
            {
                rewrite(&mut text, &record.name, |theirs| reader.record(theirs, &record.fields))?;
            }
            Metadata::Enum(one) if crate_of(&one.module_path) == of_crate && !one.shape.is_error() => {
                let name = &one.name;
                if reader.flat.contains(name.as_str()) {
                    _ = writeln!(end, "_uniffi_cases_{name} = dict(enumerate({name}, 1))");
                } else {
                    let cases: Vec<&[FieldMetadata]> =
                        one.variants.iter().map(|case| &*case.fields).collect();
                    rewrite(&mut text, name, |theirs| reader.cases(theirs, &cases))?;
                }
            }
            _ => {}
        }
    }
    for codes in &reader.layouts {
        _ = writeln!(end, "{} = struct.Struct(\">{codes}\").unpack_from", layout(codes));
    }
    Ok(format!("{text}\n{end}"))
}

fn crate_of(path: &str) -> &str {
    path.split("::").next().unwrap_or_default()
}

/// Enums that are only names.
fn flat(all: &[Metadata]) -> BTreeSet<&str> {
    let enums = all.iter().filter_map(|one| if let Metadata::Enum(one) = one { Some(one) } else { None });
    enums.filter(|one| one.variants.iter().all(|case| case.fields.is_empty())).map(|one| &*one.name).collect()
}

/// Puts another body in the place of what a type's converter reads by.
fn rewrite(
    text: &mut String,
    name: &str,
    body: impl FnOnce(&str) -> Result<String, String>,
) -> Result<(), String> {
    let class = format!("\nclass _UniffiFfiConverterType{name}(_UniffiConverterRustBuffer):\n");
    let begins = find(text, &(0..text.len()), &class)?;
    let read = part(text, &(begins..text.len()), "    def read(buf):\n", "\n    @staticmethod\n")?;
    change(text, read, |theirs| Ok(format!("    def read(buf):\n{}\n    @staticmethod\n", body(theirs)?)))
}

/// The name of what reads these values.
fn layout(codes: &str) -> String {
    format!("_uniffi_unpack_{}", codes.replace('?', "t"))
}

/// A value that waits to be read with those beside it.
#[derive(Default)]
struct Fixed {
    codes: String,
    targets: Vec<String>,
    /// What is done with them then.
    then: Vec<String>,
}

struct Reader<'a> {
    of_crate: &'a str,
    flat: BTreeSet<&'a str>,
    layouts: BTreeSet<String>,
    fresh: usize,
    lines: Vec<String>,
}

impl Reader<'_> {
    fn record(&mut self, theirs: &str, fields: &[FieldMetadata]) -> Result<String, String> {
        let made = theirs.split_once("return ").and_then(|(_, rest)| rest.split_once('('));
        let (made, _) = made.ok_or_else(|| format!("no record is made in:\n{theirs}"))?;
        // As they are called in Python.
        let called = theirs.lines().filter(|line| line.ends_with(".read(buf),"));
        let names: Vec<&str> = called.filter_map(|line| Some(line.trim().split_once('=')?.0)).collect();
        if names.len() != fields.len() {
            return Err(format!("{made} has {} fields, and other ones are read in:\n{theirs}", fields.len()));
        }
        let targets = names.iter().map(|name| format!("it.{name}"));
        self.begin();
        self.say(2, format!("it = object.__new__({made})"));
        self.all(2, targets.zip(fields.iter().map(|field| &field.ty)))?;
        Ok(self.end())
    }

    fn cases(&mut self, theirs: &str, cases: &[&[FieldMetadata]]) -> Result<String, String> {
        let made: Vec<&str> = theirs.lines().filter_map(|line| line.trim().strip_prefix("return ")).collect();
        if made.len() != cases.len() {
            return Err(format!("{} cases were expected in:\n{theirs}", cases.len()));
        }
        self.begin();
        self.unpack(2, "i", &["variant".to_owned()]);
        for (place, (made, fields)) in made.iter().zip(cases).enumerate() {
            self.say(2, format!("{} variant == {}:", if place == 0 { "if" } else { "elif" }, place + 1));
            let values: Vec<String> = (0..fields.len()).map(|place| format!("value_{place}")).collect();
            self.all(3, values.iter().cloned().zip(fields.iter().map(|field| &field.ty)))?;
            let made = made.split('(').next().unwrap_or_default();
            self.say(3, format!("it = {made}({})", values.join(", ")));
        }
        self.say(2, "else:".to_owned());
        self.say(3, "raise InternalError(\"Raw enum value doesn't match any cases\")".to_owned());
        Ok(self.end())
    }

    fn begin(&mut self) {
        self.fresh = 0;
        self.say(2, "data, at = buf.data, buf.offset".to_owned());
    }

    fn end(&mut self) -> String {
        self.say(2, "buf.offset = at".to_owned());
        self.say(2, "return it".to_owned());
        std::mem::take(&mut self.lines).concat()
    }

    fn say(&mut self, depth: usize, line: String) {
        self.lines.push(format!("{}{line}\n", "    ".repeat(depth)));
    }

    fn fresh(&mut self, name: &str) -> String {
        self.fresh += 1;
        format!("{name}_{}", self.fresh)
    }

    fn unpack(&mut self, depth: usize, codes: &str, targets: &[String]) {
        self.layouts.insert(codes.to_owned());
        let size: usize = codes.chars().map(size).sum();
        self.say(depth, format!("{}, = {}(data, at)", targets.join(", "), layout(codes)));
        self.say(depth, format!("at += {size}"));
    }

    /// Reads what is fixed so far.
    fn flush(&mut self, depth: usize, fixed: &mut Fixed) {
        let Fixed { codes, targets, then } = std::mem::take(fixed);
        if !codes.is_empty() {
            self.unpack(depth, &codes, &targets);
        }
        then.into_iter().for_each(|line| self.say(depth, line));
    }

    fn all<'t>(
        &mut self,
        depth: usize,
        values: impl Iterator<Item = (String, &'t Type)>,
    ) -> Result<(), String> {
        let mut fixed = Fixed::default();
        for (target, ty) in values {
            self.one(depth, target, ty, &mut fixed)?;
        }
        self.flush(depth, &mut fixed);
        Ok(())
    }

    fn one(&mut self, depth: usize, target: String, ty: &Type, fixed: &mut Fixed) -> Result<(), String> {
        match ty {
            Type::Custom { builtin, .. } if !matches!(**builtin, Type::Map { .. }) => {
                return self.one(depth, target, builtin, fixed);
            }
            Type::Box { inner_type } => return self.one(depth, target, inner_type, fixed),
            _ => {}
        }
        // Every value begins with something fixed: itself, its length, whether it is there.
        let plain = PLAIN.iter().find(|(plain, _)| plain == ty).map(|(_, code)| (*code, target.clone()));
        let (code, name) = match ty {
            Type::Enum { name, .. } if self.flat.contains(name.as_str()) => ('i', self.fresh("which")),
            Type::String | Type::Sequence { .. } => ('i', self.fresh("size")),
            Type::Optional { .. } => ('?', self.fresh("there")),
            _ => match plain {
                Some(plain) => plain,
                None => return self.by_its_own(depth, &target, ty, fixed),
            },
        };
        fixed.codes.push(code);
        fixed.targets.push(name.clone());
        match ty {
            Type::Enum { name: of, module_path } => {
                let cases = self.there(module_path, &format!("_uniffi_cases_{of}"));
                fixed.then.push(format!("{target} = {cases}[{name}]"));
            }
            Type::String => {
                self.flush(depth, fixed);
                self.say(depth, format!("end = at + {name}"));
                self.say(depth, format!("{target} = data[at:end].decode()"));
                self.say(depth, "at = end".to_owned());
            }
            Type::Optional { inner_type } => {
                self.flush(depth, fixed);
                self.say(depth, format!("if {name}:"));
                self.all(depth + 1, std::iter::once((target.clone(), &**inner_type)))?;
                self.say(depth, "else:".to_owned());
                self.say(depth + 1, format!("{target} = None"));
            }
            Type::Sequence { inner_type } => {
                self.flush(depth, fixed);
                let (all, each) = (self.fresh("all"), self.fresh("each"));
                self.say(depth, format!("{target} = {all} = []"));
                self.say(depth, format!("for _ in range({name}):"));
                self.all(depth + 1, std::iter::once((each.clone(), &**inner_type)))?;
                self.say(depth + 1, format!("{all}.append({each})"));
            }
            _ => {}
        }
        Ok(())
    }

    /// Reads a value by the converter of its type.
    fn by_its_own(&mut self, depth: usize, target: &str, ty: &Type, fixed: &mut Fixed) -> Result<(), String> {
        let converter = match ty {
            Type::Record { name, module_path }
            | Type::Enum { name, module_path }
            | Type::Custom { name, module_path, .. }
            | Type::Object { name, module_path, .. } => {
                self.there(module_path, &format!("_UniffiFfiConverterType{name}"))
            }
            Type::Bytes => "_UniffiFfiConverterBytes".to_owned(),
            other => return Err(format!("how Python reads {other:?} is not written here")),
        };
        self.flush(depth, fixed);
        self.say(depth, "buf.offset = at".to_owned());
        self.say(depth, format!("{target} = {converter}.read(buf)"));
        self.say(depth, "at = buf.offset".to_owned());
        Ok(())
    }

    /// Something of a module, as this one calls it.
    fn there(&self, path: &str, name: &str) -> String {
        match crate_of(path) {
            here if here == self.of_crate => name.to_owned(),
            other => format!("{other}.{name}"),
        }
    }
}

/// So many bytes.
fn size(code: char) -> usize {
    match code {
        'b' | 'B' | '?' => 1,
        'h' | 'H' => 2,
        'i' | 'I' | 'f' => 4,
        _ => 8,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn field(name: &str, ty: Type) -> FieldMetadata {
        FieldMetadata { name: name.to_owned(), ty, default: None, docstring: None, orig_name: None }
    }

    fn reader() -> Reader<'static> {
        Reader {
            of_crate: "tailcomb_core",
            flat: BTreeSet::from(["Kind"]),
            layouts: BTreeSet::new(),
            fresh: 0,
            lines: Vec::new(),
        }
    }

    #[test]
    fn what_is_fixed_is_read_together_and_names_are_as_python_has_them() {
        let theirs = "        return Timer(\n            kind=K.read(buf),\n            _from=I.read(buf),\n            \
                      due=O.read(buf),\n        )\n";
        let kind = Type::Enum { module_path: "tailcomb_trade".to_owned(), name: "Kind".to_owned() };
        let due = Type::Optional { inner_type: Box::new(Type::String) };
        let fields = [field("kind", kind), field("from", Type::Int64), field("due", due)];
        let ours = "        data, at = buf.data, buf.offset
        it = object.__new__(Timer)
        which_1, it._from, there_2, = _uniffi_unpack_iqt(data, at)
        at += 13
        it.kind = tailcomb_trade._uniffi_cases_Kind[which_1]
        if there_2:
            size_3, = _uniffi_unpack_i(data, at)
            at += 4
            end = at + size_3
            it.due = data[at:end].decode()
            at = end
        else:
            it.due = None
        buf.offset = at
        return it
";
        assert_eq!(reader().record(theirs, &fields).as_deref(), Ok(ours));
    }

    #[test]
    fn what_is_not_as_it_is_known_is_told() {
        let one = [field("n", Type::Int64)];
        for other in [
            "",
            "        return Timer(\n        )\n",
            "        return Timer(\n            n=I.read(buf, 2),\n",
        ] {
            assert!(reader().record(other, &one).is_err(), "{other}");
        }
        let theirs = "        return Timer(\n            n=I.read(buf),\n        )\n";
        assert!(reader().record(theirs, &one).is_ok());
        let when = [field("n", Type::Timestamp)];
        assert!(reader().record(theirs, &when).is_err_and(|why| why.contains("Timestamp")));
        assert!(reader().cases("            return Share.GRAMS(\n", &[&one, &one]).is_err());
        assert!(python("import struct\n".to_owned(), "tailcomb_core", &[]).is_err());
    }
}
