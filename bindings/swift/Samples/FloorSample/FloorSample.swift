// A station in one file, to copy from: pair, show the floor, start a timer, schedule the alarm, take over a client.
//   FloorSample DIRECTORY INVITATION "name of this station" "who works here"
import Foundation
import TailcombKit

/// On an iPhone: a UNNotificationRequest for each, and none of those that were there before.
final class Ring: AlarmScheduler {
    func schedule(alarms: [Alarm]) {
        for alarm in alarms {
            print("rings at", Date(timeIntervalSince1970: Double(alarm.dueMs) / 1000), alarm.label.text)
        }
    }
}

@main
struct FloorSample {
    static func main() async throws {
        let words = CommandLine.arguments
        guard words.count == 5 else { return print("DIRECTORY INVITATION STATION PERSON") }

        // On an iPhone the key goes into the Keychain: give a keyVault of your own.
        let tailcomb = try await open(directory: words[1], host: HostServices(alarms: Ring()))
        let station: Station
        if let here = tailcomb.station() {
            station = here
        } else {
            station = try await tailcomb.join(link: words[2], station: words[3])
        }
        _ = try await tailcomb.exchange(withinMs: 5_000)
        _ = try await station.signInAs(words: words[4])

        let timer = NewTimer(
            kind: .plain, label: "look at the towels", length: 10 * 60_000, checkEvery: nil, sections: [], bowl: nil, from: nil)
        let started = try await station.startTimer(visit: nil, new: timer)
        print("started", started.at.timer)

        for await floor in tailcomb.floors() {
            print(floor.salon, floor.date)
            for timer in floor.timers { print(" ", timer.label.text, timer.clientName) }
            for visit in floor.visits {
                print(" ", visit.clientName)
                do {
                    let brief = try await station.take(visit: visit.visit)
                    print("  taken over:", brief.clientName ?? "a client whose card has not arrived")
                } catch let error as HostError {
                    print("  not taken over:", error)
                }
            }
            break
        }
        // Before the app sleeps: no file stays open, and the scheduler keeps what is to ring.
        try await tailcomb.pause()
    }
}
