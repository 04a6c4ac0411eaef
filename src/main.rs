//! The `quadjig` binary: hands the command line to the library and exits with its code.

use std::process::ExitCode;

fn main() -> ExitCode {
    quadjig::cli::main(std::env::args_os()).into()
}
