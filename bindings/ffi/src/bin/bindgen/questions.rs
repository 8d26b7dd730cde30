//! Questions as each language asks them. The library answers one at once or not at all (`floor_if_free`); what an app calls is
//! an async function under the question's own name, which tries, and where the station is at work waits until it is free
//! and tries again. It is made here from the plain function that UniFFI writes, so that it has the same types and words,
//! and nobody keeps a list.

use uniffi_meta::{Metadata, Type};

use crate::reading::how_told;
use crate::text::{Range, between, change, find, part, replaced};

const OBJECT: &str = "Station";

/// A question by its name in Rust.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Question {
    name: String,
    /// Whether its answer is bytes that are to be read.
    is_read: bool,
}

/// The questions that a crate of the library exports.
pub(crate) fn of<'a>(
    all: impl IntoIterator<Item = &'a Metadata>,
    exported_by: &str,
) -> Result<Vec<Question>, String> {
    let mut questions = Vec::new();
    for one in all {
        if let Metadata::Method(method) = one
            && let Some(name) = method.name.strip_suffix("_if_free")
        {
            let by = method.module_path.split("::").next().unwrap_or_default();
            let asks = !method.is_async && method.return_type.is_some() && method.throws.is_some();
            if method.self_name != OBJECT || by != exported_by || !asks {
                return Err(format!("{} is called as a question is, and is none", method.name));
            }
            let answer = method.return_type.as_ref();
            let is_read = matches!(
                answer,
                Some(Type::Record { .. } | Type::Enum { .. } | Type::Optional { .. } | Type::Sequence { .. })
            );
            questions.push(Question { name: name.to_owned(), is_read });
        }
    }
    if questions.is_empty() {
        return Err("the library has no questions".to_owned());
    }
    Ok(questions)
}

impl Question {
    fn snake(&self) -> &str {
        &self.name
    }

    fn camel(&self) -> String {
        let mut words = self.name.split('_');
        let mut name = words.next().unwrap_or_default().to_owned();
        for word in words {
            let (first, rest) = word.split_at(word.chars().next().map_or(0, char::len_utf8));
            name.push_str(&first.to_uppercase());
            name.push_str(rest);
        }
        name
    }
}

pub(crate) fn kotlin(mut text: String, questions: &[Question]) -> Result<String, String> {
    for question in questions {
        let name = question.camel();
        let (plain, waits) = (format!("fun `{name}IfFree`("), format!("suspend fun `{name}`("));
        let begins = find(&text, &(0..text.len()), "public interface StationInterface {")?;
        let interface = part(&text, &(begins..text.len()), &plain, "\n")?;
        change(&mut text, interface, |interface| replaced(interface, &plain, &waits))?;
        let class = class_of_kotlin(&text)?;
        // Up to the function's own end or beyond it: the call is the first that follows.
        let function = part(&text, &class, &plain, "callWithHandle {")?;
        change(&mut text, function, |function| {
            replaced(&replaced(function, &plain, &waits)?, "callWithHandle {", "callWhenFree {")
        })?;
    }
    let class = class_of_kotlin(&text)?;
    change(&mut text, class, |class| {
        let before = "    internal inline fun <R> callWithHandle(";
        replaced(class, before, &format!("{KOTLIN}{before}"))
    })?;
    Ok(text)
}

fn class_of_kotlin(text: &str) -> Result<Range, String> {
    part(text, &(0..text.len()), "open class Station:", "public object FfiConverterTypeStation")
}

const KOTLIN: &str =
    "    // A question is answered on the caller's thread, which never waits: the coroutine does.
    internal suspend inline fun <R> callWhenFree(block: (handle: Long) -> R): R {
        while (true) {
            try {
                return callWithHandle(block)
            } catch (_: HostException.AtWork) {
                idle()
            }
        }
    }

";

pub(crate) fn swift(mut text: String, questions: &[Question]) -> Result<String, String> {
    for question in questions {
        let name = question.camel();
        let (plain, waits) = (format!("func {name}IfFree("), format!("func {name}("));
        let begins = find(&text, &(0..text.len()), "public protocol StationProtocol: AnyObject")?;
        let declared = part(&text, &(begins..text.len()), &plain, "\n")?;
        change(&mut text, declared, |declared| {
            replaced(&replaced(declared, &plain, &waits)?, ") throws", ") async throws")
        })?;
        let begins = find(&text, &(0..text.len()), "open class Station: StationProtocol")?;
        let function = part(&text, &(begins..text.len()), &format!("open {plain}"), "\n}\n")?;
        change(&mut text, function, |function| {
            let (head, body) = function.split_once("  {").ok_or("a function without a body")?;
            let head = replaced(&replaced(head, &plain, &waits)?, ")throws", ")async throws")?;
            Ok(format!("{head}  {{\n    return try await whenFree {{{body}}}\n"))
        })?;
    }
    text.push_str(SWIFT);
    Ok(text)
}

