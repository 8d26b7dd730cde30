// What Swift has words for and the generator has none: the floor, the alarms and the status line as streams.

/// What an observation tells, as it comes.
public enum News: Sendable {
    /// The floor: running timers by due time, clients, tests that wait.
    case floor(FloorView)
    /// The instants at which this station must make itself noticed, soonest first, at most 64.
    case alarms([Alarm])
    /// How the station stands with the others.
    case status(Status)
}

extension Tailcomb {
    /// What stands now and whenever it changes. The observation ends when nobody reads the stream any more.
    public func news() -> AsyncStream<News> {
        stream(.unbounded) { $0 }
    }

    /// The floor as it stands; one that was not read before the next came is passed over.
    public func floors() -> AsyncStream<FloorView> {
        stream(.bufferingNewest(1)) { if case .floor(let floor) = $0 { floor } else { nil } }
    }

    /// The alarms that stand.
    public func alarms() -> AsyncStream<[Alarm]> {
        stream(.bufferingNewest(1)) { if case .alarms(let alarms) = $0 { alarms } else { nil } }
    }

    /// The status line.
    public func statuses() -> AsyncStream<Status> {
        stream(.bufferingNewest(1)) { if case .status(let status) = $0 { status } else { nil } }
    }

    private func stream<T: Sendable>(
        _ keeping: AsyncStream<T>.Continuation.BufferingPolicy,
        _ wanted: @escaping @Sendable (News) -> T?
    ) -> AsyncStream<T> {
        AsyncStream(T.self, bufferingPolicy: keeping) { continuation in
            let observation = observe(observer: Passing { news in
                if let wanted = wanted(news) { continuation.yield(wanted) }
            })
            continuation.onTermination = { _ in observation.end() }
        }
    }
}

/// Passes on what it is told.
private final class Passing: Observer {
    private let pass: @Sendable (News) -> Void

    init(_ pass: @escaping @Sendable (News) -> Void) { self.pass = pass }

    func floor(floor: FloorView) { pass(.floor(floor)) }
    func alarms(alarms: [Alarm]) { pass(.alarms(alarms)) }
    func status(status: Status) { pass(.status(status)) }
}
