//! The program `stridebed`: see the library of the same package.
#![forbid(unsafe_code)]

fn main() -> std::process::ExitCode {
    api::cli::run()
}
