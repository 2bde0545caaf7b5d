//! The chalkwalk command.

/// Gives memory of documents that were closed back to the machine; the system's own keeps it.
#[cfg(not(target_env = "msvc"))]
#[global_allocator]
static MEMORY: tikv_jemallocator::Jemalloc = tikv_jemallocator::Jemalloc;

fn main() -> std::process::ExitCode {
    std::process::ExitCode::from(chalkwalk_sync_server::command::run())
}