const SWIFT: &str = "
extension Station {
    // A question is answered on the caller's thread, which never waits: the task does.
    fileprivate func whenFree<T>(_ ask: () throws -> T) async throws -> T {
        while true {
            do {
                return try ask()
            } catch HostError.AtWork {
                try await idle()
            }
        }
    }
}
";

pub(crate) fn python(mut text: String, questions: &[Question]) -> Result<String, String> {
    for question in questions {
        let name = question.snake();
        let (plain, waits) =
            (format!("    def {name}_if_free(self, "), format!("    async def {name}(self, "));
        let begins = find(&text, &(0..text.len()), "\nclass StationProtocol(")?;
        let declared = part(&text, &(begins..text.len()), &plain, "raise NotImplementedError\n")?;
        change(&mut text, declared, |declared| replaced(declared, &plain, &waits))?;
        let begins = find(&text, &(0..text.len()), "\nclass Station(StationProtocol):")?;
        let ends = "return _uniffi_lift_return(_uniffi_ffi_result)\n";
        let function = part(&text, &(begins..text.len()), &plain, ends)?;
        change(&mut text, function, |function| {
            let (head, body) = head_and_body(function)?;
            let body = if question.is_read { asked_at_once(body)? } else { body.to_owned() };
            let body: String = body.lines().map(|line| format!("        {line}\n")).collect();
            let head = replaced(head, &plain, &waits)?;
            Ok(format!(
                "{head}        while True:\n            try:\n{body}            except HostError.AtWork:\n                \
                 await self.idle()\n"
            ))
        })?;
    }
    text.push_str(&how_told(PYTHON));
    Ok(text)
}

/// What a function does, with the handle copied, the library called and its answer read in one call of Python.
fn asked_at_once(body: &str) -> Result<String, String> {
    let mut body = replaced(body, "            self._uniffi_clone_handle(),\n", "")?;
    let converter = between(&body, "_uniffi_lift_return = ", ".lift\n")?;
    let calls = between(&body, "            _UniffiLib.", ",\n")?;
    let ours = format!(
        "        return _uniffi_ask({converter}.read, _UniffiLib.{calls}, self._handle, _uniffi_lowered_args)\n"
    );
    let lines = part(
        &body,
        &(0..body.len()),
        "        _uniffi_lift_return = ",
        "return _uniffi_lift_return(_uniffi_ffi_result)\n",
    )?;
    change(&mut body, lines, |_| Ok(ours))?;
    Ok(body)
}

