import Foundation

/// A notebook for async code. Calls run on a queue of their own; a call that began runs to its
/// end, as what it confirms is on the disk. Exchanges are streams: whoever stops iterating stops
/// the exchange.
public final class Crew: @unchecked Sendable {
    /// The notebook itself, for calls on a thread of the app's own.
    public let notebook: Notebook
    private let queue = DispatchQueue(label: "chalkwalk", attributes: .concurrent)

    /// A crew around an open notebook.
    public init(_ notebook: Notebook) {
        self.notebook = notebook
    }

    /// Works with the notebook away from the main thread.
    public func use<T: Sendable>(_ work: @escaping @Sendable (Notebook) throws -> T) async throws -> T {
        try await withCheckedThrowingContinuation { continuation in
            queue.async { continuation.resume(with: Result { try work(self.notebook) }) }
        }
    }

    /// Exchanges with the office. The stream ends with the exchange and fails as it does.
    public func syncWithOffice(_ options: SyncOptions = SyncOptions()) -> AsyncThrowingStream<SyncEvent, Error> {
        exchange { try $0.syncWithOffice(exchange: $1, options: options, listener: $2) }
    }

    /// Exchanges with a device that waits at HOST:PORT on the local network.
    public func syncWithDevice(
        at address: String, _ options: SyncOptions = SyncOptions()
    ) -> AsyncThrowingStream<SyncEvent, Error> {
        exchange { try $0.syncWithDevice(exchange: $1, address: address, options: options, listener: $2) }
    }

    /// Writes one packet. A task that is cancelled stops it: nothing is left of it.
    public func writePacket(
        _ job: JobId, _ kind: PacketKind, folder: String, choices: PacketChoices = PacketChoices(),
        onProgress: @escaping @Sendable (_ done: UInt32, _ of: UInt32) -> Void = { _, _ in }
    ) async throws -> Packet {
        let listener = Telling(onProgress)
        return try await withTaskCancellationHandler {
            try await use {
                try $0.writePacket(job: job, kind: kind, folder: folder, choices: choices, listener: listener)
            }
        } onCancel: {
            listener.stop()
        }
    }

    private func exchange(
        _ run: @escaping @Sendable (Notebook, Exchange, SyncListener) throws -> SyncOutcome
    ) -> AsyncThrowingStream<SyncEvent, Error> {
        AsyncThrowingStream { continuation in
            let exchange = Exchange()
            continuation.onTermination = { _ in exchange.stop() }
            queue.async {
                do {
                    _ = try run(self.notebook, exchange, Teller { continuation.yield($0) })
                    continuation.finish()
                } catch {
                    continuation.finish(throwing: error)
                }
            }
        }
    }
}

extension ChalkwalkError {
    /// What can be shown to a person, and says what to do.
    public var words: String {
        switch self {
        case .Input(let message), .NotFound(let message), .NotOpen(let message),
            .NotEnrolled(let message), .Refused(let message), .Network(let message),
            .Stopped(let message), .DiskFull(let message), .Storage(let message),
            .Internal(let message):
            return message
        }
    }
}

private final class Teller: SyncListener, @unchecked Sendable {
    private let tell: @Sendable (SyncEvent) -> Void

    init(_ tell: @escaping @Sendable (SyncEvent) -> Void) {
        self.tell = tell
    }

    func onEvent(event: SyncEvent) throws {
        tell(event)
    }
}

private final class Telling: ProgressListener, @unchecked Sendable {
    private let tell: @Sendable (UInt32, UInt32) -> Void
    private let lock = NSLock()
    private var stopped = false

    init(_ tell: @escaping @Sendable (UInt32, UInt32) -> Void) {
        self.tell = tell
    }

    func stop() {
        lock.lock()
        stopped = true
        lock.unlock()
    }

    func onProgress(done: UInt32, of: UInt32) throws {
        lock.lock()
        let ends = stopped
        lock.unlock()
        if ends { throw ListenerFailure.Failed(words: "cancelled") }
        tell(done, of)
    }
}
