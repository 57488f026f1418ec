//! The program: everything is in the library.

fn main() -> std::process::ExitCode {
    wrenchside::cli::main()
}
