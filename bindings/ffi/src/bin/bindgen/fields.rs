//! Python's lines that read values where they lie in the library's bytes: fixed values that follow one another at once, text
//! and lists where they stand, and what is small without a call. What comes after something that may be missing is read
//! together with it.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use uniffi_meta::Type;

use crate::reading::{Shape, Shapes, crate_of};

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
/// Whether something is there: as the word for true or false, but only asked.
const THERE: char = 't';
/// So many values are read where they stand, instead of by a call.
const SMALL: usize = 6;

/// So many bytes.
fn size(code: char) -> usize {
    match code {
        'b' | 'B' | '?' | THERE => 1,
        'h' | 'H' => 2,
        'i' | 'I' | 'f' => 4,
        _ => 8,
    }
}

/// The name of what reads these values.
fn layout(codes: &str) -> String {
    format!("_uniffi_unpack_{}", codes.replace('?', "t"))
}

/// Something that is to be done, in its order.
enum Step<'t> {
    /// This line, which needs nothing of what is read.
    Say(String),
    /// To read a value; what is small where it stands, unless it is part of something that is.
    Read(String, &'t Type, Place),
}

/// Of what a value is part.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Place {
    /// Of what a function reads.
    Outside,
    /// Of something small that is read where it stands.
    Within,
}

/// Values that wait to be read with those beside them.
#[derive(Clone, Default)]
struct Fixed {
    codes: String,
    targets: Vec<String>,
    /// What is done with them then.
    then: Vec<String>,
}

impl Fixed {
    fn push(&mut self, code: char, target: &str) {
        self.codes.push(code);
        self.targets.push(target.to_owned());
    }

    fn extend(&mut self, others: &Self) {
        self.codes.push_str(&others.codes);
        self.targets.extend_from_slice(&others.targets);
        self.then.extend_from_slice(&others.then);
    }
}

pub(crate) struct Reader<'a> {
    of_crate: &'a str,
    shapes: &'a Shapes<'a>,
    layouts: BTreeSet<String>,
    fresh: usize,
    lines: Vec<String>,
}

impl<'a> Reader<'a> {
    /// For the module of a crate.
    pub(crate) fn new(of_crate: &'a str, shapes: &'a Shapes<'a>) -> Self {
        Self { of_crate, shapes, layouts: BTreeSet::new(), fresh: 0, lines: Vec::new() }
    }

