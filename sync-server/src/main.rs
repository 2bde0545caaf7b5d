//! The chalkwalk command.

fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(chalkwalk_sync_server::command::run())
}
