//! Values of a known size that Python reads together, with one call. What may be empty or missing is taken to be so, and what
//! follows it is read with it: where it was not, that is read once more, from where it lies.

use uniffi_meta::Type;

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
/// The length of text or of a list, and which of several cases.
pub(crate) const COUNT: char = 'i';
/// Whether something is there: as the word for true or false, but only asked.
pub(crate) const THERE: char = 't';

/// What `struct` calls a type that is always of one size.
pub(crate) fn code(ty: &Type) -> Option<char> {
    PLAIN.iter().find(|(plain, _)| plain == ty).map(|(_, code)| *code)
}

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
pub(crate) fn layout(codes: &str) -> String {
    format!("_uniffi_unpack_{}", codes.replace('?', "t"))
}

/// Of what a value is part.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// Of what a function reads.
    Outside,
    /// Of a record that is read where its list is.
    Listed,
    /// Of something small that is read where it stands.
    Within,
}

/// A value of a type, for this target.
#[derive(Clone)]
pub(crate) struct Value<'a> {
    pub(crate) target: String,
    pub(crate) ty: &'a Type,
    pub(crate) place: Place,
}

/// Something that was taken to be empty or missing.
pub(crate) struct Guess<'a> {
    /// What says whether it is.
    pub(crate) head: String,
    pub(crate) value: Value<'a>,
    /// So many values are read before it, with its head.
    before: usize,
}

/// Values that wait to be read with those beside them.
#[derive(Default)]
pub(crate) struct Fixed<'a> {
    codes: String,
    targets: Vec<String>,
    guesses: Vec<Guess<'a>>,
    then: Vec<String>,
}

impl<'a> Fixed<'a> {
    pub(crate) fn push(&mut self, code: char, target: &str) {
        self.codes.push(code);
        self.targets.push(target.to_owned());
    }

    /// The last value says whether this one is there; it is taken not to be.
    pub(crate) fn guess(&mut self, head: String, value: Value<'a>) {
        self.guesses.push(Guess { head, value, before: self.targets.len() });
    }

    /// Whether nothing was guessed.
    pub(crate) fn is_sure(&self) -> bool {
        self.guesses.is_empty()
    }

    /// A line for when all is read.
    pub(crate) fn then(&mut self, line: String) {
        self.then.push(line);
    }

    /// What was guessed, each with the values that were read as if it were not there; and what is done then.
    pub(crate) fn settled(self, next: &Self) -> (Vec<(Guess<'a>, Self)>, Vec<String>) {
        let Self { codes, targets, guesses, then } = self;
        let after = |before: usize| {
            let codes = codes.chars().skip(before).chain(next.codes.chars()).collect();
            let targets = targets.iter().skip(before).chain(&next.targets).cloned().collect();
            Self { codes, targets, ..Self::default() }
        };
        let guesses = guesses.into_iter().map(|guess| {
            let after = after(guess.before);
            (guess, after)
        });
        (guesses.collect(), then)
    }

    /// The values of both, and nothing else of them.
    pub(crate) fn and(&self, next: &Self) -> Self {
        let codes = format!("{}{}", self.codes, next.codes);
        Self { codes, targets: [&*self.targets, &*next.targets].concat(), ..Self::default() }
    }

    /// So many bytes.
    pub(crate) fn size(&self) -> usize {
        self.codes.chars().map(size).sum()
    }

    /// The line that reads them from where `at` is, and the layout that it needs.
    pub(crate) fn line(&self) -> Option<(String, Option<String>)> {
        match (self.codes.as_str(), self.targets.as_slice()) {
            ("", _) => None,
            // A byte is read quicker than unpacked.
            ("t", [target]) => Some((format!("{target} = data[at]"), None)),
            ("?", [target]) => Some((format!("{target} = data[at] == 1"), None)),
            _ => {
                let codes = self.codes.replace(THERE, "?");
                let line = format!("{}, = {}(data, at)", self.targets.join(", "), layout(&codes));
                Some((line, Some(codes)))
            }
        }
    }
}