    /// What reads a record.
    pub(crate) fn record(&mut self, made: &str, fields: &[(String, &'a Type)]) -> Result<String, String> {
        self.begin();
        self.say(2, &format!("it = _uniffi_new({made})"));
        let mut steps = Vec::new();
        fields.iter().for_each(|(name, ty)| self.step(&mut steps, format!("it.{name}"), ty, Place::Outside));
        self.read(2, &steps)?;
        Ok(self.end())
    }

    /// What reads an enum whose cases hold something.
    pub(crate) fn cases(&mut self, cases: &[(String, Vec<&'a Type>)]) -> Result<String, String> {
        self.begin();
        let mut which = Fixed::default();
        which.push('i', "which");
        self.flush(2, which);
        self.one_of(2, None, ("it", "which"), cases, &Fixed::default())?;
        Ok(self.end())
    }

    /// What the functions call by name.
    pub(crate) fn layouts(self) -> String {
        self.layouts.iter().fold(String::new(), |mut all, codes| {
            _ = writeln!(all, "{} = struct.Struct(\">{codes}\").unpack_from", layout(codes));
            all
        })
    }

    fn begin(&mut self) {
        self.fresh = 0;
        self.say(2, "data, at = buf.data, buf.offset");
    }

    fn end(&mut self) -> String {
        self.say(2, "buf.offset = at");
        self.say(2, "return it");
        std::mem::take(&mut self.lines).concat()
    }

    fn say(&mut self, depth: usize, line: &str) {
        self.lines.push(format!("{}{line}\n", "    ".repeat(depth)));
    }

    fn fresh(&mut self, name: &str) -> String {
        self.fresh += 1;
        format!("{name}_{}", self.fresh)
    }

    /// Something of a module, as this one calls it.
    fn there(&self, path: &str, name: &str) -> String {
        match crate_of(path) {
            here if here == self.of_crate => name.to_owned(),
            other => format!("{other}.{name}"),
        }
    }

    /// What the library wraps, since Python sees the inside alone.
    fn inside(mut ty: &'a Type) -> &'a Type {
        loop {
            ty = match ty {
                Type::Custom { builtin, .. } if !matches!(**builtin, Type::Map { .. }) => builtin,
                Type::Box { inner_type } => inner_type,
                _ => return ty,
            };
        }
    }

    fn shape(&self, ty: &Type) -> Option<&'a Shape<'a>> {
        match ty {
            Type::Record { module_path, name } | Type::Enum { module_path, name } => {
                self.shapes.get(module_path, name)
            }
            _ => None,
        }
    }

    /// How many values are read for one.
    fn weight(&self, ty: &'a Type) -> usize {
        match Self::inside(ty) {
            Type::Optional { inner_type } | Type::Sequence { inner_type } => 1 + self.weight(inner_type),
            _ => 1,
        }
    }

    /// A record or cases that hold little.
    fn is_small(&self, ty: &'a Type) -> bool {
        let weight: usize = match self.shape(ty) {
            Some(Shape::Record(_, fields)) => fields.iter().map(|(_, ty)| self.weight(ty)).sum(),
            Some(Shape::Cases(cases)) => {
                cases.iter().map(|(_, types)| 1 + types.iter().map(|ty| self.weight(ty)).sum::<usize>()).sum()
            }
            _ => return false,
        };
        weight <= SMALL
    }

    /// A small record is made where it stands, and each of its fields read as one more value.
    fn step(&mut self, steps: &mut Vec<Step<'a>>, target: String, ty: &'a Type, place: Place) {
        let ty = Self::inside(ty);
        match (ty, self.shape(ty)) {
            (Type::Record { module_path, .. }, Some(Shape::Record(made, fields)))
                if place == Place::Outside && self.is_small(ty) =>
            {
                let it = self.fresh("it");
                steps.push(Step::Say(format!(
                    "{target} = {it} = _uniffi_new({})",
                    self.there(module_path, made)
                )));
                for (name, ty) in fields {
                    self.step(steps, format!("{it}.{name}"), ty, Place::Within);
                }
            }
            _ => steps.push(Step::Read(target, ty, place)),
        }
    }

    /// Reads what is fixed so far; so many bytes are to be gone on.
    fn unpack(&mut self, depth: usize, fixed: Fixed) -> usize {
        let Fixed { codes, targets, then } = fixed;
        match (codes.as_str(), targets.as_slice()) {
            ("", _) => {}
            // A byte is read quicker than unpacked.
            ("t", [target]) => self.say(depth, &format!("{target} = data[at]")),
            ("?", [target]) => self.say(depth, &format!("{target} = data[at] == 1")),
            _ => {
                let codes = codes.replace(THERE, "?");
                self.say(depth, &format!("{}, = {}(data, at)", targets.join(", "), layout(&codes)));
                self.layouts.insert(codes);
            }
        }
        then.iter().for_each(|line| self.say(depth, line));
        codes.chars().map(size).sum()
    }

    fn flush(&mut self, depth: usize, fixed: Fixed) {
        let size = self.unpack(depth, fixed);
        if size > 0 {
            self.say(depth, &format!("at += {size}"));
        }
    }

    fn read(&mut self, depth: usize, steps: &[Step<'a>]) -> Result<(), String> {
        let rest = self.begun(depth, steps)?;
        self.flush(depth, rest);
        Ok(())
    }

    /// Reads, up to what is fixed at the end: that may be read with what follows.
    fn begun(&mut self, depth: usize, steps: &[Step<'a>]) -> Result<Fixed, String> {
        let mut fixed = Fixed::default();
        let mut rest = steps;
        // What the next value begins with, where that has been read.
        let mut known = None;
        while let Some((step, later)) = rest.split_first() {
            rest = later;
            let (target, ty, place) = match step {
                Step::Say(line) => {
                    self.say(depth, line);
                    continue;
                }
                Step::Read(target, ty, place) => (target, *ty, *place),
            };
            let head = match known.take() {
                Some(head) => Some(head),
                None => self.head(target, ty, place, &mut fixed),
            };
            let Some(head) = head else {
                self.flush(depth, std::mem::take(&mut fixed));
                self.by_its_own(depth, target, ty)?;
                continue;
            };
            match ty {
                Type::String => {
                    let size = self.unpack(depth, std::mem::take(&mut fixed));
                    let begins = if size > 0 { format!("at + {size}") } else { "at".to_owned() };
                    self.say(depth, &format!("begins = {begins}"));
                    self.say(depth, &format!("at = begins + {head}"));
                    self.say(depth, &format!("{target} = data[begins:at].decode()"));
                }
                Type::Sequence { inner_type } => {
                    self.flush(depth, std::mem::take(&mut fixed));
                    let (all, each) = (self.fresh("all"), self.fresh("each"));
                    self.say(depth, &format!("{target} = {all} = []"));
                    self.say(depth, &format!("if {head}:"));
                    self.say(depth + 1, &format!("for _ in range({head}):"));
                    let mut steps = Vec::new();
                    self.step(&mut steps, each.clone(), inner_type, place);
                    self.read(depth + 2, &steps)?;
                    self.say(depth + 2, &format!("{all}.append({each})"));
                }
                Type::Optional { inner_type } => {
                    self.flush(depth, std::mem::take(&mut fixed));
                    let mut steps = Vec::new();
                    self.step(&mut steps, target.clone(), inner_type, place);
                    let mut next = Fixed::default();
                    if self.ends_fixed(&steps) {
                        (known, rest) = self.follows(depth, rest, &mut next);
                    }
                    self.say(depth, &format!("if {head}:"));
                    let mut there = self.begun(depth + 1, &steps)?;
                    there.extend(&next);
                    self.flush(depth + 1, there);
                    self.say(depth, "else:");
                    self.say(depth + 1, &format!("{target} = None"));
                    self.flush(depth + 1, next);
                }
                _ => {
                    if let (Type::Enum { module_path, .. }, Some(Shape::Cases(cases))) = (ty, self.shape(ty))
                    {
                        self.flush(depth, std::mem::take(&mut fixed));
                        let mut next = Fixed::default();
                        (known, rest) = self.follows(depth, rest, &mut next);
                        self.one_of(depth, Some(module_path), (target, &head), cases, &next)?;
                    }
                }
            }
        }
        Ok(fixed)
    }

    /// What a value begins with: itself where it is fixed, its length, whether it is there, which case it is. Nothing where
    /// it is read by a call.
    fn head(&mut self, target: &str, ty: &'a Type, place: Place, fixed: &mut Fixed) -> Option<String> {
        let (code, name) = match ty {
            Type::String | Type::Sequence { .. } => ('i', self.fresh("size")),
            Type::Optional { .. } => (THERE, self.fresh("there")),
            Type::Enum { module_path, name: of } => match self.shape(ty)? {
                Shape::Names => {
                    let which = self.fresh("which");
                    let cases = self.there(module_path, &format!("_uniffi_cases_{of}"));
                    fixed.then.push(format!("{target} = {cases}[{which}]"));
                    ('i', which)
                }
                Shape::Cases(_) if place == Place::Outside && self.is_small(ty) => ('i', self.fresh("which")),
                _ => return None,
            },
            _ => (PLAIN.iter().find(|(plain, _)| plain == ty)?.1, target.to_owned()),
        };
        fixed.push(code, &name);
        Some(name)
    }

    fn is_fixed(&self, ty: &Type) -> bool {
        PLAIN.iter().any(|(plain, _)| plain == ty) || matches!(self.shape(ty), Some(Shape::Names))
    }

    fn ends_fixed(&self, steps: &[Step<'a>]) -> bool {
        matches!(steps.last(), Some(Step::Read(_, ty, _)) if self.is_fixed(ty))
    }

    /// Takes what follows up to what is not fixed, with what that begins with. Gives that, and what is left.
    fn follows<'s>(
        &mut self,
        depth: usize,
        mut rest: &'s [Step<'a>],
        next: &mut Fixed,
    ) -> (Option<String>, &'s [Step<'a>]) {
        while let Some((step, later)) = rest.split_first() {
            match step {
                Step::Say(line) => self.say(depth, line),
                Step::Read(target, ty, place) => match self.head(target, ty, *place, next) {
                    Some(_) if self.is_fixed(ty) => {}
                    // It is still to be read itself.
                    head => return (head, rest),
                },
            }
            rest = later;
        }
        (None, rest)
    }

    /// One of several cases, and what follows each of them; `within`: the crate of the cases, where they
    /// are read as part of something.
    fn one_of(
        &mut self,
        depth: usize,
        within: Option<&str>,
        (target, which): (&str, &str),
        cases: &[(String, Vec<&'a Type>)],
        next: &Fixed,
    ) -> Result<(), String> {
        let place = if within.is_some() { Place::Within } else { Place::Outside };
        for (before, (made, types)) in cases.iter().enumerate() {
            self.say(
                depth,
                &format!("{} {which} == {}:", if before == 0 { "if" } else { "elif" }, before + 1),
            );
            let values: Vec<String> = types.iter().map(|_| self.fresh("value")).collect();
            let mut steps = Vec::new();
            for (value, ty) in values.iter().zip(types) {
                self.step(&mut steps, value.clone(), ty, place);
            }
            let mut rest = self.begun(depth + 1, &steps)?;
            let made = within.map_or(made.clone(), |path| self.there(path, made));
            // One that holds nothing has nothing to be told when it is made.
            let made = if values.is_empty() {
                format!("_uniffi_new({made})")
            } else {
                format!("{made}({})", values.join(", "))
            };
            rest.then.push(format!("{target} = {made}"));
            rest.extend(next);
            self.flush(depth + 1, rest);
        }
        self.say(depth, "else:");
        self.say(depth + 1, "raise InternalError(\"Raw enum value doesn't match any cases\")");
        Ok(())
    }

    /// Reads a value by the converter of its type.
    fn by_its_own(&mut self, depth: usize, target: &str, ty: &Type) -> Result<(), String> {
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
        self.say(depth, "buf.offset = at");
        self.say(depth, &format!("{target} = {converter}.read(buf)"));
        self.say(depth, "at = buf.offset");
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const CRATE: &str = "tailcomb_core";

    fn named(name: &str) -> (String, String) {
        ("tailcomb_trade".to_owned(), name.to_owned())
    }

    #[test]
    fn what_is_fixed_is_read_together_and_what_may_be_missing_with_what_follows() {
        let (module_path, name) = named("Kind");
        let kind = Type::Enum { module_path, name };
        let (module_path, name) = named("Told");
        let told = Type::Record { module_path, name };
        let due = Type::Optional { inner_type: Box::new(Type::Int64) };
        let note = Type::Optional { inner_type: Box::new(Type::String) };
        let shapes = Shapes::with([
            (("tailcomb_trade", "Kind"), Shape::Names),
            (
                ("tailcomb_trade", "Told"),
                Shape::Record("Told".to_owned(), vec![("text".to_owned(), &Type::String)]),
            ),
        ]);
        let fields = [
            ("kind", &kind),
            ("_from", &Type::Int64),
            ("due", &due),
            ("label", &told),
            ("note", &note),
            ("asks", &Type::Boolean),
        ]
        .map(|(name, ty)| (name.to_owned(), ty));
        let ours = "        data, at = buf.data, buf.offset
        it = _uniffi_new(Timer)
        which_2, it._from, there_3, = _uniffi_unpack_iqt(data, at)
        it.kind = tailcomb_trade._uniffi_cases_Kind[which_2]
        at += 13
        it.label = it_1 = _uniffi_new(tailcomb_trade.Told)
        if there_3:
            it.due, size_4, = _uniffi_unpack_qi(data, at)
            at += 12
        else:
            it.due = None
            size_4, = _uniffi_unpack_i(data, at)
            at += 4
        begins = at
        at = begins + size_4
        it_1.text = data[begins:at].decode()
        there_5 = data[at]
        at += 1
        if there_5:
            size_6, = _uniffi_unpack_i(data, at)
            begins = at + 4
            at = begins + size_6
            it.note = data[begins:at].decode()
        else:
            it.note = None
        it.asks = data[at] == 1
        at += 1
        buf.offset = at
        return it
";
        let mut reader = Reader::new(CRATE, &shapes);
        assert_eq!(reader.record("Timer", &fields).as_deref(), Ok(ours));
        assert_eq!(
            reader.layouts(),
            "_uniffi_unpack_i = struct.Struct(\">i\").unpack_from
_uniffi_unpack_iqt = struct.Struct(\">iq?\").unpack_from
_uniffi_unpack_qi = struct.Struct(\">qi\").unpack_from
"
        );
    }

    #[test]
    fn small_cases_stand_where_they_are_and_large_ones_are_called() {
        let (module_path, name) = named("Share");
        let share = Type::Enum { module_path, name };
        let (module_path, name) = named("Large");
        let large = Type::Record { module_path, name };
        let many = (0..=SMALL).map(|place| (format!("n{place}"), &Type::Int64)).collect();
        let shapes = Shapes::with([
            (
                ("tailcomb_trade", "Share"),
                Shape::Cases(vec![
                    ("Share.ALL".to_owned(), vec![]),
                    ("Share.GRAMS".to_owned(), vec![&Type::Int64]),
                ]),
            ),
            (("tailcomb_trade", "Large"), Shape::Record("Large".to_owned(), many)),
        ]);
        let fields = [("share", &share), ("n", &Type::UInt32), ("large", &large)]
            .map(|(name, ty)| (name.to_owned(), ty));
        let ours = "        data, at = buf.data, buf.offset
        it = _uniffi_new(Part)
        which_1, = _uniffi_unpack_i(data, at)
        at += 4
        if which_1 == 1:
            it.n, = _uniffi_unpack_I(data, at)
            it.share = _uniffi_new(tailcomb_trade.Share.ALL)
            at += 4
        elif which_1 == 2:
            value_2, it.n, = _uniffi_unpack_qI(data, at)
            it.share = tailcomb_trade.Share.GRAMS(value_2)
            at += 12
        else:
            raise InternalError(\"Raw enum value doesn't match any cases\")
        buf.offset = at
        it.large = tailcomb_trade._UniffiFfiConverterTypeLarge.read(buf)
        at = buf.offset
        buf.offset = at
        return it
";
        assert_eq!(Reader::new(CRATE, &shapes).record("Part", &fields).as_deref(), Ok(ours));
    }

    #[test]
    fn what_nobody_knows_to_read_is_told() {
        let shapes = Shapes::with([]);
        let when = [("n".to_owned(), &Type::Timestamp)];
        assert!(Reader::new(CRATE, &shapes).record("At", &when).is_err_and(|why| why.contains("Timestamp")));
    }
}
