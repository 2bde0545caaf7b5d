//! The chalkwalk command.

/// Gives memory of documents that were closed back to the machine; the system's own keeps it.
#[global_allocator]
static MEMORY: mimalloc::MiMalloc = mimalloc::MiMalloc;

fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(chalkwalk_sync_server::command::run())
}
