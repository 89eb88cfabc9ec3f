//! The program; all of it is in the library.

use std::process::ExitCode;

ctor::declarative::ctor! {
    /// Runs before the standard library looks at the streams.
    #[ctor(unsafe)]
    fn before_main() {
        beamyield::note_streams();
    }
}

fn main() -> ExitCode {
    beamyield::program()
}
