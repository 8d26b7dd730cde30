//! Prints the façade as TypeScript: what `bindings/web/build.sh` writes to `src/types.ts`.

use std::io::Write as _;
use std::process::ExitCode;

fn main() -> ExitCode {
    match tailcomb_core::station::facade::typescript() {
        Ok(text) => match std::io::stdout().write_all(text.as_bytes()) {
            Ok(()) => ExitCode::SUCCESS,
            Err(_) => ExitCode::FAILURE,
        },
        Err(why) => {
            drop(writeln!(std::io::stderr(), "{why}"));
            ExitCode::FAILURE
        }
    }
}
