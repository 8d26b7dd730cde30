//! The generator of UniFFI, of the version that the library was made with.

fn main() {
    uniffi::uniffi_bindgen_main();
}
