//! The program `stridebed`: see the library of the same package.
#![forbid(unsafe_code)]

/// Answers are made of many small pieces. Boxes of prints come a sixth to a fifth faster with it than with the C library's allocator, and
/// the slowest of them in half the time (`cargo bench -p tests --bench postgis`).
#[global_allocator]
static ALLOCATOR: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() -> std::process::ExitCode {
    api::cli::run()
}
