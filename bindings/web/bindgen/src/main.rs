//! `tailcomb-web-bindgen INPUT.wasm FOLDER`
use std::process::ExitCode;

fn main() -> ExitCode {
    let mut arguments = std::env::args().skip(1);
    let (Some(input), Some(folder)) = (arguments.next(), arguments.next()) else {
        eprintln!("say which wasm file to read and which folder to write");
        return ExitCode::FAILURE;
    };
    let mut bindgen = wasm_bindgen_cli_support::Bindgen::new();
    let made = bindgen.input_path(input).out_name("core").remove_name_section(true).web(true).and_then(|b| b.typescript(true).generate(folder));
    match made {
        Ok(()) => ExitCode::SUCCESS,
        Err(why) => {
            eprintln!("{why:#}");
            ExitCode::FAILURE
        }
    }
}
