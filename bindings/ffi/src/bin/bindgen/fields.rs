//! Python's lines that read values where they lie in the library's bytes: fixed values that follow one another at once, text
//! and lists where they stand, and what is small without a call. What comes after something that may be missing is read
//! together with it.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use uniffi_meta::Type;

use crate::fixed::{COUNT, Fixed, Guess, Place, THERE, Value, code, layout};
use crate::reading::{Shape, Shapes, crate_of};
use crate::small::inside;

/// Something that is to be done, in its order.
enum Step<'a> {
    /// This line, which needs nothing of what is read.
    Say(String),
    /// To read a value; what is small where it stands, unless it is part of something that is.
    Read(Value<'a>),
}

/// What a case that holds nothing is called, of which there is one.
pub(crate) fn only(case: &str) -> String {
    format!("_uniffi_only_{}", case.replace('.', "_"))
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
        which.push(COUNT, "which");
        self.flush(2, which)?;
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

    /// A small record is made where it stands, and each of its fields read as one more value.
    fn step(&mut self, steps: &mut Vec<Step<'a>>, target: String, ty: &'a Type, place: Place) {
        let ty = inside(ty);
        if place == Place::Within
            || !self.shapes.is_small(ty)
            || !self.made(steps, &target, ty, Place::Within)
        {
            steps.push(Step::Read(Value { target, ty, place }));
        }
    }

    /// Makes a record where it stands, and reads each of its fields as part of `place`; says whether it is a record.
    fn made(&mut self, steps: &mut Vec<Step<'a>>, target: &str, ty: &'a Type, place: Place) -> bool {
        let (Type::Record { module_path, .. }, Some(Shape::Record(made, fields))) =
            (ty, self.shapes.shape(ty))
        else {
            return false;
        };
        let it = self.fresh("it");
        steps.push(Step::Say(format!("{target} = {it} = _uniffi_new({})", self.there(module_path, made))));
        for (name, ty) in fields {
            self.step(steps, format!("{it}.{name}"), ty, place);
        }
        true
    }

    /// Reads what is fixed, and does not go on: so many bytes are to be gone.
    fn unpack(&mut self, depth: usize, fixed: &Fixed<'a>) -> usize {
        if let Some((line, layout)) = fixed.line() {
            self.say(depth, &line);
            self.layouts.extend(layout);
        }
        fixed.size()
    }

    fn go(&mut self, depth: usize, sign: char, size: usize) {
        if size > 0 {
            self.say(depth, &format!("at {sign}= {size}"));
        }
    }

    fn flush(&mut self, depth: usize, fixed: Fixed<'a>) -> Result<(), String> {
        self.flush_with(depth, fixed, &Fixed::default())
    }

    /// Reads what is fixed and with it what follows, of which nothing is settled yet.
    fn flush_with(&mut self, depth: usize, fixed: Fixed<'a>, next: &Fixed<'a>) -> Result<(), String> {
        let size = self.unpack(depth, &fixed.and(next));
        self.go(depth, '+', size);
        self.settle(depth, fixed, next)
    }

    /// Reads what was taken not to be there where it is, and what follows it once more; then does all that waited.
    fn settle(&mut self, depth: usize, fixed: Fixed<'a>, next: &Fixed<'a>) -> Result<(), String> {
        let (guesses, then) = fixed.settled(next);
        for (Guess { head, value, .. }, after) in guesses {
            let Value { target, ty, place } = value;
            let mut steps = Vec::new();
            match ty {
                Type::Sequence { inner_type } => {
                    let (all, each) = (self.fresh("all"), self.fresh("each"));
                    self.say(depth, &format!("{target} = {all} = []"));
                    self.say(depth, &format!("if {head}:"));
                    self.go(depth + 1, '-', after.size());
                    self.say(depth + 1, &format!("for _ in range({head}):"));
                    let inner = inside(inner_type);
                    if place != Place::Outside || !self.made(&mut steps, &each, inner, Place::Listed) {
                        self.step(&mut steps, each.clone(), inner, place);
                    }
                    self.read(depth + 2, &steps)?;
                    self.say(depth + 2, &format!("{all}.append({each})"));
                    self.flush(depth + 1, after)?;
                }
                Type::Optional { inner_type } => {
                    self.say(depth, &format!("if {head}:"));
                    self.go(depth + 1, '-', after.size());
                    self.step(&mut steps, target.clone(), inner_type, place);
                    self.read(depth + 1, &steps)?;
                    self.flush(depth + 1, after)?;
                    self.say(depth, "else:");
                    self.say(depth + 1, &format!("{target} = None"));
                }
                other => return Err(format!("{other:?} is always there")),
            }
        }
        then.iter().for_each(|line| self.say(depth, line));
        Ok(())
    }

    fn read(&mut self, depth: usize, steps: &[Step<'a>]) -> Result<(), String> {
        let rest = self.begun(depth, steps)?;
        self.flush(depth, rest)
    }

    /// Reads, up to what is fixed at the end: that may be read with what follows.
    fn begun(&mut self, depth: usize, steps: &[Step<'a>]) -> Result<Fixed<'a>, String> {
        let mut fixed = Fixed::default();
        let (mut begins, mut rest) = self.follows(depth, steps, &mut fixed);
        while let Some((Step::Read(Value { target, ty, place }), later)) = rest.split_first() {
            let mut next = Fixed::default();
            match (begins.take(), *ty) {
                (Some(head), Type::String) => {
                    let from = if fixed.is_sure() {
                        let size = self.unpack(depth, &fixed);
                        self.settle(depth, fixed, &next)?;
                        if size > 0 { format!("at + {size}") } else { "at".to_owned() }
                    } else {
                        self.flush(depth, fixed)?;
                        "at".to_owned()
                    };
                    self.say(depth, &format!("begins = {from}"));
                    self.say(depth, &format!("at = begins + {head}"));
                    self.say(depth, &format!("{target} = data[begins:at].decode()"));
                    (begins, rest) = self.follows(depth, later, &mut next);
                }
                (Some(head), Type::Optional { inner_type }) => {
                    self.flush(depth, fixed)?;
                    (begins, rest) = self.follows(depth, later, &mut next);
                    self.say(depth, &format!("if {head}:"));
                    let mut steps = Vec::new();
                    self.step(&mut steps, target.clone(), inner_type, *place);
                    let there = self.begun(depth + 1, &steps)?;
                    self.flush_with(depth + 1, there, &next)?;
                    self.say(depth, "else:");
                    self.say(depth + 1, &format!("{target} = None"));
                    let size = self.unpack(depth + 1, &next);
                    self.go(depth + 1, '+', size);
                    self.settle(depth, std::mem::take(&mut next), &Fixed::default())?;
                }
                (Some(head), Type::Enum { module_path, .. }) => {
                    let Some(Shape::Cases(cases)) = self.shapes.shape(ty) else {
                        return Err(format!("{target} has no cases"));
                    };
                    self.flush(depth, fixed)?;
                    (begins, rest) = self.follows(depth, later, &mut next);
                    self.one_of(depth, Some(module_path), (target, &head), cases, &next)?;
                    self.settle(depth, std::mem::take(&mut next), &Fixed::default())?;
                }
                _ => {
                    self.flush(depth, fixed)?;
                    self.by_its_own(depth, target, ty)?;
                    (begins, rest) = self.follows(depth, later, &mut next);
                }
            }
            fixed = next;
        }
        Ok(fixed)
    }

    /// Takes what is fixed, or is guessed to be, up to what is not, with what that begins with. Gives that, and what is left.
    fn follows<'s>(
        &mut self,
        depth: usize,
        mut rest: &'s [Step<'a>],
        fixed: &mut Fixed<'a>,
    ) -> (Option<String>, &'s [Step<'a>]) {
        while let Some((step, later)) = rest.split_first() {
            match step {
                Step::Say(line) => self.say(depth, line),
                Step::Read(value) => match (self.head(value, fixed), value.ty) {
                    (Some(_), ty) if self.shapes.is_fixed(ty) => {}
                    (Some(head), Type::Sequence { .. }) => fixed.guess(head, value.clone()),
                    (Some(head), Type::Optional { inner_type })
                        if !self.shapes.ends_fixed(inner_type, value.place) =>
                    {
                        fixed.guess(head, value.clone());
                    }
                    // It is still to be read itself.
                    (head, _) => return (head, rest),
                },
            }
            rest = later;
        }
        (None, rest)
    }

    /// What a value begins with: itself where it is fixed, its length, whether it is there, which case it is. Nothing where
    /// it is read by a call.
    fn head(&mut self, value: &Value<'a>, fixed: &mut Fixed<'a>) -> Option<String> {
        let Value { target, ty, place } = value;
        let (code, name) = match ty {
            Type::String | Type::Sequence { .. } => (COUNT, self.fresh("size")),
            Type::Optional { .. } => (THERE, self.fresh("there")),
            Type::Enum { module_path, name: of } => match self.shapes.shape(ty)? {
                Shape::Names => {
                    let which = self.fresh("which");
                    let cases = self.there(module_path, &format!("_uniffi_cases_{of}"));
                    fixed.then(format!("{target} = {cases}[{which}]"));
                    (COUNT, which)
                }
                Shape::Cases(_) if *place != Place::Within && self.shapes.is_small(ty) => {
                    (COUNT, self.fresh("which"))
                }
                _ => return None,
            },
            _ => (code(ty)?, target.clone()),
        };
        fixed.push(code, &name);
        Some(name)
    }

    /// One of several cases, and what follows each of them, which is not settled; `within`: the crate of the cases, where
    /// they are read as part of something.
    fn one_of(
        &mut self,
        depth: usize,
        within: Option<&str>,
        (target, which): (&str, &str),
        cases: &[(String, Vec<&'a Type>)],
        next: &Fixed<'a>,
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
            let there = |name: &str| within.map_or(name.to_owned(), |path| self.there(path, name));
            rest.then(match values.as_slice() {
                [] => format!("{target} = {}", there(&only(made))),
                values => format!("{target} = {}({})", there(made), values.join(", ")),
            });
            self.flush_with(depth + 1, rest, next)?;
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
    use crate::small::SMALL;

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
        at += 13
        it.kind = tailcomb_trade._uniffi_cases_Kind[which_2]
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
        there_5, it.asks, = _uniffi_unpack_tt(data, at)
        at += 2
        if there_5:
            at -= 1
            size_6, = _uniffi_unpack_i(data, at)
            begins = at + 4
            at = begins + size_6
            it.note = data[begins:at].decode()
            it.asks = data[at] == 1
            at += 1
        else:
            it.note = None
        buf.offset = at
        return it
";
        let mut reader = Reader::new(CRATE, &shapes);
        assert_eq!(reader.record("Timer", &fields).as_deref(), Ok(ours));
        assert_eq!(
            reader.layouts(),
            "_uniffi_unpack_tt = struct.Struct(\">??\").unpack_from
_uniffi_unpack_i = struct.Struct(\">i\").unpack_from
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
            at += 4
            it.share = tailcomb_trade._uniffi_only_Share_ALL
        elif which_1 == 2:
            value_2, it.n, = _uniffi_unpack_qI(data, at)
            at += 12
            it.share = tailcomb_trade.Share.GRAMS(value_2)
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
    fn a_list_is_taken_to_be_empty_and_read_again_with_what_follows_where_it_is_not() {
        let (module_path, name) = named("Large");
        let large = Type::Record { module_path, name };
        let all = Type::Sequence { inner_type: Box::new(large) };
        let many = (0..=SMALL).map(|place| (format!("n{place}"), &Type::UInt8)).collect();
        let shapes = Shapes::with([(("tailcomb_trade", "Large"), Shape::Record("Large".to_owned(), many))]);
        let fields = [("one", &all), ("n", &Type::UInt32), ("two", &all), ("asks", &Type::Boolean)]
            .map(|(name, ty)| (name.to_owned(), ty));
        let ours = "        data, at = buf.data, buf.offset
        it = _uniffi_new(Part)
        size_1, it.n, size_2, it.asks, = _uniffi_unpack_iIit(data, at)
        at += 13
        it.one = all_3 = []
        if size_1:
            at -= 9
            for _ in range(size_1):
                each_4 = it_5 = _uniffi_new(tailcomb_trade.Large)
                it_5.n0, it_5.n1, it_5.n2, it_5.n3, it_5.n4, it_5.n5, it_5.n6, = _uniffi_unpack_BBBBBBB(data, at)
                at += 7
                all_3.append(each_4)
            it.n, size_2, it.asks, = _uniffi_unpack_Iit(data, at)
            at += 9
        it.two = all_6 = []
        if size_2:
            at -= 1
            for _ in range(size_2):
                each_7 = it_8 = _uniffi_new(tailcomb_trade.Large)
                it_8.n0, it_8.n1, it_8.n2, it_8.n3, it_8.n4, it_8.n5, it_8.n6, = _uniffi_unpack_BBBBBBB(data, at)
                at += 7
                all_6.append(each_7)
            it.asks = data[at] == 1
            at += 1
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
