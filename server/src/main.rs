//! The `tailcomb` binary; everything it does is in the library, where tests reach it.

use std::process::ExitCode;

fn main() -> ExitCode {
    tailcomb_server::cli::main()
}
