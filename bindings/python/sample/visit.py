"""A visit from end to end: a small, complete shell in Python.

    visit.py FOLDER PICTURE_TEXT PHOTO OUT

FOLDER is new and becomes the notebook, PICTURE_TEXT is what the office's enrolment picture says,
PHOTO is a picture of a dented gutter, OUT is a folder for the packet.
"""

import sys

import chalkwalk as cw


class Show(cw.SyncListener):
    """Shows what an exchange does."""

    def on_event(self, event):
        if isinstance(event, cw.SyncEvent.CONNECTED):
            print(f"speaking with {event.device_name}")
        elif isinstance(event, cw.SyncEvent.TOOK):
            print(f"{event.new_changes} changes came")


def record(notebook, job, photo):
    """What the crew does at the house."""
    front = cw.elevation_of(cw.Side.FRONT)
    notebook.add(job, cw.Fields.VISIT(cw.Visit(day="2026-05-02", crew="C. Baker", cautions_read=True)))
    dents = notebook.add(
        job,
        cw.Fields.FINDING(
            cw.Finding(
                place=front,
                component=cw.Component.GUTTER,
                condition=cw.Condition.DAMAGED,
                cause=cw.Cause.HAIL,
                cause_reason="round dents, bright rims",
                extent_length="12' 6\"",
            )
        ),
        hits=7,
    )
    note = cw.PhotoNote(role=cw.PhotoRole.CLOSE_UP, place=front, shows=[dents.record])
    added = notebook.add_photo(job, photo, note)
    for warning in added.warnings:
        print(f"the photo: {warning}")


def main(folder, picture_text, photo, out):
    notebook = cw.Notebook.create(folder, "C. Baker", "crew phone", cw.Role.CREW)
    print(f"enrolled with {notebook.enrol(picture_text)}")

    for caution in cw.climbing_cautions().cautions:
        print(f"caution: {caution.text}")
    job = notebook.begin(cw.Property(street="12 Alder Way", town="Harrow Creek", date_of_loss="2026-05-01"))
    record(notebook, job, photo)

    for point in notebook.check(job):
        if point.urgency == cw.Urgency.MUST:
            print(f"open: {point.sentence}")
    notebook.sync_with_office(cw.Exchange(), cw.SyncOptions(), Show())
    print("safe at the office" if notebook.status(job).safe_at_office else "not yet safe")
    print(f"packet: {notebook.write_packet(job, cw.PacketKind.SHARED, out).page}")
    notebook.shut()


if __name__ == "__main__":
    try:
        main(*sys.argv[1:5])
    except cw.ChalkwalkError as error:
        sys.exit(str(error))
