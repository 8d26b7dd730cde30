//! What a call from Kotlin pays for itself. UniFFI makes a structure for how each call went, and JNA writes and reads its
//! fields by reflection, before and after; three calls make one question. Here the structure is kept for the thread's next
//! call, and looked at closely only when something went wrong. It is no thread's while a call is under way, so that a host
//! that is called within a call has another. A thread of the library that has called Java stays known to Java.

use crate::text::replaced;

pub(crate) fn kotlin(mut text: String) -> Result<String, String> {
    for (theirs, ours) in [
        (
            "    var status = UniffiRustCallStatus()
    val return_value = callback(status)
    uniffiCheckCallStatus(errorHandler, status)
    return return_value
",
            "    val status = UniffiRustCallStatus.take()
    val return_value = callback(status)
    if (status.pointer.getByte(0L) != UNIFFI_CALL_SUCCESS) {
        status.read()
        uniffiCheckCallStatus(errorHandler, status)
    }
    UniffiRustCallStatus.keep(status)
    return return_value
",
        ),
        (
            "    companion object {
        fun create(code: Byte, errorBuf: RustBuffer.ByValue): UniffiRustCallStatus.ByValue {
",
            "    companion object {
        private val kept = ThreadLocal<UniffiRustCallStatus?>()

        fun take(): UniffiRustCallStatus {
            val status = kept.get()
            if (status != null) {
                kept.set(null)
                return status
            }
            return UniffiRustCallStatus().apply {
                write()
                setAutoSynch(false)
            }
        }

        // One that went well is as it was.
        fun keep(status: UniffiRustCallStatus) = kept.set(status)

        fun create(code: Byte, errorBuf: RustBuffer.ByValue): UniffiRustCallStatus.ByValue {
",
        ),
        (
            "           return item
        } finally {
            RustBuffer.free(rbuf)
",
            "           return item
        } finally {
            // It came from the library and goes back as it came.
            rbuf.setAutoWrite(false)
            RustBuffer.free(rbuf)
",
        ),
    ] {
        text = replaced(&text, theirs, ours)?;
    }
    // The smallest module has nothing to wait for.
    if text.contains("uniffiRustCallAsync(") {
        let theirs = "internal object uniffiRustFutureContinuationCallbackImpl: UniffiRustFutureContinuationCallback {\n";
        text = replaced(&text, theirs, &format!("{theirs}{STAYS}"))?;
    }
    Ok(text)
}

const STAYS: &str = "    init {
        // Else each call from a thread of the library makes a thread of Java's, and takes it away again.
        Native.setCallbackThreadInitializer(this, com.sun.jna.CallbackThreadInitializer(true, false, \"tailcomb\"))
    }

";

#[cfg(test)]
mod tests {
    #[test]
    fn a_module_that_calls_otherwise_is_told() {
        assert!(super::kotlin("internal object UniffiLib\n".to_owned()).is_err());
    }
}
