//! The program. What it does lives in the library, so that none of it is compiled twice.

fn main() -> std::process::ExitCode {
    evenfield::cli::main()
}
