// The station in Swift, without a relay: what is started is kept, told and found again; refusals are typed.
import Foundation
import XCTest

@testable import TailcombKit

final class DayTests: XCTestCase {
    private var directory = ""

    override func setUpWithError() throws {
        directory = NSTemporaryDirectory() + "tailcomb-" + UUID().uuidString
    }

    override func tearDownWithError() throws {
        try FileManager.default.removeItem(atPath: directory)
    }

    private func founded(_ host: HostServices = HostServices()) async throws -> (Tailcomb, Station) {
        let tailcomb = try await open(directory: directory, host: host)
        let founded = try await tailcomb.found(new: NewSalon(
            name: "Salon Orla", zone: "Europe/Lisbon", relayUrl: "http://127.0.0.1:9", station: "front", person: "Ines",
            role: .stylist))
        XCTAssertEqual(founded.recoveryWords.split(separator: " ").count, 24)
        return (tailcomb, founded.station)
    }

    private func timer(_ label: String) -> NewTimer {
        NewTimer(kind: .plain, label: label, length: 600_000, checkEvery: nil, sections: [], bowl: nil, from: nil)
    }

    func testATimerIsKeptOverAnEndAndFoundAgain() async throws {
        let (tailcomb, station) = try await founded()
        let set = try await station.startTimer(visit: nil, new: timer("glosa ñ 👩🏽‍🎤"))
        try await tailcomb.shut()
        let again = try await open(directory: directory, host: HostServices())
        let floor = try await again.station()!.floor()
        XCTAssertEqual(floor.timers.map(\.label.text), ["glosa ñ 👩🏽‍🎤"])
        XCTAssertEqual(floor.timers.map(\.timer), [set.at.timer])
        try await again.shut()
    }

    func testARefusalSaysWhatKindItIsAndWhatToDo() async throws {
        let (tailcomb, station) = try await founded()
        do {
            _ = try await station.visit(visit: "visit/none")
            XCTFail("there is no such visit")
        } catch let error as HostError {
            guard case .Refused = error else { return XCTFail("\(error)") }
            XCTAssertEqual(error.code, "not-found")
            XCTAssertTrue(error.sentence.contains("visit"))
            XCTAssertEqual(error.said.text, error.sentence)
            XCTAssertEqual(error.localizedDescription, error.sentence)
        }
        try await tailcomb.pause()
        do {
            _ = try await station.floor()
            XCTFail("it is paused")
        } catch HostError.Closed(let code, _, _) {
            XCTAssertEqual(code, "paused")
        }
        try await tailcomb.resume()
        _ = try await station.floor()
        try await tailcomb.shut()
    }

    func testQuestionsAskedWhileCommandsAreAtWorkAreAllAnswered() async throws {
        let (tailcomb, station) = try await founded()
        try await withThrowingTaskGroup(of: Int.self) { group in
            for n in 0..<40 {
                group.addTask {
                    _ = try await station.startTimer(visit: nil, new: self.timer("\(n)"))
                    return try await station.floor().timers.count
                }
            }
            for try await count in group { XCTAssertGreaterThan(count, 0) }
        }
        let count = try await station.floor().timers.count
        XCTAssertEqual(count, 40)
        try await tailcomb.shut()
    }

    func testTheFloorIsAStreamThatEndsWithItsReader() async throws {
        let (tailcomb, station) = try await founded()
        let seen = Task { () -> Int in
            for await floor in tailcomb.floors() where floor.timers.count == 2 { return floor.timers.count }
            return 0
        }
        _ = try await station.startTimer(visit: nil, new: timer("one"))
        _ = try await station.startTimer(visit: nil, new: timer("two"))
        let count = await seen.value
        XCTAssertEqual(count, 2)
        try await tailcomb.shut()
    }

    func testTheHostIsAskedForItsKeyAndToldTheAlarms() async throws {
        let (vault, ring) = (Vault(), Ring())
        let (tailcomb, station) = try await founded(HostServices(keyVault: vault, alarms: ring))
        let set = try await station.startTimer(visit: nil, new: timer("gloss"))
        while ring.last().map(\.dueMs) != [set.dueMs] { try await Task.sleep(nanoseconds: 5_000_000) }
        try await tailcomb.shut()
        XCTAssertEqual(vault.kept()?.count, 32)
        do {
            _ = try await open(directory: directory, host: HostServices(keyVault: Vault(broken: true)))
            XCTFail("it opened without a key")
        } catch HostError.Device(let code, _, _) {
            XCTAssertEqual(code, "locked")
        }
    }

    func testACancelledCommandIsDoneWholeOrNotAtAll() async throws {
        let (tailcomb, station) = try await founded()
        for _ in 0..<100 {
            let command = Task { try await station.startTimer(visit: nil, new: self.timer("given up")) }
            command.cancel()
            _ = try? await command.value
        }
        _ = try await station.startTimer(visit: nil, new: timer("last"))
        let timers = try await station.timers()
        XCTAssertTrue(timers.allSatisfy { $0.started != nil })
        XCTAssertEqual(timers.filter { $0.label.text == "last" }.count, 1)
        try await tailcomb.shut()
    }
}

private final class Ring: AlarmScheduler, @unchecked Sendable {
    private let lock = NSLock()
    private var alarms: [Alarm] = []

    func schedule(alarms: [Alarm]) { lock.withLock { self.alarms = alarms } }
    func last() -> [Alarm] { lock.withLock { alarms } }
}

private final class Vault: KeyVault, @unchecked Sendable {
    private let lock = NSLock()
    private var held: Data?
    private let broken: Bool

    init(broken: Bool = false) { self.broken = broken }

    func key() throws -> Data? {
        if broken { throw KeyVaultError.Unavailable(reason: "the device is locked") }
        return lock.withLock { held }
    }
    func keep(key: Data) throws { lock.withLock { held = key } }
    func kept() -> Data? { lock.withLock { held } }
}
