// A visit from end to end: a small, complete shell in Swift.
//
//     Visit FOLDER PICTURE_TEXT PHOTO OUT

import Chalkwalk
import Foundation

/// What the crew does at the house.
func recordVisit(_ notebook: Notebook, _ job: JobId, _ photo: String) throws {
    let front = elevationOf(side: .front)
    _ = try notebook.add(
        job: job,
        fields: .visit(fields: Visit(day: "2026-05-02", crew: "C. Baker", cautionsRead: true)))
    let dents = try notebook.add(
        job: job,
        fields: .finding(
            fields: Finding(
                place: front, component: .gutter, condition: .damaged, cause: .hail,
                causeReason: "round dents, bright rims", extentLength: "12' 6\"")),
        hits: 7)
    let note = PhotoNote(role: .closeUp, place: front, shows: [dents.record])
    for warning in try notebook.addPhoto(job: job, path: photo, note: note).warnings {
        print("the photo: \(warning)")
    }
}

@main
struct VisitShell {
    static func main() async throws {
        do {
            try await visit()
        } catch let error as ChalkwalkError {
            print(error.words)
            exit(1)
        }
    }

    static func visit() async throws {
        let arguments = CommandLine.arguments
        let (folder, pictureText, photo, out) = (arguments[1], arguments[2], arguments[3], arguments[4])
        let crew = Crew(
            try Notebook.create(folder: folder, person: "C. Baker", deviceName: "crew phone", role: .crew))
        print("enrolled with \(try await crew.use { try $0.enrol(pictureText: pictureText) })")

        for caution in climbingCautions().cautions { print("caution: \(caution.text)") }
        let house = Property(street: "12 Alder Way", town: "Harrow Creek", dateOfLoss: "2026-05-01")
        let job = try await crew.use { try $0.begin(property: house) }
        try await crew.use { try recordVisit($0, job, photo) }

        for point in try await crew.use({ try $0.check(job: job) }) where point.urgency == .must {
            print("open: \(point.sentence)")
        }
        for try await event in crew.syncWithOffice() {
            if case let .connected(_, _, deviceName, _) = event { print("speaking with \(deviceName)") }
        }
        let safe = try await crew.use { try $0.status(job: job) }.safeAtOffice
        print(safe ? "safe at the office" : "not yet safe")
        let packet = try await crew.use { try $0.writePacket(job: job, kind: .shared, folder: out) }
        print("packet: \(packet.page)")
        try await crew.use { try $0.shut() }
    }
}