const PYTHON: &str = "
def _uniffi_ask(read, asked, handle, args):
    TOLD
    # The library gives back what it was asked with.
    copy = _UniffiLib.uniffi_tailcomb_core_fn_clone_station(handle, where)
    if call_status.code:
        _uniffi_check_call_status(None, call_status)
    answer = asked(copy, *args, where)
    if call_status.code:
        _uniffi_check_call_status(_UniffiFfiConverterTypeHostError, call_status)
    try:
        size = answer.len
        data = answer.data[:size] if size else b\"\"
    finally:
        _UniffiLib.ffi_tailcomb_core_rustbuffer_free(answer, where)
    _uniffi_told.append(told)
    stream = _UniffiRustBufferStream(data, size)
    value = read(stream)
    if stream.offset != size:
        raise InternalError(\"junk data left in buffer\")
    return value
";

/// A function of Python up to the end of its description, and what it does.
fn head_and_body(function: &str) -> Result<(&str, &str), String> {
    let declared = function.find('\n').ok_or("a function without a body")? + 1;
    let (_, rest) = function.split_at(declared);
    let quotes = "\"\"\"";
    let Some(described) = rest.trim_start().strip_prefix(quotes) else {
        return Ok(function.split_at(declared));
    };
    let begins = function.len() - described.len();
    let ends = described.find(quotes).ok_or("a description without an end")? + quotes.len();
    let line = described.get(ends..).and_then(|rest| rest.find('\n')).ok_or("a function without a body")?;
    Ok(function.split_at(begins + ends + line + 1))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked() -> Vec<Question> {
        vec![Question { name: "next_alarms".to_owned(), is_read: false }]
    }

    /// What a generator wrote, with one thing in it other than it is known.
    fn fails_without(
        rewrite: fn(String, &[Question]) -> Result<String, String>,
        theirs: &str,
        known: &[&str],
    ) {
        for one in known {
            assert!(theirs.contains(one), "{one:?} is not in the sample");
            let other = theirs.replace(one, "something else");
            assert!(rewrite(other, &asked()).is_err(), "nobody noticed that {one:?} is gone");
        }
    }

    #[test]
    fn a_function_of_python_keeps_its_types_and_words_and_waits() {
        let theirs = "
class StationProtocol(typing.Protocol):
    def next_alarms_if_free(self, most: int) -> list:
        \"\"\"What rings next.\"\"\"
        raise NotImplementedError

class Station(StationProtocol):
    def next_alarms_if_free(self, most: int) -> list:
        \"\"\"What rings next.
\"\"\"
        lowered = lower(most)
        return _uniffi_lift_return(_uniffi_ffi_result)
";
        let ours = "
class StationProtocol(typing.Protocol):
    async def next_alarms(self, most: int) -> list:
        \"\"\"What rings next.\"\"\"
        raise NotImplementedError

class Station(StationProtocol):
    async def next_alarms(self, most: int) -> list:
        \"\"\"What rings next.
\"\"\"
        while True:
            try:
                lowered = lower(most)
                return _uniffi_lift_return(_uniffi_ffi_result)
            except HostError.AtWork:
                await self.idle()
";
        assert_eq!(python(theirs.to_owned(), &asked()), Ok(format!("{ours}{}", how_told(PYTHON))));
        let known =
            ["class StationProtocol", "class Station(", "def next_alarms_if_free", "raise Not", "return _"];
        fails_without(python, theirs, &known);
    }

    #[test]
    fn an_answer_that_is_read_is_asked_for_and_read_at_once() {
        let theirs = "        _UniffiFfiConverterUInt32.check_lower(most)
        _uniffi_lowered_args = (
            self._uniffi_clone_handle(),
            _UniffiFfiConverterUInt32.lower(most),
        )
        _uniffi_lift_return = _UniffiFfiConverterSequenceTypeAlarm.lift
        _uniffi_error_converter = _UniffiFfiConverterTypeHostError
        _uniffi_ffi_result = _uniffi_rust_call_with_error(
            _uniffi_error_converter,
            _UniffiLib.next_alarms_if_free,
            *_uniffi_lowered_args,
        )
        return _uniffi_lift_return(_uniffi_ffi_result)
";
        let ours = "        _UniffiFfiConverterUInt32.check_lower(most)
        _uniffi_lowered_args = (
            _UniffiFfiConverterUInt32.lower(most),
        )
        return _uniffi_ask(_UniffiFfiConverterSequenceTypeAlarm.read, _UniffiLib.next_alarms_if_free, self._handle, \
                    _uniffi_lowered_args)
";
        assert_eq!(asked_at_once(theirs).as_deref(), Ok(ours));
        for one in
            ["self._uniffi_clone_handle(),", "_uniffi_lift_return = ", ".lift\n", "_UniffiLib.", "return _"]
        {
            assert!(
                asked_at_once(&theirs.replace(one, "other")).is_err(),
                "nobody noticed that {one:?} is gone"
            );
        }
    }

    #[test]
    fn a_function_of_kotlin_keeps_its_types_and_words_and_waits() {
        let theirs = "
public interface StationInterface {
    fun `nextAlarmsIfFree`(`most`: Count): List<Alarm>
}
open class Station: Disposable {
    internal inline fun <R> callWithHandle(block: (handle: Long) -> R): R {}
    @Throws(HostException::class)override fun `nextAlarmsIfFree`(`most`: Count): List<Alarm> {
            return lift(
    callWithHandle {
}
public object FfiConverterTypeStation
";
        let ours = kotlin(theirs.to_owned(), &asked());
        let ours = ours.as_deref().unwrap_or_default();
        assert_eq!(ours.matches("suspend fun `nextAlarms`(`most`: Count): List<Alarm>").count(), 2);
        assert!(
            ours.contains("lift(\n    callWhenFree {\n")
                && ours.contains("suspend inline fun <R> callWhenFree(")
        );
        let known =
            ["interface StationInterface", "open class Station:", "IfFree", "lift(\n    callWithHandle {"];
        fails_without(kotlin, theirs, &known);
    }

    #[test]
    fn a_function_of_swift_keeps_its_types_and_words_and_waits() {
        let theirs = "
public protocol StationProtocol: AnyObject, Sendable {
    func nextAlarmsIfFree(most: Count) throws  -> [Alarm]
}
open class Station: StationProtocol, @unchecked Sendable {
open func nextAlarmsIfFree(most: Count)throws  -> [Alarm]  {
    return try  lift(try rustCall() {
})
}
}
";
        let ours = swift(theirs.to_owned(), &asked());
        let ours = ours.as_deref().unwrap_or_default();
        assert!(ours.contains("    func nextAlarms(most: Count) async throws  -> [Alarm]\n"), "{ours}");
        let function = "open func nextAlarms(most: Count)async throws  -> [Alarm]  {\n    return try await whenFree {\n    \
                        return try  lift(try rustCall() {\n})\n}\n}\n";
        assert!(ours.contains(function), "{ours}");
        let known =
            ["protocol StationProtocol", "open class Station:", "IfFree", ") throws", ")throws", "  {"];
        fails_without(swift, theirs, &known);
    }

    #[test]
    fn what_is_called_as_a_question_is_and_is_none_is_told() {
        assert!(of(&[], "tailcomb_core").is_err_and(|why| why.contains("no questions")));
        assert!(asked().iter().all(|question| question.camel() == "nextAlarms"));
    }
}
