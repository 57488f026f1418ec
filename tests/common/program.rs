//! The program as it is built, for tests that run it from outside.

use assert_cmd::Command;

/// The program in the project's folder, with no colours and with the settings and the log of nobody.
pub fn wrenchside() -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wrenchside"));
    command.current_dir(env!("CARGO_MANIFEST_DIR"));
    command.env("NO_COLOR", "1").env("XDG_CONFIG_HOME", "/nonexistent").env_remove("WRENCHSIDE_LOG");
    command
}
